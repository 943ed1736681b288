"""Crystals as a population: seed, moments, stirred vessels, sieve curves."""

from canewright.ops import Numeric, exp, sqrt
from canewright.registry import formula


@formula(
    source="own_derivation",
    at="number balance without nucleation, dissolution or agglomeration",
    unit="t",
    given={
        "product_mass": "t",
        "seed_size": "mm",
        "product_size": "mm",
    },
    equation="m_seed = m_product (L_seed/L_product)^3",
    known="derived",
)
def seed_mass(
    product_mass: Numeric,
    seed_size: Numeric,
    product_size: Numeric,
) -> Numeric:
    """Seed or footing crystal for a product. [t] from [t, mm]."""
    return product_mass * (seed_size / product_size) ** 3


@formula(
    source="seeding_paper",
    at="1.1 d^3 mg, d in mm",
    unit="mg",
    given={
        "size": "mm",
    },
    equation="m = rho k_v L^3 = 1.1 L^3",
    known="read",
    note=(
        "The count the paper draws from it, 28e8 per t at 0.7 mm, is an arithmetic slip; it "
        "is 26.5e8."
    ),
)
def crystal_mass(
    size: Numeric,
) -> Numeric:
    """Mass of one crystal of a mean size. [mg] from [mm]."""
    return 1.1 * size**3


@formula(
    source="own_derivation",
    at="from the mass of one crystal",
    unit="1/t",
    given={
        "size": "mm",
    },
    equation="N = 1e9 / (1.1 L^3)",
    known="derived",
)
def crystals_per_tonne(
    size: Numeric,
) -> Numeric:
    """Crystals in a tonne of one size. [1/t] from [mm]."""
    return 1e9 / crystal_mass(size)


@formula(
    source="mccabe1929",
    at="delta L law: equal growth of all sizes",
    unit="mm",
    given={
        "zeroth_moment": "1",
        "first_moment": "mm",
        "growth": "mm",
    },
    equation="m1' = m1 + dL m0",
    known="memory",
)
def first_moment_after_growth(
    zeroth_moment: Numeric,
    first_moment: Numeric,
    growth: Numeric,
) -> Numeric:
    """First moment of a crop after equal growth of all crystals. [mm] from [1, mm, mm]."""
    return first_moment + growth * zeroth_moment


@formula(
    source="mccabe1929",
    at="delta L law: equal growth of all sizes",
    unit="mm2",
    given={
        "zeroth_moment": "1",
        "first_moment": "mm",
        "second_moment": "mm2",
        "growth": "mm",
    },
    equation="m2' = m2 + 2 dL m1 + dL^2 m0",
    known="memory",
)
def second_moment_after_growth(
    zeroth_moment: Numeric,
    first_moment: Numeric,
    second_moment: Numeric,
    growth: Numeric,
) -> Numeric:
    """Second moment of a crop after equal growth of all crystals. [mm2] from moments and [mm]."""
    return second_moment + 2.0 * growth * first_moment + growth**2 * zeroth_moment


@formula(
    source="mccabe1929",
    at="delta L law: equal growth of all sizes",
    unit="mm3",
    given={
        "zeroth_moment": "1",
        "first_moment": "mm",
        "second_moment": "mm2",
        "third_moment": "mm3",
        "growth": "mm",
    },
    equation="m3' = m3 + 3 dL m2 + 3 dL^2 m1 + dL^3 m0",
    known="memory",
)
def third_moment_after_growth(
    zeroth_moment: Numeric,
    first_moment: Numeric,
    second_moment: Numeric,
    third_moment: Numeric,
    growth: Numeric,
) -> Numeric:
    """Third moment of a crop after equal growth of all crystals. [mm3] from moments and [mm]."""
    return (
        third_moment
        + 3.0 * growth * second_moment
        + 3.0 * growth**2 * first_moment
        + growth**3 * zeroth_moment
    )


@formula(
    source="mccabe1929",
    at="crystals of one size",
    unit="t/t",
    given={
        "start_size": "mm",
        "end_size": "mm",
    },
    equation="ratio = (L2/L1)^3",
    known="memory",
)
def growth_mass_ratio(
    start_size: Numeric,
    end_size: Numeric,
) -> Numeric:
    """Growth in mass of crystals of one size. [t/t] from [mm]."""
    return (end_size / start_size) ** 3


@formula(
    source="randolph_larson1988",
    at="mixed suspension, mixed product removal",
    unit="1/(m3 m)",
    given={
        "nuclei_density": "1/(m3 m)",
        "size": "m",
        "growth_rate": "m/h",
        "residence_time": "h",
    },
    equation="n = n0 exp(-L/(G tau))",
    known="memory",
)
def stirred_vessel_population(
    nuclei_density: Numeric,
    size: Numeric,
    growth_rate: Numeric,
    residence_time: Numeric,
) -> Numeric:
    """Population density of a stirred, evenly discharged vessel at one size. [1/(m3 m)]."""
    return nuclei_density * exp(-size / (growth_rate * residence_time))


@formula(
    source="randolph_larson1988",
    at="nucleation from the intercept",
    unit="1/(m3 h)",
    given={
        "nuclei_density": "1/(m3 m)",
        "growth_rate": "m/h",
    },
    equation="B0 = n0 G",
    known="memory",
)
def nucleation_rate(
    nuclei_density: Numeric,
    growth_rate: Numeric,
) -> Numeric:
    """Crystals born per volume and time. [1/(m3 h)] from [1/(m3 m), m/h]."""
    return nuclei_density * growth_rate


@formula(
    source="randolph_larson1988",
    at="mixed suspension, mixed product removal",
    unit="kg/m3",
    given={
        "nuclei_density": "1/(m3 m)",
        "growth_rate": "m/h",
        "residence_time": "h",
        "shape_factor": "-",
        "crystal_density": "kg/m3",
    },
    equation="M = 6 k_v rho n0 (G tau)^4",
    known="memory",
)
def stirred_vessel_density(
    nuclei_density: Numeric,
    growth_rate: Numeric,
    residence_time: Numeric,
    shape_factor: Numeric,
    crystal_density: Numeric,
) -> Numeric:
    """Crystal per volume of a stirred, evenly discharged vessel. [kg/m3]."""
    return (
        6.0 * shape_factor * crystal_density * nuclei_density * (growth_rate * residence_time) ** 4
    )


@formula(
    source="randolph_larson1988",
    at="dominant size by mass",
    unit="mm",
    given={
        "growth_rate": "mm/h",
        "residence_time": "h",
    },
    equation="L = 3 G tau",
    known="memory",
)
def stirred_vessel_dominant_size(
    growth_rate: Numeric,
    residence_time: Numeric,
) -> Numeric:
    """Commonest size by mass in a stirred vessel. [mm] from [mm/h, h]."""
    return 3.0 * growth_rate * residence_time


@formula(
    source="own_derivation",
    at="N equal stirred compartments, seed of one size: gamma distributed growth",
    unit="%",
    given={
        "stages": "count",
    },
    equation="CV (number) = 100/sqrt(N)",
    known="derived",
)
def size_spread_of_stages(
    stages: Numeric,
) -> Numeric:
    """Coefficient of variation of the grown size after equal stages. [%] from [count]."""
    return 100.0 / sqrt(stages)


@formula(
    source="common_practice",
    at="sieve test",
    unit="%",
    given={
        "size_at_16": "mm",
        "size_at_84": "mm",
        "mean_aperture": "mm",
    },
    equation="CV = 100 (a84 - a16)/(2 MA)",
    known="memory",
)
def sieve_variation(
    size_at_16: Numeric,
    size_at_84: Numeric,
    mean_aperture: Numeric,
) -> Numeric:
    """Coefficient of variation of a sugar from its sieve curve. [%] from [mm]."""
    return 100.0 * (size_at_84 - size_at_16) / (2.0 * mean_aperture)


@formula(
    source="rosin_rammler1933",
    at="residue on a sieve",
    unit="%",
    given={
        "size": "mm",
        "characteristic_size": "mm",
        "uniformity": "-",
    },
    equation="R = 100 exp[-(d/d')^n]",
    known="memory",
)
def sieve_residue(
    size: Numeric,
    characteristic_size: Numeric,
    uniformity: Numeric,
) -> Numeric:
    """Residue on a sieve by the exponential law. [%] from [mm, mm, -]."""
    return 100.0 * exp(-((size / characteristic_size) ** uniformity))
