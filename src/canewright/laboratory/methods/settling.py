"""Settling test of limed juice."""

from collections.abc import Mapping
from dataclasses import replace

from canewright.laboratory.bench_readings import must_rise
from canewright.laboratory.method import Method, RawInput, Step, step
from canewright.laboratory.settling_test import mud_volume, settling_rate
from canewright.ops import Numeric

_HEIGHT = RawInput(
    "first_height",
    "height of the mud line at the first reading",
    "mm",
    1.0,
    2000.0,
    near=(20.0, 1000.0),
    uncertainty=1.0,
    bench="Read the mud line again from the bottom of the cylinder.",
)


def _rate(values: Mapping[str, Numeric]) -> list[Step]:
    heights = values["first_height"], values["second_height"]
    return [step("settling rate", settling_rate, *heights, values["minutes"])]


settling_rate_of_juice = Method(
    name="settling_rate",
    title="settling rate of limed juice",
    analysis="",
    unit="mm/min",
    classes=("juice",),
    inputs=(
        _HEIGHT,
        replace(
            _HEIGHT, name="second_height", label="height of the mud line at the second reading"
        ),
        RawInput(
            "minutes",
            "time between the readings",
            "min",
            0.1,
            120.0,
            near=(0.5, 15.0),
            uncertainty=0.02,
            bench="Take both readings while the line still falls evenly.",
        ),
    ),
    steps=_rate,
    checks=(must_rise(("second_height", "first_height"), "the line falls: exchange them."),),
    cautions=("hot_juice", "lime"),
    source="own_derivation",
    at="fall of the mud line over the time, while it falls evenly",
    known="derived",
    text="Keep the cylinder in a bath at clarifier temperature; dose as the station does.",
)


def _volume(values: Mapping[str, Numeric]) -> list[Step]:
    return [step("mud volume", mud_volume, values["mud_height"], values["juice_height"])]


mud_volume_of_juice = Method(
    name="mud_volume",
    title="mud volume after settling",
    analysis="",
    unit="%",
    classes=("juice",),
    inputs=(
        replace(_HEIGHT, name="mud_height", label="height of the settled mud"),
        replace(_HEIGHT, name="juice_height", label="height of the juice at the start"),
    ),
    steps=_volume,
    checks=(must_rise(("mud_height", "juice_height"), "mud is part of the juice: read again."),),
    valid={"result": (3.0, 40.0)},
    cautions=("hot_juice", "lime"),
    source="own_derivation",
    at="heights in one cylinder, after a stated time",
    known="derived",
    text="State the time beside it, mostly 20 to 30 minutes.",
)
