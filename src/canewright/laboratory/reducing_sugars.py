"""Reducing sugars by titration of a boiling copper solution (Lane and Eynon)."""

from canewright.ops import Numeric
from canewright.registry import formula


@formula(
    source="lane_eynon1923",
    at="table of factors for 10 mL of mixed copper solution, smoothed by us",
    unit="mg",
    given={"titre": "mL", "sucrose": "g/100 mL"},
    equation="""f = f0 + (f1 - f0) s, f0 = 49.3351 + 0.0858333 T - 4.5238e-4 T^2 (no sucrose),
        f1 = 49.1220 + 0.0598810 T - 4.0476e-4 T^2 (1 g sucrose in 100 mL)""",
    known="memory",
    valid={"titre": (15, 50), "sucrose": (0, 1)},
    uncertainty="0.06 of the smoothing; the table itself is from memory",
    note="""With more sucrose the factor falls, at 15 mL to 47.6 (5 g), 46.1 (10 g), 43.4
        (25 g); the rest of those columns is not trusted. Load the printed table, or
        standardise with invert sugar in the same sucrose.""",
)
def copper_factor(titre: Numeric, sucrose: Numeric) -> Numeric:
    """Invert sugar that 10 mL of mixed copper solution stand for. [mg] from [mL, g/100 mL]."""
    without = 49.3351 + titre * (0.0858333 - 4.5238e-4 * titre)
    with_one_gram = 49.1220 + titre * (0.0598810 - 4.0476e-4 * titre)
    return without + (with_one_gram - without) * sucrose


@formula(
    source="own_derivation",
    at="invert in the titre over sample in it",
    unit="%",
    given={"factor": "mg", "titre": "mL", "sample_mass": "g/100 mL"},
    equation="RS = 10 f/(T w)",
    known="derived",
)
def reducing_sugars_percent(factor: Numeric, titre: Numeric, sample_mass: Numeric) -> Numeric:
    """Reducing sugars of the sample. [%] from [mg, mL, g/100 mL]."""
    return 10 * factor / (titre * sample_mass)


@formula(
    source="own_derivation",
    at="sample in place of a part of the 0.25 % invert solution",
    unit="mg",
    given={"blank_titre": "mL", "titre": "mL"},
    equation="m = 2.5 (V0 - V1)",
    known="derived",
    note="Before the correction for sucrose. The blank must be 39 to 41 mL.",
)
def invert_replaced(blank_titre: Numeric, titre: Numeric) -> Numeric:
    """Reducing sugars in the aliquot, constant-volume form. [mg] from [mL]."""
    return 2.5 * (blank_titre - titre)


@formula(
    source="own_derivation",
    at="mass in the aliquot over sample in it",
    unit="%",
    given={"mass": "mg", "aliquot": "mL", "sample_mass": "g/100 mL"},
    equation="RS = 10 m/(aliquot x w)",
    known="derived",
)
def percent_of_aliquot(mass: Numeric, aliquot: Numeric, sample_mass: Numeric) -> Numeric:
    """Reducing sugars of the sample from those of the aliquot. [%] from [mg, mL, g/100 mL]."""
    return 10 * mass / (aliquot * sample_mass)
