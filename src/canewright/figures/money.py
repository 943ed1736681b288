"""What a factory earns a day: what it makes and sells, less what it buys, at the user's prices.

Prices stand in `[prices]` of the factory file, in the user's currency, a tonne (power: a
MWh), by the names that `Earnings` gives. What is made counts, whether it was sent away or
stored. A price that is not written is missing: it is said, and never taken as nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from canewright.figures.figure import slug
from canewright.figures.ledgers import products
from canewright.laboratory.predictions import RELATIONS
from canewright.laboratory.readings import READINGS
from canewright.laws.economics import polarisation_premium
from canewright.ops import Numeric, smooth_positive

if TYPE_CHECKING:
    from canewright.engine.equations.model import Model

HOURS_A_DAY = 24.0
AT_96 = "_at_96"
"""Ending of the price of a sugar that is paid by its polarisation, at polarisation 96."""

_POWER_ROUNDING = 1.0
"""kW over which the corner between power sold and power bought is rounded."""


@dataclass(frozen=True)
class Earning:
    """One thing sold or bought.

    Attributes
    ----------
    name : str
        Its name in `[prices]`.
    label, unit : str
        As printed; the unit is that of `amount`, a day.
    amount : SX
        How much a day.
    sign : int
        1 for what is sold, -1 for what is bought.
    value : SX
        Money a day, of the model's symbols and of `price`.
    price : float or None
        As written in the factory file, the unit's; None where none is written.
    """

    name: str
    label: str
    unit: str
    amount: Any
    sign: int
    value: Any
    price: float | None


@dataclass(frozen=True)
class Earnings:
    """Everything that a factory sells or buys."""

    rows: tuple[Earning, ...]

    @property
    def priced(self) -> tuple[Earning, ...]:
        """Those with a price."""
        return tuple(row for row in self.rows if row.price is not None)

    @property
    def missing(self) -> tuple[Earning, ...]:
        """Those without."""
        return tuple(row for row in self.rows if row.price is None)

    @property
    def total(self) -> Numeric:
        """Money a day from everything that has a price."""
        return sum((row.value for row in self.priced), start=0.0)


def earnings(
    model: Model,
    prices: Mapping[str, float] | None = None,
    relations: Mapping[str, Numeric] | None = None,
) -> Earnings:
    """What a factory sells and buys, with the prices of its file.

    Parameters
    ----------
    model : Model
        The compiled factory; the expressions are of its symbols and parameters.
    prices : mapping, optional
        Other prices than those of the factory file.
    relations : mapping, optional
        Symbols of the relations between state and pol, as in a reconciliation.
    """
    book = _Book(
        model,
        model.factory.prices if prices is None else prices,
        relations or {name: relation.mean for name, relation in RELATIONS.items()},
    )
    book.sugar()
    book.departures()
    book.power()
    book.bought()
    return Earnings(tuple(book.rows.values()))


def unknown_prices(model: Model) -> list[str]:
    """Names in `[prices]` that stand for nothing this factory sells or buys."""
    known = {row.name for row in earnings(model).rows}
    known |= {f"{name}{AT_96}" for name in known} | {name.removesuffix(AT_96) for name in known}
    return [name for name in model.factory.prices if name not in known]


_BOUGHT = (
    ("cane_yard", "cane", "cane", "cane_rate"),
    ("sulphur_burner", "sulphur", "sulphur", "sulphur_rate"),
    ("lime_station", "lime", "lime, as CaO", "lime_rate"),
    ("water_supply", "water", "water from outside", "water"),
)
"""Kind of station, name of the price, label, and what of it is bought."""


class _Book:
    """Rows as they are written down; several stations of one kind make one row."""

    def __init__(
        self, model: Model, prices: Mapping[str, float], relations: Mapping[str, Numeric]
    ) -> None:
        self.model, self.prices, self.relations = model, prices, relations
        self.rows: dict[str, Earning] = {}
        self._of = {
            port: placed
            for placed in model.flowsheet.placed
            for port in (
                stream
                for name, streams in placed.connections.items()
                if placed.cls.ports[name].direction == "out"
                for stream in streams
            )
        }

    def write(
        self, name: str, label: str, unit: str, amount: Numeric, sign: int, factor: Numeric = 1.0
    ) -> None:
        """Write a row, or add to the one of that name. `factor` is on the price."""
        price = self.prices.get(name)
        before = self.rows.get(name)
        value = sign * (0.0 if price is None else price) * factor * amount
        if before is not None:
            amount, value = before.amount + amount, before.value + value
        self.rows[name] = Earning(name, label, unit, amount, sign, value, price)

    def sugar(self) -> None:
        """Each product; by its polarisation where the price says so."""
        model = self.model
        hours = model.parameters[model.parameter_names.index("hours")]
        for product, streams in products(model).items():
            name = slug(product)
            states = [model.states[stream] for stream in streams]
            for state in states:
                daily = HOURS_A_DAY * state.flow
                if f"{name}{AT_96}" in self.prices:
                    pol = READINGS["pol"].predict(state, hours, self.relations)
                    factor = 1 + polarisation_premium(pol) / 100
                    label = f"{product}, paid by polarisation"
                    self.write(f"{name}{AT_96}", label, "t", daily, 1, factor)
                else:
                    self.write(name, product, "t", daily, 1)

    def departures(self) -> None:
        """What leaves otherwise: molasses, bagasse, cake, effluents.

        Power that leaves a factory without a power house, whose stations' own power is not
        balanced, is made: it is worth what buying it would cost, or what it is sold for.
        """
        model = self.model
        sugar = {stream for streams in products(model).values() for stream in streams}
        for placed in model.flowsheet.placed:
            if placed.cls.kind != "departure":
                continue
            stream = placed.connections["stream"][0]
            kind = model.flowsheet.streams[stream].name
            if stream in sugar or kind == "gas":
                continue
            if kind == "power":
                daily = HOURS_A_DAY / 1000 * model.states[stream].power
                self.write("power_made", "power made", "MWh", daily, 1)
                continue
            made = model.states[self._made(stream)]
            self.write(slug(placed.name), placed.name, "t", HOURS_A_DAY * made.flow, 1)

    def _made(self, stream: str) -> str:
        """The stream as it was made, before the store that it is sent away from."""
        maker = self._of.get(stream)
        if maker is not None and maker.cls.kind == "store":
            return maker.connections["feed"][0]
        return stream

    def power(self) -> None:
        """Power across the fence, sold or bought."""
        for placed in self.model.flowsheet.placed:
            if placed.cls.kind == "power_house":
                daily = HOURS_A_DAY / 1000
                exported = self._quantity(placed.name, "exported")
                sold = smooth_positive(exported, _POWER_ROUNDING)
                bought = sold - exported
                self.write("power_sold", "power sold", "MWh", daily * sold, 1)
                self.write("power_bought", "power bought", "MWh", daily * bought, -1)

    def bought(self) -> None:
        """Cane, chemicals and water."""
        for kind, name, label, what in _BOUGHT:
            for placed in self.model.flowsheet.placed:
                if placed.cls.kind != kind:
                    continue
                if what in placed.cls.ports:
                    (stream,) = placed.connections[what]
                    rate = self.model.states[stream].flow
                else:
                    unit = placed.cls.quantities[what].unit
                    rate = self._quantity(placed.name, what) / (1000 if unit == "kg/h" else 1)
                self.write(name, label, "t", HOURS_A_DAY * rate, -1)

    def _quantity(self, station: str, name: str) -> Numeric:
        return self.model.symbols[self.model.position(f"{station}.{name}")]
