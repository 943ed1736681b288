"""Backward pass: what later shifts say of earlier ones.

Source: [rauch_tung_striebel1965], in two halves a shift: from the carried after a shift to the
opening stocks before it, and from there to the carried after the shift before.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import scipy.linalg as linalg

from canewright.engine.adjusting.solution import Vector
from canewright.engine.algebra.kkt import Matrix
from canewright.engine.chain.carried import Carried
from canewright.engine.chain.chain_parts import ClosedPeriod, Memory
from canewright.engine.chain.filter import Totals, even

SINGULAR = 1e-13
"""Part of the largest variance (each in its own size) below which a direction has none."""

TOLD = 1e-6
"""Part of its variance that later shifts must take from a variable to say anything of it."""


@dataclass(frozen=True)
class Smoothed:
    """The carried after a shift, from all the shifts.

    `jump` is, for each carried variable, how many standard deviations the shifts after it ask
    for a jump just before the next shift; nan for the last shift.
    """

    number: int
    mean: Vector
    covariance: Matrix
    jump: Vector

    @property
    def sd(self) -> Vector:
        """Standard uncertainties."""
        return np.sqrt(np.maximum(np.diag(self.covariance), 0.0))


class _Inverse:
    """The inverse of a covariance, each variable in its own size; singular ones included."""

    def __init__(self, covariance: Matrix) -> None:
        self._size = np.sqrt(np.maximum(np.diag(covariance), 1e-300))
        scaled = covariance / np.outer(self._size, self._size)
        self._factor = None
        try:
            self._factor = linalg.cho_factor(scaled, lower=True, check_finite=False)
            smallest = np.diag(self._factor[0]).min() ** 2
        except linalg.LinAlgError:
            smallest = 0.0
        if smallest < SINGULAR:
            self._factor = None
            self._inverse = linalg.pinvh(scaled, rtol=SINGULAR)

    def times(self, right: Matrix) -> Matrix:
        """Inverse times a matrix or vector."""
        scaled = (right.T / self._size).T
        if self._factor is not None:
            found = linalg.cho_solve(self._factor, scaled, check_finite=False)
        else:
            found = self._inverse @ scaled
        return np.asarray((found.T / self._size).T)


def smooth(carried: Carried, memories: Sequence[Memory]) -> Iterator[Smoothed]:
    """The carried after each shift, the last shift first.

    Parameters
    ----------
    carried : Carried
    memories : sequence of Memory
        As the filter filled them, in order.
    """
    last = memories[-1]
    mean, filtered = last.mean.copy(), last.covariance
    covariance = filtered
    jump = np.full(mean.size, np.nan)
    stock = carried.is_stock
    for place in range(len(memories) - 1, -1, -1):
        here = memories[place]
        yield Smoothed(here.number, mean, covariance, jump)
        if place == 0:
            return
        before = memories[place - 1]
        # The carried at the start of this shift: stocks are its opening ones.
        inverse = _Inverse(filtered)
        pull = inverse.times(here.opening_cross.T).T
        opening_gain = np.eye(mean.size)
        opening_gain[stock] = pull
        start = mean.copy()
        start[stock] = here.opening + pull @ (mean - here.mean)
        own = opening_gain @ (covariance - filtered) @ opening_gain.T
        known = np.zeros_like(covariance)
        other = ~stock
        known[np.ix_(other, other)] = filtered[np.ix_(other, other)]
        known[np.ix_(stock, other)] = here.opening_cross[:, other]
        known[np.ix_(other, stock)] = here.opening_cross[:, other].T
        known[np.ix_(stock, stock)] = here.opening_covariance
        spread = even(known + own)
        # The carried after the shift before.
        step, filtered = here.step, before.covariance
        expected, wide = carried.passed(before.mean, filtered, step)
        keep = np.where(step.renewed, 0.0, step.keep)
        back = _Inverse(wide)
        gain = back.times((filtered * keep).T).T
        mean = before.mean + gain @ (start - expected)
        covariance = even(filtered + gain @ (spread - wide) @ gain.T)
        score = back.times(start - expected)
        weight = back.times(back.times(wide - spread).T)
        with np.errstate(invalid="ignore", divide="ignore"):
            told = np.diag(weight) * np.diag(wide) > TOLD
            jump = np.where(told, score / np.sqrt(np.diag(weight)), np.nan)


def smooth_totals(closed: ClosedPeriod, memory: Memory, smoothed: Smoothed) -> Totals:
    """Totals of a closed period, corrected by the shifts that came after it.

    Parameters
    ----------
    closed : ClosedPeriod
        Put down by the chain.
    memory, smoothed : Memory, Smoothed
        Of the shift after which it was.
    """
    totals = closed.totals
    filtered = memory.covariance
    gain = _Inverse(filtered).times(totals.cross.T).T
    change = smoothed.covariance - filtered
    return Totals(
        totals.mean + gain @ (smoothed.mean - memory.mean),
        even(totals.covariance + gain @ change @ gain.T),
        gain @ smoothed.covariance,
    )
