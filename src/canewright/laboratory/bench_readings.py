"""Raw readings that many methods share, declared once.

Standard uncertainties are judgement on usual bench work, to be replaced by each
laboratory's own [instrument_judgement]. A reading known to half a division is rectangular.
"""

from collections.abc import Iterable
from itertools import pairwise

from canewright.laboratory.method import Check, Given, RawInput, Remark, rectangular, refusal

END_OF_SCALE = 259.9
"""Degrees Z at 90 degrees of arc, where no polarimeter can tell which way it turned: 90/0.34626
[icumsa_scale]."""

ANY_TUBE = (50.0, 100.0, 200.0, 400.0)
"""Tubes in use, mm [common_practice]."""


def rotation(uncertainty: float, near: tuple[float, float] | None = None) -> RawInput:
    """Polarimeter reading as it is, on the sugar scale."""
    return RawInput(
        "rotation",
        "polarimeter reading",
        "degZ",
        -END_OF_SCALE,
        END_OF_SCALE,
        near=near,
        uncertainty=uncertainty,
        bench="Read the tube again, and look whether it holds bubbles or is too dark.",
    )


ZERO = RawInput(
    "zero",
    "reading of the tube filled with water",
    "degZ",
    -5.0,
    5.0,
    near=(-0.1, 0.1),
    uncertainty=rectangular(0.01),
    shared="polarimeter zero",
    default=0.0,
    bench="Clean the cover glasses, do not screw them tight, and set the zero again.",
)


def tube(default: float = 200.0) -> RawInput:
    """Length of the polarimeter tube."""
    return RawInput(
        "tube_length",
        "length of the tube",
        "mm",
        10.0,
        400.5,
        uncertainty=0.01,
        shared="polarimeter tube",
        default=default,
        bench="Read the length engraved on the tube.",
    )


TUBE_TEMPERATURE = RawInput(
    "temperature",
    "temperature of the liquid in the tube",
    "degC",
    10.0,
    40.0,
    near=(18.0, 32.0),
    uncertainty=rectangular(0.5),
    shape="rectangular",
    shared="polarimeter thermometer",
    default=20.0,
    bench="Measure in the tube itself; the correction is stated from 10 to 40 degC.",
    reminder="temperature was not given and is taken as 20 degC: 5 K forgotten are 0.1 to 0.3 % of "
    "the pol. Put a thermometer in the tube.",
)


def coefficient(default: float, quartz_wedge: float) -> RawInput:
    """Temperature coefficient of the pol reading."""
    return RawInput(
        "coefficient",
        "temperature coefficient of the reading",
        "%/K",
        0.0,
        0.1,
        uncertainty=6.0,
        relative=True,
        shared="temperature coefficient of pol",
        default=default,
        bench="Look up which kind of instrument it is.",
        text=f"{default:g} for a polarimeter, {quartz_wedge:g} with a quartz wedge, 0 for an "
        "instrument that corrects by itself.",
    )


FIXED_COMPOSITION = coefficient(0.047, 0.061)
MADE_UP_AT_READING = coefficient(0.019, 0.032)

REDUCING_SUGARS = RawInput(
    "reducing_sugars",
    "reducing sugars of the sample",
    "%",
    0.0,
    40.0,
    near=(0.0, 25.0),
    uncertainty=5.0,
    relative=True,
    default=0.0,
    takes="reducing_sugars",
    bench="Check the titration.",
    text="Only for the temperature correction, 0.004 per % and K.",
)


SAMPLE_TAKEN = RawInput(
    "sample_taken",
    "sample before reagent or water was added",
    "mL",
    1.0,
    5000.0,
    uncertainty=0.05,
    relative=True,
    shared="flasks, lower mark",
    optional=True,
    bench="Read the flask's lower mark.",
)
MADE_UP_TO = RawInput(
    "made_up_to",
    "volume made up to",
    "mL",
    1.0,
    5000.0,
    uncertainty=0.05,
    relative=True,
    shared="flasks, upper mark",
    optional=True,
    bench="Read the flask's upper mark.",
    text="110 for 100 mL juice and 10 mL reagent; left out where nothing is added but dry.",
)


def brix_of_liquid(near: tuple[float, float], uncertainty: float, what: str) -> RawInput:
    """Brix at 20 degC, corrected already, or taken from the Brix of the same sample."""
    return RawInput(
        "brix",
        what,
        "%",
        0.0,
        85.0,
        near=near,
        uncertainty=uncertainty,
        takes="brix",
        bench="Read the refractometer again on a filtered sample.",
        text="At 20 degC, corrected.",
    )


def mass(
    name: str,
    label: str,
    low: float,
    high: float,
    *,
    default: float | None = None,
    uncertainty: float = 0.002,
    near: tuple[float, float] | None = None,
    unit: str = "g",
    bench: str = "Look at the balance's zero and unit, and weigh again.",
) -> RawInput:
    """A weighing."""
    return RawInput(
        name, label, unit, low, high, near, uncertainty, default=default, bench=bench
    )  # fmt: skip


def titre(
    name: str, label: str, high: float, *, near: tuple[float, float] | None = None,
    low: float = 0.0, default: float | None = None, uncertainty: float = 0.05,
) -> RawInput:  # fmt: skip
    """A burette volume."""
    return RawInput(
        name,
        label,
        "mL",
        low,
        high,
        near=near,
        uncertainty=uncertainty,
        default=default,
        bench="Read the burette again, both marks, and repeat the titration.",
    )


def normality(name: str, label: str, default: float | None, high: float = 2.0) -> RawInput:
    """Strength of a titrant."""
    return RawInput(
        name,
        label,
        "mol/L",
        1e-4,
        high,
        uncertainty=0.5,
        relative=True,
        shared=label,
        default=default,
        bench="Read the label of the bottle and the date of its standardisation.",
        text="Equivalents per litre: N/64 is 0.015625.",
    )


def absorbance(name: str = "absorbance", label: str = "absorbance", **more: float) -> RawInput:
    """Absorbance of a solution against water or blank."""
    return RawInput(
        name,
        label,
        "1",
        -0.02,
        4.0,
        near=(0.1, 0.8) if name == "absorbance" else None,
        uncertainty=0.003,
        default=more.get("default"),
        bench="Clean the cell, set the zero again, and choose a strength that reads 0.1 to 0.8.",
    )


def must_rise(names: Iterable[str], what: str) -> Check:
    """A check that weighings stand in this order, lightest first, each heavier than the last."""
    ordered = tuple(names)

    def check(given: Given) -> list[Remark]:
        said = []
        for lighter, heavier in pairwise(ordered):
            if given[lighter] >= given[heavier]:
                said.append(
                    refusal(
                        lighter,
                        f"{lighter} = {given[lighter]:g} is not below {heavier} = "
                        f"{given[heavier]:g}: {what}",
                    )
                )
        return said

    return check
