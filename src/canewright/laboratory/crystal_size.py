"""Crystal size from a sieve test: mean aperture and coefficient of variation.

The cumulative percentage retained is turned into a normal quantile z, in which the apertures
of a normal distribution lie on a straight line. The published method leaves the arithmetic
to the user, and the choice alone moves the coefficient of variation by more than one unit:
name the procedure beside the number.
"""

from canewright.ops import Numeric, exp
from canewright.registry import formula

_ROOT_TWO_PI = 2.5066282746310002
_TERMS = 60
_TURNS = 4


def _normal_share(z: Numeric) -> Numeric:
    """Share of a normal distribution below z, by its series about the middle."""
    term = total = z
    for k in range(1, _TERMS):
        term = term * z * z / (2 * k + 1)
        total = total + term
    return 0.5 + total * exp(-z * z / 2) / _ROOT_TWO_PI


@formula(
    source="abramowitz_stegun",
    at="inverse of the normal distribution, by Newton's rule from a first guess",
    unit="1",
    given={"percent": "%"},
    equation="z with normal share below z = percent/100",
    known="memory",
    valid={"percent": (0.05, 99.95)},
    uncertainty="1e-9",
)
def normal_quantile(percent: Numeric) -> Numeric:
    """Normal quantile of a percentage. [1] from [%]."""
    share = percent / 100
    z = 4.91 * (share**0.14 - (1 - share) ** 0.14)
    for _ in range(_TURNS):
        z = z - (_normal_share(z) - share) * exp(z * z / 2) * _ROOT_TWO_PI
    return z


@formula(
    source="icumsa_sieve",
    at="width of the straight line, or half the distance from 16 to 84 %",
    unit="%",
    given={"deviation": "mm", "mean_aperture": "mm"},
    equation="CV = 100 s/MA, s = (A16 - A84)/2",
    known="memory",
)
def coefficient_of_variation(deviation: Numeric, mean_aperture: Numeric) -> Numeric:
    """Spread of crystal size. [%] from [mm, mm]."""
    return 100 * deviation / mean_aperture
