"""Crystallisation: content, exhaustion, seed, population balances, cooling.

Growth and nucleation coefficients are not published in a form that could be checked:
they are arguments, and none is a silent default.
"""

from canewright.ops import Numeric, exp
from canewright.registry import formula


@formula(
    source="own_derivation",
    at="sucrose balance on pure crystal",
    unit="%",
    given={
        "massecuite_purity": "%",
        "mother_liquor_purity": "%",
    },
    equation="crystal % solids = 100 (Pmc - Pml)/(100 - Pml)",
    known="derived",
)
def crystal_percent_solids(
    massecuite_purity: Numeric,
    mother_liquor_purity: Numeric,
) -> Numeric:
    """Crystal on solids of massecuite, by purities. [%] from [%]."""
    return 100.0 * (massecuite_purity - mother_liquor_purity) / (100.0 - mother_liquor_purity)


@formula(
    source="own_derivation",
    at="sucrose balance on pure crystal",
    unit="%",
    given={
        "massecuite_purity": "%",
        "mother_liquor_purity": "%",
        "dry_substance": "%",
    },
    equation="crystal % massecuite = crystal % solids x Bx/100",
    known="derived",
    family="crystal content",
    default=True,
    note=(
        "Default because it is free of the bias between Brix and dry substance; liquor must "
        "be pressed from the massecuite at its temperature."
    ),
)
def crystal_percent_massecuite(
    massecuite_purity: Numeric,
    mother_liquor_purity: Numeric,
    dry_substance: Numeric,
) -> Numeric:
    """Crystal on massecuite, by purities. [%] from [%]."""
    return crystal_percent_solids(massecuite_purity, mother_liquor_purity) * dry_substance / 100.0


@formula(
    source="own_derivation",
    at="water balance",
    unit="%",
    given={
        "massecuite_dry_substance": "%",
        "mother_liquor_dry_substance": "%",
    },
    equation="crystal % massecuite = 100 (Bmc - Bml)/(100 - Bml)",
    known="derived",
    family="crystal content",
    note=(
        "Two measurements of one thing with a bias between Brix and dry substance: never "
        "average them blindly."
    ),
)
def crystal_percent_massecuite_by_brix(
    massecuite_dry_substance: Numeric,
    mother_liquor_dry_substance: Numeric,
) -> Numeric:
    """Crystal on massecuite, by dry substance. [%] from [%]; Brix must be true dry substance."""
    return (
        100.0
        * (massecuite_dry_substance - mother_liquor_dry_substance)
        / (100.0 - mother_liquor_dry_substance)
    )


@formula(
    source="own_derivation",
    at="crystal on sucrose of massecuite",
    unit="%",
    given={
        "massecuite_purity": "%",
        "mother_liquor_purity": "%",
    },
    equation="exhaustion = 10^4 (Pmc - Pml)/[Pmc (100 - Pml)]",
    known="derived",
)
def exhaustion(
    massecuite_purity: Numeric,
    mother_liquor_purity: Numeric,
) -> Numeric:
    """Crystallised sucrose on sucrose of massecuite. [%] from [%]."""
    return (
        1e4
        * (massecuite_purity - mother_liquor_purity)
        / (massecuite_purity * (100.0 - mother_liquor_purity))
    )


@formula(
    source="own_derivation",
    at="x % of the solids of the liquor deposits as sucrose",
    unit="%",
    given={
        "mother_liquor_purity": "%",
        "deposited_percent": "%",
    },
    equation="P2 = 100 (P1 - x)/(100 - x)",
    known="derived",
)
def purity_after_deposition(
    mother_liquor_purity: Numeric,
    deposited_percent: Numeric,
) -> Numeric:
    """Purity of mother liquor after part of its solids deposit. [%] from [%]."""
    return 100.0 * (mother_liquor_purity - deposited_percent) / (100.0 - deposited_percent)


@formula(
    source="own_derivation",
    at="inverse of the purity after deposition",
    unit="%",
    given={
        "mother_liquor_purity": "%",
        "wanted_purity": "%",
    },
    equation="x = 100 (P1 - P2)/(100 - P2)",
    known="derived",
)
def deposition_for_purity(
    mother_liquor_purity: Numeric,
    wanted_purity: Numeric,
) -> Numeric:
    """Solids of mother liquor to deposit for a wanted purity. [%] from [%]."""
    return 100.0 * (mother_liquor_purity - wanted_purity) / (100.0 - wanted_purity)


@formula(
    source="own_derivation",
    at="mixing on solids",
    unit="t/t",
    given={
        "target_purity": "%",
        "rich_purity": "%",
        "poor_purity": "%",
    },
    equation="a/b = (P - Pb)/(Pa - P)",
    known="derived",
)
def cross_ratio(
    target_purity: Numeric,
    rich_purity: Numeric,
    poor_purity: Numeric,
) -> Numeric:
    """Solids of the rich stream per solids of the poor one to make a purity. [t/t] from [%]."""
    return (target_purity - poor_purity) / (rich_purity - target_purity)


@formula(
    source="broadfoot_wright_critical",
    at="critical supersaturation, not verified",
    unit="-",
    given={
        "mother_liquor_purity": "%",
        "temperature": "degC",
    },
    equation="1.129 - 0.284 f + [2.333 - 0.0709 (T - 60)] f^2, f = 1 - P/100",
    known="memory",
    uncertainty="coefficients from memory and not verified: do not rely on them",
)
def critical_supersaturation(
    mother_liquor_purity: Numeric,
    temperature: Numeric,
) -> Numeric:
    """Supersaturation above which new crystals form. [-] from [%, °C]."""
    impurity = 1.0 - mother_liquor_purity / 100.0
    return 1.129 - 0.284 * impurity + (2.333 - 0.0709 * (temperature - 60.0)) * impurity**2


@formula(
    source="growth_rate_structure",
    at="linear in supersaturation; coefficients fitted",
    unit="mm/h",
    given={
        "supersaturation": "-",
        "threshold": "-",
        "rate_at_reference": "mm/h",
        "activation_energy": "kJ/mol",
        "temperature": "degC",
        "reference_temperature": "degC",
        "impurity_effect": "-",
        "impurity_per_water": "t/t",
    },
    equation="G = k (SC - 1 - SC0) exp[-(E/R)(1/T - 1/T0)] exp(-b I/W)",
    known="read",
    note=(
        "No coefficient set could be checked: fit k from each factory's own history of mean "
        "aperture."
    ),
)
def growth_rate(
    supersaturation: Numeric,
    threshold: Numeric,
    rate_at_reference: Numeric,
    activation_energy: Numeric,
    temperature: Numeric,
    reference_temperature: Numeric,
    impurity_effect: Numeric,
    impurity_per_water: Numeric,
) -> Numeric:
    """Growth of crystal diameter, with every coefficient given by the user. [mm/h]."""
    kelvin = temperature + 273.15
    warmth = exp(
        -activation_energy / 8.314e-3 * (1.0 / kelvin - 1.0 / (reference_temperature + 273.15))
    )
    drive = supersaturation - 1.0 - threshold
    return rate_at_reference * drive * warmth * exp(-impurity_effect * impurity_per_water)


@formula(
    source="own_derivation",
    at="constant growth of diameter",
    unit="h",
    given={
        "start_size": "mm",
        "end_size": "mm",
        "growth_rate": "mm/h",
    },
    equation="t = (L2 - L1)/G",
    known="derived",
)
def growth_time(
    start_size: Numeric,
    end_size: Numeric,
    growth_rate: Numeric,
) -> Numeric:
    """Time to grow from one size to another. [h] from [mm, mm/h]."""
    return (end_size - start_size) / growth_rate


@formula(
    source="own_derivation",
    at="solids balance of a pan",
    unit="t",
    given={
        "feed": "t",
        "feed_dry_substance": "%",
        "massecuite_dry_substance": "%",
    },
    equation="m_mc = m_f Bf/Bmc",
    known="derived",
)
def massecuite_from_feed(
    feed: Numeric,
    feed_dry_substance: Numeric,
    massecuite_dry_substance: Numeric,
) -> Numeric:
    """Massecuite from a feed, the rest evaporates. [t] from [t, %]."""
    return feed * feed_dry_substance / massecuite_dry_substance
