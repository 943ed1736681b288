"""Evaporation: head, flash, bleeding, condensers, vapour velocity and entrainment.

Pressures are bar absolute, temperatures degC, flows t/h. Coefficients of heat transfer and
juice heaters are in `canewright.laws.heat_transfer`.
"""

from canewright.ops import Numeric, sqrt
from canewright.properties import steam
from canewright.registry import formula

GRAVITY = 9.80665
_PASCAL = 1e-5  # bar
WATER_HEAT = 4.186
"""Specific heat of cooling water, kJ/(kg K)."""
_AIR, _WATER = 28.96, 18.015  # kg/kmol


@formula(
    source="own_derivation",
    at="hydrostatics and the saturation line",
    unit="K",
    given={"pressure": "bar abs", "liquor_density": "kg/m3", "depth": "m"},
    equation="rise = T_sat(p + rho g h) - T_sat(p)",
    known="derived",
    valid={"pressure": (0.05, 5.0), "depth": (0.0, 3.0)},
    note="""Depth of unaerated liquor over the mean point of boiling, about half of the static
    level. Most published coefficients have the head inside them: use it only with a
    coefficient fitted with it. A falling film has none.""",
)
def hydrostatic_rise(pressure: Numeric, liquor_density: Numeric, depth: Numeric) -> Numeric:
    """Rise of the boiling point by the head of liquor. [K] from [bar abs, kg/m3, m]."""
    deep = pressure + liquor_density * GRAVITY * depth * _PASCAL
    return steam.saturation_temperature(deep) - steam.saturation_temperature(pressure)


@formula(
    source="own_derivation",
    at="heat balance of saturated water let down",
    unit="% of the condensate",
    given={"temperature": "degC", "flash_temperature": "degC"},
    equation="flash = 100 [h'(T) - h'(T_f)]/r(T_f)",
    known="derived",
    valid={"temperature": (40.0, 200.0), "flash_temperature": (40.0, 200.0)},
)
def condensate_flash(temperature: Numeric, flash_temperature: Numeric) -> Numeric:
    """Share of condensate that flashes to vapour. [% of condensate] from [degC, degC]."""
    surplus = steam.liquid_enthalpy(temperature) - steam.liquid_enthalpy(flash_temperature)
    return 100.0 * surplus / steam.latent_heat(flash_temperature)


@formula(
    source="own_derivation",
    at="heat balance of juice let down, to first order in the flash",
    unit="% of the juice",
    given={
        "specific_heat": "kJ/(kg.K)",
        "temperature": "degC",
        "boiling_temperature": "degC",
    },
    equation="flash = 100 cp (T - T_b)/r(T_b)",
    known="derived",
    valid={"temperature": (40.0, 140.0), "boiling_temperature": (40.0, 140.0)},
    uncertainty="0.5 % of the value for each % of flash",
)
def juice_flash(
    specific_heat: Numeric, temperature: Numeric, boiling_temperature: Numeric
) -> Numeric:
    """Share of juice that flashes to vapour. [% of juice] from [kJ/(kg.K), degC, degC].

    The boiling temperature is that of the juice, its elevation included.
    """
    surplus = specific_heat * (temperature - boiling_temperature)
    return 100.0 * surplus / steam.latent_heat(boiling_temperature)


@formula(
    source="own_derivation",
    at="balance of dissolved solids",
    unit="% mass",
    given={"dissolved_solids": "% mass", "vapour_percent": "% of the juice"},
    equation="w' = 100 w/(100 - x)",
    known="derived",
)
def solids_after_evaporation(dissolved_solids: Numeric, vapour_percent: Numeric) -> Numeric:
    """Dissolved solids after vapour has left. [% mass] from [% mass, % of juice]."""
    return 100.0 * dissolved_solids / (100.0 - vapour_percent)


@formula(
    source="own_derivation",
    at="heat balance with ideal mixing of juice and condensed vapour",
    unit="t/h",
    given={
        "flow": "t/h",
        "cold_enthalpy": "kJ/kg",
        "hot_enthalpy": "kJ/kg",
        "vapour_enthalpy": "kJ/kg",
        "water_enthalpy": "kJ/kg",
    },
    equation="m_v = m (h2 - h1)/(h_v - h_w)",
    known="derived",
    note="""h2 is that of the juice at the hot temperature at its **old** Brix, h_w that of
    water at that temperature. All of m_v dilutes the juice and must be evaporated again.""",
)
def direct_contact_vapour(
    flow: Numeric,
    cold_enthalpy: Numeric,
    hot_enthalpy: Numeric,
    vapour_enthalpy: Numeric,
    water_enthalpy: Numeric,
) -> Numeric:
    """Vapour condensed into juice to heat it. [t/h] from [t/h, kJ/kg]."""
    return flow * (hot_enthalpy - cold_enthalpy) / (vapour_enthalpy - water_enthalpy)


@formula(
    source="own_derivation",
    at="identity of ideal multiple effects (principles of Rillieux)",
    unit="as the evaporation",
    given={
        "evaporation": "t/h or % cane",
        "effects": "number",
        "first_bleed": "as the evaporation",
        "second_bleed": "as the evaporation",
        "third_bleed": "as the evaporation",
        "fourth_bleed": "as the evaporation",
        "fifth_bleed": "as the evaporation",
    },
    equation="S = E/N + sum over i of B_i (N - i)/N",
    known="derived",
    valid={"effects": (1.0, 6.0)},
    uncertainty="real stations take 3 to 8 % more (memory)",
    note="A first guess for the solver, and the yardstick of a measured station.",
)
def ideal_steam(
    evaporation: Numeric,
    effects: Numeric,
    first_bleed: Numeric = 0.0,
    second_bleed: Numeric = 0.0,
    third_bleed: Numeric = 0.0,
    fourth_bleed: Numeric = 0.0,
    fifth_bleed: Numeric = 0.0,
) -> Numeric:
    """Steam an ideal bled multiple effect takes. [t/h] from [t/h, number, t/h]."""
    bleeds = (first_bleed, second_bleed, third_bleed, fourth_bleed, fifth_bleed)
    steam_taken = evaporation / effects
    for place, bleed in enumerate(bleeds, start=1):
        steam_taken = steam_taken + bleed * (effects - place) / effects
    return steam_taken


@formula(
    source="own_derivation",
    at="identity of ideal multiple effects (principles of Rillieux)",
    unit="t/h",
    given={"bleed": "t/h", "effect": "number", "effects": "number"},
    equation="saving = B i/N",
    known="derived",
    note="Against taking the same duty from exhaust; worth money only in some steam regimes.",
)
def bleed_saving(bleed: Numeric, effect: Numeric, effects: Numeric) -> Numeric:
    """Steam saved by a bleed against taking exhaust. [t/h] from [t/h, number, number]."""
    return bleed * effect / effects


@formula(
    source="own_derivation",
    at="heat balance of a barometric condenser",
    unit="t/t vapour",
    given={"vapour_enthalpy": "kJ/kg", "water_out": "degC", "water_in": "degC"},
    equation="ratio = (h_v - 4.186 T_c)/[4.186 (T_c - T_w)]",
    known="derived",
    valid={"water_out": (25.0, 60.0), "water_in": (10.0, 45.0)},
)
def condenser_water(vapour_enthalpy: Numeric, water_out: Numeric, water_in: Numeric) -> Numeric:
    """Injection water that condenses one tonne of vapour. [t/t] from [kJ/kg, degC, degC]."""
    taken = WATER_HEAT * (water_out - water_in)
    return (vapour_enthalpy - WATER_HEAT * water_out) / taken


@formula(
    source="kern1950",
    at="example 14.4, barometric condenser",
    unit="t/h",
    given={
        "heat": "MJ/h",
        "vapour_temperature": "degC",
        "water_in": "degC",
        "approach": "K",
    },
    equation="water = Q/[4.1868 (T_v - T_w - approach)]",
    known="read",
    valid={"vapour_temperature": (30.0, 70.0), "water_in": (5.0, 45.0)},
)
def condenser_water_by_duty(
    heat: Numeric, vapour_temperature: Numeric, water_in: Numeric, approach: Numeric
) -> Numeric:
    """Injection water for a heat to be condensed. [t/h] from [MJ/h, degC, degC, K]."""
    return heat / (4.1868 * (vapour_temperature - water_in - approach))


@formula(
    source="own_derivation",
    at="partial pressures (Dalton) and the saturation line",
    unit="K",
    given={"pressure": "bar abs", "air_percent": "% mass of the vapour with air"},
    equation="""drop = T_sat(p) - T_sat[p (1 - y)],
    y = (x/28.96)/[x/28.96 + (100 - x)/18.015]""",
    known="derived",
    valid={"pressure": (0.05, 5.0), "air_percent": (0.0, 50.0)},
    note="The gas film on the tubes harms far more than this drop of the bulk.",
)
def air_depression(pressure: Numeric, air_percent: Numeric) -> Numeric:
    """Drop of the condensing temperature by air in vapour. [K] from [bar abs, % mass]."""
    air = air_percent / _AIR
    share = air / (air + (100.0 - air_percent) / _WATER)
    dry = steam.saturation_temperature(pressure)
    return dry - steam.saturation_temperature(pressure * (1.0 - share))


@formula(
    source="souders_brown1934",
    at="allowable velocity, as used for evaporator bodies",
    unit="m/s",
    given={
        "liquor_density": "kg/m3",
        "vapour_density": "kg/m3",
        "constant": "m/s",
    },
    equation="v = K sqrt[(rho_L - rho_v)/rho_v]",
    known="memory",
    valid={"constant": (0.02, 0.04)},
    uncertainty="constant 0.02 to 0.04 m/s",
)
def allowable_velocity(
    liquor_density: Numeric, vapour_density: Numeric, constant: Numeric = 0.03
) -> Numeric:
    """Velocity of vapour in a body that still lets drops fall. [m/s] from [kg/m3, m/s]."""
    return constant * sqrt((liquor_density - vapour_density) / vapour_density)


@formula(
    source="own_derivation",
    at="balance of sugar in vapour",
    unit="kg/h",
    given={"vapour": "t/h", "sugar_ppm": "mg/kg"},
    equation="loss = vapour ppm/1000",
    known="derived",
    valid={"sugar_ppm": (0.0, 2000.0)},
)
def entrainment_loss(vapour: Numeric, sugar_ppm: Numeric) -> Numeric:
    """Sugar carried away by vapour or condensate. [kg/h] from [t/h, mg/kg]."""
    return vapour * sugar_ppm / 1000.0


@formula(
    source="own_derivation",
    at="balance of sugar over a barometric condenser",
    unit="mg/kg vapour",
    given={"rise_ppm": "mg/kg tail water", "water_ratio": "t/t vapour"},
    equation="ppm in vapour = rise (1 + ratio)",
    known="derived",
    note="""The rise is out minus in, since a pond itself carries sugar. A test that resolves
    10 ppm of tail water cannot see less than 0.1 % of the pol.""",
)
def sugar_in_vapour(rise_ppm: Numeric, water_ratio: Numeric) -> Numeric:
    """Sugar in vapour from its rise in tail water. [mg/kg vapour] from [mg/kg, t/t]."""
    return rise_ppm * (1.0 + water_ratio)
