"""Closed forms for linear adjustments: A x + B u = c with readings of x and none of u.

An independent route: dense, with projection instead of the KKT matrix, and with any
covariance of the readings. The engine does not need it; tests and small hand-made networks do.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from scipy import linalg

from canewright.engine.adjusting.solution import Vector

Matrix = npt.NDArray[np.float64]

RANK_TOLERANCE = 1e-10
"""Part of the largest pivot below which a direction counts as absent."""


def _qr(matrix: Matrix) -> tuple[Matrix, int]:
    """Orthogonal factor (full) and rank, by column-pivoted QR."""
    if not matrix.size:
        return np.eye(matrix.shape[0]), 0
    q, r, _ = linalg.qr(matrix, pivoting=True)
    sizes = np.abs(np.diag(r))
    return np.asarray(q), int((sizes > RANK_TOLERANCE * max(sizes.max(), 1e-300)).sum())


def _null_space(matrix: Matrix) -> Matrix:
    """Orthonormal columns that the matrix sends to zero."""
    q, rank = _qr(np.asarray(matrix.T))
    return q[:, rank:]


@dataclass(frozen=True)
class Classification:
    """Which readings are checked and which unread quantities are known, by index.

    `redundant` and `nonredundant` index the readings, `observable` and `unobservable` the
    unread quantities.
    """

    redundant: list[int]
    nonredundant: list[int]
    observable: list[int]
    unobservable: list[int]


def classify(read: npt.ArrayLike, unread: npt.ArrayLike) -> Classification:
    """Classify readings and unread quantities from the Jacobian of the equations.

    A reading is redundant if its column of P A is not zero, P being a projection that removes
    B; an unread quantity is observable if its row of the null space of B is zero. For
    nonlinear equations use the Jacobian at two or more points.
    Sources: [swartz1989], [crowe1983].

    Parameters
    ----------
    read : array_like (m, n)
        Columns A of the equations that belong to the readings.
    unread : array_like (m, p)
        Columns B that belong to unread quantities.
    """
    a, b = np.asarray(read, dtype=float), np.asarray(unread, dtype=float)
    q, rank = _qr(b)
    projected = q[:, rank:].T @ a
    size = np.linalg.norm(projected, axis=0) if projected.size else np.zeros(a.shape[1])
    checked = size > RANK_TOLERANCE * np.maximum(np.linalg.norm(a, axis=0), 1e-300)
    hidden = np.linalg.norm(_null_space(b), axis=1) > np.sqrt(RANK_TOLERANCE)
    return Classification(
        redundant=[int(i) for i in np.flatnonzero(checked)],
        nonredundant=[int(i) for i in np.flatnonzero(~checked)],
        observable=[int(i) for i in np.flatnonzero(~hidden)],
        unobservable=[int(i) for i in np.flatnonzero(hidden)],
    )


class LinearAdjustment:
    """Adjustment of readings y of x to A x + B u = c.

    Parameters
    ----------
    read : array_like (m, n)
        Coefficients A of the quantities read.
    readings : array_like (n)
    covariance : array_like (n, n) or (n)
        Covariance of the readings, or their standard uncertainties.
    unread : array_like (m, p), optional
        Coefficients B of quantities not read.
    constants : array_like (m), optional
        Right side c; zeros when not given.
    """

    def __init__(
        self,
        read: npt.ArrayLike,
        readings: npt.ArrayLike,
        covariance: npt.ArrayLike,
        unread: npt.ArrayLike | None = None,
        constants: npt.ArrayLike | None = None,
    ) -> None:
        self._a = np.asarray(read, dtype=float)
        rows = self._a.shape[0]
        self.readings = np.asarray(readings, dtype=float)
        given = np.asarray(covariance, dtype=float)
        self.covariance = np.diag(given**2) if given.ndim == 1 else given
        self._b = np.zeros((rows, 0)) if unread is None else np.asarray(unread, dtype=float)
        self._c = np.zeros(rows) if constants is None else np.asarray(constants, dtype=float)
        q, rank = _qr(self._b)
        reduced = q[:, rank:].T @ self._a
        keep, self.degrees_of_freedom = _qr(reduced)
        basis = q[:, rank:] @ keep[:, : self.degrees_of_freedom]
        self._reduced = basis.T @ self._a
        self._residual = basis.T @ (self._a @ self.readings - self._c)
        self._spread = self._reduced @ self.covariance @ self._reduced.T
        self._basis = basis

    def _weigh(self, right: Matrix) -> Matrix:
        """S^-1 times the right side."""
        if not self.degrees_of_freedom:
            return np.zeros_like(right)
        return np.asarray(linalg.solve(self._spread, right, assume_a="pos"))

    @cached_property
    def adjusted(self) -> Vector:
        """x^ = y - V A' S^-1 r. Source: [kuehn_davidson1961]; unread ones [crowe1983]."""
        step = self.covariance @ self._reduced.T @ self._weigh(self._residual)
        return np.asarray(self.readings - step)

    @cached_property
    def adjusted_covariance(self) -> Matrix:
        """V^ = V - V A' S^-1 A V. Source: [kuehn_davidson1961]."""
        cross = self._reduced @ self.covariance
        return np.asarray(self.covariance - cross.T @ self._weigh(cross))

    @cached_property
    def unread(self) -> Vector:
        """Quantities not read, from B u = c - A x^; nan where unobservable."""
        found = np.linalg.lstsq(self._b, self._c - self._a @ self.adjusted, rcond=None)[0]
        found[classify(self._a, self._b).unobservable] = np.nan
        return np.asarray(found)

    @cached_property
    def unread_covariance(self) -> Matrix:
        """Covariance of the quantities not read; meaningless where unobservable."""
        lead = np.linalg.pinv(self._b) @ self._a
        return np.asarray(lead @ self.adjusted_covariance @ lead.T)

    @cached_property
    def gamma(self) -> float:
        """Global statistic r' S^-1 r. Source: [reilly_carpani1963]."""
        return float(self._residual @ self._weigh(self._residual))

    @cached_property
    def adjustments(self) -> Vector:
        """Reading less adjusted value."""
        return self.readings - self.adjusted

    @cached_property
    def measurement_test(self) -> Vector:
        """Adjustment over its standard uncertainty. Source: [mah_tamhane1982]."""
        own = np.diag(self.covariance) - np.diag(self.adjusted_covariance)
        return _ratio(self.adjustments, own, np.diag(self.covariance))

    @cached_property
    def maximum_power_test(self) -> Vector:
        """Form with the greatest power for correlated readings. Source: [tamhane1982]."""
        inner = self._reduced.T @ self._weigh(self._reduced)
        scores = self._reduced.T @ self._weigh(self._residual)
        return _ratio(scores, np.diag(inner), np.diag(np.linalg.inv(self.covariance)))

    @cached_property
    def nodal_test(self) -> Vector:
        """Residual of each equation over its standard uncertainty, everything being read.

        Raises
        ------
        ValueError
            If quantities are unread: their equations have no residual of their own.
        """
        if self._b.shape[1]:
            raise ValueError("The nodal test needs readings of every quantity.")
        residual = self._a @ self.readings - self._c
        spread = np.diag(self._a @ self.covariance @ self._a.T)
        return np.asarray(residual / np.sqrt(spread))

    def likelihood_ratio(
        self, bias: npt.ArrayLike | None = None, loss: npt.ArrayLike | None = None
    ) -> tuple[float, float, float]:
        """Statistic, size and standard uncertainty of a supposed bias and/or loss.

        T = (f' S^-1 r)^2 / (f' S^-1 f) with f = A d for a bias along d over the readings, and
        the direction over the equations for a loss, e.g. a unit vector for a loss at one node.
        Source: [narasimhan_mah1987].
        """
        direction = np.zeros(self._a.shape[0])
        if bias is not None:
            direction = direction + self._a @ np.asarray(bias, dtype=float)
        if loss is not None:
            direction = direction + np.asarray(loss, dtype=float)
        along = self._basis.T @ direction
        weight = float(along @ self._weigh(along))
        if weight <= 0:
            return 0.0, float("nan"), float("inf")
        score = float(along @ self._weigh(self._residual))
        return score**2 / weight, score / weight, float(weight**-0.5)

    @cached_property
    def principal_components(self) -> tuple[Vector, Vector]:
        """Variances and standardised scores of the principal components of the residuals.

        The squares of the scores sum to gamma; signs are arbitrary. Source: [tong_crowe1995].
        """
        if self._b.shape[1]:
            variances, vectors = np.linalg.eigh(self._spread)
            return variances, vectors.T @ self._residual / np.sqrt(variances)
        variances, vectors = np.linalg.eigh(self._a @ self.covariance @ self._a.T)
        residual = self._a @ self.readings - self._c
        return variances, vectors.T @ residual / np.sqrt(variances)


def _ratio(part: Vector, own: Vector, whole: Vector) -> Vector:
    """Ratio part / sqrt(own), nan where `own` is only rounding of `whole`."""
    known = own > RANK_TOLERANCE * whole
    return np.where(known, part / np.sqrt(np.where(known, own, 1.0)), np.nan)
