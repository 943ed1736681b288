"""How uncertain the totals of a period would be by the priors alone, without any reading."""

from __future__ import annotations

import numpy as np

from canewright.engine.adjusting.solution import Vector
from canewright.engine.algebra.kkt import Matrix
from canewright.engine.chain.amounts import Amounts
from canewright.engine.chain.carried import Carried

NOTHING = 1e-300


class PriorSpread:
    """Variance of what is made of totals, by the priors alone.

    Levels, relations and biases last from shift to shift as they do in the chain, their scatter
    is drawn anew; what was in stock counts once, as stated beforehand. The derivatives are
    those of one shift, taken for all shifts of the period [own_derivation]. Of one shift it is
    what a single balance takes as the variance without readings.

    Parameters
    ----------
    carried : Carried
    amounts : Amounts
    gradient : array (q, n)
        Derivatives of the amounts of a shift by its inputs.
    shifts : int
        How many were added up.
    """

    def __init__(self, carried: Carried, amounts: Amounts, gradient: Matrix, shifts: int) -> None:
        self.gradient = gradient
        self._summed = np.array([amount.rule == "sum" for amount in amounts.amounts])
        mean, spread = carried.beforehand()
        del mean
        stock = carried.is_stock
        self._stock, self._of_stocks = stock, spread[np.ix_(stock, stock)]
        self._lasting = np.where(stock, 0.0, lasting(carried, shifts) * np.diag(spread))
        self._once = np.where(stock, 0.0, np.diag(spread))
        self._scatter, self._shifts = carried.scatter, shifts

    def variances(self, gradients: Matrix, chosen: np.ndarray | None = None) -> Vector:
        """Variance of each row of derivatives by the totals: all of them, or those chosen."""
        rows = slice(None) if chosen is None else chosen
        lead, summed = self.gradient[rows], self._summed[rows]
        over = (gradients * summed) @ lead
        ends = (gradients * ~summed) @ lead
        found = over**2 @ self._lasting + ends**2 @ self._once
        found += (self._shifts * over**2 + ends**2) @ self._scatter
        held = (over + ends)[:, self._stock]
        return np.asarray(found + ((held @ self._of_stocks) * held).sum(axis=1))

    def share(
        self, gradients: Matrix, variances: Vector, chosen: np.ndarray | None = None
    ) -> Vector:
        """Share of what is known that priors alone would give, 0 to 1: variance over variance.

        0 where neither leaves anything uncertain.
        """
        prior = self.variances(gradients, chosen)
        return np.asarray(np.clip(variances / np.maximum(prior, NOTHING), 0.0, 1.0))


def lasting(carried: Carried, shifts: int) -> Vector:
    """Variance of a sum over shifts of what lasts, over its variance in one shift.

    With each shift keeping a part k of the one before: n + 2 sum of (n - d) k^d.
    """
    keep = np.sqrt(1 - carried.drift**2)
    apart = np.arange(1, shifts)
    return np.asarray(shifts + 2 * (shifts - apart) @ keep[None, :] ** apart[:, None])
