"""How far settings and performance scatter from shift to shift, against what is taken for it.

Each shift's innovations have a covariance of three parts: what the shifts before left open, the
scatter of settings and performance, and the noise of the readings. What the innovations show of
the last two is an unbiased quadratic estimate of their sizes [rao1971], added up over shifts:
numbers that make two linear equations for two factors.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from canewright.engine.adjusting.solution import Vector
from canewright.engine.chain.filter import Update

BEFOREHAND = 0.5
"""How well a factor is known to be 1 before any shift: standard uncertainty; our choice."""
LARGEST = 2.0
"""Largest factor that is believed of a season that is still going on; our choice."""


@dataclass(frozen=True)
class Factor:
    """A variance over what is taken for it, and its standard uncertainty."""

    value: float
    sd: float


def shown_by(said: Update, scatter: Vector, noise: Vector) -> Vector:
    """What one shift shows of both factors.

    Parameters
    ----------
    said : Update
        Of the readings used.
    scatter, noise : array (n), (k)
        Variances of the inputs' scatter and of the readings.

    Returns
    -------
    array (5)
        Slopes of the likelihood by the factors of scatter and of noise, at 1 and times two, and
        what these slopes vary with both: scatter with itself, with noise, noise with itself.
    """
    inverse = said.inverse
    moves = np.flatnonzero(scatter)
    shares, wide = said.whitened[:, moves], scatter[moves]
    # The covariance of the innovations, inverted, seen from the inputs and from the readings.
    of_inputs, between, of_readings = shares.T @ shares, shares.T @ inverse, inverse.T @ inverse
    pulls, residuals = shares.T @ said.innovation, inverse.T @ said.innovation
    return np.array(
        [
            wide @ (pulls**2 - np.diag(of_inputs)),
            noise @ (residuals**2 - np.diag(of_readings)),
            wide @ of_inputs**2 @ wide,
            wide @ between**2 @ noise,
            noise @ of_readings**2 @ noise,
        ]
    )


def factor_so_far(shown: Vector) -> float:
    """Factor of scatter by the sum of what the shifts so far showed, and by what is taken for it.

    Parameters
    ----------
    shown : array (5)
        Sum of `shown_by`; zeros before the first shift.
    """
    slopes, matrix = _equations(shown)
    found = 1 + float(np.linalg.solve(matrix + 2 / BEFOREHAND**2 * np.eye(2), slopes)[0])
    return min(max(found, 0.0), LARGEST)


def factors(shown: Iterable[Vector]) -> tuple[Factor, Factor] | None:
    """Factors of scatter and of noise by all shifts; None where they show nothing of them."""
    slopes, matrix = _equations(np.sum([np.zeros(5), *shown], axis=0))
    if not np.linalg.det(matrix) > 1e-9 * matrix[0, 0] * matrix[1, 1]:
        return None
    away = np.linalg.solve(matrix, slopes)
    sd = np.sqrt(2 * np.diag(np.linalg.inv(matrix)))
    scatter, noise = (Factor(float(1 + a), float(s)) for a, s in zip(away, sd, strict=True))
    return scatter, noise


def _equations(shown: Vector) -> tuple[Vector, np.ndarray]:
    """Right side and matrix of the equations for how far both factors are from 1."""
    by_scatter, by_noise, own, both, other = shown
    return np.array([by_scatter, by_noise]), np.array([[own, both], [both, other]])
