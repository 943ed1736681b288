"""Constants of control charts, computed from the distribution of the range of a normal sample.

No table is typed in: d2 and d3 are the mean and standard deviation of the range of n values,
c4 the mean of their standard deviation, all in standard deviations of the process. Source:
[shewhart_charts].
"""

import math
from dataclasses import dataclass
from functools import cache

import numpy as np

LARGEST_GROUP = 25

WIDEST = 14.0
"""Standard deviations up to which the range is integrated; beyond lies less than 1e-20."""


@dataclass(frozen=True)
class Constants:
    """Constants for groups of n values, named by their published symbols."""

    group: int
    d2: float
    d3: float
    c4: float

    @property
    def of_means(self) -> float:
        """Half width of the limits of means, in mean ranges: A2 = 3/(d2 sqrt n)."""
        return 3 / (self.d2 * math.sqrt(self.group))

    @property
    def low_range(self) -> float:
        """Lower limit of ranges, in mean ranges: D3 = 1 - 3 d3/d2, not below zero."""
        return max(0.0, 1 - 3 * self.d3 / self.d2)

    @property
    def high_range(self) -> float:
        """Upper limit of ranges, in mean ranges: D4 = 1 + 3 d3/d2."""
        return 1 + 3 * self.d3 / self.d2

    @property
    def of_individuals(self) -> float:
        """Half width of the limits of single values, in mean moving ranges: 3/d2."""
        return 3 / self.d2


@cache
def constants(group: int) -> Constants:
    """Constants for groups of this many values.

    Raises
    ------
    ValueError
        If the group is smaller than 2 or larger than 25.
    """
    if not 2 <= group <= LARGEST_GROUP:
        raise ValueError(
            f"Groups of {group} have no chart of ranges here: take groups of 2 to {LARGEST_GROUP}."
        )
    # P(range <= w) = n integral of phi(x) [Phi(x + w) - Phi(x)]^(n-1) dx, over a smooth
    # bell: the trapezoid rule is exact to rounding. The range by Gauss-Legendre.
    lowest = np.linspace(-9.0, 9.0, 361)
    step = lowest[1] - lowest[0]
    nodes, weights = np.polynomial.legendre.leggauss(48)
    widths, weights = WIDEST * (nodes + 1) / 2, WIDEST * weights / 2
    phi = np.exp(-(lowest**2) / 2) / math.sqrt(2 * math.pi)
    between = _below(lowest + widths[:, None]) - _below(lowest)
    larger = 1 - group * step * (phi * between ** (group - 1)).sum(axis=1)
    mean = float(weights @ larger)
    square = float(2 * weights @ (widths * larger))
    half = math.exp(math.lgamma(group / 2) - math.lgamma((group - 1) / 2))
    return Constants(group, mean, math.sqrt(square - mean**2), math.sqrt(2 / (group - 1)) * half)


def _below(value: np.ndarray) -> np.ndarray:
    """Standard normal distribution function."""
    flat = [math.erfc(-entry / math.sqrt(2)) / 2 for entry in value.ravel()]
    return np.array(flat).reshape(value.shape)
