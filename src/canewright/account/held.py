"""Quantities that shifts of a season hold at the edge of what they can be.

What follows from them is known to one side only, while intervals to date are told to both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from canewright.account.sentences import spoken
from canewright.account.words import _, told
from canewright.engine.adjusting.reconcile import Reconciler
from canewright.engine.chain.chain_parts import ShiftResult


@dataclass(frozen=True)
class Held:
    """A quantity at the edge of what it can be.

    Attributes
    ----------
    quantity, unit : str
    lowest : bool
        Whether the readings ask for less than it can be; else for more.
    value : float
        Where it is held in the last of the shifts, in `unit`.
    shifts : tuple of int
        Numbers of the shifts.
    sentence : str
        What that means.
    """

    quantity: str
    unit: str
    lowest: bool
    value: float
    shifts: tuple[int, ...]
    sentence: str


def held_in(reconciler: Reconciler, results: Sequence[ShiftResult]) -> list[Held]:
    """Every quantity held in some of the shifts, that of the most shifts first."""
    problem, variables = reconciler.problem, reconciler.model.variables
    found: dict[tuple[int, bool], list[ShiftResult]] = {}
    for result in results:
        for place in result.held:
            at = result.point[place]
            # An edge that is not there is infinitely far.
            lowest = bool(at - problem.lower[place] <= problem.upper[place] - at)
            found.setdefault((place, lowest), []).append(result)
    told_of = []
    for (place, lowest), there in found.items():
        quantity, unit = spoken(problem.variable_names[place]), ""
        if place < len(variables):
            quantity, unit = variables[place].label or quantity, variables[place].unit
        numbers = tuple(result.number for result in there)
        value = float(there[-1].point[place])
        sentence = _sentence(told(quantity), f"{value:.4g} {unit}".strip(), numbers, lowest=lowest)
        told_of.append(Held(quantity, unit, lowest, value, numbers, sentence))
    return sorted(told_of, key=lambda one: (-len(one.shifts), one.quantity))


def _sentence(quantity: str, value: str, shifts: tuple[int, ...], *, lowest: bool) -> str:
    """What it means that a quantity is held."""
    text = (
        _("{quantity}: held at its lowest, {value}, in {shifts}; the readings ask for less.")
        if lowest
        else _("{quantity}: held at its highest, {value}, in {shifts}; the readings ask for more.")
    )
    many = _("shift {number}") if len(shifts) == 1 else _("{count} shifts, the last {number}")
    where = many.format(number=shifts[-1] + 1, count=len(shifts))
    return f"{text.format(quantity=quantity, value=value, shifts=where)} " + _(
        "What follows from it is known to one side only, which its interval does not say."
    )
