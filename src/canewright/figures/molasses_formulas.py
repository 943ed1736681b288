"""Final molasses: target purity by several named equations, and standard weight.

The equations differ by up to 6.8 units at a ratio of one, because their bases of
analysis differ. Choose one by name, print the name and never mix.
"""

from canewright.ops import Numeric, log10
from canewright.registry import formula


@formula(
    source="smith1995",
    at="target purity, South Africa and Louisiana",
    unit="%",
    given={
        "reducing_sugars_to_ash": "%/%",
    },
    equation="TP = 33.9 - 13.4 log10((F + G)/A)",
    known="memory",
    valid={"reducing_sugars_to_ash": (0.5, 2.0)},
    uncertainty=(
        "0.35 units: worst of twelve survey rows, set after seeing them; the equation is "
        "always low, mean 0.17"
    ),
    family="target purity of final molasses",
    default=True,
    note=(
        "Default because it is the only one supported by published rows: twelve of the 2006 "
        "season, all within 0.31, all on chromatographic sugars and true purity."
    ),
)
def target_purity_smith(
    reducing_sugars_to_ash: Numeric,
) -> Numeric:
    """Target true purity from fructose + glucose over sulphated ash. [%] from [%/%]."""
    return 33.9 - 13.4 * log10(reducing_sugars_to_ash)


@formula(
    source="sa_equilibrium_purity",
    at="abstract; 40 C, about 1000 poise; minus sign restored",
    unit="%",
    given={
        "reducing_sugars_to_ash": "%/%",
    },
    equation="TP = 51.02 - 10.89 r/a",
    known="read",
    family="target purity of final molasses",
    note=(
        "An equilibrium purity, not a best-practice target; the sign was lost in the text "
        "seen and is restored."
    ),
)
def target_purity_equilibrium(
    reducing_sugars_to_ash: Numeric,
) -> Numeric:
    """Purity of molasses equilibrated at 40 °C and about 100 Pa s. [%] from [%/%]."""
    return 51.02 - 10.89 * reducing_sugars_to_ash


@formula(
    source="australia_target",
    at="target purity, Australia",
    unit="%",
    given={
        "reducing_sugars_to_ash": "%/%",
    },
    equation="TP = 40.67 - 17.80 log10(RS/A)",
    known="memory",
    family="target purity of final molasses",
    note="From memory, not verified.",
)
def target_purity_australia(
    reducing_sugars_to_ash: Numeric,
) -> Numeric:
    """Target purity from reducing sugars over ash, Australia. [%] from [%/%]."""
    return 40.67 - 17.80 * log10(reducing_sugars_to_ash)


@formula(
    source="reunion_target",
    at="older South African and Réunion target purity",
    unit="%",
    given={
        "reducing_sugars_to_ash": "%/%",
    },
    equation="TP = 39.94 - 19.60 log10(RS/A)",
    known="memory",
    family="target purity of final molasses",
    note="From memory, not verified.",
)
def target_purity_reunion(
    reducing_sugars_to_ash: Numeric,
) -> Numeric:
    """Target purity from reducing sugars over ash, older form. [%] from [%/%]."""
    return 39.94 - 19.60 * log10(reducing_sugars_to_ash)


@formula(
    source="douwes_dekker",
    at="expected molasses purity",
    unit="%",
    given={
        "reducing_sugars": "% on non-sucrose",
        "ash": "% on non-sucrose",
    },
    equation="P = 35.886 - 0.08088 RS + 0.26047 ash",
    known="memory",
    family="target purity of final molasses",
    note="From memory, not verified.",
)
def target_purity_douwes_dekker(
    reducing_sugars: Numeric,
    ash: Numeric,
) -> Numeric:
    """Expected purity from reducing sugars and ash on non-sucrose. [%] from [%]."""
    return 35.886 - 0.08088 * reducing_sugars + 0.26047 * ash


@formula(
    source="white_verret2007",
    at="target purity difference",
    unit="%",
    given={
        "true_purity": "%",
        "target_purity": "%",
    },
    equation="TPD = true purity - target purity",
    known="read",
    note="2006 season: mean 8.5, range 5.9 to 12.0.",
)
def target_purity_difference(
    true_purity: Numeric,
    target_purity: Numeric,
) -> Numeric:
    """How far molasses is above its target. [%] from [%]."""
    return true_purity - target_purity


@formula(
    source="wong_thesis",
    at="prediction from glucose, fructose and ash of mixed juice",
    unit="%",
    given={
        "mixed_juice_target": "%",
    },
    equation="predicted purity = target from mixed juice + 4.5",
    known="read",
)
def predicted_molasses_purity_mauritius(
    mixed_juice_target: Numeric,
) -> Numeric:
    """Molasses purity expected from the target of the mixed juice. [%] from [%]."""
    return mixed_juice_target + 4.5


@formula(
    source="issct1971",
    at="molasses at 85 Brix",
    unit="%",
    given={
        "molasses": "t",
        "brix": "%",
        "cane": "t",
    },
    equation="85-Brix molasses % cane = 100 molasses Brix / (85 cane)",
    known="memory",
    note=("South African means 3.70 to 4.16 % cane, 2000/01 to 2004/05. Keep one kind of Brix."),
)
def molasses_85_brix_percent_cane(
    molasses: Numeric,
    brix: Numeric,
    cane: Numeric,
) -> Numeric:
    """Molasses at standard 85 Brix, on cane. [%] from [t, %]."""
    return 100.0 * molasses * brix / (85.0 * cane)
