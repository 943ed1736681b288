"""Settling of juice and mud: single particles, hindered settling, limiting flux, areas."""

from canewright.ops import Numeric, exp, sqrt
from canewright.registry import formula


@formula(
    source="stokes1851",
    at="creeping flow",
    unit="m/h",
    given={
        "diameter": "mm",
        "density_difference": "kg/m3",
        "viscosity": "mPa s",
    },
    equation="v = g d^2 drho / (18 mu)",
    known="memory",
)
def stokes_velocity(
    diameter: Numeric,
    density_difference: Numeric,
    viscosity: Numeric,
) -> Numeric:
    """Settling velocity of one small floc. [m/h] from [mm, kg/m3, mPa s]."""
    return (
        9.80665
        * (diameter / 1000.0) ** 2
        * density_difference
        / (18.0 * viscosity / 1000.0)
        * 3600.0
    )


@formula(
    source="richardson_zaki1954",
    at="exponent 4.65 to 2.39",
    unit="m/h",
    given={
        "single_velocity": "m/h",
        "liquid_volume_percent": "% by volume",
        "exponent": "-",
    },
    equation="v = v0 e^n, n from 4.65 (Re < 0.2) to 2.39",
    known="memory",
    valid={"exponent": (2.39, 4.65)},
    family="hindered settling",
)
def hindered_velocity(
    single_velocity: Numeric,
    liquid_volume_percent: Numeric,
    exponent: Numeric,
) -> Numeric:
    """Settling velocity of a suspension from its liquid volume. [m/h] from [m/h, %, -]."""
    return single_velocity * (liquid_volume_percent / 100.0) ** exponent


@formula(
    source="vesilind1968",
    at="exponential settling law",
    unit="m/h",
    given={
        "single_velocity": "m/h",
        "concentration": "kg/m3",
        "concentration_coefficient": "m3/kg",
    },
    equation="v = v0 exp(-k C)",
    known="memory",
    family="hindered settling",
    default=True,
    note=("Default because juice mud is flocculated and its two constants come from a jar test."),
)
def exponential_velocity(
    single_velocity: Numeric,
    concentration: Numeric,
    concentration_coefficient: Numeric,
) -> Numeric:
    """Settling velocity of flocculated mud from its solids. [m/h] from [m/h, kg/m3, m3/kg]."""
    return single_velocity * exp(-concentration_coefficient * concentration)


@formula(
    source="vesilind1968",
    at="batch flux",
    unit="kg/(m2 h)",
    given={
        "single_velocity": "m/h",
        "concentration": "kg/m3",
        "concentration_coefficient": "m3/kg",
    },
    equation="G = v0 C exp(-k C)",
    known="memory",
)
def batch_flux(
    single_velocity: Numeric,
    concentration: Numeric,
    concentration_coefficient: Numeric,
) -> Numeric:
    """Solids flux by settling alone. [kg/(m2 h)] from [m/h, kg/m3, m3/kg]."""
    return concentration * exponential_velocity(
        single_velocity, concentration, concentration_coefficient
    )


@formula(
    source="own_derivation",
    at="tangent to the batch flux (Kynch)",
    unit="kg/m3",
    given={
        "underflow_concentration": "kg/m3",
        "concentration_coefficient": "m3/kg",
    },
    equation="C_L = [Cu + sqrt(Cu^2 - 4 Cu/k)]/2",
    known="derived",
)
def limiting_concentration(
    underflow_concentration: Numeric,
    concentration_coefficient: Numeric,
) -> Numeric:
    """Concentration of the layer that limits a thickener. [kg/m3] from [kg/m3, m3/kg].

    There is such a layer only when the underflow exceeds 4/k.
    """
    root = sqrt(
        underflow_concentration**2 - 4.0 * underflow_concentration / concentration_coefficient
    )
    return (underflow_concentration + root) / 2.0


@formula(
    source="own_derivation",
    at="tangent to the batch flux (Kynch)",
    unit="kg/(m2 h)",
    given={
        "single_velocity": "m/h",
        "underflow_concentration": "kg/m3",
        "concentration_coefficient": "m3/kg",
    },
    equation="G_L = v0 C_L exp(-k C_L) Cu/(Cu - C_L)",
    known="derived",
)
def limiting_flux(
    single_velocity: Numeric,
    underflow_concentration: Numeric,
    concentration_coefficient: Numeric,
) -> Numeric:
    """Greatest solids flux a thickener can pass to its underflow. [kg/(m2 h)]."""
    layer = limiting_concentration(underflow_concentration, concentration_coefficient)
    settled = batch_flux(single_velocity, layer, concentration_coefficient)
    return settled * underflow_concentration / (underflow_concentration - layer)


@formula(
    source="own_derivation",
    at="overflow rate",
    unit="m2",
    given={
        "overflow": "m3/h",
        "settling_velocity": "m/h",
    },
    equation="A = overflow / initial settling velocity",
    known="derived",
    note=(
        "Take the larger of this and the thickening area. Practice: upflow at half the "
        "initial settling rate."
    ),
)
def clarification_area(
    overflow: Numeric,
    settling_velocity: Numeric,
) -> Numeric:
    """Area for the clear juice to rise slower than the flocs fall. [m2] from [m3/h, m/h]."""
    return overflow / settling_velocity


@formula(
    source="coe_clevenger1916",
    at="area for a layer of concentration c; the largest over c governs",
    unit="m2",
    given={
        "juice_flow": "m3/h",
        "feed_solids": "%",
        "layer_solids": "%",
        "underflow_solids": "%",
        "settling_velocity": "m/h",
    },
    equation="A = Q0 c0 (1/c - 1/cu)/v(c)",
    known="memory",
)
def thickening_area(
    juice_flow: Numeric,
    feed_solids: Numeric,
    layer_solids: Numeric,
    underflow_solids: Numeric,
    settling_velocity: Numeric,
) -> Numeric:
    """Thickener area for one layer between feed and underflow. [m2] from [m3/h, %, m/h]."""
    return (
        juice_flow * feed_solids * (1.0 / layer_solids - 1.0 / underflow_solids) / settling_velocity
    )


@formula(
    source="own_derivation",
    at="all insolubles leave in the mud",
    unit="%",
    given={
        "insoluble_solids": "% of juice",
        "underflow_solids": "%",
    },
    equation="mud % juice = 100 insolubles / underflow solids",
    known="derived",
)
def mud_volume_percent(
    insoluble_solids: Numeric,
    underflow_solids: Numeric,
) -> Numeric:
    """Mud on juice from its solids. [%] from [%]."""
    return 100.0 * insoluble_solids / underflow_solids
