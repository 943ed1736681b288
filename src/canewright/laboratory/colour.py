"""Colour and turbidity of sugar solutions by absorbance at 420 nm."""

from canewright.ops import Numeric
from canewright.registry import formula


@formula(
    source="icumsa_colour",
    at="definition, absorbance over length and solids per volume",
    unit="IU",
    given={
        "absorbance": "1",
        "cell_length": "cm",
        "brix": "% mass",
        "solution_density": "kg/m3",
    },
    equation="colour = 1e8 A/(L B rho)",
    known="memory",
)
def colour_in_solution(
    absorbance: Numeric, cell_length: Numeric, brix: Numeric, solution_density: Numeric
) -> Numeric:
    """Colour of a solution, per dissolved solids. [IU] from [1, cm, %, kg/m3]."""
    return 1e8 * absorbance / (cell_length * brix * solution_density)


@formula(
    source="icumsa_turbidity",
    at="unfiltered less filtered",
    unit="IU",
    given={"unfiltered": "IU", "filtered": "IU"},
    equation="turbidity = colour unfiltered - colour filtered",
    known="read",
)
def turbidity(unfiltered: Numeric, filtered: Numeric) -> Numeric:
    """Turbidity of a sugar solution. [IU] from [IU]."""
    return unfiltered - filtered


@formula(
    source="common_practice",
    at="ratio of absorbances at pH 9 and pH 4",
    unit="1",
    given={"absorbance_at_ph_9": "1", "absorbance_at_ph_4": "1"},
    equation="indicator value = A(pH 9)/A(pH 4)",
    known="memory",
    note="High where phenolics of cane colour it, near 1 where melanoidins do.",
)
def indicator_value(absorbance_at_ph_9: Numeric, absorbance_at_ph_4: Numeric) -> Numeric:
    """How much the colour depends on pH. [1] from [1]."""
    return absorbance_at_ph_9 / absorbance_at_ph_4
