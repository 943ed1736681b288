"""Cane quality and payment: CCS, recoverable value, estimated crystal, juice factors.

Payment formulas belong to their contracts: constants are arguments where they are
republished, and none is a silent default.
"""

from canewright.ops import Numeric
from canewright.registry import formula


@formula(
    source="engelke_farmnote",
    at="CCS of cane",
    unit="%",
    given={
        "first_juice_pol": "%",
        "first_juice_brix": "%",
        "fibre_percent_cane": "%",
    },
    equation="CCS = 1.5 P [1 - (F + 5)/100] - 0.5 B [1 - (F + 3)/100]",
    known="read",
)
def commercial_cane_sugar(
    first_juice_pol: Numeric,
    first_juice_brix: Numeric,
    fibre_percent_cane: Numeric,
) -> Numeric:
    """Commercial cane sugar from first expressed juice. [%] from [%]."""
    return 1.5 * first_juice_pol * (
        1.0 - (fibre_percent_cane + 5.0) / 100.0
    ) - 0.5 * first_juice_brix * (1.0 - (fibre_percent_cane + 3.0) / 100.0)


@formula(
    source="engelke_farmnote",
    at="CCS of cane",
    unit="%",
    given={
        "first_juice_pol": "%",
        "fibre_percent_cane": "%",
    },
    equation="pol in cane = P (100 - (F + 5))/100",
    known="read",
)
def ccs_pol_in_cane(
    first_juice_pol: Numeric,
    fibre_percent_cane: Numeric,
) -> Numeric:
    """Pol in cane by the CCS convention. [%] from [%]."""
    return first_juice_pol * (100.0 - fibre_percent_cane - 5.0) / 100.0


@formula(
    source="engelke_farmnote",
    at="CCS of cane",
    unit="%",
    given={
        "first_juice_brix": "%",
        "fibre_percent_cane": "%",
    },
    equation="Brix in cane = B (100 - (F + 3))/100",
    known="read",
)
def ccs_brix_in_cane(
    first_juice_brix: Numeric,
    fibre_percent_cane: Numeric,
) -> Numeric:
    """Brix in cane by the CCS convention. [%] from [%]."""
    return first_juice_brix * (100.0 - fibre_percent_cane - 3.0) / 100.0


@formula(
    source="queensland_price",
    at="year 2000 constant 0.578",
    unit="money/t",
    given={
        "sugar_price": "money/t",
        "commercial_cane_sugar": "%",
        "constant": "money/t",
    },
    equation="Pc = 0.90 Ps (CCS - 4)/100 + constant (0.578 in 2000)",
    known="read",
)
def queensland_cane_price(
    sugar_price: Numeric,
    commercial_cane_sugar: Numeric,
    constant: Numeric,
) -> Numeric:
    """Price of cane from the price of sugar and CCS. [money/t] from [money/t, %]."""
    return 0.009 * sugar_price * (commercial_cane_sugar - 4.0) + constant


@formula(
    source="shukela2018",
    at="recoverable value; d is republished monthly",
    unit="%",
    given={
        "sucrose_percent_cane": "%",
        "brix_percent_cane": "%",
        "fibre_percent_cane": "%",
        "loss_per_non_sucrose": "%/%",
        "loss_per_fibre": "%/%",
    },
    equation="RV = S - d N - c F, N = Brix - S",
    known="read",
    note="Fit of ours to four published mills: d 0.385, c 0.020.",
)
def recoverable_value(
    sucrose_percent_cane: Numeric,
    brix_percent_cane: Numeric,
    fibre_percent_cane: Numeric,
    loss_per_non_sucrose: Numeric,
    loss_per_fibre: Numeric,
) -> Numeric:
    """Recoverable value of cane. [%] from [%]."""
    return (
        sucrose_percent_cane
        - loss_per_non_sucrose * (brix_percent_cane - sucrose_percent_cane)
        - loss_per_fibre * fibre_percent_cane
    )


@formula(
    source="van_hengel1974",
    at="ERC concept",
    unit="%",
    given={
        "sucrose_percent_cane": "%",
        "brix_percent_cane": "%",
        "fibre_percent_cane": "%",
        "sucrose_factor": "%/%",
        "non_sucrose_factor": "%/%",
        "fibre_factor": "%/%",
    },
    equation="ERC = a S - b N - c F, N = Brix - S",
    known="read",
    note=(
        "Coefficients are re-set from past performance: our fit a 0.9734, b 0.542, c 0.016 "
        "reproduces four rows and proves no published coefficient."
    ),
)
def estimated_recoverable_crystal(
    sucrose_percent_cane: Numeric,
    brix_percent_cane: Numeric,
    fibre_percent_cane: Numeric,
    sucrose_factor: Numeric,
    non_sucrose_factor: Numeric,
    fibre_factor: Numeric,
) -> Numeric:
    """Estimated recoverable crystal of cane. [%] from [%]."""
    return (
        sucrose_factor * sucrose_percent_cane
        - non_sucrose_factor * (brix_percent_cane - sucrose_percent_cane)
        - fibre_factor * fibre_percent_cane
    )


@formula(
    source="sa_thesis_table51",
    at="ERC % sucrose",
    unit="%",
    given={
        "estimated_recoverable_crystal": "%",
        "sucrose_percent_cane": "%",
    },
    equation="ERC % sucrose = 100 ERC / S",
    known="read",
)
def erc_percent_sucrose(
    estimated_recoverable_crystal: Numeric,
    sucrose_percent_cane: Numeric,
) -> Numeric:
    """Estimated recoverable crystal on sucrose. [%] from [%]."""
    return 100.0 * estimated_recoverable_crystal / sucrose_percent_cane


@formula(
    source="sugar_industry_agreement",
    at="clause 149",
    unit="%",
    given={
        "consignment": "%",
        "season_mean": "%",
        "week_mean": "%",
    },
    equation="relative value = consignment + season mean - week mean",
    known="read",
    family="relative cane payment",
    default=True,
    note="Default because it is the form of the agreement.",
)
def relative_value_additive(
    consignment: Numeric,
    season_mean: Numeric,
    week_mean: Numeric,
) -> Numeric:
    """Relative payment value, additive. [%] from [%]."""
    return consignment + season_mean - week_mean


@formula(
    source="wynne_relative",
    at="multiplicative form argued for, abstract",
    unit="%",
    given={
        "consignment": "%",
        "season_mean": "%",
        "week_mean": "%",
    },
    equation="relative value = consignment x season mean / week mean",
    known="read",
    family="relative cane payment",
)
def relative_value_multiplicative(
    consignment: Numeric,
    season_mean: Numeric,
    week_mean: Numeric,
) -> Numeric:
    """Relative payment value, multiplicative. [%] from [%]."""
    return consignment * season_mean / week_mean


@formula(
    source="jamaica_core_sampling",
    at="C factor",
    unit="-",
    given={
        "fibre_percent_cane": "%",
    },
    equation="C = 1.02 - 0.44 F, F as a decimal",
    known="read",
)
def juice_c_factor(
    fibre_percent_cane: Numeric,
) -> Numeric:
    """Ratio of pol in absolute juice to pol of first juice. [-] from [%]."""
    return 1.02 - 0.0044 * fibre_percent_cane


@formula(
    source="jamaica_core_sampling",
    at="C factor",
    unit="%",
    given={
        "first_juice_pol": "%",
        "fibre_percent_cane": "%",
    },
    equation="pol % cane = P (1.02 - 0.44 F) (1 - F)",
    known="read",
)
def pol_percent_cane_from_first_juice(
    first_juice_pol: Numeric,
    fibre_percent_cane: Numeric,
) -> Numeric:
    """Pol in cane from first expressed juice by the C factor. [%] from [%]."""
    return first_juice_pol * juice_c_factor(fibre_percent_cane) * (1.0 - fibre_percent_cane / 100.0)


@formula(
    source="jamaica_core_sampling",
    at="recoverable 96 sugar, short form",
    unit="%",
    given={
        "first_juice_pol": "%",
        "fibre_percent_cane": "%",
        "juice_purity": "%",
    },
    equation="1.03 P (1.02 - 1.73 F) (1.4 - 40/Q)",
    known="read",
    valid={"fibre_percent_cane": (10.0, 18.0)},
)
def recoverable_96_sugar(
    first_juice_pol: Numeric,
    fibre_percent_cane: Numeric,
    juice_purity: Numeric,
) -> Numeric:
    """Recoverable 96 sugar from first juice. [%] from [%].

    The short form of the fibre product errs by 1 % at 18 % fibre.
    """
    return (
        1.03 * first_juice_pol * (1.02 - 0.0173 * fibre_percent_cane) * (1.4 - 40.0 / juice_purity)
    )
