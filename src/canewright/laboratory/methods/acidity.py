"""PH with its two buffers and its temperature."""

from collections.abc import Mapping
from dataclasses import replace

from canewright.laboratory.acidity import neutral_ph, ph_between_buffers
from canewright.laboratory.method import Given, Method, RawInput, Remark, Step, refusal, step
from canewright.ops import Numeric

READING = RawInput(
    "reading",
    "reading of the electrode",
    "pH",
    0.0,
    14.0,
    near=(4.0, 10.0),
    uncertainty=0.05,
    bench="Rinse the electrode, wait until it rests, and check it in a buffer.",
)


def _buffer(name: str, label: str, default: float) -> RawInput:
    return replace(
        READING,
        name=name,
        label=label,
        near=None,
        uncertainty=0.01,
        shared=f"pH meter, {label}",
        default=default,
        bench="Fresh buffer, clean electrode.",
    )


def _steps(values: Mapping[str, Numeric]) -> list[Step]:
    neutral = step("neutral water reads here", neutral_ph, values["temperature"])
    buffers = (
        values["first_buffer"],
        values["first_reading"],
        values["second_buffer"],
        values["second_reading"],
    )
    return [neutral, step("pH", ph_between_buffers, values["reading"], *buffers)]


def _electrode(given: Given) -> list[Remark]:
    buffers = given["second_buffer"] - given["first_buffer"]
    read = given["second_reading"] - given["first_reading"]
    if buffers and 0.85 <= read / buffers <= 1.1:
        return []
    return [
        refusal(
            "second_reading",
            f"The buffers differ by {buffers:g} and the electrode by {read:g}: it has lost its "
            "slope, or one buffer was taken for the other. Clean it, use fresh buffers.",
        )
    ]


acidity = Method(
    name="acidity",
    title="pH by electrode, with its buffers and temperature",
    analysis="",
    unit="pH",
    classes=("juice", "syrup", "massecuite", "molasses", "sugar"),
    inputs=(
        READING,
        RawInput(
            "temperature",
            "temperature of the sample",
            "degC",
            5.0,
            100.0,
            near=(20.0, 25.0),
            bench="Compare at 20 to 25 degC: hot samples read lower without being more acid.",
        ),
        _buffer("first_buffer", "first buffer", 7.0),
        _buffer("first_reading", "reading in the first buffer", 7.0),
        _buffer("second_buffer", "second buffer", 4.0),
        _buffer("second_reading", "reading in the second buffer", 4.0),
    ),
    steps=_steps,
    checks=(_electrode,),
    valid={"temperature": (15.0, 40.0)},
    usual={"acidity": "pH"},
    source="common_practice",
    at="glass electrode, straight line through two buffers",
    known="memory",
)
