"""Forward pass of a linear-Gaussian chain: what readings say of a state, and of totals over it.

Source: [kalman1960] for the update; the totals are one more part of the state that nothing
reads ([own_derivation]).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.linalg as linalg

from canewright.engine.adjusting.solution import Vector
from canewright.engine.algebra.kkt import Matrix
from canewright.engine.equations.simulate import SolveFailed


@dataclass(frozen=True)
class Update:
    """What readings with these sensitivities say.

    Attributes
    ----------
    lower : array (k, k)
        Cholesky factor of the covariance of the innovations.
    whitened : array (k, n)
        Sensitivities over that factor.
    innovation : array (k)
        Whitened innovation: independent, of variance 1 where all is as stated.
    beside : array (k, n)
        Sensitivities times the covariance of the state before.
    """

    lower: Matrix
    whitened: Matrix
    innovation: Vector
    beside: Matrix

    @cached_property
    def moved(self) -> Matrix:
        """Movement of the state per whitened innovation (n, k)."""
        right = np.asfortranarray(self.beside)
        return np.asarray(linalg.blas.dtrsm(1.0, self.lower, right, lower=1).T)

    @cached_property
    def inverse(self) -> Matrix:
        """Inverse of the factor (k, k)."""
        return np.asarray(linalg.solve_triangular(self.lower, np.eye(len(self.lower)), lower=True))

    @property
    def gamma(self) -> float:
        """Sum of the squared innovations: chi-squared, one degree of freedom a reading."""
        return float(self.innovation @ self.innovation)

    @property
    def standardised(self) -> Vector:
        """Each reading against all the others and what was known before it."""
        pull = self.inverse.T @ self.innovation
        return np.asarray(pull / np.sqrt((self.inverse**2).sum(axis=0)))

    def gain(self, spread: Matrix) -> Matrix:
        """Movement of quantities per whitened innovation, from their covariance with the state.

        `spread` (q, n) is the covariance of the quantities with the state before the readings.
        """
        return np.asarray(spread @ self.whitened.T)


def update(
    sensitivity: Matrix,
    noise: Vector,
    spread: Matrix,
    innovation: Vector,
    beside: Matrix | None = None,
) -> Update:
    """Weigh readings against what was known.

    Parameters
    ----------
    sensitivity : array (k, n)
        Derivative of each reading with respect to the state.
    noise : array (k)
        Variance of each reading.
    spread : array (n, n)
        Covariance of the state before.
    innovation : array (k)
        Readings less what was expected of them.
    beside : array (k, n), optional
        Sensitivity times spread, where that is known.

    Raises
    ------
    SolveFailed
        If the covariance of the readings is not positive definite in these numbers.
    """
    if beside is None:
        beside = sensitivity @ spread
    sums = beside @ sensitivity.T
    sums[np.diag_indices_from(sums)] += noise
    lower, failed = linalg.lapack.dpotrf(sums, lower=1, clean=1)
    if failed:
        raise SolveFailed(
            "The readings cannot be weighed against what the shifts before told: that is too "
            "uncertain to count with. Look for readings far from what can be in those shifts."
        )
    size = sensitivity.shape[1]
    right = np.empty((len(lower), size + 1), order="F")
    right[:, :size], right[:, -1] = sensitivity, innovation
    white = linalg.blas.dtrsm(1.0, lower, right, lower=1, overwrite_b=1)
    return Update(lower, white[:, :size], white[:, -1], beside)


def even(matrix: Matrix) -> Matrix:
    """The symmetric part, where rounding parted a matrix from its transpose."""
    return 0.5 * (matrix + matrix.T)


@dataclass
class Totals:
    """Running totals, jointly Gaussian with the state.

    Attributes
    ----------
    mean : array (q)
    covariance : array (q, q)
    cross : array (q, n)
        Covariance with the carried state.
    """

    mean: Vector
    covariance: Matrix
    cross: Matrix

    @classmethod
    def none(cls, size: int) -> Totals:
        """No totals yet, over a state of this size."""
        return cls(np.zeros(0), np.zeros((0, 0)), np.zeros((0, size)))

    @property
    def size(self) -> int:
        """Number of totals."""
        return self.mean.size

    def grown(self, count: int) -> Totals:
        """With `count` more totals, exactly zero."""
        covariance = np.zeros((self.size + count, self.size + count))
        covariance[: self.size, : self.size] = self.covariance
        return Totals(
            np.concatenate([self.mean, np.zeros(count)]),
            covariance,
            np.vstack([self.cross, np.zeros((count, self.cross.shape[1]))]),
        )

    def kept(self, rows: np.ndarray) -> Totals:
        """Only some of the totals."""
        return Totals(
            self.mean[rows], self.covariance[np.ix_(rows, rows)].copy(), self.cross[rows].copy()
        )

    def blocks(self, kept: Sequence[np.ndarray]) -> Totals:
        """Only these blocks of totals, without covariance between them."""
        every = np.concatenate([np.zeros(0, dtype=int), *kept])
        covariance = np.zeros((every.size, every.size))
        first = 0
        for rows in kept:
            part = slice(first, first + rows.size)
            covariance[part, part] = self.covariance[np.ix_(rows, rows)]
            first = part.stop
        return Totals(self.mean[every], covariance, self.cross[every])
