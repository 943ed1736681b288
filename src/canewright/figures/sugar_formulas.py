"""Figures of the sugar itself: equivalents, keeping quality."""

from canewright.ops import Numeric
from canewright.registry import formula


@formula(
    source="spencer_meade",
    at="equivalent standard granulated sugar, by the Winter formula",
    unit="%",
    given={
        "pol": "%",
        "moisture": "%",
    },
    equation="ESG = 1.4 pol - 0.4 (100 - moisture)",
    known="memory",
)
def equivalent_standard_granulated(
    pol: Numeric,
    moisture: Numeric,
) -> Numeric:
    """Pure sugar equivalent of a sugar. [%] from [%]."""
    return 1.4 * pol - 0.4 * (100.0 - moisture)


@formula(
    source="issct1971",
    at="96-degree equivalent, pol basis",
    unit="t",
    given={
        "sugar": "t",
        "pol": "%",
    },
    equation="96 sugar = sugar pol / 96",
    known="memory",
)
def sugar_96_equivalent(
    sugar: Numeric,
    pol: Numeric,
) -> Numeric:
    """Sugar as its weight of 96 pol. [t] from [t, %]."""
    return sugar * pol / 96.0


@formula(
    source="copp_factor",
    at="tabulated factor 1.0474; recoveries 0.994 and 0.987 give 1.03",
    unit="t",
    given={
        "retained_sugar": "t",
        "cake_recovery": "%",
        "undetermined_recovery": "%",
    },
    equation="96 sugar = 1.0474 x retained sugar x cake recovery x undetermined recovery",
    known="read",
)
def retained_sugar_to_96(
    retained_sugar: Numeric,
    cake_recovery: Numeric,
    undetermined_recovery: Numeric,
) -> Numeric:
    """Sugar of 96 pol from retained sugar, after cake and undetermined loss. [t] from [t, %]."""
    return 1.0474 * retained_sugar * cake_recovery * undetermined_recovery / 1e4


@formula(
    source="spencer_meade",
    at="safety factor of raw sugar",
    unit="-",
    given={
        "moisture": "%",
        "pol": "%",
    },
    equation="SF = moisture / (100 - pol)",
    known="memory",
    note="0.25 or less keeps; 0.30 is also quoted.",
)
def safety_factor(
    moisture: Numeric,
    pol: Numeric,
) -> Numeric:
    """Safety factor of sugar in storage. [-] from [%]."""
    return moisture / (100.0 - pol)


@formula(
    source="spencer_meade",
    at="dilution indicator",
    unit="%",
    given={
        "moisture": "%",
        "pol": "%",
    },
    equation="DI = 100 moisture / (100 - pol - moisture)",
    known="memory",
)
def dilution_indicator(
    moisture: Numeric,
    pol: Numeric,
) -> Numeric:
    """Water on the solids of the non-pol film. [%] from [%]."""
    return 100.0 * moisture / (100.0 - pol - moisture)
