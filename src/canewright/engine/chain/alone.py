"""What a shift would say of its amounts if there were no shifts before it."""

from __future__ import annotations

import numpy as np

from canewright.engine.adjusting.solution import Vector
from canewright.engine.algebra.kkt import Matrix
from canewright.engine.chain.carried import Carried
from canewright.engine.chain.chain_parts import Said
from canewright.engine.chain.chained_shift import Balanced
from canewright.engine.chain.filter import update


class Alone:
    """Shifts balanced by themselves, by the derivatives at the point of the chain.

    Parameters
    ----------
    carried : Carried
    chosen : array of int
        Which amounts are asked for.
    """

    def __init__(self, carried: Carried, chosen: np.ndarray) -> None:
        self._chosen = chosen
        self._mean, covariance = carried.beforehand()
        self._spread = covariance + np.diag(carried.scatter)
        self._stock = carried.is_stock

    def of(self, balanced: Balanced, mean: Vector, said: Said) -> tuple[Vector, Matrix]:
        """Amounts and their covariance.

        Parameters
        ----------
        balanced : Balanced
        mean : array (n)
            Of the inputs before the readings, from the shifts before.
        said : Said
        """
        update_there, first = balanced.update, self._mean
        innovation = update_there.lower @ update_there.innovation
        innovation += balanced.sensitivity @ (mean - first)
        beside = self._times(balanced.sensitivity)
        own = update(balanced.sensitivity, balanced.noise, self._spread, innovation, beside)
        lead = said.gradient[self._chosen]
        wide = self._times(lead)
        pull = own.gain(wide)
        inputs = mean + said.moved
        amounts = said.amounts[self._chosen] + lead @ (first - inputs) + pull @ own.innovation
        return amounts, wide @ lead.T - pull @ pull.T

    def _times(self, rows: Matrix) -> Matrix:
        """Rows times the covariance of inputs of which only stocks are known together."""
        stock = self._stock
        found = rows * np.diag(self._spread)
        found[:, stock] = rows[:, stock] @ self._spread[np.ix_(stock, stock)]
        return found
