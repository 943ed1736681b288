"""Each station's performance against its own history in the season, with limits.

The mean of a period's shifts against that of the shifts before it. Limits allow for the spread
of single shifts, for their memory (a slow wander makes the mean of a week less sure than chance
would) and for how many parameters are looked at together. A parameter of which priors carry more
than readings has no history of its own and is left out. Source: [own_derivation].
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from canewright.engine.adjusting.influences import DETERMINED_UP_TO
from canewright.engine.adjusting.solution import Vector
from canewright.engine.adjusting.statistics import CONFIDENCE
from canewright.engine.chain.carried import Carried
from canewright.engine.chain.chain_parts import Period, ShiftResult

LEAST = 9
"""Shifts before the period below which there is no history: three days; our choice."""
RECENT = 21
"""Shifts that are held against all before them where no period is named: a week."""
MEMORY = 0.95
"""Largest correlation of neighbouring shifts that a few of them can show; our choice."""
STILL = 1e-12


@dataclass(frozen=True)
class History:
    """One performance parameter in a period against the shifts before it.

    Attributes
    ----------
    name, label, unit : str
    mean, low, high : float
        Mean of the shifts before, and limits for the mean of the period.
    now : float
        Mean of the period.
    since : str
        First of the last shifts in a row on this side of the mean of before.
    """

    name: str
    label: str
    unit: str
    mean: float
    low: float
    high: float
    now: float
    since: str

    @property
    def moved(self) -> bool:
        """Whether the mean of the period lies outside the limits."""
        return not self.low <= self.now <= self.high

    @property
    def away(self) -> float:
        """Distance of the period's mean from that of before, as part of the limits' width."""
        return (self.now - self.mean) / (self.high - self.mean)


def histories(
    carried: Carried, results: Sequence[ShiftResult], period: Period | None = None
) -> list[History]:
    """Every performance parameter that readings determine, the furthest from its history first.

    Parameters
    ----------
    carried : Carried
    results : sequence of ShiftResult
        Of the season, in order.
    period : Period, optional
        What is held against the shifts before it; the last `RECENT` shifts when left out.

    Returns
    -------
    list of History
        Empty where fewer than `LEAST` shifts are before the period.
    """
    if period is None:
        before, within = results[:-RECENT], results[-RECENT:]
    else:
        before = [r for r in results if r.number < period.first]
        within = [r for r in results if period.first <= r.number <= period.last]
    if len(before) < LEAST or not within:
        return []
    model, last = carried.reconciler.model, within[-1]
    looked_at = [
        place
        for place, position in enumerate(carried.positions)
        if carried.kinds[place] == "level"
        and model.variables[position].role == "fitted"
        and last.carried_sd[place] ** 2 <= DETERMINED_UP_TO * carried.variance[place]
    ]
    if not looked_at:
        return []
    single = 1 - CONFIDENCE ** (1 / len(looked_at))
    series = {
        place: np.array([r.point[carried.positions[place]] for r in results]) for place in looked_at
    }
    then_of = {place: values[: len(before)] for place, values in series.items()}
    # Sixty shifts tell the memory of one parameter roughly: none is taken to have less than half
    # of them have.
    usual = float(np.median([memory_of(values) for values in then_of.values()]))
    found = []
    for place in looked_at:
        position, then = carried.positions[place], then_of[place]
        now = series[place][len(before) : len(before) + len(within)]
        mean, own = float(then.mean()), spread_of(then, usual)
        limit = float(special.stdtrit(own.degrees, 1 - single / 2))
        half = limit * float(np.sqrt(own.of_mean(then.size) + own.of_mean(now.size)))
        if not half > STILL * max(abs(mean), STILL):
            continue
        variable = model.variables[position]
        found.append(
            History(
                carried.names[place],
                variable.label or carried.names[place],
                variable.unit,
                mean,
                mean - half,
                mean + half,
                float(now.mean()),
                _since([*before, *within], np.concatenate([then, now]) - mean),
            )
        )
    return sorted(found, key=lambda history: -abs(history.away))


@dataclass(frozen=True)
class Spread:
    """Spread of single values of a series: variance, correlation of neighbours, degrees."""

    variance: float
    memory: float
    degrees: float

    def of_mean(self, count: int) -> float:
        """Variance of the mean of so many values in a row."""
        return self.variance * part_left(self.memory, count)


def part_left(memory: float, count: int) -> float:
    """Variance of a mean of values in a row, as part of that of one.

    With a correlation r of neighbours that falls off as its powers:
    1/n (1 + 2 sum of (1 - d/n) r^d).
    """
    apart = np.arange(1, count)
    return (1 + 2 * float((1 - apart / count) @ memory**apart)) / count


def memory_of(values: Vector) -> float:
    """Correlation of neighbours of a series, with its known bias, -(1 + 3 r)/n, taken off."""
    count, away = values.size, values - values.mean()
    square = float(away @ away)
    if not square > 0:
        return 0.0
    seen = float(away[1:] @ away[:-1]) / square
    return min(max((seen + 1 / count) / (1 - 3 / count), 0.0), MEMORY)


def spread_of(values: Vector, least_memory: float = 0.0) -> Spread:
    """Spread of a series by its own values, and a memory that it has at least.

    The variance and its degrees of freedom allow for values that say the same twice.
    """
    away = values - values.mean()
    memory = max(memory_of(values), least_memory)
    left = part_left(memory, values.size)
    variance = float(away @ away) / values.size / (1 - left)
    return Spread(variance, memory, max(1 / left - 1, 1.0))


def _since(results: Sequence[ShiftResult], away: Vector) -> str:
    side = np.sign(away[-1])
    other = np.flatnonzero(np.sign(away) != side)
    return results[int(other[-1]) + 1 if other.size else 0].name if side else results[-1].name
