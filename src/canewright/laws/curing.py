"""Centrifugals: force, charge, drainage, wash, film on the crystal.

Centrifugals are among the most dangerous machines of the house: interlocks, speed
limits and inspection belong to the maker's manual and local rules. Drainage and film
coefficients need calibration.
"""

from canewright.ops import Numeric, sqrt
from canewright.registry import formula


@formula(
    source="own_derivation",
    at="centripetal acceleration",
    unit="-",
    given={
        "basket_diameter": "m",
        "speed": "1/min",
    },
    equation="g-factor = omega^2 r / g = 5.591e-4 D N^2",
    known="derived",
)
def centrifugal_factor(
    basket_diameter: Numeric,
    speed: Numeric,
) -> Numeric:
    """Force on the sugar in multiples of gravity. [-] from [m, 1/min]."""
    return (2.0 * 3.141592653589793 * speed / 60.0) ** 2 * basket_diameter / 2.0 / 9.80665


@formula(
    source="own_derivation",
    at="cylindrical layer",
    unit="m3",
    given={
        "basket_diameter": "m",
        "layer_thickness": "m",
        "basket_height": "m",
    },
    equation="V = pi H e (D - e)",
    known="derived",
)
def basket_charge_volume(
    basket_diameter: Numeric,
    layer_thickness: Numeric,
    basket_height: Numeric,
) -> Numeric:
    """Massecuite a cylindrical basket holds. [m3] from [m]."""
    return 3.141592653589793 * basket_height * layer_thickness * (basket_diameter - layer_thickness)


@formula(
    source="own_derivation",
    at="cycles per hour",
    unit="t/h",
    given={
        "charge_volume": "m3",
        "density": "kg/m3",
        "cycles": "1/h",
    },
    equation="capacity = V rho n",
    known="derived",
)
def batch_capacity(
    charge_volume: Numeric,
    density: Numeric,
    cycles: Numeric,
) -> Numeric:
    """Massecuite a batch machine takes. [t/h] from [m3, kg/m3, 1/h]."""
    return charge_volume * density / 1000.0 * cycles


@formula(
    source="draining_film",
    at="packed bed of spheres",
    unit="m2",
    given={
        "size": "mm",
        "voidage_percent": "% by volume",
    },
    equation="K = d^2 e^3 / [180 (1 - e)^2]",
    known="derived",
)
def crystal_bed_permeability(
    size: Numeric,
    voidage_percent: Numeric,
) -> Numeric:
    """Permeability of a bed of crystals. [m2] from [mm, %]."""
    void = voidage_percent / 100.0
    return (size / 1000.0) ** 2 * void**3 / (180.0 * (1.0 - void) ** 2)


@formula(
    source="draining_film",
    at="flow through a saturated bed",
    unit="m/s",
    given={
        "permeability": "m2",
        "density": "kg/m3",
        "centrifugal_factor": "-",
        "viscosity": "mPa s",
    },
    equation="u = K rho g_f g / mu",
    known="derived",
)
def drainage_velocity(
    permeability: Numeric,
    density: Numeric,
    centrifugal_factor: Numeric,
    viscosity: Numeric,
) -> Numeric:
    """Superficial velocity of molasses through the crystal layer. [m/s]."""
    return permeability * density * centrifugal_factor * 9.80665 * 1000.0 / viscosity


@formula(
    source="draining_film",
    at="draining film",
    unit="um",
    given={
        "viscosity": "mPa s",
        "drain_length": "m",
        "density": "kg/m3",
        "centrifugal_factor": "-",
        "spin_time": "s",
    },
    equation="film = sqrt(mu z/(rho a t))",
    known="derived",
)
def residual_film(
    viscosity: Numeric,
    drain_length: Numeric,
    density: Numeric,
    centrifugal_factor: Numeric,
    spin_time: Numeric,
) -> Numeric:
    """Molasses film left on the crystal after spinning. [um].

    Doubling the time cuts the film by the square root of two only.
    """
    push = density * centrifugal_factor * 9.80665 * spin_time
    return 1e6 * sqrt(viscosity / 1000.0 * drain_length / push)


@formula(
    source="own_derivation",
    at="wash water leaves at an approach to saturation; 30 to 80 % is practice",
    unit="kg",
    given={
        "wash_water": "kg",
        "approach_percent": "%",
        "solubility": "kg/kg",
    },
    equation="d = w e C_s",
    known="derived",
)
def wash_dissolved_sucrose(
    wash_water: Numeric,
    approach_percent: Numeric,
    solubility: Numeric,
) -> Numeric:
    """Sucrose that wash water dissolves. [kg] from [kg, %, kg/kg]."""
    return wash_water * approach_percent / 100.0 * solubility


@formula(
    source="own_derivation",
    at="mixing on solids",
    unit="%",
    given={
        "liquor_solids": "kg",
        "liquor_purity": "%",
        "dissolved_sucrose": "kg",
    },
    equation="P' = (M P + 100 d)/(M + d)",
    known="derived",
    note="One per cent of wash on massecuite sends 5 to 6 % of the crystal round again.",
)
def molasses_purity_after_wash(
    liquor_solids: Numeric,
    liquor_purity: Numeric,
    dissolved_sucrose: Numeric,
) -> Numeric:
    """Purity of molasses with the sucrose washed off. [%] from [kg, %, kg]."""
    return (liquor_solids * liquor_purity + 100.0 * dissolved_sucrose) / (
        liquor_solids + dissolved_sucrose
    )


@formula(
    source="own_derivation",
    at="film on dry crystal",
    unit="%",
    given={
        "film_percent": "%",
        "film_dry_substance": "%",
    },
    equation="moisture = f (1 - ds)",
    known="derived",
)
def sugar_moisture_from_film(
    film_percent: Numeric,
    film_dry_substance: Numeric,
) -> Numeric:
    """Moisture of sugar from the film it carries. [%] from [%]."""
    return film_percent * (100.0 - film_dry_substance) / 100.0


@formula(
    source="own_derivation",
    at="film on pure crystal",
    unit="%",
    given={
        "film_percent": "%",
        "film_dry_substance": "%",
        "film_purity": "%",
    },
    equation="pol = 100 (1 - f) + f ds P",
    known="derived",
)
def sugar_pol_from_film(
    film_percent: Numeric,
    film_dry_substance: Numeric,
    film_purity: Numeric,
) -> Numeric:
    """Pol of sugar from the film it carries. [%] from [%]."""
    return 100.0 - film_percent + film_percent * film_dry_substance * film_purity / 1e4


@formula(
    source="own_derivation",
    at="mixing on solids",
    unit="IU",
    given={
        "film_percent": "%",
        "crystal_colour": "IU",
        "film_colour": "IU",
    },
    equation="colour = (1 - f) C_crystal + f C_film",
    known="derived",
)
def sugar_colour_from_film(
    film_percent: Numeric,
    crystal_colour: Numeric,
    film_colour: Numeric,
) -> Numeric:
    """Colour of sugar from crystal and film. [IU] from [%, IU]."""
    return ((100.0 - film_percent) * crystal_colour + film_percent * film_colour) / 100.0
