"""Water and steam by IAPWS-IF97, regions 1, 2 and 4: degC, bar absolute, kJ/kg.

Saturated states are asked by temperature: `latent_heat(saturation_temperature(p))`. The
expansion through a turbine is one smooth expression that is right on both sides of the
saturation line, so that a solver may cross it (`canewright.properties.steam_expansion`,
whose functions are also found here).

Each saturated enthalpy has a cheaper cubic, `..._fast`, for 40 to 165 degC.
"""

from canewright.ops import Numeric
from canewright.properties import if97
from canewright.properties.steam_expansion import dryness as dryness
from canewright.properties.steam_expansion import isentropic_enthalpy as isentropic_enthalpy
from canewright.properties.steam_expansion import (
    isentropic_enthalpy_wet as isentropic_enthalpy_wet,
)
from canewright.properties.steam_expansion import steam_temperature as steam_temperature
from canewright.registry import formula

KELVIN = 273.15
BAR = 0.1  # MPa in one bar

_SATURATION = {"temperature": (0.0, 350.0)}
_WATER = {"pressure": (0.00612, 1000.0), "temperature": (0.0, 350.0)}
_STEAM = {"pressure": (0.001, 165.0), "temperature": (0.0, 800.0)}
_STATE = {"pressure": "bar abs", "temperature": "degC"}
_FIT = {"temperature": (40.0, 165.0)}
_WHY_EXACT = (
    "The exact formulation agrees with the entropies and the superheated states to the last "
    "digit and costs some two hundred operations; the cubic is for models with very many "
    "saturated states between 40 and 165 degC."
)


@formula(
    source="iapws_if97",
    at="eq. 30, table 34",
    unit="bar abs",
    given={"temperature": "degC"},
    equation="""p = [2 C/(-B + sqrt(B^2 - 4 A C))]^4, A, B, C quadratic in
    theta = T + n9/(T - n10)""",
    known="read",
    valid={"temperature": (0.0, 373.946)},
    uncertainty="0.03 % relative",
)
def saturation_pressure(temperature: Numeric) -> Numeric:
    """Pressure at which water boils. [bar abs] from [degC]."""
    return if97.saturation_pressure(temperature + KELVIN) / BAR


@formula(
    source="iapws_if97",
    at="eq. 31, table 34",
    unit="degC",
    given={"pressure": "bar abs"},
    equation="""T = [n10 + D - sqrt((n10 + D)^2 - 4 (n9 + n10 D))]/2,
    D = 2 G/(-F - sqrt(F^2 - 4 E G)), E, F, G quadratic in p^(1/4)""",
    known="read",
    valid={"pressure": (0.00612, 220.64)},
    uncertainty="0.02 K",
)
def saturation_temperature(pressure: Numeric) -> Numeric:
    """Boiling point of water. [degC] from [bar abs]."""
    return if97.saturation_temperature(pressure * BAR) - KELVIN


@formula(
    source="iapws_if97",
    at="eq. 7, tables 2 and 3",
    unit="kJ/kg",
    given=_STATE,
    equation="h = R T tau dgamma/dtau (region 1)",
    known="read",
    valid=_WATER,
    uncertainty="0.2 kJ/kg below 165 degC",
)
def water_enthalpy(pressure: Numeric, temperature: Numeric) -> Numeric:
    """Enthalpy of liquid water under pressure. [kJ/kg] from [bar abs, degC]."""
    return if97.liquid_enthalpy(pressure * BAR, temperature + KELVIN)


@formula(
    source="iapws_if97",
    at="eq. 7, tables 2 and 3",
    unit="kJ/(kg.K)",
    given=_STATE,
    equation="s = R (tau dgamma/dtau - gamma) (region 1)",
    known="read",
    valid=_WATER,
)
def water_entropy(pressure: Numeric, temperature: Numeric) -> Numeric:
    """Entropy of liquid water under pressure. [kJ/(kg.K)] from [bar abs, degC]."""
    return if97.liquid_entropy(pressure * BAR, temperature + KELVIN)


@formula(
    source="iapws_if97",
    at="eq. 7, tables 2 and 3",
    unit="m3/kg",
    given=_STATE,
    equation="v = (R T/p) pi dgamma/dpi (region 1)",
    known="read",
    valid=_WATER,
    uncertainty="0.001 % below 100 degC",
)
def water_volume(pressure: Numeric, temperature: Numeric) -> Numeric:
    """Specific volume of liquid water under pressure. [m3/kg] from [bar abs, degC]."""
    return if97.liquid_volume(pressure * BAR, temperature + KELVIN)


@formula(
    source="iapws_if97",
    at="eq. 7, tables 2 and 3",
    unit="kJ/(kg.K)",
    given=_STATE,
    equation="cp = -R tau^2 d2gamma/dtau2 (region 1)",
    known="read",
    valid=_WATER,
    uncertainty="0.1 to 0.2 %",
)
def water_heat_capacity(pressure: Numeric, temperature: Numeric) -> Numeric:
    """Specific heat of liquid water under pressure. [kJ/(kg.K)] from [bar abs, degC]."""
    return if97.liquid_heat_capacity(pressure * BAR, temperature + KELVIN)


@formula(
    source="iapws_if97",
    at="eqs. 15 to 17, tables 10, 11 and 13",
    unit="kJ/kg",
    given=_STATE,
    equation="h = R T tau (dgamma0/dtau + dgammar/dtau) (region 2)",
    known="read",
    valid=_STEAM,
    uncertainty="2 kJ/kg",
)
def steam_enthalpy(pressure: Numeric, temperature: Numeric) -> Numeric:
    """Enthalpy of superheated steam. [kJ/kg] from [bar abs, degC]."""
    return if97.vapour_enthalpy(pressure * BAR, temperature + KELVIN)


@formula(
    source="iapws_if97",
    at="eqs. 15 to 17, tables 10, 11 and 13",
    unit="kJ/(kg.K)",
    given=_STATE,
    equation="s = R [tau (dgamma0/dtau + dgammar/dtau) - (gamma0 + gammar)] (region 2)",
    known="read",
    valid=_STEAM,
)
def steam_entropy(pressure: Numeric, temperature: Numeric) -> Numeric:
    """Entropy of superheated steam. [kJ/(kg.K)] from [bar abs, degC]."""
    return if97.vapour_entropy(pressure * BAR, temperature + KELVIN)


@formula(
    source="iapws_if97",
    at="eqs. 15 to 17, tables 10, 11 and 13",
    unit="m3/kg",
    given=_STATE,
    equation="v = (R T/p) pi (dgamma0/dpi + dgammar/dpi) (region 2)",
    known="read",
    valid=_STEAM,
    uncertainty="0.05 to 0.1 %",
)
def steam_volume(pressure: Numeric, temperature: Numeric) -> Numeric:
    """Specific volume of superheated steam. [m3/kg] from [bar abs, degC]."""
    return if97.vapour_volume(pressure * BAR, temperature + KELVIN)


@formula(
    source="iapws_if97",
    at="eqs. 15 to 17, tables 10, 11 and 13",
    unit="kJ/(kg.K)",
    given=_STATE,
    equation="cp = -R tau^2 (d2gamma0/dtau2 + d2gammar/dtau2) (region 2)",
    known="read",
    valid=_STEAM,
    uncertainty="0.3 to 1 %",
)
def steam_heat_capacity(pressure: Numeric, temperature: Numeric) -> Numeric:
    """Specific heat of superheated steam. [kJ/(kg.K)] from [bar abs, degC]."""
    return if97.vapour_heat_capacity(pressure * BAR, temperature + KELVIN)


@formula(
    source="iapws_if97",
    at="eqs. 7 and 30",
    unit="kJ/kg",
    given={"temperature": "degC"},
    equation="h' = h1(p_sat(T), T)",
    known="read",
    valid=_SATURATION,
    uncertainty="0.2 kJ/kg below 165 degC",
    family="enthalpy of saturated water",
    default=True,
    note=_WHY_EXACT,
)
def liquid_enthalpy(temperature: Numeric) -> Numeric:
    """Enthalpy of water at its boiling point. [kJ/kg] from [degC]."""
    return water_enthalpy(saturation_pressure(temperature), temperature)


@formula(
    source="iapws_if97",
    at="eqs. 15 to 17 and 30",
    unit="kJ/kg",
    given={"temperature": "degC"},
    equation="h'' = h2(p_sat(T), T)",
    known="read",
    valid=_SATURATION,
    uncertainty="1 kJ/kg",
    family="enthalpy of saturated steam",
    default=True,
    note=_WHY_EXACT,
)
def vapour_enthalpy(temperature: Numeric) -> Numeric:
    """Enthalpy of saturated steam. [kJ/kg] from [degC]."""
    return steam_enthalpy(saturation_pressure(temperature), temperature)


@formula(
    source="iapws_if97",
    at="eqs. 7, 15 to 17 and 30",
    unit="kJ/kg",
    given={"temperature": "degC"},
    equation="r = h'' - h'",
    known="read",
    valid=_SATURATION,
    uncertainty="1 kJ/kg",
    family="latent heat of steam",
    default=True,
    note=_WHY_EXACT,
)
def latent_heat(temperature: Numeric) -> Numeric:
    """Heat given up by saturated steam as it condenses. [kJ/kg] from [degC]."""
    pressure = saturation_pressure(temperature)
    return steam_enthalpy(pressure, temperature) - water_enthalpy(pressure, temperature)


@formula(
    source="iapws_if97",
    at="eqs. 7 and 30",
    unit="kJ/(kg.K)",
    given={"temperature": "degC"},
    equation="s' = s1(p_sat(T), T)",
    known="read",
    valid=_SATURATION,
)
def liquid_entropy(temperature: Numeric) -> Numeric:
    """Entropy of water at its boiling point. [kJ/(kg.K)] from [degC]."""
    return water_entropy(saturation_pressure(temperature), temperature)


@formula(
    source="iapws_if97",
    at="eqs. 15 to 17 and 30",
    unit="kJ/(kg.K)",
    given={"temperature": "degC"},
    equation="s'' = s2(p_sat(T), T)",
    known="read",
    valid=_SATURATION,
)
def vapour_entropy(temperature: Numeric) -> Numeric:
    """Entropy of saturated steam. [kJ/(kg.K)] from [degC]."""
    return steam_entropy(saturation_pressure(temperature), temperature)


@formula(
    source="iapws_if97",
    at="eqs. 7 and 30",
    unit="m3/kg",
    given={"temperature": "degC"},
    equation="v' = v1(p_sat(T), T)",
    known="read",
    valid=_SATURATION,
)
def liquid_volume(temperature: Numeric) -> Numeric:
    """Specific volume of water at its boiling point. [m3/kg] from [degC]."""
    return water_volume(saturation_pressure(temperature), temperature)


@formula(
    source="iapws_if97",
    at="eqs. 15 to 17 and 30",
    unit="m3/kg",
    given={"temperature": "degC"},
    equation="v'' = v2(p_sat(T), T)",
    known="read",
    valid=_SATURATION,
    uncertainty="0.1 %",
)
def vapour_volume(temperature: Numeric) -> Numeric:
    """Specific volume of saturated steam. [m3/kg] from [degC]."""
    return steam_volume(saturation_pressure(temperature), temperature)


@formula(
    source="own_derivation",
    at="least-squares cubic on IF97, 40 to 165 degC",
    unit="kJ/kg",
    given={"temperature": "degC"},
    equation="h' = -0.0369 + 4.2038786 t - 5.29973698e-4 t^2 + 4.04148509e-6 t^3",
    known="derived",
    valid=_FIT,
    uncertainty="0.02 kJ/kg against IF97",
    family="enthalpy of saturated water",
)
def liquid_enthalpy_fast(temperature: Numeric) -> Numeric:
    """Enthalpy of water at its boiling point, cubic fit. [kJ/kg] from [degC]."""
    return -0.0369 + temperature * (
        4.2038786 + temperature * (-5.29973698e-4 + temperature * 4.04148509e-6)
    )


@formula(
    source="own_derivation",
    at="least-squares cubic on IF97, 40 to 165 degC",
    unit="kJ/kg",
    given={"temperature": "degC"},
    equation="h'' = 2502.60237 + 1.75390651 t + 1.03922153e-3 t^2 - 1.27898301e-5 t^3",
    known="derived",
    valid=_FIT,
    uncertainty="0.06 kJ/kg against IF97",
    family="enthalpy of saturated steam",
)
def vapour_enthalpy_fast(temperature: Numeric) -> Numeric:
    """Enthalpy of saturated steam, cubic fit. [kJ/kg] from [degC]."""
    return 2502.60237 + temperature * (
        1.75390651 + temperature * (1.03922153e-3 - temperature * 1.27898301e-5)
    )


@formula(
    source="own_derivation",
    at="least-squares cubic on IF97, 40 to 165 degC",
    unit="kJ/kg",
    given={"temperature": "degC"},
    equation="r = 2502.6393 - 2.44997209 t + 1.56919523e-3 t^2 - 1.68313152e-5 t^3",
    known="derived",
    valid=_FIT,
    uncertainty="0.07 kJ/kg against IF97",
    family="latent heat of steam",
)
def latent_heat_fast(temperature: Numeric) -> Numeric:
    """Heat given up by saturated steam as it condenses, cubic fit. [kJ/kg] from [degC]."""
    return 2502.6393 + temperature * (
        -2.44997209 + temperature * (1.56919523e-3 - temperature * 1.68313152e-5)
    )
