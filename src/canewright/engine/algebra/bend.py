"""How expressions bend: their second derivatives, entry by entry."""

from __future__ import annotations

from typing import Any

import casadi
import numpy as np

from canewright.engine.algebra.evaluate import Evaluator, Vector


class Bend:
    """Second derivatives of many expressions, compiled once.

    Parameters
    ----------
    variables, parameters : casadi.SX (n), (p)
        What the expressions are of; derivatives are by the variables.
    expressions : casadi.SX (m)

    Attributes
    ----------
    rows, first, second : array of int (z)
        Of each entry: its expression, and the two variables it is derived by. Two different
        variables stand in both orders.
    """

    def __init__(self, variables: Any, parameters: Any, expressions: Any) -> None:
        self.count = int(expressions.numel())
        slopes = casadi.jacobian(expressions, variables)
        rows, columns = (
            np.array(places, dtype=np.intp) for places in slopes.sparsity().get_triplet()
        )
        entries = casadi.vertcat(casadi.SX(0, 1), *slopes.nonzeros())
        self._of_slopes = Evaluator(variables, parameters, entries)
        self.rows, self.first = rows[self._of_slopes.rows], columns[self._of_slopes.rows]
        self.second = self._of_slopes.columns

    def __call__(self, point: Vector, given: Vector) -> Vector:
        """The entries (z); overwritten by the next call."""
        return self._of_slopes(point, given)[1]

    def raised(self, entries: Vector, covariance: Vector) -> Vector:
        """What each expression gains by its bend, its variables scattering (m).

        Parameters
        ----------
        entries : array (z)
        covariance : array (z)
            Of the two variables of each entry.
        """
        return np.asarray(0.5 * np.bincount(self.rows, entries * covariance, minlength=self.count))
