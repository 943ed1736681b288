"""Descent to the most likely inputs of a shift, without ever inverting their covariance.

A point is c = m + M w, with m and M the mean and covariance of the inputs before the readings.
The objective is then half of w.(c - m) plus half the weighted squares of the readings, its
gradient w - q with q the pull of the readings: M may be singular. Steps are those of
Gauss-Newton, improved by what the last steps taught of the curvature that it neglects (BFGS,
[nocedal_wright2006]).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import scipy.linalg as linalg

from canewright.engine.adjusting.solution import Vector
from canewright.engine.algebra.kkt import Matrix
from canewright.engine.chain.filter import Update

REMEMBERED = 10
"""Steps remembered; our choice."""
LONGEST = 8.0
"""Longest step taken at once, in standard deviations of the inputs; our choice."""


@dataclass
class Curvature:
    """The inverse of the Hessian of the objective, as far as it is known.

    Parameters
    ----------
    spread : array (n, n)
        Covariance of the inputs before the readings.
    sensitivity : array (k, n)
        Of what is compared, with respect to the inputs.
    update : Update
        Made from both.
    """

    spread: Matrix
    sensitivity: Matrix
    update: Update
    _steps: list[tuple[Vector, Vector, Vector, float]] = field(default_factory=list)

    def learn(self, moved: Vector, weights: Vector, change: Vector) -> None:
        """Take in a step of the inputs and its weights, and the change of the gradient."""
        product = float(moved @ change)
        if product > 0:
            self._steps = [*self._steps[1 - REMEMBERED :], (moved, weights, change, product)]

    def forget(self) -> None:
        """Forget the steps."""
        self._steps.clear()

    @property
    def learnt(self) -> bool:
        """Whether steps are remembered."""
        return bool(self._steps)

    def down(self, gradient: Vector) -> tuple[Vector, Vector]:
        """The step down a gradient: of the inputs, and of their weights."""
        left, parts = gradient.copy(), []
        for moved, _, change, product in reversed(self._steps):
            part = float(moved @ left) / product
            parts.append(part)
            left -= part * change
        weights = left - self.sensitivity.T @ self._solved(self.sensitivity @ (self.spread @ left))
        step = self.spread @ weights
        for (moved, of_weights, change, product), part in zip(
            self._steps, reversed(parts), strict=True
        ):
            more = part - float(change @ step) / product
            step = step + more * moved
            weights = weights + more * of_weights
        return -step, -weights

    def _solved(self, right: Vector) -> Vector:
        lower = self.update.lower
        return np.asarray(linalg.lapack.dpotrs(lower, right, lower=1)[0])


def bridle(change: Vector, size: Vector) -> float:
    """Part of a step that may be taken at once."""
    longest = float(np.max(np.abs(change) / size))
    return 1.0 if longest <= LONGEST else LONGEST / longest
