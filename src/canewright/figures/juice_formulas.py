"""Figures of juice: absolute juice, undiluted juice, dilution, Java ratio."""

from canewright.ops import Numeric
from canewright.registry import formula


@formula(
    source="issct1971",
    at="definitions",
    unit="%",
    given={
        "fibre_percent_cane": "%",
    },
    equation="absolute juice % cane = 100 - F",
    known="memory",
)
def absolute_juice_percent_cane(
    fibre_percent_cane: Numeric,
) -> Numeric:
    """Everything in cane that is not fibre. [%] from [%]."""
    return 100.0 - fibre_percent_cane


@formula(
    source="issct1971",
    at="definitions",
    unit="%",
    given={
        "percent_cane": "%",
        "fibre_percent_cane": "%",
    },
    equation="x % absolute juice = 100 x % cane / (100 - F)",
    known="memory",
)
def percent_absolute_juice(
    percent_cane: Numeric,
    fibre_percent_cane: Numeric,
) -> Numeric:
    """Pol or Brix of absolute juice. [%] from [%]."""
    return 100.0 * percent_cane / (100.0 - fibre_percent_cane)


@formula(
    source="south_african_terms",
    at="undiluted juice; Brix-free water 25 % on fibre",
    unit="%",
    given={
        "fibre_percent_cane": "%",
        "brix_free_water_percent_fibre": "%",
    },
    equation="undiluted juice % cane = 100 - F (1 + brix-free water % fibre / 100)",
    known="memory",
    note=(
        "25 % Brix-free water on fibre was read second-hand in a reprint of the definitions; "
        "the equation is from memory."
    ),
)
def undiluted_juice_percent_cane(
    fibre_percent_cane: Numeric,
    brix_free_water_percent_fibre: Numeric,
) -> Numeric:
    """All Brix and all water of cane except the Brix-free water held by fibre. [%] from [%]."""
    return 100.0 - fibre_percent_cane * (1.0 + brix_free_water_percent_fibre / 100.0)


@formula(
    source="south_african_terms",
    at="undiluted juice",
    unit="%",
    given={
        "brix_percent_cane": "%",
        "undiluted_juice_percent_cane": "%",
    },
    equation="Brix of undiluted juice = 100 Brix % cane / undiluted juice % cane",
    known="memory",
)
def undiluted_juice_brix(
    brix_percent_cane: Numeric,
    undiluted_juice_percent_cane: Numeric,
) -> Numeric:
    """Brix the juice would have without imbibition. [%] from [%]."""
    return 100.0 * brix_percent_cane / undiluted_juice_percent_cane


@formula(
    source="issct1971",
    at="dilution on undiluted juice",
    unit="%",
    given={
        "undiluted_juice_brix": "%",
        "mixed_juice_brix": "%",
    },
    equation="dilution % undiluted juice = 100 (Bu - Bmj) / Bmj",
    known="memory",
    family="dilution",
    default=True,
    note=(
        "Both bases are in use: always print the base. Undiluted juice is the base of the "
        "constructed day, so it is the default."
    ),
)
def dilution_percent_undiluted_juice(
    undiluted_juice_brix: Numeric,
    mixed_juice_brix: Numeric,
) -> Numeric:
    """Added water in mixed juice, on undiluted juice. [%] from [%]."""
    return 100.0 * (undiluted_juice_brix - mixed_juice_brix) / mixed_juice_brix


@formula(
    source="issct1971",
    at="dilution on mixed juice",
    unit="%",
    given={
        "undiluted_juice_brix": "%",
        "mixed_juice_brix": "%",
    },
    equation="dilution % mixed juice = 100 (Bu - Bmj) / Bu",
    known="memory",
    family="dilution",
    note="Both bases are in use: always print the base.",
)
def dilution_percent_mixed_juice(
    undiluted_juice_brix: Numeric,
    mixed_juice_brix: Numeric,
) -> Numeric:
    """Added water in mixed juice, on mixed juice. [%] from [%]."""
    return 100.0 * (undiluted_juice_brix - mixed_juice_brix) / undiluted_juice_brix


@formula(
    source="issct1971",
    at="definitions",
    unit="%",
    given={
        "pol_percent_cane": "%",
        "first_juice_pol": "%",
    },
    equation="Java ratio = 100 pol % cane / pol % first expressed juice",
    known="memory",
    note="Usual 76 to 82.",
)
def java_ratio(
    pol_percent_cane: Numeric,
    first_juice_pol: Numeric,
) -> Numeric:
    """Pol in cane on pol of first expressed juice. [%] from [%]."""
    return 100.0 * pol_percent_cane / first_juice_pol
