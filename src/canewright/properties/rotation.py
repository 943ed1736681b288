"""Optical rotation: the international sugar scale and the sugars' specific rotations."""

from canewright.ops import Numeric
from canewright.properties.density import density, density_in_air
from canewright.registry import formula

NORMAL_WEIGHT_IN_AIR = 26.000
"""Grams of sucrose weighed in air that make 100 mL of the normal sugar solution."""


@formula(
    source="icumsa_scale",
    at="definition of 100 Z, equation for wavelengths above 546 nm",
    unit="degree of arc",
    given={"wavelength": "nm"},
    equation="""alpha = 40.777 (a + b/l^2 + c/l^4 + d/l^8), l vacuum wavelength in micrometre,
        a = -1.7982e-3, b = 0.2765318, c = 6.55736e-3, d = 1.03825e-5""",
    known="memory",
    valid={"wavelength": (546, 900)},
    uncertainty="0.0005 degree at 546, 589 and 633 nm; not confirmed elsewhere",
    note="""The digits were read in a standard whose print had lost the powers of ten. The
        powers and the exponent 8 were restored by us so that three known points are met.""",
)
def normal_rotation(wavelength: Numeric) -> Numeric:
    """Angle by which the normal sugar solution (100 Z) turns polarised light in 200 mm.

    Parameters
    ----------
    wavelength : numeric
        Wavelength in vacuum. [nm]

    Returns
    -------
    numeric
        Rotation at 20 degC. [degree of arc]
    """
    square = (wavelength / 1000) ** 2
    fourth = square * square
    terms = -1.7982e-3 + 0.2765318 / square + 6.55736e-3 / fourth + 1.03825e-5 / (fourth * fourth)
    return 40.777 * terms


@formula(
    source="browne_zerban",
    at="specific rotation of sucrose, D line, 20 degC",
    unit="degree mL/(g dm)",
    given={"concentration": "g/100 mL"},
    equation="[a] = 66.412 + 0.01267 c - 0.000376 c^2",
    known="memory",
    valid={"concentration": (0, 65)},
    uncertainty="0.1 %: for the influence of other sugars, not for the sugar scale",
)
def sucrose_specific_rotation(concentration: Numeric) -> Numeric:
    """Specific rotation of sucrose at the D line.

    Parameters
    ----------
    concentration : numeric
        Sucrose. [g/100 mL]

    Returns
    -------
    numeric
        Specific rotation at 20 degC. [degree mL/(g dm)]
    """
    return 66.412 + concentration * (0.01267 - 0.000376 * concentration)


@formula(
    source="handbook_rotations",
    at="D-glucose in equilibrium, D line, 20 degC",
    unit="degree mL/(g dm)",
    given={},
    equation="[a] = 52.7",
    known="memory",
    uncertainty="0.5",
)
def glucose_specific_rotation() -> float:
    """Specific rotation of glucose at the D line, in equilibrium and dilute.

    Returns
    -------
    float
        Specific rotation at 20 degC. [degree mL/(g dm)]
    """
    return 52.7


@formula(
    source="zerban1925",
    at="equation 1, after Vosburgh, reduced to 20 degC",
    unit="degree mL/(g dm)",
    given={"concentration": "g/100 mL"},
    equation="[a] = -(91.33 + 0.164 c - 0.00086 c^2)",
    known="read",
    valid={"concentration": (0, 50)},
    uncertainty="0.2",
)
def fructose_specific_rotation(concentration: Numeric) -> Numeric:
    """Specific rotation of fructose at the D line.

    Parameters
    ----------
    concentration : numeric
        Fructose; in invert sugar the total sugar. [g/100 mL]

    Returns
    -------
    numeric
        Specific rotation at 20 degC. [degree mL/(g dm)]
    """
    return -(91.33 + concentration * (0.164 - 0.00086 * concentration))


@formula(
    source="zerban1925",
    at="Vosburgh's rule",
    unit="degree mL/(g dm)",
    given={"concentration": "g/100 mL"},
    equation="[a]_invert = ([a]_glucose + [a]_fructose)/2, both at the total concentration",
    known="read",
    valid={"concentration": (0, 50)},
    uncertainty="0.4",
)
def invert_specific_rotation(concentration: Numeric) -> Numeric:
    """Specific rotation of invert sugar at the D line.

    Parameters
    ----------
    concentration : numeric
        Invert sugar, glucose and fructose together. [g/100 mL]

    Returns
    -------
    numeric
        Specific rotation at 20 degC. [degree mL/(g dm)]
    """
    return (glucose_specific_rotation() + fructose_specific_rotation(concentration)) / 2


@formula(
    source="own_derivation",
    at="ratio of specific rotations to that of sucrose, 66.5",
    unit="% pol",
    given={"glucose": "% mass", "fructose": "% mass"},
    equation="pol = 0.79 G - 1.40 F",
    known="derived",
    valid={"glucose": (0, 20), "fructose": (0, 20)},
    uncertainty="2 %",
)
def pol_of_reducing_sugars(glucose: Numeric, fructose: Numeric) -> Numeric:
    """What glucose and fructose add to pol; equal amounts lower it.

    Parameters
    ----------
    glucose : numeric
        Glucose. [% mass]
    fructose : numeric
        Fructose. [% mass]

    Returns
    -------
    numeric
        Contribution to pol. [% pol]
    """
    return 0.79 * glucose - 1.40 * fructose


@formula(
    source="laboratory_schmitz",
    at="definition, with the density of SPS-4 weighed in air",
    unit="% pol per degree Z",
    given={"brix": "% mass"},
    equation="F = 26.000/(100 d_a), d_a apparent density at 20 degC in g/mL",
    known="derived",
    valid={"brix": (0, 70)},
    uncertainty="0.00003 relative",
    family="factor for the pol of unweighed juice",
    default=True,
    note="The definition itself, good for syrup too; the short form is a fit to it.",
)
def schmitz_factor(brix: Numeric) -> Numeric:
    """Pol of an unweighed juice per degree Z read in the 200 mm tube.

    Parameters
    ----------
    brix : numeric
        Brix of the liquid in the tube. [% mass]

    Returns
    -------
    numeric
        Pol per reading. [% pol per degree Z]
    """
    return 10 * NORMAL_WEIGHT_IN_AIR / density_in_air(density(brix, 20.0))


@formula(
    source="laboratory_schmitz",
    at="fit to the definition, 1 to 25 Brix",
    unit="% pol per degree Z",
    given={"brix": "% mass"},
    equation="F = 0.260746 - 1.00860e-3 B + 4.5262e-7 B^2",
    known="derived",
    valid={"brix": (1, 25)},
    uncertainty="0.0000025",
    family="factor for the pol of unweighed juice",
)
def schmitz_factor_short(brix: Numeric) -> Numeric:
    """Pol of an unweighed juice per degree Z, short form.

    Parameters
    ----------
    brix : numeric
        Brix of the liquid in the tube. [% mass]

    Returns
    -------
    numeric
        Pol per reading. [% pol per degree Z]
    """
    return 0.260746 + brix * (-1.00860e-3 + 4.5262e-7 * brix)
