"""Limits that contradict each other: a smallest set of them, in words."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from canewright.engine.advising.optimum import Best, Given
from canewright.engine.advising.program import Program
from canewright.engine.equations.simulate import SolveFailed

REACH = -1
"""Stands for the moves accepted in a shift among the limits that may contradict each other."""
COUNTS = 1e-6
"""Scaled multiplier from which a limit has a part in the conflict."""


class LimitsConflict(ValueError):
    """The limits contradict each other; `limits` is a smallest set that does, in words."""

    def __init__(self, limits: Sequence[str]) -> None:
        self.limits = list(limits)
        super().__init__(
            f"These limits cannot be kept together: {'; '.join(self.limits)}. Loosen one of them; "
            "without any one of them the others can be kept."
            if len(self.limits) > 1
            else f"This limit cannot be kept: {'; '.join(self.limits)}. Loosen it."
        )


def conflict(program: Program, given: Given) -> list[str]:
    """A smallest set of limits that cannot be kept together, in words; empty if they can.

    Limits are taken away one by one: what can be spared while the rest still contradict
    each other is not part of the set.
    """
    everything = [*range(len(program.bounds)), REACH]
    elastic = _least_passed(program, given, everything)
    if elastic is None or not _passes(elastic):
        return []
    likely = [
        k
        for k, bound in enumerate(program.bounds)
        if abs(elastic.limit_prices[k]) * bound.scale > COUNTS or elastic.passed[k] > 0
    ]
    kept = [*likely, REACH]
    if not _contradict(program, given, kept):
        kept = everything
    for one in list(kept):
        fewer = [other for other in kept if other != one]
        if _contradict(program, given, fewer):
            kept = fewer
    return [_in_words(program, k, elastic) for k in kept]


def _contradict(program: Program, given: Given, kept: Sequence[int]) -> bool:
    found = _least_passed(program, given, kept)
    return found is None or _passes(found)


def _passes(best: Best) -> bool:
    return bool(np.any(best.passed > 0))


def _least_passed(program: Program, given: Given, kept: Sequence[int]) -> Best | None:
    low, high = given.low.copy(), given.high.copy()
    if REACH not in kept:
        for k, one in enumerate(program.settings):
            low[k], high[k] = one.lower, one.upper
    loose = Given(**{**vars(given), "low": low, "high": high})
    without = [k for k in range(len(program.bounds)) if k not in kept]
    try:
        return program.solve(
            loose, may_pass=lambda _: True, without=without, money=False, elastic=1.0
        )
    except SolveFailed:
        return None


def _in_words(program: Program, k: int, elastic: Best) -> str:
    if k == REACH:
        return "how far settings are moved in a shift"
    bound = program.bounds[k]
    reached = elastic.passed[k]
    if not reached > 0:
        return bound.words
    furthest = bound.value + bound.sign * reached
    return f"{bound.words} (it comes to {furthest:.5g})"
