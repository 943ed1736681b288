"""Colour, turbidity and indicator value of sugar solutions."""

from collections.abc import Mapping
from dataclasses import replace

from canewright.laboratory.bench_readings import absorbance
from canewright.laboratory.colour import colour_in_solution, indicator_value, turbidity
from canewright.laboratory.method import (
    Given,
    Method,
    Precision,
    RawInput,
    Remark,
    Step,
    refusal,
    step,
    warning,
)
from canewright.ops import Numeric
from canewright.properties.density import density

CELL_LENGTH = RawInput(
    "cell_length",
    "length of the cell",
    "cm",
    0.05,
    20.0,
    near=(0.5, 10.0),
    uncertainty=0.002,
    shared="photometer cell",
    bench="Read the length on the cell, in cm.",
)
SOLUTION_BRIX = RawInput(
    "brix",
    "Brix of the solution in the cell, at 20 degC",
    "%",
    0.5,
    75.0,
    near=(1.0, 55.0),
    uncertainty=0.1,
    bench="Read the refractometer again on the filtered solution.",
)
ACIDITY = RawInput(
    "ph",
    "pH of the solution",
    "pH",
    2.0,
    11.0,
    optional=True,
    uncertainty=0.05,
    bench="Bring it to 7.0 with the buffer.",
)


def _of(values: Mapping[str, Numeric], reading: str, name: str) -> list[Step]:
    weight = step("density of the solution", density, values["brix"], 20.0, note="SPS-4 at 20 degC")
    colour = step(
        name,
        colour_in_solution,
        values[reading],
        values["cell_length"],
        values["brix"],
        weight.value,
    )
    return [weight, colour]


def _colour(values: Mapping[str, Numeric]) -> list[Step]:
    return _of(values, "absorbance", "colour")


def _at_ph_7(given: Given) -> list[Remark]:
    if "ph" in given and abs(given["ph"] - 7.0) <= 0.1:
        return []
    if given["result"] <= 50:
        return []
    told = f"ph = {given['ph']:g}" if "ph" in given else "ph was not given"
    return [
        warning(
            "ph",
            f"{told}: colours read without adjustment to pH 7.0 compare only up to 50 IU "
            "[icumsa_colour_unadjusted]. Adjust with the buffer, filter and read again.",
        )
    ]


colour_of_solution = Method(
    name="colour",
    title="colour in solution at 420 nm",
    analysis="colour",
    unit="IU",
    classes=("juice", "syrup", "massecuite", "molasses", "sugar"),
    inputs=(absorbance(), CELL_LENGTH, SOLUTION_BRIX, ACIDITY),
    steps=_colour,
    checks=(_at_ph_7,),
    precision=Precision.of_limits(
        9.0,
        18.0,
        source="icumsa_gs9_8",
        at="abstract, 50 to 200 IU",
        low=50.0,
        high=200.0,
        others=tuple(
            Precision.of_limits(
                within, between, source="icumsa_gs9_8", at="abstract", low=low, high=high
            )
            for low, high, within, between in (
                (200.0, 500.0, 23.0, 68.0),
                (500.0, 1200.0, 48.0, 140.0),
                (1200.0, 2500.0, 210.0, 320.0),
                (2500.0, 5000.0, 220.0, 530.0),
            )
        ),
    ),
    valid={"absorbance": (0.1, 0.8)},
    default=True,
    source="icumsa_colour",
    at="pH 7.0, filtered at 0.45 um",
    known="memory",
    text="Choose a strength that reads 0.1 to 0.8.",
)


def _turbidity(values: Mapping[str, Numeric]) -> list[Step]:
    weight, unfiltered = _of(values, "unfiltered", "colour unfiltered")
    _, filtered = _of(values, "filtered", "colour filtered")
    return [
        weight,
        unfiltered,
        filtered,
        step("turbidity", turbidity, unfiltered.value, filtered.value),
    ]


def _cloudier(given: Given) -> list[Remark]:
    if given["unfiltered"] >= given["filtered"]:
        return []
    return [
        refusal(
            "unfiltered",
            f"unfiltered = {given['unfiltered']:g} is below filtered = {given['filtered']:g}: a "
            "filter cannot add to the absorbance. Check which cell was which, and look for "
            "bubbles.",
        )
    ]


turbidity_of_solution = Method(
    name="turbidity",
    title="turbidity of a sugar solution at 420 nm",
    analysis="",
    unit="IU",
    classes=("sugar", "juice", "syrup"),
    inputs=(
        absorbance("unfiltered", "absorbance before filtering"),
        absorbance("filtered", "absorbance after filtering at 0.45 um"),
        CELL_LENGTH,
        SOLUTION_BRIX,
    ),
    steps=_turbidity,
    checks=(_cloudier,),
    precision=Precision.of_limits(
        3.0, 5.0, source="icumsa_turbidity", at="abstract, to 20 IU", low=0.0, high=20.0
    ),
    source="icumsa_turbidity",
    at="colour unfiltered less filtered, sugars below 50 IU",
    known="read",
)


def _indicator(values: Mapping[str, Numeric]) -> list[Step]:
    return [step("indicator value", indicator_value, values["at_ph_9"], values["at_ph_4"])]


indicator_value_of_colour = Method(
    name="indicator_value",
    title="indicator value: colour at pH 9 over pH 4",
    analysis="",
    unit="1",
    classes=("sugar", "juice", "syrup"),
    inputs=(
        replace(absorbance("at_ph_9", "absorbance at pH 9"), low=0.001),
        replace(absorbance("at_ph_4", "absorbance at pH 4"), low=0.001),
    ),
    steps=_indicator,
    source="common_practice",
    at="one solution, two buffers, 420 nm",
    known="memory",
    text="High where phenolics of cane colour it, near 1 where melanoidins do.",
)
