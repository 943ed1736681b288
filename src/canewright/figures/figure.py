"""A control figure as an expression of the balanced factory, and the streams that play a part.

A figure whose parts a factory does not have is left out; it is never zero.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from canewright import registry
from canewright.figures.ledger import Ledger, hours_of
from canewright.laboratory.predictions import RELATIONS, WHOLE_SAMPLE
from canewright.laboratory.readings import READINGS
from canewright.ops import Numeric
from canewright.streams import State

if TYPE_CHECKING:
    from canewright.engine.equations.model import Model

USUAL_NAMES = {
    "cane": ("cane",),
    "mixed_juice": ("mixed juice",),
    "bagasse": ("bagasse",),
    "filter_cake": ("filter cake",),
    "final_molasses": ("final molasses", "C molasses"),
    "clear_juice": ("clear juice",),
    "syrup": ("syrup",),
    "first_juice": ("juice of mill 1",),
    "last_juice": (),
    "imbibition": (),
}
"""Part -> names of the stream that usually plays it."""


@dataclass(frozen=True)
class Figure:
    """One number that the chemist reports.

    Attributes
    ----------
    name : str
        Stable name, as typed after `canewright explain`.
    label, unit : str
        As printed.
    expression : SX
        Of the model's symbols and parameters (and, for pol, of the relations between state
        and readings).
    formula : str
        Name of the registered formula, or empty for a plain ratio.
    sources : tuple of str
        Keys in the bibliography.
    definition : str
        How it is computed, in one sentence.
    group : str
        Heading under which it is printed.
    headline : bool
        Whether it is printed without being asked for.
    """

    name: str
    label: str
    unit: str
    expression: Any
    formula: str
    sources: tuple[str, ...]
    definition: str
    group: str
    headline: bool = False


def slug(name: str) -> str:
    """A name as part of a figure's name: `A massecuite` -> `a_massecuite`."""
    return re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")


@dataclass
class Book:
    """The figures of one factory as they are written down, and what they are made of.

    Parameters
    ----------
    model : Model
        The compiled factory.
    relations : mapping
        Symbols or values of the relations between state and pol (`RELATIONS`).
    ledgers : mapping
        The factory's ledgers by component.
    """

    model: Model
    relations: Mapping[str, Numeric]
    ledgers: Mapping[str, Ledger]
    figures: dict[str, Figure] = field(default_factory=dict)
    group: str = ""

    @property
    def hours(self) -> Numeric:
        """Length of the period. [h]."""
        return hours_of(self.model)

    def write(
        self,
        name: str,
        label: str,
        unit: str,
        expression: Numeric,
        definition: str,
        *,
        formula: Callable[..., Any] | None = None,
        sources: Iterable[str] = (),
        headline: bool = False,
    ) -> Numeric:
        """Write a figure down and return its expression, for use in others."""
        registered = registry.registered(formula) if formula is not None else None
        keys = tuple(sources) or ((registered.source,) if registered else ("own_derivation",))
        self.figures[name] = Figure(
            name=name,
            label=label,
            unit=unit,
            expression=expression,
            formula=registered.name if registered else "",
            sources=keys,
            definition=definition,
            group=self.group,
            headline=headline,
        )
        return expression

    def stream(self, part: str) -> State | None:
        """The stream that plays a part in the figures, or nothing."""
        named = self.model.factory.control.get(part)
        names = USUAL_NAMES[part] if named is None else (named,)
        for name in names:
            if name in self.model.states:
                return self.model.states[name]
        found = _by_place(self.model, part)
        return together(part, found) if found else None

    def pol(self, state: State) -> Numeric:
        """Pol of a stream. [%]."""
        return READINGS["pol"].predict(state, self.hours, self.relations)

    def brix(self, state: State) -> Numeric:
        """Refractometer Brix of a stream. [%]."""
        return READINGS["brix"].predict(state, self.hours, self.relations)

    def pol_mass(self, state: State) -> Numeric:
        """Pol of a stream. [t/h]."""
        return self.pol(state) * pol_base(state) / 100


def pol_base(state: State) -> Numeric:
    """What the pol of a stream is a percentage of. [t/h]."""
    return state.flow if state.kind.name in WHOLE_SAMPLE else state.solids + state.sum("water")


def relation_values() -> dict[str, float]:
    """The usual values of the relations, for a factory that is not being reconciled."""
    return {name: relation.mean for name, relation in RELATIONS.items()}


def together(name: str, states: Iterable[State]) -> State:
    """Several streams as one: the sum of each component, of the kind of the first."""
    parts = list(states)
    values: dict[str, Numeric] = {}
    for part in parts:
        for component in part.components:
            values[component] = values.get(component, 0.0) + part.values[component]
    return State(name, parts[0].kind, values)


def _by_place(model: Model, part: str) -> list[State]:
    """Streams that play a part by where they are, whatever they are called."""
    if part == "imbibition":
        return [
            model.states[stream]
            for placed in model.flowsheet.placed
            if placed.cls.kind == "mill"
            for stream in placed.connections.get("imbibition", ())
            if model.flowsheet.streams[stream].name == "water"
        ]
    if part == "last_juice":
        mills = [placed for placed in model.flowsheet.placed if placed.cls.kind == "mill"]
        return [model.states[mills[-1].connections["juice"][0]]] if mills else []
    leaving = {"filter_cake": "cake", "final_molasses": "molasses"}.get(part)
    return [
        model.states[placed.connections["stream"][0]]
        for placed in model.flowsheet.placed
        if placed.cls.kind == "departure"
        and model.flowsheet.streams[placed.connections["stream"][0]].name == leaving
    ]
