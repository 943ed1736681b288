"""Uncertainty of means, totals and balances, and how it passes on to results.

Standard uncertainties throughout; unit of the quantity itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

Vector = npt.NDArray[np.float64]
Matrix = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Combined:
    """A combined standard uncertainty and its effective degrees of freedom."""

    uncertainty: float
    degrees_of_freedom: float

    def coverage_factor(self, confidence: float = 0.95) -> float:
        """Two-sided Student factor, for degrees of freedom rounded down as the GUM asks."""
        tail = 0.5 + confidence / 2
        if np.isinf(self.degrees_of_freedom):
            return float(special.ndtri(tail))
        return float(special.stdtrit(np.floor(self.degrees_of_freedom), tail))

    def expanded(self, confidence: float = 0.95) -> float:
        """Half width of the interval of this confidence."""
        return self.coverage_factor(confidence) * self.uncertainty


def propagate(jacobian: npt.ArrayLike, covariance: npt.ArrayLike) -> Matrix:
    """Covariance of results, to first order: J V J'. Source: [gum2008] 5.2.

    Parameters
    ----------
    jacobian : array_like (q, n) or (n)
        Derivatives of the results with respect to the inputs.
    covariance : array_like (n, n) or (n)
        Covariance of the inputs, or their standard uncertainties if independent.
    """
    lead = np.atleast_2d(np.asarray(jacobian, dtype=float))
    given = np.asarray(covariance, dtype=float)
    spread = np.diag(given**2) if given.ndim == 1 else given
    return np.asarray(lead @ spread @ lead.T)


def combine(
    contributions: Sequence[float], degrees_of_freedom: Sequence[float] | None = None
) -> Combined:
    """Combine independent contributions c_i u_i; Welch-Satterthwaite for their freedom.

    u^2 = sum u_i^2; nu = u^4 / sum(u_i^4 / nu_i). Source: [gum2008] 5.1.2 and G.4.

    Raises
    ------
    ValueError
        If lengths differ or a degree of freedom is not above zero.
    """
    parts = np.asarray(contributions, dtype=float)
    total = float(np.sqrt((parts**2).sum()))
    if degrees_of_freedom is None:
        return Combined(total, float("inf"))
    freedoms = np.asarray(degrees_of_freedom, dtype=float)
    if freedoms.shape != parts.shape:
        raise ValueError("Each contribution needs its degrees of freedom.")
    if not np.all(freedoms > 0):
        raise ValueError("Degrees of freedom must be above zero.")
    lost = float((parts**4 / freedoms).sum())
    return Combined(total, total**4 / lost if lost > 0 else float("inf"))


def covariance_of_means(observations: npt.ArrayLike) -> Matrix:
    """Covariance of the means of quantities observed together. Source: [gum2008] 5.2.3.

    Parameters
    ----------
    observations : array_like (q, n)
        n simultaneous observations of each of q quantities.
    """
    table = np.asarray(observations, dtype=float)
    return np.asarray(np.atleast_2d(np.cov(table)) / table.shape[1])


def correlation(covariance: npt.ArrayLike) -> Matrix:
    """Correlation coefficients of a covariance."""
    spread = np.asarray(covariance, dtype=float)
    size = np.sqrt(np.diag(spread))
    return np.asarray(spread / np.outer(size, size))


def correlated_mean_factor(samples: int, neighbour_correlation: float) -> float:
    """Variance of the mean of n samples taken in a row, over that of independent ones.

    1 + 2 sum_{k<n} (1 - k/n) rho^k, for samples whose correlation falls as rho^k. Source:
    [own_derivation], from the sum of the covariances.

    Raises
    ------
    ValueError
        If there is no sample or the correlation is not between -1 and 1.
    """
    if samples < 1:
        raise ValueError("A mean needs at least one sample.")
    if not -1 < neighbour_correlation < 1:
        raise ValueError("The correlation of neighbours must lie between -1 and 1.")
    lag = np.arange(1, samples)
    return float(1 + 2 * ((1 - lag / samples) * neighbour_correlation**lag).sum())


def effective_samples(samples: int, neighbour_correlation: float) -> float:
    """Number of independent samples that tell as much as these."""
    return samples / correlated_mean_factor(samples, neighbour_correlation)


def mean_uncertainty(sd: float, samples: int, neighbour_correlation: float = 0.0) -> float:
    """Standard uncertainty of the mean of samples taken in a row."""
    factor = correlated_mean_factor(samples, neighbour_correlation)
    return float(sd * np.sqrt(factor / samples))


def total_uncertainty(periods: int, random: float, common: float) -> float:
    """Standard uncertainty of a total over equal periods: u^2 = N r^2 + N^2 c^2.

    `random` is drawn anew in each period, `common` (a calibration) stays the same. Both are
    those of one period. Source: [own_derivation].
    """
    return float(np.sqrt(periods * random**2 + periods**2 * common**2))


def period_loss_covariance(periods: int, flow_sd: float, stock_sd: float) -> Matrix:
    """Covariance of the losses of consecutive periods that share their stocks.

    Loss = in - out - (closing - opening): the closing stock of one period is the opening stock
    of the next, so neighbours lean against each other and the stocks between cancel from the
    total. Source: [own_derivation].

    Parameters
    ----------
    periods : int
    flow_sd : float
        Standard uncertainty of in - out of one period.
    stock_sd : float
        Standard uncertainty of one stock.
    """
    matrix = (flow_sd**2 + 2 * stock_sd**2) * np.eye(periods)
    beside = -(stock_sd**2) * np.eye(periods, k=1)
    return np.asarray(matrix + beside + beside.T)


def drifted(sd: float, drift: float, periods: float = 1) -> float:
    """Standard uncertainty of a parameter some periods later: sqrt(sd^2 + periods drift^2).

    The posterior of one period becomes the prior of the next, widened by a random walk.
    Source: [own_derivation].
    """
    return float(np.sqrt(sd**2 + periods * drift**2))
