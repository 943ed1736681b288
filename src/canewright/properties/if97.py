"""The Gibbs functions of IAPWS-IF97 in their own units: K, MPa, kJ/kg.

These are the polynomials behind `canewright.properties.steam`, which is what other
modules should use. Nothing here branches on a value, so every function traces with a
CasADi symbol.
"""

from collections.abc import Iterable

from canewright.ops import Numeric, log, sqrt
from canewright.properties.if97_tables import (
    GAS_CONSTANT,
    LIQUID,
    SATURATION,
    VAPOUR_IDEAL,
    VAPOUR_RESIDUAL,
)


def _powers(base: Numeric, exponents: Iterable[int]) -> dict[int, Numeric]:
    """Integer powers of a positive base, each built from the one before it."""
    wanted = set(exponents)
    powers: dict[int, Numeric] = {0: 1.0}
    for start, factor in ((1, base), (-1, 1.0 / base)):
        side = sorted((e for e in wanted if e * start > 0), key=abs)
        power: Numeric = 1.0
        reached = 0
        for exponent in side:
            power = power * factor ** (abs(exponent) - reached)
            reached = abs(exponent)
            powers[exponent] = power
    return powers


def _series(
    rows: tuple[tuple[int, int, float], ...],
    left: Numeric,
    right: Numeric,
    left_order: int = 0,
    right_order: int = 0,
) -> Numeric:
    """Sum of n left^I right^J, or its derivative of the orders given."""
    terms = []
    for left_exponent, right_exponent, coefficient in rows:
        factor = coefficient
        for step in range(left_order):
            factor *= left_exponent - step
        for step in range(right_order):
            factor *= right_exponent - step
        if factor != 0.0:
            terms.append((left_exponent - left_order, right_exponent - right_order, factor))
    left_powers = _powers(left, (term[0] for term in terms))
    right_powers = _powers(right, (term[1] for term in terms))
    return sum(factor * left_powers[i] * right_powers[j] for i, j, factor in terms)


def saturation_pressure(kelvin: Numeric) -> Numeric:
    """Saturation pressure [MPa] at a temperature [K], eq. 30."""
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = SATURATION
    theta = kelvin + n9 / (kelvin - n10)
    a = theta**2 + n1 * theta + n2
    b = n3 * theta**2 + n4 * theta + n5
    c = n6 * theta**2 + n7 * theta + n8
    return (2.0 * c / (sqrt(b**2 - 4.0 * a * c) - b)) ** 4


def saturation_temperature(megapascal: Numeric) -> Numeric:
    """Saturation temperature [K] at a pressure [MPa], eq. 31."""
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = SATURATION
    beta = sqrt(sqrt(megapascal))
    e = beta**2 + n3 * beta + n6
    f = n1 * beta**2 + n4 * beta + n7
    g = n2 * beta**2 + n5 * beta + n8
    d = 2.0 * g / (-f - sqrt(f**2 - 4.0 * e * g))
    return 0.5 * (n10 + d - sqrt((n10 + d) ** 2 - 4.0 * (n9 + n10 * d)))


def _liquid(megapascal: Numeric, kelvin: Numeric, left: int, right: int) -> Numeric:
    return _series(LIQUID, 7.1 - megapascal / 16.53, 1386.0 / kelvin - 1.222, left, right)


def liquid_enthalpy(megapascal: Numeric, kelvin: Numeric) -> Numeric:
    """Region 1 enthalpy [kJ/kg]."""
    return GAS_CONSTANT * 1386.0 * _liquid(megapascal, kelvin, 0, 1)


def liquid_entropy(megapascal: Numeric, kelvin: Numeric) -> Numeric:
    """Region 1 entropy [kJ/(kg K)]."""
    slope = _liquid(megapascal, kelvin, 0, 1)
    return GAS_CONSTANT * (1386.0 / kelvin * slope - _liquid(megapascal, kelvin, 0, 0))


def liquid_volume(megapascal: Numeric, kelvin: Numeric) -> Numeric:
    """Region 1 specific volume [m3/kg]."""
    return -GAS_CONSTANT * kelvin / 16530.0 * _liquid(megapascal, kelvin, 1, 0)


def liquid_heat_capacity(megapascal: Numeric, kelvin: Numeric) -> Numeric:
    """Region 1 isobaric heat capacity [kJ/(kg K)]."""
    return -GAS_CONSTANT * (1386.0 / kelvin) ** 2 * _liquid(megapascal, kelvin, 0, 2)


def _ideal(kelvin: Numeric, order: int) -> Numeric:
    rows = tuple((0, exponent, coefficient) for exponent, coefficient in VAPOUR_IDEAL)
    return _series(rows, 1.0, 540.0 / kelvin, 0, order)


def _residual(megapascal: Numeric, kelvin: Numeric, left: int, right: int) -> Numeric:
    return _series(VAPOUR_RESIDUAL, megapascal, 540.0 / kelvin - 0.5, left, right)


def vapour_enthalpy(megapascal: Numeric, kelvin: Numeric) -> Numeric:
    """Region 2 enthalpy [kJ/kg]."""
    slope = _ideal(kelvin, 1) + _residual(megapascal, kelvin, 0, 1)
    return GAS_CONSTANT * 540.0 * slope


def vapour_entropy(megapascal: Numeric, kelvin: Numeric) -> Numeric:
    """Region 2 entropy [kJ/(kg K)]."""
    slope = _ideal(kelvin, 1) + _residual(megapascal, kelvin, 0, 1)
    value = log(megapascal) + _ideal(kelvin, 0) + _residual(megapascal, kelvin, 0, 0)
    return GAS_CONSTANT * (540.0 / kelvin * slope - value)


def vapour_volume(megapascal: Numeric, kelvin: Numeric) -> Numeric:
    """Region 2 specific volume [m3/kg]."""
    slope = 1.0 / megapascal + _residual(megapascal, kelvin, 1, 0)
    return GAS_CONSTANT * kelvin / 1000.0 * slope


def vapour_heat_capacity(megapascal: Numeric, kelvin: Numeric) -> Numeric:
    """Region 2 isobaric heat capacity [kJ/(kg K)]."""
    curvature = _ideal(kelvin, 2) + _residual(megapascal, kelvin, 0, 2)
    return -GAS_CONSTANT * (540.0 / kelvin) ** 2 * curvature
