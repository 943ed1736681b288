"""Steam by pressure with entropy or enthalpy, on both sides of the saturation line.

The wet region and the superheated one meet as a straight line and its tangent curve, so
one smooth expression serves both: nothing branches, and a solver may cross the line.
"""

from canewright.ops import Numeric, exp, smooth_positive
from canewright.properties import if97
from canewright.registry import formula

KELVIN = 273.15
BAR = 0.1  # MPa in one bar

_CORNER = 0.01
"""Width of the rounding at the saturation line, kJ/(kg K), in an expansion."""
_CORNER_ENTHALPY = 0.2
"""Width of the rounding at the saturation line, kJ/kg, in a temperature from enthalpy."""
_STEPS = 3


def _superheated_kelvin(megapascal: Numeric, entropy: Numeric, start: Numeric) -> Numeric:
    """Temperature [K] of superheated steam of an entropy: unrolled steps on ln T."""
    kelvin = start
    for _ in range(_STEPS):
        missing = entropy - if97.vapour_entropy(megapascal, kelvin)
        kelvin = kelvin * exp(missing / if97.vapour_heat_capacity(megapascal, kelvin))
    return kelvin


@formula(
    source="iapws_if97",
    at="eqs. 7, 15 to 17 and 31",
    unit="kJ/kg",
    given={"pressure": "bar abs", "entropy": "kJ/(kg.K)"},
    equation="""h = h2(p, T) + T_sat (s - s_g - d), d = smooth positive part of s - s_g,
    T from s2(p, T) = s_g + d""",
    known="derived",
    valid={"pressure": (0.05, 50.0), "entropy": (4.5, 9.0)},
    uncertainty="0.02 kJ/kg against IF97 with its backward equations",
    family="enthalpy after expansion without loss",
    default=True,
    note="""Right on both sides of the saturation line without a branch: in the wet region
    enthalpy is a straight line in entropy with slope T_sat, and the superheated curve leaves
    it as a tangent, so rounding the corner over 0.01 kJ/(kg K) costs some 0.01 kJ/kg.""",
)
def isentropic_enthalpy(pressure: Numeric, entropy: Numeric) -> Numeric:
    """Enthalpy of steam, wet or superheated, at a pressure and an entropy.

    [kJ/kg] from [bar abs, kJ/(kg.K)].
    """
    megapascal = pressure * BAR
    boiling = if97.saturation_temperature(megapascal)
    saturated = if97.vapour_entropy(megapascal, boiling)
    beyond = smooth_positive(entropy - saturated, _CORNER)
    start = boiling * exp(beyond / if97.vapour_heat_capacity(megapascal, boiling))
    kelvin = _superheated_kelvin(megapascal, saturated + beyond, start)
    return if97.vapour_enthalpy(megapascal, kelvin) + boiling * (entropy - saturated - beyond)


@formula(
    source="iapws_if97",
    at="eqs. 7, 15 to 17 and 31",
    unit="kJ/kg",
    given={"pressure": "bar abs", "entropy": "kJ/(kg.K)"},
    equation="h = h' + (h'' - h') (s - s')/(s'' - s')",
    known="derived",
    valid={"pressure": (0.05, 50.0), "entropy": (0.5, 9.0)},
    family="enthalpy after expansion without loss",
)
def isentropic_enthalpy_wet(pressure: Numeric, entropy: Numeric) -> Numeric:
    """Enthalpy of wet steam at a pressure and an entropy. [kJ/kg] from [bar abs, kJ/(kg.K)]."""
    megapascal = pressure * BAR
    boiling = if97.saturation_temperature(megapascal)
    low = if97.liquid_entropy(megapascal, boiling)
    high = if97.vapour_entropy(megapascal, boiling)
    bottom = if97.liquid_enthalpy(megapascal, boiling)
    top = if97.vapour_enthalpy(megapascal, boiling)
    return bottom + (top - bottom) * (entropy - low) / (high - low)


@formula(
    source="iapws_if97",
    at="eqs. 15 to 17 and 31",
    unit="degC",
    given={"pressure": "bar abs", "enthalpy": "kJ/kg"},
    equation="h2(p, T) = h'' + d, d = smooth positive part of h - h''",
    known="derived",
    valid={"pressure": (0.05, 50.0), "enthalpy": (1500.0, 3600.0)},
    uncertainty="0.05 K within 1 kJ/kg of saturation, 0.01 K elsewhere, against IF97",
)
def steam_temperature(pressure: Numeric, enthalpy: Numeric) -> Numeric:
    """Temperature of steam, wet or superheated. [degC] from [bar abs, kJ/kg]."""
    megapascal = pressure * BAR
    boiling = if97.saturation_temperature(megapascal)
    saturated = if97.vapour_enthalpy(megapascal, boiling)
    wanted = saturated + smooth_positive(enthalpy - saturated, _CORNER_ENTHALPY)
    kelvin = boiling
    for _ in range(_STEPS):
        missing = wanted - if97.vapour_enthalpy(megapascal, kelvin)
        kelvin = kelvin + missing / if97.vapour_heat_capacity(megapascal, kelvin)
    return kelvin - KELVIN


@formula(
    source="own_derivation",
    at="mixture of saturated water and steam",
    unit="% mass steam",
    given={"pressure": "bar abs", "enthalpy": "kJ/kg"},
    equation="x = 100 (h - h')/(h'' - h'); above 100 the steam is superheated",
    known="derived",
    valid={"pressure": (0.05, 50.0), "enthalpy": (100.0, 3600.0)},
)
def dryness(pressure: Numeric, enthalpy: Numeric) -> Numeric:
    """Steam in wet steam; above 100 means superheated. [% mass] from [bar abs, kJ/kg]."""
    megapascal = pressure * BAR
    boiling = if97.saturation_temperature(megapascal)
    bottom = if97.liquid_enthalpy(megapascal, boiling)
    top = if97.vapour_enthalpy(megapascal, boiling)
    return 100.0 * (enthalpy - bottom) / (top - bottom)
