"""What a ledger is: rows on two sides with one total, and the places whose equations fill them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from canewright.ops import Numeric

if TYPE_CHECKING:
    from canewright.engine.equations.model import Model


@dataclass(frozen=True)
class LedgerRow:
    """One row: an expression in the ledger's unit over the period.

    `kind` is "in", "product", "leaves" (in a stream), "lost" (otherwise than in a stream),
    "stock" or "undetermined". `parts` are the places that make up the row, where there are
    several.
    """

    name: str
    kind: str
    expression: Numeric
    parts: tuple[LedgerRow, ...] = ()


@dataclass(frozen=True)
class Ledger:
    """What came in and what became of it, over the period; both sides have one total.

    `base` is what 100 % stands for, `base_name` its name. `covers` says in a sentence what
    is counted.
    """

    component: str
    unit: str
    entering: tuple[LedgerRow, ...]
    leaving: tuple[LedgerRow, ...]
    base: Numeric
    base_name: str
    covers: str

    @property
    def total_in(self) -> Numeric:
        """Sum of what came in, in the ledger's unit."""
        return sum(row.expression for row in self.entering)

    @property
    def total_out(self) -> Numeric:
        """Sum of what became of it, in the ledger's unit."""
        return sum(row.expression for row in self.leaving)

    def row(self, name: str) -> LedgerRow | None:
        """The row of this name on either side, or nothing."""
        return next((row for row in (*self.entering, *self.leaving) if row.name == name), None)


@dataclass(frozen=True)
class Place:
    """A station or a main, by the name its equations carry, with its streams."""

    name: str
    inlets: tuple[str, ...]
    outlets: tuple[str, ...]
    section: str
    is_main: bool


def places(model: Model) -> list[Place]:
    """Stations and mains of a factory, in the order written."""
    found = []
    for placed in model.flowsheet.placed:
        sides: dict[str, list[str]] = {"in": [], "out": []}
        for port, streams in placed.connections.items():
            sides[placed.cls.ports[port].direction] += streams
        inlets, outlets = tuple(sides["in"]), tuple(sides["out"])
        found.append(Place(placed.name, inlets, outlets, placed.cls.section, False))
    return found + [
        Place(f"{main.name} main", main.feeds, main.draws, "", True)
        for main in model.flowsheet.mains
    ]


def hours_of(model: Model) -> Numeric:
    """Length of the period as a symbol. [h]."""
    return model.parameters[model.parameter_names.index("hours")]


def nothing(amount: Numeric) -> bool:
    """Whether an amount is zero by its form, whatever the values."""
    is_zero = getattr(amount, "is_zero", None)
    return bool(is_zero()) if callable(is_zero) else bool(amount == 0)
