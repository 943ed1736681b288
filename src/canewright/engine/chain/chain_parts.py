"""What a chain of shifts is made of: readings, periods, results, and what it carries."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cache
from typing import Protocol

import numpy as np

from canewright.engine.adjusting.reconcile import Measurement
from canewright.engine.adjusting.solution import Vector
from canewright.engine.algebra.kkt import Matrix
from canewright.engine.chain.carried import Step
from canewright.engine.chain.filter import Totals, Update
from canewright.engine.chain.response import Local
from canewright.engine.chain.setting_aside import SetAside


@dataclass(frozen=True)
class ShiftReadings:
    """What was read in one shift."""

    name: str
    start: datetime | None
    hours: float
    measurements: tuple[Measurement, ...]

    @property
    def end(self) -> datetime | None:
        """When the shift ended."""
        return None if self.start is None else self.start + timedelta(hours=self.hours)


@dataclass(frozen=True)
class Period:
    """Shifts that are added up: from the first to the last, both counted from 0.

    Attributes
    ----------
    headline : bool
        Whether only the headline amounts are added up.
    kept_until : int
        Last shift until which its totals are carried on after its end, to be corrected by
        what comes after and compared with other periods. Then they are put down for the
        smoother.
    whole_until : int
        Of a headline period: last shift until which all its amounts are added up all the same.
        Then what they make is told, and only the headline ones are carried on.
    """

    name: str
    first: int
    last: int
    headline: bool = False
    kept_until: int = -1
    whole_until: int = -1


@dataclass(frozen=True)
class Freed:
    """An instrument whose bias is let go from a shift on, by this much in a shift.

    `jump` and `wander` are in its standard uncertainties: once, and in each shift after.
    """

    instrument: str
    shift: int
    jump: float
    wander: float = 0.0


def let_go(freed: Sequence[Freed], names: Sequence[str], number: int, step: Step) -> Step:
    """The step to a shift with the biases that are let go widened."""
    if not freed:
        return step
    noise = step.noise.copy()
    for item in freed:
        place = names.index(item.instrument)
        if number == item.shift:
            noise[place] += item.jump**2
        if number > item.shift:
            noise[place] += item.wander**2
    return Step(step.keep, noise, step.renewed)


@dataclass(frozen=True)
class ShiftResult:
    """What the chain says of a shift, from it and those before it.

    Attributes
    ----------
    carried, carried_sd : array (n)
        Levels, stocks (closing), relations and biases after the shift.
    figures, figures_sd : array
        The figures asked for, of this shift.
    amounts : array
        Amounts of this shift.
    to_date, to_date_covariance : array
        Headline totals of the longest open period, and their covariance.
    scatter : array (5)
        What the shift shows of scatter and noise: see `scatter.shown_by`.
    alone, alone_covariance : array
        This shift's headline amounts, and their covariance, if it were balanced by itself.
    """

    number: int
    name: str
    start: datetime | None
    hours: float
    joined: bool
    gamma: float
    degrees_of_freedom: int
    aside: tuple[SetAside, ...]
    held: tuple[int, ...]
    steps: int
    seconds: float
    point: Vector
    carried: Vector
    carried_sd: Vector
    figures: Vector
    figures_sd: Vector
    amounts: Vector
    to_date: Vector
    to_date_covariance: Matrix
    scatter: Vector
    alone: Vector
    alone_covariance: Matrix


@dataclass
class Block:
    """Totals of one period: the rows they take among all totals.

    `since` is the shift that was added first: later than the period's first where that one
    could not be balanced. `shifts` is how many were added.
    """

    period: Period
    amounts: np.ndarray
    rows: np.ndarray
    since: int
    shifts: int = 0


@dataclass
class ClosedPeriod:
    """Totals of a period when they were put down, with their covariance with what was carried.

    `after` is the number of the shift after which that was; -1 while they are still carried on.
    """

    period: Period
    amounts: np.ndarray
    totals: Totals
    after: int = -1


@dataclass
class EndedPeriod:
    """What all amounts of a period made when it ended.

    Attributes
    ----------
    shifts : int
        How many were added up.
    totals, totals_sd, totals_prior_share : array (q)
        Of each amount, in their order.
    figures, figures_sd, figures_prior_share : array (m)
        Of each figure, in their order.
    """

    period: Period
    shifts: int
    totals: Vector
    totals_sd: Vector
    totals_prior_share: Vector
    figures: Vector
    figures_sd: Vector
    figures_prior_share: Vector


@dataclass
class Memory:
    """One shift as the smoother needs it.

    Attributes
    ----------
    number : int
        Of the shift.
    mean, triangle : array (n), (n (n + 1) / 2)
        Carried after the shift, closing stocks as stocks; `triangle` is half of the covariance,
        row by row.
    opening, opening_covariance, opening_cross : array
        Opening stocks of the shift, and their covariance with the carried after it.
    step : Step
        How the carried of the shift before came to this one.
    ended : list of ClosedPeriod
        Periods of which everything was added up and that ended with the shift.
    """

    number: int
    mean: Vector
    triangle: Vector
    opening: Vector
    opening_covariance: Matrix
    opening_cross: Matrix
    step: Step
    ended: list[ClosedPeriod] = field(default_factory=list)

    @property
    def covariance(self) -> Matrix:
        """Of the carried after the shift, made whole again."""
        size = self.mean.size
        whole = np.zeros((size, size))
        whole[_lower(size)] = self.triangle
        return np.asarray(np.where(_lower(size), whole, whole.T))

    @staticmethod
    def half(covariance: Matrix) -> Vector:
        """The half of a covariance that is kept."""
        return np.asarray(covariance[_lower(len(covariance))])


@cache
def _lower(size: int) -> np.ndarray:
    return np.tri(size, dtype=bool)


class Remembering(Protocol):
    """What takes in the shifts for the smoother: a list, for one."""

    def append(self, memory: Memory, /) -> None:
        """Take in one more shift."""


@dataclass
class ChainState:
    """Everything a chain carries between two shifts.

    `scatter` is the sum of what the shifts showed of it: see `scatter.shown_by`.
    """

    number: int
    mean: Vector
    covariance: Matrix
    totals: Totals
    blocks: list[Block] = field(default_factory=list)
    scatter: Vector = field(default_factory=lambda: np.zeros(5))
    point: Vector | None = None
    hours: float = 0.0
    end: datetime | None = None
    start: datetime | None = None
    local: Local | None = None


@dataclass(frozen=True)
class Said:
    """What the readings of a shift say of its inputs and of what is carried.

    Attributes
    ----------
    update : Update
    weights, moved : array (n)
        Movement of the inputs over their covariance before, and itself.
    gain, gain_inputs : array (n, k)
        Movement of the carried, and of the inputs (scatter included), per innovation.
    of_inputs, inputs_carried : array (n, n)
        Covariance of the inputs, and of them with the carried, after the readings.
    follow : array (s, n)
        Derivative of the closing stocks with respect to the inputs.
    amounts, gradient : array (q), (q, n)
        Amounts of the shift and their derivatives with respect to the inputs.
    """

    update: Update
    weights: Vector
    moved: Vector
    gain: Matrix
    gain_inputs: Matrix
    of_inputs: Matrix
    inputs_carried: Matrix
    follow: Matrix
    amounts: Vector
    gradient: Matrix
