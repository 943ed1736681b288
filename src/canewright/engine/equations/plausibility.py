"""Whether a factory as written, at its usual figures, is one that could run."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from canewright.engine.equations.model import Model
from canewright.engine.equations.simulate import (
    Simulator,
    Solved,
    SolveFailed,
    simulate,
    usually_fixed,
)
from canewright.streams import MASS

NOTHING = 1e-6
"""Flow below which a stream counts as empty, t per t of the largest flow."""

MEANT = 0.1
"""A range written much narrower than the usual one (part of its width) says that the value is
meant: a 500 kg bag is no slip."""

ROUNDING = 1e-9
"""Results smaller than this, as against their usual size, are zero with a solver's rounding."""


@dataclass(frozen=True)
class Strange:
    """A number that lies outside the range that is usual in the trade.

    `written` tells whether it stands in the factory file, or follows from it.
    """

    station: str
    name: str
    label: str
    unit: str
    value: float
    low: float
    high: float
    written: bool

    @property
    def distance(self) -> float:
        """How far outside, in widths of the range."""
        beyond = max(self.low - self.value, self.value - self.high)
        return beyond / (self.high - self.low)


def strange_results(solved: Solved) -> list[Strange]:
    """Results of a simulation outside their usual ranges, the strangest first."""
    found = []
    for placed in solved.model.flowsheet.placed:
        for name, quantity in placed.cls.quantities.items():
            if quantity.role != "result":
                continue
            low, high = quantity.typical
            value = solved[f"{placed.name}.{name}"]
            if abs(value) < ROUNDING * quantity.scale:
                value = 0.0
            if not low <= value <= high:
                found.append(
                    Strange(
                        placed.name, name, quantity.label, quantity.unit, value, low, high, False
                    )
                )
    return sorted(found, key=lambda strange: -strange.distance)


def strange_givens(model: Model) -> list[Strange]:
    """Sizes, settings and performance written outside their usual ranges, the strangest first."""
    found = []
    for placed in model.flowsheet.placed:
        for name, value in placed.entry.values.items():
            quantity = placed.cls.quantities[name]
            low, high = quantity.typical
            own = placed.entry.ranges.get(name)
            if own is not None and own[1] - own[0] < MEANT * (high - low):
                continue
            if quantity.role != "result" and not low <= value <= high:
                found.append(
                    Strange(
                        placed.name, name, quantity.label, quantity.unit, value, low, high, True
                    )
                )
    return sorted(found, key=lambda strange: -strange.distance)


def empty_streams(solved: Solved) -> list[str]:
    """Streams in which nothing flows, as against the largest flow of the factory."""
    model = solved.model
    largest = max(flow_of(solved, name) for name in model.flowsheet.streams)
    empty = []
    for name, kind in model.flowsheet.streams.items():
        flows = [abs(solved[f"{name}.{item}"]) for item in kind.typical]
        if max(flows) < NOTHING * largest:
            empty.append(name)
    return empty


def cannot_be(model: Model) -> list[str]:
    """Sentences on what would have to be impossible for the equations to close.

    Solved again without limits on flows and results: what then lies beyond its limits is
    what the usual figures of the file do not allow.
    """
    loose = [
        replace(variable, lower=-np.inf, upper=np.inf)
        if variable.role in ("flow", "result")
        else variable
        for variable in model.variables
    ]
    unlimited = replace(model, variables=loose)
    try:
        solved = simulate(unlimited, simulator=Simulator(unlimited, usually_fixed(model)))
    except SolveFailed:
        return []
    beyond = np.maximum(model.lower - solved.values, solved.values - model.upper) / model.scale
    worst = [position for position in np.argsort(-beyond)[:5] if beyond[position] > 1e-6]
    return [_beyond(model, position, solved.values[position]) for position in worst]


def _beyond(model: Model, position: int, value: float) -> str:
    variable = model.variables[position]
    below = value < variable.lower
    limit, word = (variable.lower, "below") if below else (variable.upper, "above")
    return (
        f"The equations close only with {variable.label} at {value:.4g} {variable.unit}, which "
        f"cannot be {word} {limit:g}."
    )


def outflows(solved: Solved, kinds: Sequence[str]) -> list[tuple[str, str, float]]:
    """Streams of stations of these kinds: station, stream, t/h."""
    return [
        (placed.name, stream, flow_of(solved, stream))
        for placed in solved.model.flowsheet.placed
        if placed.cls.kind in kinds
        for streams in placed.connections.values()
        for stream in streams
    ]


def flow_of(solved: Solved, stream: str) -> float:
    """Mass flow of a stream. [t/h]."""
    kind = solved.model.flowsheet.streams[stream]
    return sum(solved[f"{stream}.{item}"] for item in kind.typical if item in MASS)
