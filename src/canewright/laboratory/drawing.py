"""Uncertainty by drawing the raw readings anew many times, beside the linear law.

Source: [jcgm101], the Monte Carlo method and its comparison with the linear law.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from canewright.laboratory.method import Method, RawInput
from canewright.laboratory.propagation import propagate

Vector = npt.NDArray[np.float64]

DRAWS = 200_000
"""Draws of a Monte Carlo run: a standard uncertainty then has one of 0.16 % of its own."""


@dataclass(frozen=True)
class MonteCarlo:
    """Result of drawing the raw readings anew many times, in the unit of the result.

    `low` and `high` enclose 95 % with equal tails; `lost` is the share of draws that gave
    no finite result. [%]
    """

    mean: float
    uncertainty: float
    low: float
    high: float
    draws: int
    lost: float


def monte_carlo(
    method: Method,
    values: Mapping[str, float],
    draws: int = DRAWS,
    seed: int = 1,
    confidence: float = 95.0,
) -> MonteCarlo:
    """Propagate the raw readings' distributions through a method by drawing from them.

    Readings that share a source are drawn together. Sampling is drawn as normal. The
    published precision plays no part. Source: [jcgm101] 5 to 7.

    Parameters
    ----------
    method : Method
    values : mapping
        Raw readings by name.
    draws : int
    seed : int
        The same seed gives the same answer.
    confidence : float
        Of the interval. [%]

    Raises
    ------
    ValueError
        If no draw gave a finite result.
    """
    random = np.random.default_rng(seed)
    filled = {name: float(value) for name, value in method.filled(values).items()}
    together: dict[str, Vector] = {}
    drawn: dict[str, npt.ArrayLike] = {}
    for name, value in filled.items():
        raw = method.input(name)
        spread = float(raw.standard_uncertainty(value))
        if spread > 0:
            if raw.shared and raw.shared not in together:
                together[raw.shared] = random.standard_normal(draws)
            standard = together[raw.shared] if raw.shared else random.standard_normal(draws)
            drawn[name] = value + spread * _shaped(standard, raw)
        else:
            drawn[name] = value
    with np.errstate(all="ignore"):
        found = np.broadcast_to(method.steps(drawn)[-1].value, (draws,))
    found = found + method.sampling * random.standard_normal(draws)
    kept = found[np.isfinite(found)]
    if not kept.size:
        raise ValueError(f"No draw of {method.name} gave a finite result: check the readings.")
    tail = (1 - confidence / 100) / 2
    low, high = np.quantile(kept, [tail, 1 - tail])
    return MonteCarlo(
        float(kept.mean()), float(kept.std(ddof=1)), float(low), float(high), draws,
        100 * (1 - kept.size / draws),
    )  # fmt: skip


def _shaped(standard: Vector, raw: RawInput) -> Vector:
    """Standard normal draws as draws of this reading's shape, of unit standard deviation."""
    if raw.shape == "normal":
        return standard
    # By their ranks: evenly spread over the interval, in the order of the normal draws.
    ranks = np.empty(standard.size)
    ranks[np.argsort(standard)] = np.arange(standard.size)
    return np.asarray(math.sqrt(3) * (2 * (ranks + 0.5) / standard.size - 1))


def agreement_tolerance(uncertainty: float, digits: int = 1) -> float:
    """Half of the last digit of a standard uncertainty written with so many digits.

    Source: [jcgm101] 7.9.2.

    Raises
    ------
    ValueError
        If the uncertainty is not above zero.
    """
    if not uncertainty > 0:
        raise ValueError("A standard uncertainty must be above zero to have a last digit.")
    exponent = math.floor(math.log10(uncertainty)) - (digits - 1)
    return 0.5 * 10.0**exponent


def linear_agrees(
    value: float, uncertainty: float, drawn: MonteCarlo, digits: int = 1, factor: float = 1.96
) -> bool:
    """Whether the linear interval stands beside the Monte Carlo one.

    Both ends must agree within `agreement_tolerance`. Source: [jcgm101] 8.

    Parameters
    ----------
    value, uncertainty : float
        Of the linear law.
    drawn : MonteCarlo
    digits : int
        Digits of the uncertainty that mean something: one for bench work.
    factor : float
        Coverage factor of the linear interval.
    """
    tolerance = agreement_tolerance(uncertainty, digits)
    low, high = value - factor * uncertainty, value + factor * uncertainty
    return abs(low - drawn.low) <= tolerance and abs(high - drawn.high) <= tolerance


NEAR_LINEAR = 3.0
"""Greatest difference of the linear and the drawn standard uncertainty of a method that is
called near linear. [%]"""


@dataclass(frozen=True)
class Compared:
    """The linear law beside the Monte Carlo method, and which of them to report."""

    value: float
    linear: float
    drawn: MonteCarlo

    @property
    def near_linear(self) -> bool:
        """Whether the two standard uncertainties agree within 3 %."""
        return abs(self.linear / self.drawn.uncertainty - 1) <= NEAR_LINEAR / 100

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty to report: the linear one where the method is near linear."""
        return self.linear if self.near_linear else self.drawn.uncertainty

    @property
    def interval(self) -> tuple[float, float]:
        """Interval of 95 % to report; the drawn one need not be symmetric."""
        if self.near_linear:
            return self.value - 1.96 * self.linear, self.value + 1.96 * self.linear
        return self.drawn.low, self.drawn.high


def compare(
    method: Method, values: Mapping[str, float], draws: int = DRAWS, seed: int = 1
) -> Compared:
    """Uncertainty by the raw readings, by the linear law and by drawing.

    Parameters and errors as for `monte_carlo`. Source: [jcgm101] 8.
    """
    linear = propagate(method, values, published=False)
    drawn = monte_carlo(method, values, draws, seed)
    return Compared(float(linear.value[0]), float(linear.uncertainty[0]), drawn)
