"""Titrations of sulphur dioxide, lime salts and alkalinity; phosphate and calibration lines."""

from canewright.ops import Numeric
from canewright.registry import formula


@formula(
    source="own_derivation",
    at="half of the molar mass of SO2, 64.066 g/mol, per equivalent of iodine",
    unit="mg/L or mg/kg",
    given={
        "titre": "mL",
        "blank_titre": "mL",
        "normality": "mol/L",
        "sample": "mL or g",
    },
    equation="SO2 = 32033 (V - V_blank) N/sample",
    known="derived",
    note="Of a sample in mL the result is mg/L, of one in g it is mg/kg.",
)
def sulphur_dioxide(
    titre: Numeric, blank_titre: Numeric, normality: Numeric, sample: Numeric
) -> Numeric:
    """Sulphur dioxide by titration with iodine. [mg/L or mg/kg] from [mL, mL, mol/L, mL or g]."""
    return 32033 * (titre - blank_titre) * normality / sample


@formula(
    source="own_derivation",
    at="molar mass of CaO, 56.077 g/mol",
    unit="mg/L",
    given={"titre": "mL", "concentration": "mol/L", "aliquot": "mL"},
    equation="CaO = 56077 V c/aliquot",
    known="derived",
)
def lime_salts(titre: Numeric, concentration: Numeric, aliquot: Numeric) -> Numeric:
    """Hardness as CaO by titration with EDTA. [mg/L] from [mL, mol/L, mL]."""
    return 56077 * titre * concentration / aliquot


@formula(
    source="own_derivation",
    at="half of the molar mass of CaO per equivalent of acid",
    unit="mg/L",
    given={"titre": "mL", "normality": "mol/L", "aliquot": "mL"},
    equation="CaO = 28040 V N/aliquot",
    known="derived",
)
def alkalinity(titre: Numeric, normality: Numeric, aliquot: Numeric) -> Numeric:
    """Alkalinity as CaO by titration with acid. [mg/L] from [mL, mol/L, mL]."""
    return 28040 * titre * normality / aliquot


@formula(
    source="own_derivation",
    at="141.944/(2 x 30.974), stoichiometry",
    unit="mg/L",
    given={"phosphorus": "mg/L"},
    equation="P2O5 = 2.2913 P",
    known="derived",
)
def phosphate_of_phosphorus(phosphorus: Numeric) -> Numeric:
    """Phosphate as P2O5 from phosphorus. [mg/L] from [mg/L]."""
    return 2.2913 * phosphorus


@formula(
    source="own_derivation",
    at="calibration line of the laboratory, brought on the sample",
    unit="as the line",
    given={
        "absorbance": "1",
        "blank_absorbance": "1",
        "slope": "1 per unit of the line",
        "dilution": "1",
    },
    equation="content = (A - A_blank)/slope x dilution",
    known="derived",
)
def by_calibration_line(
    absorbance: Numeric, blank_absorbance: Numeric, slope: Numeric, dilution: Numeric
) -> Numeric:
    """Content read from a straight calibration line. [unit of the line]."""
    return (absorbance - blank_absorbance) / slope * dilution


@formula(
    source="own_derivation",
    at="mass per volume over density",
    unit="mg/kg",
    given={"content": "mg/L", "solution_density": "kg/m3"},
    equation="mg/kg = 1000 mg/L / rho",
    known="derived",
)
def per_kilogram(content: Numeric, solution_density: Numeric) -> Numeric:
    """Content by mass of one by volume. [mg/kg] from [mg/L, kg/m3]."""
    return 1000 * content / solution_density
