"""The state of a stream: its values by component, and the sums a chemist names."""

from collections.abc import Iterator, Mapping

from canewright.ops import Numeric
from canewright.streams.components import COMPONENTS, CONDITIONS, DISSOLVED, MASS, NON_SUCROSE
from canewright.streams.kinds import Kind


class State:
    """The values of one stream (t/h) or of one stock (t), by component.

    Attributes named after a component give its flow; a component that the kind cannot hold
    reads as 0. Temperature (degC) and pressure (bar abs) are attributes where the kind has
    them.

    Raises
    ------
    AttributeError
        For a name that is no component and no condition of any stream.
    """

    def __init__(self, name: str, kind: Kind, values: Mapping[str, Numeric]) -> None:
        self.name = name
        self.kind = kind
        self.values = dict(values)

    def __getattr__(self, name: str) -> Numeric:
        if name.startswith("_"):
            raise AttributeError(name)
        if name in self.values:
            return self.values[name]
        if name in COMPONENTS:
            return 0.0
        if name in CONDITIONS:
            raise AttributeError(f"{self.name} ({self.kind.name}) has no {name}.")
        raise AttributeError(f"A stream has no '{name}'.")

    def __repr__(self) -> str:
        return f"State({self.name!r}, {self.kind.name})"

    def __iter__(self) -> Iterator[str]:
        return iter(self.components)

    @property
    def components(self) -> tuple[str, ...]:
        """Components that this stream can hold."""
        return tuple(name for name in self.values if name in COMPONENTS)

    @property
    def connected(self) -> bool:
        """False for the stand-in of an optional port that nothing is connected to."""
        return bool(self.values)

    def sum(self, *names: str) -> Numeric:
        """Sum of the named components."""
        total: Numeric = 0.0
        for name in names:
            if name in self.values:
                total = total + self.values[name]
        return total

    @property
    def flow(self) -> Numeric:
        """Mass flow. [t/h] (a stock: [t])."""
        return self.sum(*MASS)

    @property
    def dissolved(self) -> Numeric:
        """Dissolved solids. [t/h]."""
        return self.sum(*DISSOLVED)

    @property
    def solids(self) -> Numeric:
        """Dissolved solids and crystal. [t/h]."""
        return self.sum(*DISSOLVED, "crystal")

    @property
    def non_sucrose(self) -> Numeric:
        """Dissolved solids other than sucrose. [t/h]."""
        return self.sum(*NON_SUCROSE)

    @property
    def liquor(self) -> Numeric:
        """Dissolved solids and water: the liquid phase. [t/h]."""
        return self.sum(*DISSOLVED, "water")

    @property
    def all_sucrose(self) -> Numeric:
        """Sucrose dissolved and as crystal. [t/h]."""
        return self.sum("sucrose", "crystal")

    @property
    def liquor_solids_percent(self) -> Numeric:
        """Dissolved solids % of the liquid phase. [%]."""
        return 100 * self.dissolved / self.liquor

    @property
    def liquor_purity(self) -> Numeric:
        """True purity of the liquid phase. [%]."""
        return 100 * self.sum("sucrose") / self.dissolved

    @property
    def purity(self) -> Numeric:
        """True purity: sucrose, dissolved and crystal, % of solids. [%]."""
        return 100 * self.all_sucrose / self.solids

    @property
    def solids_percent(self) -> Numeric:
        """Solids, dissolved and crystal, % of the whole. [%]."""
        return 100 * self.solids / self.flow


NOTHING = State("nothing", Kind("nothing", {}, share=0.0), {})
"""Stand-in for an optional port that nothing is connected to: every component is 0."""
