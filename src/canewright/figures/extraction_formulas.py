"""Figures of the milling station: extraction, juice, fibre and imbibition.

All percentages are mass %; "percent cane" means on cane. Pol may be replaced by
sucrose everywhere, provided one basis is used in the whole balance.
"""

from canewright.ops import Numeric
from canewright.registry import formula


@formula(
    source="issct1971",
    at="fundamental equation of the mill balance",
    unit="t",
    given={
        "cane": "t",
        "imbibition": "t",
        "mixed_juice": "t",
    },
    equation="bagasse = cane + imbibition - mixed juice",
    known="memory",
    note="Mixed juice must be net of insoluble solids.",
)
def bagasse_by_difference(
    cane: Numeric,
    imbibition: Numeric,
    mixed_juice: Numeric,
) -> Numeric:
    """Bagasse from the other three weights. [t] from [t]."""
    return cane + imbibition - mixed_juice


@formula(
    source="issct1971",
    at="definitions",
    unit="%",
    given={
        "imbibition": "t",
        "fibre": "t",
    },
    equation="imbibition % fibre = 100 imbibition / fibre",
    known="memory",
    note="Practice 150 to 300.",
)
def imbibition_percent_fibre(
    imbibition: Numeric,
    fibre: Numeric,
) -> Numeric:
    """Imbibition water on fibre. [%] from [t]."""
    return 100.0 * imbibition / fibre


@formula(
    source="issct1971",
    at="definitions",
    unit="%",
    given={
        "pol_percent_bagasse": "%",
        "last_juice_purity": "%",
    },
    equation="Brix % bagasse = 100 pol % bagasse / purity of last expressed juice",
    known="memory",
)
def brix_percent_bagasse(
    pol_percent_bagasse: Numeric,
    last_juice_purity: Numeric,
) -> Numeric:
    """Dissolved solids in bagasse, taking the purity of the last juice. [%] from [%]."""
    return 100.0 * pol_percent_bagasse / last_juice_purity


@formula(
    source="issct1971",
    at="definitions",
    unit="%",
    given={
        "moisture_percent_bagasse": "%",
        "brix_percent_bagasse": "%",
    },
    equation="fibre % bagasse = 100 - moisture - Brix % bagasse",
    known="memory",
)
def fibre_percent_bagasse(
    moisture_percent_bagasse: Numeric,
    brix_percent_bagasse: Numeric,
) -> Numeric:
    """Fibre in bagasse by difference. [%] from [%]."""
    return 100.0 - moisture_percent_bagasse - brix_percent_bagasse


@formula(
    source="issct1971",
    at="inferential fibre",
    unit="%",
    given={
        "bagasse": "t",
        "fibre_percent_bagasse": "%",
        "cane": "t",
    },
    equation="F = bagasse x fibre % bagasse / cane",
    known="memory",
)
def fibre_percent_cane(
    bagasse: Numeric,
    fibre_percent_bagasse: Numeric,
    cane: Numeric,
) -> Numeric:
    """Fibre in cane inferred from bagasse. [%] from [t, %]."""
    return bagasse * fibre_percent_bagasse / cane


@formula(
    source="issct1971",
    at="inferential bagasse",
    unit="%",
    given={
        "fibre_percent_cane": "%",
        "fibre_percent_bagasse": "%",
    },
    equation="bagasse % cane = 100 F / fibre % bagasse",
    known="memory",
)
def inferential_bagasse_percent_cane(
    fibre_percent_cane: Numeric,
    fibre_percent_bagasse: Numeric,
) -> Numeric:
    """Bagasse from fibre of direct cane analysis, when a weight is not trusted. [%] from [%]."""
    return 100.0 * fibre_percent_cane / fibre_percent_bagasse


@formula(
    source="issct1971",
    at="pol in cane, Brix in cane",
    unit="%",
    given={
        "in_mixed_juice": "t",
        "in_bagasse": "t",
        "cane": "t",
    },
    equation="x % cane = 100 (x in mixed juice + x in bagasse) / cane",
    known="memory",
    note="Never from first juice alone.",
)
def percent_cane_from_juice_and_bagasse(
    in_mixed_juice: Numeric,
    in_bagasse: Numeric,
    cane: Numeric,
) -> Numeric:
    """Pol, sucrose or Brix in cane from the two products of milling. [%] from [t]."""
    return 100.0 * (in_mixed_juice + in_bagasse) / cane


@formula(
    source="issct1971",
    at="definitions",
    unit="%",
    given={
        "in_mixed_juice": "t",
        "in_cane": "t",
    },
    equation="E = 100 x in mixed juice / x in cane",
    known="memory",
)
def extraction(
    in_mixed_juice: Numeric,
    in_cane: Numeric,
) -> Numeric:
    """Extraction of pol, sucrose or Brix. [%] from [t]."""
    return 100.0 * in_mixed_juice / in_cane


@formula(
    source="own_derivation",
    at="mass balance on fibre and pol",
    unit="%",
    given={
        "pol_percent_bagasse": "%",
        "fibre_percent_bagasse": "%",
        "fibre_percent_cane": "%",
        "pol_percent_cane": "%",
    },
    equation="E = 100 - 100 (pol % bagasse / fibre % bagasse) (F / pol % cane)",
    known="derived",
)
def extraction_from_bagasse(
    pol_percent_bagasse: Numeric,
    fibre_percent_bagasse: Numeric,
    fibre_percent_cane: Numeric,
    pol_percent_cane: Numeric,
) -> Numeric:
    """Pol extraction from analyses alone, with fibre as the tie. [%] from [%]."""
    return (
        100.0
        - 100.0
        * pol_percent_bagasse
        / fibre_percent_bagasse
        * fibre_percent_cane
        / pol_percent_cane
    )


@formula(
    source="issct1971",
    at="definitions; called milling loss in several countries",
    unit="%",
    given={
        "pol_percent_bagasse": "%",
        "fibre_percent_bagasse": "%",
    },
    equation="pol % fibre in bagasse = 100 pol % bagasse / fibre % bagasse",
    known="memory",
    note=("3 to 4.5 is good. Other countries mean lost absolute juice % fibre by milling loss."),
)
def pol_percent_fibre_in_bagasse(
    pol_percent_bagasse: Numeric,
    fibre_percent_bagasse: Numeric,
) -> Numeric:
    """Pol left per unit fibre. [%] from [%]."""
    return 100.0 * pol_percent_bagasse / fibre_percent_bagasse


@formula(
    source="bechard1941",
    at="V of the Noel Deerr formulae, defined in words",
    unit="%",
    given={
        "extraction": "%",
        "fibre_percent_cane": "%",
    },
    equation="V = (100 - E) (100 - F) / F",
    known="read",
)
def lost_absolute_juice_percent_fibre(
    extraction: Numeric,
    fibre_percent_cane: Numeric,
) -> Numeric:
    """Absolute juice lost in bagasse per unit fibre. [%] from [%]."""
    return (100.0 - extraction) * (100.0 - fibre_percent_cane) / fibre_percent_cane


@formula(
    source="deerr1921",
    at="reduced extraction at 12.5 % fibre",
    unit="%",
    given={
        "extraction": "%",
        "fibre_percent_cane": "%",
    },
    equation="RE = 100 - (100 - E) (100 - F) / (7 F), 7 = 87.5/12.5",
    known="memory",
    family="reduced extraction",
    default=True,
    note=(
        "Default because its base of 12.5 % fibre was read (appendix to the 1941 annual "
        "summary of the South African association) and the quantity it holds constant was "
        "read in words."
    ),
)
def reduced_extraction_deerr(
    extraction: Numeric,
    fibre_percent_cane: Numeric,
) -> Numeric:
    """Extraction reduced to 12.5 % fibre at constant juice lost per unit fibre. [%] from [%]."""
    return 100.0 - (100.0 - extraction) * (100.0 - fibre_percent_cane) / (7.0 * fibre_percent_cane)


@formula(
    source="own_derivation",
    at="loss per unit fibre held at constant pol % cane",
    unit="%",
    given={
        "extraction": "%",
        "fibre_percent_cane": "%",
    },
    equation="RE = 100 - 12.5 (100 - E) / F",
    known="derived",
    family="reduced extraction",
    note=(
        "A form of this kind is in use under several names; the published equations were not seen."
    ),
)
def reduced_extraction_proportional(
    extraction: Numeric,
    fibre_percent_cane: Numeric,
) -> Numeric:
    """Extraction reduced to 12.5 % fibre in proportion to fibre. [%] from [%]."""
    return 100.0 - 12.5 * (100.0 - extraction) / fibre_percent_cane
