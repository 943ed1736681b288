"""Figures of the boiling house: recoveries, reduced recoveries, balances of non-pol.

Purities of juice, sugar and molasses must be on one basis, pol or sucrose.
"""

from canewright.ops import Numeric
from canewright.registry import formula


@formula(
    source="issct1971",
    at="definitions",
    unit="%",
    given={
        "pol": "%",
        "brix": "%",
    },
    equation="purity = 100 pol / Brix",
    known="memory",
)
def purity(
    pol: Numeric,
    brix: Numeric,
) -> Numeric:
    """Purity of a stream. [%] from [%]; apparent or true as its two readings are."""
    return 100.0 * pol / brix


@formula(
    source="wong_thesis",
    at="sec. 2.1; Deerr",
    unit="%",
    given={
        "sugar_purity": "%",
        "juice_purity": "%",
        "molasses_purity": "%",
    },
    equation="recovery = 100 S (J - M) / [J (S - M)]",
    known="read",
    family="theoretical recovery",
    default=True,
    note=("Uses the actual purity of the molasses instead of a fixed one; no losses are included."),
)
def sjm_recovery(
    sugar_purity: Numeric,
    juice_purity: Numeric,
    molasses_purity: Numeric,
) -> Numeric:
    """Pol in sugar on pol in juice when sugar and molasses are the only products. [%] from [%]."""
    return (
        100.0
        * sugar_purity
        * (juice_purity - molasses_purity)
        / (juice_purity * (sugar_purity - molasses_purity))
    )


@formula(
    source="wong_thesis",
    at="sec. 2.1; Deerr",
    unit="%",
    given={
        "sugar_purity": "%",
        "juice_purity": "%",
        "molasses_purity": "%",
    },
    equation="solids to sugar = 100 (J - M) / (S - M)",
    known="read",
)
def solids_to_sugar(
    sugar_purity: Numeric,
    juice_purity: Numeric,
    molasses_purity: Numeric,
) -> Numeric:
    """Solids in sugar on solids in juice. [%] from [%]."""
    return 100.0 * (juice_purity - molasses_purity) / (sugar_purity - molasses_purity)


@formula(
    source="jamaica_core_sampling",
    at="1.4 - 40/Q, equal to a molasses purity of 28.57",
    unit="%",
    given={
        "juice_purity": "%",
    },
    equation="recovery = 140 - 4000/J",
    known="read",
    valid={"juice_purity": (70.0, 95.0)},
    family="theoretical recovery",
)
def winter_recovery(
    juice_purity: Numeric,
) -> Numeric:
    """Recovery by the Winter-Carp rendement, % of pol. [%] from [%]."""
    return 140.0 - 4000.0 / juice_purity


@formula(
    source="jamaica_core_sampling",
    at="Winter-Carp rendement",
    unit="t",
    given={
        "pol": "t",
        "brix_solids": "t",
    },
    equation="sugar = 1.4 pol - 0.4 Brix = pol - 0.4 non-pol",
    known="read",
)
def winter_sugar(
    pol: Numeric,
    brix_solids: Numeric,
) -> Numeric:
    """Sugar recoverable by the Winter-Carp rendement. [t] from [t]."""
    return 1.4 * pol - 0.4 * brix_solids


@formula(
    source="spencer_meade",
    at="basic boiling house recovery",
    unit="%",
    given={
        "juice_purity": "%",
    },
    equation="basic BHR = SJM with S = 100, M = 28.57",
    known="memory",
    family="theoretical recovery",
)
def basic_boiling_house_recovery(
    juice_purity: Numeric,
) -> Numeric:
    """Recovery with pure sugar and molasses of 28.57 purity. [%] from [%]."""
    return 100.0 * 100.0 * (juice_purity - 28.57) / (juice_purity * (100.0 - 28.57))


@formula(
    source="south_african_terms",
    at="boiling house recovery, in words",
    unit="%",
    given={
        "pol_in_sugar": "t",
        "pol_in_mixed_juice": "t",
    },
    equation="BHR = 100 pol in sugar made and estimated / pol in mixed juice",
    known="read",
    note=(
        "The definition read puts pol in sugar on sucrose in juice, a mixed basis; keep one basis."
    ),
)
def boiling_house_recovery(
    pol_in_sugar: Numeric,
    pol_in_mixed_juice: Numeric,
) -> Numeric:
    """Pol in sugar on pol in mixed juice. [%] from [t]."""
    return 100.0 * pol_in_sugar / pol_in_mixed_juice


@formula(
    source="spencer_meade",
    at="boiling house efficiency",
    unit="%",
    given={
        "boiling_house_recovery": "%",
        "basic_boiling_house_recovery": "%",
    },
    equation="BHE = 100 BHR / basic BHR",
    known="memory",
    note="Typical 94 to 98.",
)
def boiling_house_efficiency(
    boiling_house_recovery: Numeric,
    basic_boiling_house_recovery: Numeric,
) -> Numeric:
    """Recovery on the basic recovery. [%] from [%]."""
    return 100.0 * boiling_house_recovery / basic_boiling_house_recovery


@formula(
    source="issct1971",
    at="definitions",
    unit="%",
    given={
        "extraction": "%",
        "boiling_house_recovery": "%",
    },
    equation="OR = E BHR / 100",
    known="memory",
)
def overall_recovery(
    extraction: Numeric,
    boiling_house_recovery: Numeric,
) -> Numeric:
    """Pol in sugar on pol in cane. [%] from [%]."""
    return extraction * boiling_house_recovery / 100.0


@formula(
    source="bechard1941",
    at="virtual molasses, in words",
    unit="t/t",
    given={
        "juice_purity": "%",
        "boiling_house_recovery": "%",
    },
    equation="Mv = J (100 - R) / [100 (100 - J)]",
    known="read",
)
def virtual_molasses_coefficient(
    juice_purity: Numeric,
    boiling_house_recovery: Numeric,
) -> Numeric:
    """Pol not recovered per unit non-pol in mixed juice. [t/t] from [%]."""
    return juice_purity * (100.0 - boiling_house_recovery) / (100.0 * (100.0 - juice_purity))


@formula(
    source="gundu_rao",
    at="virtual purity of molasses",
    unit="%",
    given={
        "sugar_purity": "%",
        "juice_purity": "%",
        "boiling_house_recovery": "%",
    },
    equation="m = S J (1 - r) / (S - r J), r = R/100",
    known="memory",
    note=(
        "Its gap to the true molasses purity measures cake and undetermined loss, and any "
        "non-closure of non-pol."
    ),
)
def virtual_molasses_purity(
    sugar_purity: Numeric,
    juice_purity: Numeric,
    boiling_house_recovery: Numeric,
) -> Numeric:
    """Purity of a molasses that would carry every loss. [%] from [%]."""
    return (
        sugar_purity
        * juice_purity
        * (100.0 - boiling_house_recovery)
        / (100.0 * sugar_purity - boiling_house_recovery * juice_purity)
    )


@formula(
    source="deerr1921",
    at="reduced boiling house recovery, 85 purity",
    unit="%",
    given={
        "boiling_house_recovery": "%",
        "juice_purity": "%",
    },
    equation="R85 = 100 - (100 - R) 15 J / [85 (100 - J)]",
    known="memory",
    family="reduced boiling house recovery",
    default=True,
    note=("Default because it needs no purity of sugar; for pure sugar both forms are one."),
)
def reduced_boiling_house_recovery_deerr(
    boiling_house_recovery: Numeric,
    juice_purity: Numeric,
) -> Numeric:
    """Recovery reduced to mixed juice of 85 purity at constant virtual molasses. [%] from [%]."""
    return 100.0 - (100.0 - boiling_house_recovery) * 15.0 * juice_purity / (
        85.0 * (100.0 - juice_purity)
    )


@formula(
    source="gundu_rao",
    at="reduced boiling house recovery, 85 purity",
    unit="%",
    given={
        "boiling_house_recovery": "%",
        "juice_purity": "%",
        "sugar_purity": "%",
    },
    equation="R85 = SJM(S, 85, m), m the virtual molasses purity",
    known="memory",
    family="reduced boiling house recovery",
)
def reduced_boiling_house_recovery_gundu_rao(
    boiling_house_recovery: Numeric,
    juice_purity: Numeric,
    sugar_purity: Numeric,
) -> Numeric:
    """Recovery reduced to 85 purity at the virtual molasses purity. [%] from [%]."""
    molasses = virtual_molasses_purity(sugar_purity, juice_purity, boiling_house_recovery)
    return sjm_recovery(sugar_purity, 85.0, molasses)


@formula(
    source="issct1971",
    at="reduced overall recovery",
    unit="%",
    given={
        "reduced_extraction": "%",
        "reduced_boiling_house_recovery": "%",
    },
    equation="reduced overall recovery = RE R85 / 100",
    known="memory",
    note="Name the two reduced formulas beside the number.",
)
def reduced_overall_recovery(
    reduced_extraction: Numeric,
    reduced_boiling_house_recovery: Numeric,
) -> Numeric:
    """Overall recovery at standard fibre and standard purity. [%] from [%]."""
    return reduced_extraction * reduced_boiling_house_recovery / 100.0


@formula(
    source="issct1971",
    at="non-sugar balance",
    unit="%",
    given={
        "non_pol_in_molasses": "t",
        "non_pol_in_sugar": "t",
        "non_pol_in_mixed_juice": "t",
    },
    equation="100 (non-pol in molasses + in sugar) / non-pol in mixed juice",
    known="memory",
    note=(
        "Expect 93 to 103. Far outside means a wrong molasses or juice weight or purity: the "
        "best single test of the boiling house."
    ),
)
def non_pol_balance(
    non_pol_in_molasses: Numeric,
    non_pol_in_sugar: Numeric,
    non_pol_in_mixed_juice: Numeric,
) -> Numeric:
    """Non-pol found in the products on non-pol in mixed juice. [%] from [t]."""
    return 100.0 * (non_pol_in_molasses + non_pol_in_sugar) / non_pol_in_mixed_juice


@formula(
    source="common_practice",
    at="definitions vary; print the base",
    unit="%",
    given={
        "actual_recovery": "%",
        "expected_recovery": "%",
    },
    equation="100 actual recovery / recovery expected at target purity and standard losses",
    known="memory",
)
def factory_performance(
    actual_recovery: Numeric,
    expected_recovery: Numeric,
) -> Numeric:
    """Recovery on the recovery expected. [%] from [%]."""
    return 100.0 * actual_recovery / expected_recovery
