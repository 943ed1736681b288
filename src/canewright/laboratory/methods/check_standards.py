"""The polarimeter against its quartz plate, and readings in degrees of arc."""

from collections.abc import Mapping
from dataclasses import replace

from canewright.laboratory.bench_readings import TUBE_TEMPERATURE, rotation
from canewright.laboratory.method import Method, RawInput, Step, step
from canewright.laboratory.polarimetry import quartz_plate_reading, sugar_scale_reading
from canewright.ops import Numeric


def _plate(values: Mapping[str, Numeric]) -> list[Step]:
    expected = step(
        "the plate must read", quartz_plate_reading, values["certified"], values["temperature"]
    )
    difference = Step(
        "polarimeter reads too high by",
        values["rotation"] - expected.value,
        "degree Z",
        "own_derivation",
        "reading - what the plate must read",
    )
    return [expected, difference]


quartz_plate = Method(
    name="quartz_plate",
    title="check of the polarimeter with its quartz plate",
    analysis="",
    unit="degZ",
    classes=(),
    inputs=(
        rotation(0.01),
        replace(
            rotation(0.01),
            name="certified",
            label="certified value of the plate at 20 degC",
            shared="quartz plate",
            bench="Read the certificate, and its wavelength.",
        ),
        replace(
            TUBE_TEMPERATURE,
            label="temperature of the plate",
            reminder="temperature was not given and is taken as 20 degC: 5 K are 0.07 on 100 degZ.",
        ),
    ),
    steps=_plate,
    valid={"result": (-0.1, 0.1)},
    source="icumsa_general_pol",
    at="temperature coefficient of quartz",
    known="memory",
    text="Check with it every shift; record it: it is what is known of the polarimeter's bias.",
)


def _arc(values: Mapping[str, Numeric]) -> list[Step]:
    return [step("on the sugar scale", sugar_scale_reading, values["angle"], values["wavelength"])]


sugar_scale = Method(
    name="sugar_scale",
    title="reading on the sugar scale of a rotation in degrees of arc",
    analysis="",
    unit="degZ",
    classes=(),
    inputs=(
        RawInput(
            "angle",
            "rotation in the 200 mm tube, degrees of arc",
            "deg",
            -90.0,
            90.0,
            near=(-20.0, 45.0),
            uncertainty=0.005,
            bench="Read the tube again; beyond 90 degrees no instrument tells which way it turned.",
        ),
        RawInput(
            "wavelength",
            "wavelength in vacuum",
            "nm",
            546.0,
            900.0,
            uncertainty=0.02,
            shared="polarimeter lamp",
            default=589.44,
            bench="The scale is stated from 546 to 900 nm: look at the lamp or filter.",
        ),
    ),
    steps=_arc,
    valid={"wavelength": (546.0, 900.0)},
    source="icumsa_scale",
    at="100 Z is 34.626 degrees at 589.44 nm; other wavelengths by its equation",
    known="memory",
    text="A scale in degrees Z needs no correction for wavelength: it is made for its own.",
)
