"""A station: ports, quantities and equations, declared once.

Everything else (form, picture, handbook page, balance, forecast, advice) is derived from
the declaration. A new station is one file in `canewright/stations`.
"""

import inspect
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from canewright.model.equations import Equations, HasChange
from canewright.model.quantities import Quantity, StockDeclaration
from canewright.ops import Numeric
from canewright.streams import NOTHING, Kind, State

_registered: dict[str, type["Station"]] = {}


@dataclass(frozen=True)
class Port:
    """Where a stream enters or leaves a station."""

    direction: str
    kinds: tuple[Kind, ...]
    like: str
    optional: bool
    several: bool
    share: float | None
    label: str


def Inlet(  # noqa: N802
    *kinds: Kind, optional: bool = False, several: bool = False, label: str = ""
) -> Any:
    """A port for a stream of one of the given kinds that enters.

    `several` takes any number of streams (a list inside `equations`); `optional` may be
    left unconnected and then reads as a stream without any component.
    """
    return Port("in", kinds, "", optional, several, None, label)


def Outlet(  # noqa: N802
    kind: Kind | None = None,
    *,
    like: str = "",
    optional: bool = False,
    several: bool = False,
    share: float | None = None,
    label: str = "",
) -> Any:
    """A port for a stream that leaves, of the given kind or of the kind of the inlet `like`.

    `share` is the usual flow as t per t cane: a first guess where the kind's own is far off.
    """
    return Port("out", () if kind is None else (kind,), like, optional, several, share, label)


class StockState(HasChange):
    """Opening and closing content of a vessel. [t]."""

    def __init__(self, opening: State, closing: State, hours: Numeric) -> None:
        self.opening = opening
        self.closing = closing
        self.hours = hours

    def change(self, component: str) -> Numeric:
        """Gain of stock of a component over the period. [t/h]."""
        if component not in self.closing.values:
            return 0.0
        return (self.closing.values[component] - self.opening.values[component]) / self.hours


def trade_name(class_name: str) -> str:
    """`JuiceHeater` -> `juice_heater`, the word used in the factory file."""
    return re.sub(r"(?<=[a-z0-9])(?=[A-Z])", "_", class_name).lower()


class Station:
    """Base of all stations.

    A subclass declares ports and quantities as class attributes and writes `equations`.
    Its docstring says what the station is, and has a line starting "Assumes" and one
    starting "Sources:".

    Attributes
    ----------
    ports, quantities, stocks : dict
        The declarations by name, in the order written (class attributes).
    kind : str
        Name in the factory file.
    section : str
        Part of the factory, for grouping in reports: cane, milling, juice, evaporation,
        boiling, curing, sugar, steam, water.
    cautions : tuple of str
        Keys of the cautions to print where advice touches the station.
    demands : tuple of str
        Fields of inlets ("vapour.water") that the station decides: what it draws.
    supplies : tuple of str
        Fields of outlets ("water.water"), or results, that it leaves to those who draw.
    usual : mapping
        Usual values of fields at ports ("water_in.temperature") that differ from those of
        the stream's kind: a first guess, and the point at which the station is tested.
    expects : tuple of (cause, sign, effect)
        Directions that a chemist would bet on; tested for every station.
    """

    ports: ClassVar[dict[str, Port]] = {}
    quantities: ClassVar[dict[str, Quantity]] = {}
    stocks: ClassVar[dict[str, StockDeclaration]] = {}
    kind: ClassVar[str] = ""
    section: ClassVar[str] = ""
    cautions: ClassVar[tuple[str, ...]] = ()
    demands: ClassVar[tuple[str, ...]] = ()
    supplies: ClassVar[tuple[str, ...]] = ()
    usual: ClassVar[Mapping[str, float]] = {}
    expects: ClassVar[tuple[tuple[str, str, str], ...]] = ()

    def __init_subclass__(cls) -> None:
        super().__init_subclass__()
        declared: dict[str, Any] = {}
        for base in reversed(cls.__mro__):
            declared.update(vars(base))
        cls.ports = {name: item for name, item in declared.items() if isinstance(item, Port)}
        cls.quantities = {
            name: item for name, item in declared.items() if isinstance(item, Quantity)
        }
        cls.stocks = {
            name: item for name, item in declared.items() if isinstance(item, StockDeclaration)
        }
        cls.kind = trade_name(cls.__name__)
        if not inspect.isabstract(cls) and cls.section:
            _registered[cls.kind] = cls

    def __init__(
        self,
        name: str,
        streams: Mapping[str, State | Sequence[State]],
        values: Mapping[str, Numeric],
        stocks: Mapping[str, StockState] | None = None,
        hours: Numeric = 1.0,
    ) -> None:
        self.name = name
        self.hours = hours
        for port_name, port in self.ports.items():
            missing: State | list[State] = [] if port.several else NOTHING
            setattr(self, port_name, streams.get(port_name, missing))
        for quantity_name in self.quantities:
            setattr(self, quantity_name, values[quantity_name])
        for stock_name in self.stocks:
            setattr(self, stock_name, (stocks or {})[stock_name])

    def equations(self) -> Equations:
        """Equations of the station: balances first, then heat, then laws."""
        raise TypeError(f"{type(self).__name__} declares no equations.")


class Train(Station):
    """Several stations in a row written as one in the factory file: mills, effects.

    `expand` turns the entry of the factory file into entries of single stations.
    """

    @classmethod
    def expand(cls, entry: Mapping[str, Any]) -> list[dict[str, Any]]:
        """Entries of the single stations, with their connections.

        Raises
        ------
        ValueError
            With a sentence, where the entry does not make sense.
        """
        raise TypeError(f"{cls.__name__} does not say how it expands.")


def stations() -> dict[str, type[Station]]:
    """Every station kind by its name in the factory file."""
    import importlib
    import pkgutil

    package = importlib.import_module("canewright.stations")
    for module in pkgutil.iter_modules(package.__path__):
        importlib.import_module(f"canewright.stations.{module.name}")
    return dict(sorted(_registered.items()))
