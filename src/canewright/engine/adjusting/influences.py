"""Where the uncertainty of one figure comes from, datum by datum."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canewright.engine.adjusting.solution import Vector

DETERMINED_UP_TO = 0.5
"""A figure is determined when priors carry at most this share of its variance; our choice."""


@dataclass(frozen=True)
class Influences:
    """Where the uncertainty of one figure comes from.

    Attributes
    ----------
    contributions : array (k)
        Change of the figure when a datum moves by one standard uncertainty; the variance of
        the figure is the sum of their squares. 0 for absent data.
    variance : float
        Variance of the figure; inf if the data cannot see it.
    shares : array (k)
        Share of the variance carried by each datum, 0 to 1.
    prior_share : float
        Share carried by priors; 1 if the data cannot see the figure.
    """

    contributions: Vector
    variance: float
    shares: Vector
    prior_share: float

    @property
    def sd(self) -> float:
        """Standard uncertainty of the figure."""
        return float(np.sqrt(self.variance))

    @property
    def determined(self) -> bool:
        """Whether readings carry the figure, not priors."""
        return self.prior_share <= DETERMINED_UP_TO
