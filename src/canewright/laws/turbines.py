"""Turbines, let-down stations with spray water, and the exhaust they share.

Efficiencies are %, enthalpies kJ/kg, steam rates kg of steam per kWh at the terminals.
"""

from canewright.ops import Numeric
from canewright.properties import steam
from canewright.registry import formula

KWH = 3600.0  # kJ in one kWh


@formula(
    source="own_derivation",
    at="expansion at constant entropy by IF97",
    unit="kJ/kg",
    given={"pressure": "bar abs", "temperature": "degC", "exhaust_pressure": "bar abs"},
    equation="drop = h(p1, T1) - h(p2, s1)",
    known="derived",
    valid={"pressure": (5.0, 130.0), "temperature": (150.0, 600.0), "exhaust_pressure": (0.05, 30)},
    uncertainty="0.02 kJ/kg as arithmetic on IF97",
)
def isentropic_drop(pressure: Numeric, temperature: Numeric, exhaust_pressure: Numeric) -> Numeric:
    """Heat drop of an expansion without loss. [kJ/kg] from [bar abs, degC, bar abs]."""
    entropy = steam.steam_entropy(pressure, temperature)
    after = steam.isentropic_enthalpy(exhaust_pressure, entropy)
    return steam.steam_enthalpy(pressure, temperature) - after


_EXPANSION = {"drop": "kJ/kg", "isentropic_efficiency": "%", "drive_efficiency": "%"}
_EFFICIENCIES = {"isentropic_efficiency": (30.0, 92.0), "drive_efficiency": (85.0, 100.0)}
_USUAL = """Usual isentropic efficiencies (memory): single-stage mill drive 35 to 60,
multistage back-pressure 65 to 82, condensing 75 to 86 %."""


@formula(
    source="own_derivation",
    at="definition of the efficiencies",
    unit="kg/kWh",
    given=_EXPANSION,
    equation="rate = 3600/(drop eta_is/100 eta_mg/100)",
    known="derived",
    valid=_EFFICIENCIES,
    note=_USUAL,
)
def steam_rate(drop: Numeric, isentropic_efficiency: Numeric, drive_efficiency: Numeric) -> Numeric:
    """Steam that makes one kWh. [kg/kWh] from [kJ/kg, %, %].

    `drive_efficiency` is that of gear and generator together.
    """
    return KWH / (drop * isentropic_efficiency / 100.0 * drive_efficiency / 100.0)


@formula(
    source="own_derivation",
    at="definition of the efficiencies",
    unit="kWh/t",
    given=_EXPANSION,
    equation="power = drop eta_is/100 eta_mg/100/3.6",
    known="derived",
    valid=_EFFICIENCIES,
    note=_USUAL,
)
def power_per_steam(
    drop: Numeric, isentropic_efficiency: Numeric, drive_efficiency: Numeric
) -> Numeric:
    """Power made by one tonne of steam. [kWh/t] from [kJ/kg, %, %]."""
    return drop * isentropic_efficiency / 100.0 * drive_efficiency / 100.0 / 3.6


@formula(
    source="own_derivation",
    at="definition of the isentropic efficiency",
    unit="kJ/kg",
    given={"enthalpy": "kJ/kg", "drop": "kJ/kg", "isentropic_efficiency": "%"},
    equation="h2 = h1 - eta_is/100 drop",
    known="derived",
)
def exhaust_enthalpy(enthalpy: Numeric, drop: Numeric, isentropic_efficiency: Numeric) -> Numeric:
    """Enthalpy of exhaust steam. [kJ/kg] from [kJ/kg, kJ/kg, %]."""
    return enthalpy - isentropic_efficiency / 100.0 * drop


@formula(
    source="own_derivation",
    at="expansion with loss by IF97",
    unit="degC",
    given={
        "pressure": "bar abs",
        "temperature": "degC",
        "exhaust_pressure": "bar abs",
        "isentropic_efficiency": "%",
    },
    equation="T2 = T(p2, h1 - eta_is/100 [h1 - h(p2, s1)])",
    known="derived",
    valid={"pressure": (5.0, 130.0), "temperature": (150.0, 600.0), "exhaust_pressure": (0.05, 30)},
    uncertainty="0.05 K as arithmetic on IF97",
)
def exhaust_temperature(
    pressure: Numeric,
    temperature: Numeric,
    exhaust_pressure: Numeric,
    isentropic_efficiency: Numeric,
) -> Numeric:
    """Temperature of exhaust steam. [degC] from [bar abs, degC, bar abs, %]."""
    live = steam.steam_enthalpy(pressure, temperature)
    drop = isentropic_drop(pressure, temperature, exhaust_pressure)
    after = exhaust_enthalpy(live, drop, isentropic_efficiency)
    return steam.steam_temperature(exhaust_pressure, after)


@formula(
    source="own_derivation",
    at="heat balance of a let-down station",
    unit="t water/t steam",
    given={
        "steam_enthalpy": "kJ/kg",
        "outlet_enthalpy": "kJ/kg",
        "water_enthalpy": "kJ/kg",
    },
    equation="spray = (h1 - h2)/(h2 - h_w)",
    known="derived",
)
def spray_water(
    steam_enthalpy: Numeric, outlet_enthalpy: Numeric, water_enthalpy: Numeric
) -> Numeric:
    """Water sprayed into throttled steam to cool it. [t/t steam let in] from [kJ/kg]."""
    return (steam_enthalpy - outlet_enthalpy) / (outlet_enthalpy - water_enthalpy)


@formula(
    source="own_derivation",
    at="heat balance of a let-down station",
    unit="t live steam/t let-down steam",
    given={
        "steam_enthalpy": "kJ/kg",
        "outlet_enthalpy": "kJ/kg",
        "water_enthalpy": "kJ/kg",
    },
    equation="live = (h2 - h_w)/(h1 - h_w)",
    known="derived",
)
def live_steam_let_down(
    steam_enthalpy: Numeric, outlet_enthalpy: Numeric, water_enthalpy: Numeric
) -> Numeric:
    """Live steam in one tonne of let-down steam, the rest being spray. [t/t] from [kJ/kg]."""
    return (outlet_enthalpy - water_enthalpy) / (steam_enthalpy - water_enthalpy)


@formula(
    source="own_derivation",
    at="steam through a back-pressure turbine",
    unit="kWh/t cane",
    given={"steam_percent_cane": "% cane", "rate": "kg/kWh"},
    equation="power = 10 steam/rate",
    known="derived",
)
def back_pressure_power(steam_percent_cane: Numeric, rate: Numeric) -> Numeric:
    """Power from process steam taken through a turbine. [kWh/t cane] from [% cane, kg/kWh]."""
    return 10.0 * steam_percent_cane / rate
