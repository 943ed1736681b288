"""Sugar drying, keeping and dust: rotary residence, air, equilibrium humidity.

Sugar dust explodes. Every figure here is for understanding: test the factory's own dust
and follow local codes and licensed practice.
"""

from canewright.ops import Numeric, exp
from canewright.registry import formula


@formula(
    source="friedman_marshall1949",
    at="residence in a rotary dryer, without the drag of the air",
    unit="min",
    given={
        "length": "m",
        "slope": "m/m",
        "speed": "1/min",
        "diameter": "m",
    },
    equation="tau = 0.23 L/(S N^0.9 D)",
    known="memory",
)
def rotary_residence_time(
    length: Numeric,
    slope: Numeric,
    speed: Numeric,
    diameter: Numeric,
) -> Numeric:
    """Residence time of sugar in a rotary drum. [min] from [m, m/m, 1/min, m]."""
    return 0.23 * length / (slope * speed**0.9 * diameter)


@formula(
    source="friedman_marshall1949",
    at="0.5 G^0.67/D in foot-pound-hour units",
    unit="W/(m3 K)",
    given={
        "gas_flux": "kg/(s m2)",
        "diameter": "m",
    },
    equation="U a = 237 G^0.67/D",
    known="memory",
)
def rotary_heat_transfer(
    gas_flux: Numeric,
    diameter: Numeric,
) -> Numeric:
    """Volumetric heat transfer of a rotary dryer. [W/(m3 K)] from [kg/(s m2), m]."""
    return 237.0 * gas_flux**0.67 / diameter


@formula(
    source="own_derivation",
    at="balance on dry sugar",
    unit="t/h",
    given={
        "wet_sugar": "t/h",
        "moisture_in": "%",
        "moisture_out": "%",
    },
    equation="water = wet (m1 - m2)/(100 - m2)",
    known="derived",
)
def dryer_evaporation(
    wet_sugar: Numeric,
    moisture_in: Numeric,
    moisture_out: Numeric,
) -> Numeric:
    """Water a dryer evaporates. [t/h] from [t/h, %]."""
    return wet_sugar * (moisture_in - moisture_out) / (100.0 - moisture_out)


@formula(
    source="own_derivation",
    at="heat balance without loss; dry sugar 1.25, water 4.186 kJ/(kg K)",
    unit="t/h",
    given={
        "wet_sugar": "t/h",
        "moisture_in": "%",
        "moisture_out": "%",
        "sugar_in": "degC",
        "sugar_out": "degC",
        "air_in": "degC",
        "air_out": "degC",
        "air_humidity": "g/kg dry air",
    },
    equation=("air (h1 - h2 at W1) = water x vapour enthalpy - heat given by sugar and its water"),
    known="derived",
)
def dryer_air(
    wet_sugar: Numeric,
    moisture_in: Numeric,
    moisture_out: Numeric,
    sugar_in: Numeric,
    sugar_out: Numeric,
    air_in: Numeric,
    air_out: Numeric,
    air_humidity: Numeric,
) -> Numeric:
    """Dry air that a dryer needs. [t/h]."""
    water = dryer_evaporation(wet_sugar, moisture_in, moisture_out)
    dry = wet_sugar * (100.0 - moisture_in) / 100.0
    sugar_heat = 1.25 * dry * (sugar_in - sugar_out)
    wet_heat = 4.186 * wet_sugar * moisture_in / 100.0 * sugar_in
    left_heat = 4.186 * (wet_sugar * moisture_in / 100.0 - water) * sugar_out
    vapour = 2501.0 + 1.86 * air_out
    per_air = (1.006 + 1.86 * air_humidity / 1000.0) * (air_in - air_out)
    return (water * vapour - sugar_heat - wet_heat + left_heat) / per_air


@formula(
    source="own_derivation",
    at="heat balance without loss, dry air",
    unit="t/h",
    given={
        "sugar_rate": "t/h",
        "sugar_in": "degC",
        "sugar_out": "degC",
        "air_in": "degC",
        "air_out": "degC",
    },
    equation="air 1.006 (t2 - t1) = sugar 1.25 (T1 - T2)",
    known="derived",
    note="Cooling needs more air than drying.",
)
def cooler_air(
    sugar_rate: Numeric,
    sugar_in: Numeric,
    sugar_out: Numeric,
    air_in: Numeric,
    air_out: Numeric,
) -> Numeric:
    """Air that a sugar cooler needs. [t/h] from [t/h, °C]."""
    return sugar_rate * 1.25 * (sugar_in - sugar_out) / (1.006 * (air_out - air_in))


@formula(
    source="baeza2010",
    at="Norrish form; constants sucrose 6.47, invert 2.25, square-root mixing",
    unit="%",
    given={
        "sucrose": "%",
        "invert": "%",
        "water": "%",
    },
    equation="a_w = x_w exp[-(sqrt(6.47) x_s + sqrt(2.25) x_i)^2]",
    known="memory",
    note=(
        "The form was read; the constants are from memory. Accepted 84 to 85 % at 25 °C for "
        "pure syrup."
    ),
)
def syrup_water_activity(
    sucrose: Numeric,
    invert: Numeric,
    water: Numeric,
) -> Numeric:
    """Equilibrium relative humidity of a syrup film. [%] from [%]."""
    moles_sucrose = sucrose / 342.30
    moles_invert = invert / 180.16
    moles_water = water / 18.015
    moles = moles_sucrose + moles_invert + moles_water
    pull = 2.5436194683953808 * moles_sucrose + 1.5 * moles_invert
    return 100.0 * moles_water / moles * exp(-((pull / moles) ** 2))


@formula(
    source="own_derivation",
    at="a settled layer thrown up evenly",
    unit="g/m3",
    given={
        "layer": "mm",
        "bulk_density": "kg/m3",
        "cloud_height": "m",
    },
    equation="c = layer x bulk density / height",
    known="derived",
    note="One millimetre exceeds every explosible limit quoted. Defer to local codes.",
)
def dust_cloud_concentration(
    layer: Numeric,
    bulk_density: Numeric,
    cloud_height: Numeric,
) -> Numeric:
    """Dust cloud that a settled layer can make. [g/m3] from [mm, kg/m3, m]."""
    return layer * bulk_density / cloud_height


@formula(
    source="common_practice",
    at="cube-root law",
    unit="bar m/s",
    given={
        "pressure_rise": "bar/s",
        "volume": "m3",
    },
    equation="Kst = (dp/dt)max V^(1/3)",
    known="memory",
    note=("Class 1 below 200, 2 to 300, 3 above. Only a test of the factory's own dust counts."),
)
def explosion_severity(
    pressure_rise: Numeric,
    volume: Numeric,
) -> Numeric:
    """Deflagration index of a dust test. [bar m/s] from [bar/s, m3]."""
    return pressure_rise * volume ** (1.0 / 3.0)
