"""Tests of an adjustment: is anything wrong, which reading, how large must an error be to show.

The statistics assume Gaussian errors with the standard uncertainties given; they hold for the
plain weighted fit, not for a robust one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt
from scipy import special

from canewright.engine.adjusting.posterior import Posterior
from canewright.engine.adjusting.solution import Vector

CONFIDENCE = 0.95
"""Confidence of the global test and of the family of tests of single data."""
POWER = 0.90
"""Probability with which the smallest detectable error is seen."""
HEALTHY_RATIO = (0.7, 1.3)
"""Season's gamma over degrees of freedom that speaks for the uncertainty table; judgement."""
VDI_LOCAL_LIMIT = 1.96
"""Local limit of VDI 2048, without a correction for the number of readings."""


def chi_square_limit(degrees_of_freedom: int, confidence: float = CONFIDENCE) -> float:
    """Value that chi-square exceeds with probability 1 - confidence; 0 without freedom."""
    if degrees_of_freedom < 0:
        raise ValueError(f"Degrees of freedom cannot be {degrees_of_freedom}.")
    if degrees_of_freedom == 0:
        return 0.0
    return float(special.chdtri(degrees_of_freedom, 1 - confidence))


@cache
def family_limit(tests: int, confidence: float = CONFIDENCE) -> float:
    """Limit of each of several two-sided normal tests, after Sidak.

    All of them stay below it together with at least the probability `confidence` when nothing
    is wrong; more often if the tests are correlated. Source: [narasimhan_jordache2000].
    """
    if tests < 1:
        raise ValueError("A family of tests needs at least one test.")
    single = 1 - confidence ** (1 / tests)
    return float(special.ndtri(1 - single / 2))


@dataclass(frozen=True)
class GlobalTest:
    """Whether the adjustments are as large as the uncertainties promise."""

    gamma: float
    degrees_of_freedom: int
    limit: float

    @property
    def passes(self) -> bool:
        """Whether nothing speaks for a gross error; without redundancy nothing can."""
        return self.degrees_of_freedom == 0 or self.gamma <= self.limit

    @property
    def ratio(self) -> float:
        """Statistic over its expectation; nan without redundancy."""
        return self.gamma / self.degrees_of_freedom if self.degrees_of_freedom else float("nan")


def global_test(
    gamma: float, degrees_of_freedom: int, confidence: float = CONFIDENCE
) -> GlobalTest:
    """Chi-square test of the weighted sum of squares. Source: [reilly_carpani1963]."""
    return GlobalTest(gamma, degrees_of_freedom, chi_square_limit(degrees_of_freedom, confidence))


def global_test_of(posterior: Posterior, confidence: float = CONFIDENCE) -> GlobalTest:
    """Global test of an adjustment."""
    return global_test(posterior.gamma, posterior.degrees_of_freedom, confidence)


@dataclass(frozen=True)
class MeasurementTest:
    """Standardised adjustment of each datum against the limit of the family.

    `z` is nan for absent data and for data that nobody checks.
    """

    z: Vector
    limit: float

    @property
    def suspects(self) -> list[int]:
        """Data above the limit, worst first."""
        size = np.nan_to_num(np.abs(self.z))
        order = np.argsort(-size, kind="stable")
        return [int(i) for i in order if size[i] > self.limit]


def measurement_test(posterior: Posterior, confidence: float = CONFIDENCE) -> MeasurementTest:
    """Test of every datum by its standardised adjustment.

    Sources: [mah_tamhane1982]; since the data are weighted independently (correlation between
    them is modelled by shared variables) this is also the maximum power form [tamhane1982].
    """
    z = posterior.standardised_adjustments
    tested = int(np.isfinite(z).sum())
    return MeasurementTest(z, family_limit(max(tested, 1), confidence))


def detectable_bias(
    posterior: Posterior, confidence: float = CONFIDENCE, power: float = POWER
) -> Vector:
    """Smallest bias of each datum that its own test sees with probability `power`.

    (z_limit + z_power) sd / sqrt(redundancy), in the unit of the datum; inf if nobody checks
    it, nan if absent. Source: [narasimhan_jordache2000]; [own_derivation].
    """
    limit = measurement_test(posterior, confidence).limit
    redundancy = posterior.redundancy
    factor = limit + float(special.ndtri(power))
    with np.errstate(divide="ignore", invalid="ignore"):
        size = factor * posterior.sd / np.sqrt(redundancy)
    size = np.where(posterior.checked, size, np.inf)
    return np.where(np.isnan(redundancy), np.nan, size)


def told_from_zero(sd: float, confidence: float = CONFIDENCE, power: float = POWER) -> float:
    """Smallest size whose interval leaves zero out with probability `power`, in the unit of `sd`.

    (z_limit + z_power) sd, one quantity tested by itself, both ways. Source: [own_derivation],
    the same argument as for `detectable_bias`.
    """
    return float(special.ndtri((1 + confidence) / 2) + special.ndtri(power)) * sd


@dataclass(frozen=True)
class UncertaintyTableCheck:
    """Whether many adjustments together speak for the table of uncertainties.

    `inflation` is the factor by which all standard uncertainties would have to be multiplied
    for the season's statistic to be what it should; `low` and `high` bound the ratio that
    chance explains.
    """

    ratio: float
    low: float
    high: float

    @property
    def inflation(self) -> float:
        """Factor that would put the standard uncertainties right."""
        return float(np.sqrt(self.ratio))

    @property
    def explained_by_chance(self) -> bool:
        """Whether the ratio lies where chance would leave it."""
        return self.low <= self.ratio <= self.high

    @property
    def healthy(self) -> bool:
        """Whether the ratio is near enough to 1 for practice."""
        return HEALTHY_RATIO[0] <= self.ratio <= HEALTHY_RATIO[1]


def check_uncertainty_table(
    gammas: Sequence[float], degrees_of_freedom: Sequence[int], confidence: float = CONFIDENCE
) -> UncertaintyTableCheck:
    """Gamma over degrees of freedom of many adjustments, and where chance would leave it.

    The sum of independent chi-squares is chi-square with the sum of their freedoms.

    Raises
    ------
    ValueError
        If the lengths differ or there is no redundancy at all.
    """
    if len(gammas) != len(degrees_of_freedom):
        raise ValueError("Each statistic needs its degrees of freedom.")
    freedom = int(sum(degrees_of_freedom))
    if freedom < 1:
        raise ValueError("No reading is checked by another one; there is nothing to judge by.")
    tail = (1 - confidence) / 2
    low, high = special.chdtri(freedom, [1 - tail, tail]) / freedom
    return UncertaintyTableCheck(float(sum(gammas)) / freedom, float(low), float(high))


@dataclass(frozen=True)
class VdiVerdict:
    """Criteria of VDI 2048: one for the whole, one for each reading."""

    overall: GlobalTest
    local: Vector

    @property
    def local_failures(self) -> list[int]:
        """Readings whose adjustment is larger than the local limit, in order of place."""
        return [int(i) for i in np.flatnonzero(np.abs(self.local) > VDI_LOCAL_LIMIT)]

    @property
    def accepted(self) -> bool:
        """Whether both criteria hold."""
        return self.overall.passes and not self.local_failures


def vdi_criteria(gamma: float, degrees_of_freedom: int, local_tests: npt.ArrayLike) -> VdiVerdict:
    """Criteria of VDI 2048 part 1 for an adjustment.

    gamma within the 95 % limit of chi-square, and every abs(adjustment) within 1.96 of its own
    standard uncertainty. The second has no correction for the number of readings: expect one
    false alarm in twenty readings. Source: [vdi2048].
    """
    return VdiVerdict(
        global_test(gamma, degrees_of_freedom, 0.95), np.asarray(local_tests, dtype=float)
    )
