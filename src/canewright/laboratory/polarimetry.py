"""Polarimetry: from a rotation on the sugar scale to pol, and to sucrose by inversion.

Rotations are degrees Z as read, in a 200 mm tube unless a length is asked for. Pol is not
sucrose: every sugar in the tube turns the light by its own rotation.
"""

from canewright.ops import Numeric
from canewright.properties.rotation import (
    NORMAL_WEIGHT_IN_AIR,
    normal_rotation,
    schmitz_factor,
)
from canewright.registry import formula


@formula(
    source="icumsa_scale",
    at="proportion to the rotation of the normal sugar solution",
    unit="degree Z",
    given={"angle": "degree of arc", "wavelength": "nm"},
    equation="R = 100 angle/angle of 100 Z at this wavelength",
    known="derived",
    valid={"wavelength": (546, 900)},
    uncertainty="0.002 Z",
)
def sugar_scale_reading(angle: Numeric, wavelength: Numeric) -> Numeric:
    """Reading on the sugar scale of a rotation in degrees of arc. [degree Z] from [deg, nm]."""
    return 100 * angle / normal_rotation(wavelength)


@formula(
    source="icumsa_general_pol",
    at="temperature coefficient of quartz",
    unit="degree Z",
    given={"certified": "degree Z", "temperature": "degC"},
    equation="a_t = a_20 [1 + 1.44e-4 (t - 20)]",
    known="memory",
    valid={"temperature": (10, 40)},
    uncertainty="0.005 Z",
)
def quartz_plate_reading(certified: Numeric, temperature: Numeric) -> Numeric:
    """What a quartz plate must read at this temperature. [degree Z] from [degree Z, degC]."""
    return certified * (1 + 1.44e-4 * (temperature - 20))


@formula(
    source="own_derivation",
    at="rotation in proportion to the length of the tube, less that of water",
    unit="degree Z",
    given={"rotation": "degree Z", "zero": "degree Z", "tube_length": "mm"},
    equation="R = (reading - zero) 200/tube",
    known="derived",
)
def rotation_in_200_mm(rotation: Numeric, zero: Numeric, tube_length: Numeric) -> Numeric:
    """Rotation corrected for the zero and brought to the 200 mm tube. [degree Z]."""
    return (rotation - zero) * 200 / tube_length


@formula(
    source="wet_lead_method",
    at="volume made up over volume taken; 100 to 110 mL is a factor 1.10",
    unit="degree Z",
    given={"rotation": "degree Z", "sample_taken": "mL or g", "made_up_to": "mL or g"},
    equation="R0 = R x made up/taken",
    known="memory",
    note="Taken and made up on the same basis, both volumes or both masses.",
)
def rotation_before_dilution(
    rotation: Numeric, sample_taken: Numeric, made_up_to: Numeric
) -> Numeric:
    """Rotation of the sample before reagent or water was added. [degree Z]."""
    return rotation * made_up_to / sample_taken


@formula(
    source="icumsa_scale",
    at="proportion to the normal weight of 26.000 g in 100 mL",
    unit="% pol",
    given={"rotation": "degree Z", "sample_mass": "g/100 mL"},
    equation="pol = R x 26.000/m, m g of sample in 100 mL as read",
    known="derived",
)
def pol_of_weighed_sample(rotation: Numeric, sample_mass: Numeric) -> Numeric:
    """Pol of a sample weighed into a flask. [% pol] from [degree Z in 200 mm, g/100 mL]."""
    return rotation * NORMAL_WEIGHT_IN_AIR / sample_mass


@formula(
    source="laboratory_schmitz",
    at="factor of the table times the rotation",
    unit="% pol",
    given={"rotation": "degree Z", "brix": "% mass"},
    equation="pol = F(Brix) x R",
    known="derived",
    valid={"brix": (0, 70)},
    uncertainty="0.00003 relative, beside that of the readings",
)
def pol_of_unweighed_juice(rotation: Numeric, brix: Numeric) -> Numeric:
    """Pol of a juice or extract read as it is. [% pol] from [degree Z in 200 mm, Brix]."""
    return rotation * schmitz_factor(brix)


@formula(
    source="icumsa_raw_pol",
    at="temperature correction of the raw sugar pol method",
    unit="% pol",
    given={
        "pol": "% pol",
        "temperature": "degC",
        "coefficient": "%/K",
        "reducing_sugars": "% mass",
    },
    equation="P20 = Pt [1 + c (t - 20)/100] - 0.004 RS (t - 20)",
    known="memory",
    valid={"temperature": (10, 40), "reducing_sugars": (0, 30)},
    uncertainty="6 % of the correction",
    note="""c: 0.019 %/K polarimeter, 0.032 quartz wedge, where the solution was made to volume
        and read at t; 0.047 and 0.061 where it was made up at 20 degC, or is a juice of fixed
        composition, and read at t. An instrument that corrects by itself must get 0.""",
)
def pol_at_20(
    pol: Numeric, temperature: Numeric, coefficient: Numeric, reducing_sugars: Numeric
) -> Numeric:
    """Pol at 20 degC of one read at another temperature. [% pol]."""
    warmth = temperature - 20
    return pol * (1 + coefficient / 100 * warmth) - 0.004 * reducing_sugars * warmth


@formula(
    source="jackson_gillis",
    at="inversion with hydrochloric acid, divisor 132.63",
    unit="%",
    given={
        "direct": "degree Z",
        "inverted": "degree Z",
        "solids": "g/100 mL",
        "temperature": "degC",
    },
    equation="S = 100 (P - P')/[132.63 + 0.0794 (m - 13) - 0.53 (t - 20)]",
    known="memory",
    valid={"solids": (1, 26), "temperature": (15, 35)},
    uncertainty="0.1; other divisors exist (132.56, 132.66)",
    note="P and P' both expressed to the normal weight; t that of the inverted solution.",
)
def sucrose_by_inversion(
    direct: Numeric, inverted: Numeric, solids: Numeric, temperature: Numeric
) -> Numeric:
    """Apparent sucrose by double polarisation (Clerget). [%]."""
    divisor = 132.63 + 0.0794 * (solids - 13) - 0.53 * (temperature - 20)
    return 100 * (direct - inverted) / divisor


@formula(
    source="own_derivation",
    at="volume of the insolubles",
    unit="mL",
    given={"sample_mass": "g", "insoluble_solids": "%", "insoluble_density": "g/mL"},
    equation="V = m i/(100 d)",
    known="derived",
)
def insoluble_volume(
    sample_mass: Numeric, insoluble_solids: Numeric, insoluble_density: Numeric
) -> Numeric:
    """Room that insolubles take in the flask. [mL] from [g, %, g/mL]."""
    return sample_mass * insoluble_solids / 100 / insoluble_density


@formula(
    source="own_derivation",
    at="normal weight in a flask of which insolubles take a part",
    unit="% pol",
    given={
        "rotation": "degree Z",
        "sample_mass": "g",
        "flask_volume": "mL",
        "insoluble_volume": "mL",
    },
    equation="pol = R x (26.000/m) x (flask - V)/100",
    known="derived",
    note="""25 g to 100 mL with a quarter of insolubles has the factor 1.0075: hence the custom
        of reading 25 g in 100 mL, or 50 g in 200 mL, directly.""",
)
def pol_of_filter_cake(
    rotation: Numeric, sample_mass: Numeric, flask_volume: Numeric, insoluble_volume: Numeric
) -> Numeric:
    """Pol of filter cake washed into a flask. [% pol]."""
    return rotation * NORMAL_WEIGHT_IN_AIR / sample_mass * (flask_volume - insoluble_volume) / 100


@formula(
    source="handbook_rotations",
    at="specific rotation of dextran, +199, over that of sucrose, 66.5",
    unit="% pol",
    given={"dextran": "mg/kg"},
    equation="pol = dextran x 199/66.5/10^4",
    known="derived",
    uncertainty="10 %; the rotation is from memory",
)
def pol_of_dextran(dextran: Numeric) -> Numeric:
    """What dextran adds to pol. [% pol] from [mg/kg]."""
    return dextran * 199 / 66.5 / 1e4
