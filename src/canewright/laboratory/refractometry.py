"""Refractometer and spindle: Brix at 20 degC, of the sample as it was before dilution."""

from canewright.ops import Numeric
from canewright.properties.brix_corrections import refractometer_correction, spindle_correction
from canewright.properties.refraction import refractive_index
from canewright.registry import formula

_STEP = 0.01
_TURNS = 6


@formula(
    source="own_derivation",
    at="reading and its temperature correction",
    unit="%",
    given={"reading": "%", "temperature": "degC"},
    equation="Brix = reading + dB(reading, t)",
    known="derived",
    valid={"reading": (0, 75), "temperature": (10, 40)},
    uncertainty="0.02; no published value of the correction was seen above 22 degC",
)
def refractometer_brix(reading: Numeric, temperature: Numeric) -> Numeric:
    """Refractometer Brix at 20 degC. [%] from [%, degC of the prism]."""
    return reading + refractometer_correction(reading, temperature)


@formula(
    source="own_derivation",
    at="reading and its temperature correction",
    unit="%",
    given={"reading": "%", "temperature": "degC"},
    equation="Brix = reading + dB(reading, t)",
    known="derived",
    valid={"reading": (0, 65), "temperature": (15, 45)},
    uncertainty="0.012; printed tables for other glass lie up to 0.04 higher",
)
def spindle_brix(reading: Numeric, temperature: Numeric) -> Numeric:
    """Spindle Brix at 20 degC. [%] from [%, degC of the liquid]."""
    return reading + spindle_correction(reading, temperature)


@formula(
    source="own_derivation",
    at="six turns of Newton's rule on the refractive index",
    unit="%",
    given={"index": "1", "temperature": "degC"},
    equation="n(Brix, t) = index, solved for Brix",
    known="derived",
    valid={"index": (1.3310, 1.5040), "temperature": (10, 40)},
    uncertainty="0.01 at 20 degC",
)
def brix_of_refractive_index(index: Numeric, temperature: Numeric) -> Numeric:
    """Brix of the sucrose solution of this refractive index. [%] from [1, degC]."""
    brix: Numeric = (index - 1.333) / 0.0020
    for _ in range(_TURNS):
        above = refractive_index(brix + _STEP, temperature)
        below = refractive_index(brix - _STEP, temperature)
        here = refractive_index(brix, temperature)
        brix = brix + (index - here) * 2 * _STEP / (above - below)
    return brix


@formula(
    source="own_derivation",
    at="solids of the sample over its mass",
    unit="%",
    given={"diluted_brix": "%", "sample_mass": "g", "water_mass": "g"},
    equation="B = b (m sample + m water)/m sample",
    known="derived",
    note="The error of the reading is multiplied too: by 2 at equal masses.",
)
def brix_before_dilution(
    diluted_brix: Numeric, sample_mass: Numeric, water_mass: Numeric
) -> Numeric:
    """Brix of a sample read after dilution by mass. [%] from [%, g, g]."""
    return diluted_brix * (sample_mass + water_mass) / sample_mass
