"""Milk of lime: strength and relative density.

Milk of lime burns skin and eyes, and slaking boils. Follow the local code of practice.
"""

from canewright.ops import Numeric
from canewright.properties.density import relative_density_from_baume
from canewright.registry import formula

_RISE = 7.9e-4  # relative density per g CaO/L, technical lime
_WATER = 998.2  # kg/m3 at 20 degC


@formula(
    source="blatner",
    at="straight line through the table of milk of lime",
    unit="kg/kg",
    given={"calcium_oxide": "g/L"},
    equation="d = 1 + 7.9e-4 c",
    known="memory",
    valid={"calcium_oxide": (0, 270)},
    uncertainty="0.004",
    note="""Follows the table for technical lime with its grit, as a factory has it; pure
        hydrate (`lime_and_phosphate.milk_density`) rises 7 % more slowly.""",
)
def relative_density(calcium_oxide: Numeric) -> Numeric:
    """Relative density of milk of technical lime.

    Parameters
    ----------
    calcium_oxide : numeric
        Strength as CaO. [g/L]

    Returns
    -------
    numeric
        Relative density. [kg/kg]
    """
    return 1 + _RISE * calcium_oxide


@formula(
    source="blatner",
    at="straight line through the table, with Be = 145 - 145/d",
    unit="g/L",
    given={"degrees_baume": "degree Baume"},
    equation="c = [145/(145 - Be) - 1]/7.9e-4",
    known="memory",
    valid={"degrees_baume": (0, 25)},
    uncertainty="2 %; the lime decides, titrate",
)
def strength(degrees_baume: Numeric) -> Numeric:
    """Strength of milk of lime from its degrees Baume.

    Parameters
    ----------
    degrees_baume : numeric
        Spindle reading, modulus 145. [degree Baume]

    Returns
    -------
    numeric
        Strength as CaO. [g/L]
    """
    return (relative_density_from_baume(degrees_baume) - 1) / _RISE


@formula(
    source="blatner",
    at="strength over density",
    unit="% mass",
    given={"degrees_baume": "degree Baume"},
    equation="CaO = 100 c/(998.2 d)",
    known="derived",
    valid={"degrees_baume": (0, 25)},
    uncertainty="2 %",
)
def calcium_oxide_percent(degrees_baume: Numeric) -> Numeric:
    """Calcium oxide in milk of lime by mass.

    Parameters
    ----------
    degrees_baume : numeric
        Spindle reading, modulus 145. [degree Baume]

    Returns
    -------
    numeric
        Calcium oxide. [% mass]
    """
    mass = _WATER * relative_density_from_baume(degrees_baume)
    return 100 * strength(degrees_baume) / mass
