"""Burning bagasse: air, flue gas, losses and the efficiency of a boiler.

Moisture is % of wet bagasse; carbon, hydrogen and oxygen are % of dry bagasse, by default
47.0, 6.5 and 44.0. At 50 % moisture efficiencies on gross and on net calorific value differ
by a fifth, so the basis stands in the name or in the note.
"""

from canewright.ops import Numeric
from canewright.registry import formula

_CARBON, _HYDROGEN, _OXYGEN_GAS, _AIR = 12.011, 1.008, 31.998, 28.96  # kg/kmol
_OXYGEN_IN_AIR = 0.2095  # mol/mol of dry air
_NITROGEN_IN_AIR = 1.0 - _OXYGEN_IN_AIR  # with argon
_NITROGEN = (_AIR - _OXYGEN_IN_AIR * _OXYGEN_GAS) / _NITROGEN_IN_AIR
_WATER_FROM_HYDROGEN = 8.936  # kg/kg
_KILOCALORIE = 4.1868  # kJ
FLUE_GAS_HEAT = 1.02
"""Specific heat of dry flue gas, kJ/(kg K)."""
VAPOUR_HEAT = 1.90
"""Specific heat of water vapour in flue gas, kJ/(kg K)."""
MOISTURE_OF_AIR = 0.015
"""Water carried by combustion air, kg/kg."""

_DRY = {"carbon": "% dry bagasse", "hydrogen": "% dry bagasse", "oxygen": "% dry bagasse"}


def _oxygen_needed(carbon: Numeric, hydrogen: Numeric, oxygen: Numeric) -> Numeric:
    """Oxygen for complete burning [kmol per 100 kg dry]."""
    return carbon / _CARBON + hydrogen / (4.0 * _HYDROGEN) - oxygen / _OXYGEN_GAS


@formula(
    source="own_derivation",
    at="C + O2 -> CO2, 4 H + O2 -> 2 H2O; air 28.96 kg/kmol with 20.95 % oxygen",
    unit="kg/kg dry bagasse",
    given=_DRY,
    equation="air = (C/12.011 + H/4.032 - O/31.998)/100 28.96/0.2095",
    known="derived",
    valid={"carbon": (40.0, 55.0), "hydrogen": (4.0, 8.0), "oxygen": (30.0, 50.0)},
    uncertainty="0.5 %",
)
def stoichiometric_air(carbon: Numeric, hydrogen: Numeric, oxygen: Numeric) -> Numeric:
    """Dry air that burns dry bagasse with nothing over. [kg/kg dry] from [% dry]."""
    return _oxygen_needed(carbon, hydrogen, oxygen) / 100.0 * _AIR / _OXYGEN_IN_AIR


@formula(
    source="own_derivation",
    at="dry flue gas of complete burning without excess air",
    unit="% volume of dry flue gas",
    given=_DRY,
    equation="CO2 max = 100 n_C/(n_C + n_O2 0.7905/0.2095)",
    known="derived",
)
def carbon_dioxide_maximum(carbon: Numeric, hydrogen: Numeric, oxygen: Numeric) -> Numeric:
    """Carbon dioxide of dry flue gas without excess air. [% volume] from [% dry]."""
    carbon_moles = carbon / _CARBON
    nitrogen = _oxygen_needed(carbon, hydrogen, oxygen) * _NITROGEN_IN_AIR / _OXYGEN_IN_AIR
    return 100.0 * carbon_moles / (carbon_moles + nitrogen)


@formula(
    source="common_practice",
    at="excess air from oxygen in dry flue gas",
    unit="% of stoichiometric air",
    given={"flue_oxygen": "% volume of dry flue gas"},
    equation="e = 100 O2/(21 - O2)",
    known="assumed",
    valid={"flue_oxygen": (0.0, 15.0)},
    uncertainty="1 % of the value, against the exact balance for bagasse",
    family="excess air",
)
def excess_air_simple(flue_oxygen: Numeric) -> Numeric:
    """Excess air by the common rule. [% of stoichiometric] from [% volume dry]."""
    return 100.0 * flue_oxygen / (21.0 - flue_oxygen)


@formula(
    source="own_derivation",
    at="mole balance of dry flue gas",
    unit="% of stoichiometric air",
    given={"flue_oxygen": "% volume of dry flue gas", **_DRY},
    equation="""e = 100 y (n_C + n_O2 k)/{n_O2 [1 - y (1 + k)]}, y = O2/100,
    k = 0.7905/0.2095, n_O2 the oxygen needed""",
    known="derived",
    valid={"flue_oxygen": (0.0, 15.0)},
    family="excess air",
    default=True,
    note="Exact for the ultimate analysis given; the common rule is 1 % higher.",
)
def excess_air(
    flue_oxygen: Numeric, carbon: Numeric = 47.0, hydrogen: Numeric = 6.5, oxygen: Numeric = 44.0
) -> Numeric:
    """Excess air from the oxygen in dry flue gas. [% of stoichiometric] from [% volume dry]."""
    needed = _oxygen_needed(carbon, hydrogen, oxygen)
    ratio = _NITROGEN_IN_AIR / _OXYGEN_IN_AIR
    share = flue_oxygen / 100.0
    return (
        100.0
        * share
        * (carbon / _CARBON + needed * ratio)
        / (needed * (1.0 - share * (1.0 + ratio)))
    )


_GAS = {"moisture": "% bagasse", "excess": "% of stoichiometric air", **_DRY}


@formula(
    source="own_derivation",
    at="CO2 and nitrogen of all the air, and the oxygen left over",
    unit="kg/kg bagasse",
    given=_GAS,
    equation="""m = (1 - w/100)/100 {44.009 n_C + n_O2 [(1 + e) 28.155 0.7905/0.2095
    + 31.998 e]}""",
    known="derived",
    valid={"moisture": (30.0, 60.0), "excess": (0.0, 200.0)},
)
def dry_flue_gas(
    moisture: Numeric,
    excess: Numeric,
    carbon: Numeric = 47.0,
    hydrogen: Numeric = 6.5,
    oxygen: Numeric = 44.0,
) -> Numeric:
    """Dry flue gas per wet bagasse. [kg/kg] from [% bagasse, % excess air, % dry]."""
    needed = _oxygen_needed(carbon, hydrogen, oxygen)
    share = excess / 100.0
    carbon_dioxide = carbon / _CARBON * (_CARBON + _OXYGEN_GAS)
    nitrogen = needed * (1.0 + share) * _NITROGEN_IN_AIR / _OXYGEN_IN_AIR * _NITROGEN
    left = needed * share * _OXYGEN_GAS
    return (1.0 - moisture / 100.0) / 100.0 * (carbon_dioxide + nitrogen + left)


@formula(
    source="own_derivation",
    at="water of the fuel, of its hydrogen and of the air",
    unit="kg/kg bagasse",
    given=_GAS,
    equation="m = w/100 + 8.936 H (100 - w)/1e4 + 0.015 m_air",
    known="derived",
    valid={"moisture": (30.0, 60.0), "excess": (0.0, 200.0)},
)
def flue_vapour(
    moisture: Numeric,
    excess: Numeric,
    carbon: Numeric = 47.0,
    hydrogen: Numeric = 6.5,
    oxygen: Numeric = 44.0,
) -> Numeric:
    """Water vapour in the flue gas per wet bagasse. [kg/kg] from [% bagasse, %, % dry]."""
    dry = 1.0 - moisture / 100.0
    air = dry * stoichiometric_air(carbon, hydrogen, oxygen) * (1.0 + excess / 100.0)
    made = _WATER_FROM_HYDROGEN * hydrogen / 100.0 * dry
    return moisture / 100.0 + made + MOISTURE_OF_AIR * air


_LOSS = {
    "stack_temperature": "degC",
    "air_temperature": "degC",
    "net_value": "kJ/kg",
}


@formula(
    source="en12952_15",
    at="indirect method, loss with dry flue gas",
    unit="% of net calorific value",
    given={"dry_gas": "kg/kg bagasse", **_LOSS},
    equation="loss = 100 m_dg 1.02 (T_g - T_a)/NCV",
    known="memory",
    valid={"stack_temperature": (120.0, 350.0)},
)
def dry_gas_loss(
    dry_gas: Numeric,
    stack_temperature: Numeric,
    air_temperature: Numeric,
    net_value: Numeric,
) -> Numeric:
    """Heat lost with dry flue gas. [% of net value] from [kg/kg, degC, degC, kJ/kg]."""
    return 100.0 * dry_gas * FLUE_GAS_HEAT * (stack_temperature - air_temperature) / net_value


@formula(
    source="en12952_15",
    at="indirect method, loss with superheated vapour in the flue gas",
    unit="% of net calorific value",
    given={"vapour": "kg/kg bagasse", **_LOSS},
    equation="loss = 100 m_w 1.90 (T_g - T_a)/NCV",
    known="memory",
    valid={"stack_temperature": (120.0, 350.0)},
)
def vapour_loss(
    vapour: Numeric,
    stack_temperature: Numeric,
    air_temperature: Numeric,
    net_value: Numeric,
) -> Numeric:
    """Sensible heat lost with vapour. [% of net value] from [kg/kg, degC, degC, kJ/kg]."""
    return 100.0 * vapour * VAPOUR_HEAT * (stack_temperature - air_temperature) / net_value


@formula(
    source="en12952_15",
    at="indirect method, sum of losses",
    unit="% of net calorific value",
    given={
        "dry_gas_loss_percent": "% of net value",
        "vapour_loss_percent": "% of net value",
        "unburnt_loss": "% of net value",
        "radiation_loss": "% of net value",
        "carbon_monoxide_loss": "% of net value",
    },
    equation="eta = 100 - sum of losses",
    known="memory",
    note="""Usual losses (memory): unburnt 1 to 3, carbon monoxide 0 to 1, radiation 0.5 to 1.
    The direct method's error is three to four times that of this one.""",
)
def net_efficiency_by_losses(
    dry_gas_loss_percent: Numeric,
    vapour_loss_percent: Numeric,
    unburnt_loss: Numeric,
    radiation_loss: Numeric,
    carbon_monoxide_loss: Numeric = 0.0,
) -> Numeric:
    """Boiler efficiency on net value by its losses. [% of net value] from [% of net value]."""
    return (
        100.0
        - dry_gas_loss_percent
        - vapour_loss_percent
        - unburnt_loss
        - radiation_loss
        - carbon_monoxide_loss
    )


@formula(
    source="own_derivation",
    at="same heat to steam on two bases",
    unit="% of gross calorific value",
    given={"net_efficiency": "% of net value", "net_value": "kJ/kg", "gross_value": "kJ/kg"},
    equation="eta_GCV = eta_NCV NCV/GCV",
    known="derived",
)
def gross_efficiency(net_efficiency: Numeric, net_value: Numeric, gross_value: Numeric) -> Numeric:
    """Boiler efficiency on gross value from that on net value. [%] from [%, kJ/kg, kJ/kg]."""
    return net_efficiency * net_value / gross_value


@formula(
    source="hugot1986",
    at="sensible heat lost in flue gas",
    unit="kJ/kg bagasse",
    given={
        "moisture": "% bagasse",
        "air_ratio": "air used per stoichiometric air",
        "stack_temperature": "degC",
    },
    equation="q = 4.1868 [(1 - w/100)(1.4 m - 0.13) + 0.5] t",
    known="memory",
    valid={"moisture": (30.0, 60.0), "air_ratio": (1.0, 2.5), "stack_temperature": (120.0, 350.0)},
    uncertainty="2 % above the exact sum",
)
def stack_loss_hugot(moisture: Numeric, air_ratio: Numeric, stack_temperature: Numeric) -> Numeric:
    """Sensible heat lost in flue gas. [kJ/kg] from [% bagasse, ratio, degC]."""
    return (
        _KILOCALORIE
        * ((1.0 - moisture / 100.0) * (1.4 * air_ratio - 0.13) + 0.5)
        * stack_temperature
    )


@formula(
    source="own_derivation",
    at="heat balance of the boiler, direct method",
    unit="% of the calorific value given",
    given={
        "steam": "t/h",
        "steam_enthalpy": "kJ/kg",
        "feed_enthalpy": "kJ/kg",
        "blowdown": "t/h",
        "blowdown_enthalpy": "kJ/kg",
        "fuel": "t/h",
        "calorific_value": "kJ/kg",
    },
    equation="eta = 100 [D (h_s - h_fw) + b (h_b - h_fw)]/(fuel CV)",
    known="derived",
    note="On gross value or on net, as the calorific value given: say which.",
)
def efficiency_direct(
    steam: Numeric,
    steam_enthalpy: Numeric,
    feed_enthalpy: Numeric,
    blowdown: Numeric,
    blowdown_enthalpy: Numeric,
    fuel: Numeric,
    calorific_value: Numeric,
) -> Numeric:
    """Boiler efficiency by steam made and fuel burnt. [%] from [t/h, kJ/kg]."""
    heat = steam * (steam_enthalpy - feed_enthalpy) + blowdown * (blowdown_enthalpy - feed_enthalpy)
    return 100.0 * heat / (fuel * calorific_value)


@formula(
    source="own_derivation",
    at="heat balance of the boiler without blowdown",
    unit="t steam/t bagasse",
    given={
        "efficiency": "% of the calorific value given",
        "calorific_value": "kJ/kg",
        "steam_enthalpy": "kJ/kg",
        "feed_enthalpy": "kJ/kg",
    },
    equation="coefficient = eta/100 CV/(h_s - h_fw)",
    known="derived",
    note="Efficiency and calorific value on the same basis.",
)
def evaporation_coefficient(
    efficiency: Numeric,
    calorific_value: Numeric,
    steam_enthalpy: Numeric,
    feed_enthalpy: Numeric,
) -> Numeric:
    """Steam made per bagasse burnt. [t/t] from [%, kJ/kg, kJ/kg, kJ/kg]."""
    return efficiency / 100.0 * calorific_value / (steam_enthalpy - feed_enthalpy)
