"""Fibre of cane by the press, and the preparation index."""

from collections.abc import Mapping
from dataclasses import replace

from canewright.laboratory import cane_analysis
from canewright.laboratory.bench_readings import mass
from canewright.laboratory.method import Given, Method, Remark, Step, refusal, step
from canewright.laboratory.methods.cane_and_bagasse import (
    BRIX_FREE_WATER,
    SAMPLE,
    WATER,
    percent,
)
from canewright.ops import Numeric

Values = Mapping[str, Numeric]


def _press(values: Values) -> list[Step]:
    cake = step(
        "fibre of the press cake",
        cane_analysis.fibre_of_press_cake,
        values["cake_moisture"],
        values["juice_brix"],
        values["brix_free_water"],
    )
    fibre = step(
        "fibre of cane",
        cane_analysis.fibre_by_press,
        cake.value,
        values["cake_mass"],
        values["sample_mass"],
    )
    return [cake, fibre]


def _cake_below_sample(given: Given) -> list[Remark]:
    if given["cake_mass"] < given["sample_mass"]:
        return []
    return [
        refusal(
            "cake_mass",
            f"cake_mass = {given['cake_mass']:g} g is not below sample_mass = "
            f"{given['sample_mass']:g} g: juice must have left the press; weigh both again.",
        )
    ]


fibre_of_cane_by_press = Method(
    name="fibre_of_cane_by_press",
    title="fibre of cane by the press",
    analysis="fibre",
    unit="%",
    classes=("cane",),
    inputs=(
        mass("sample_mass", "cane in the press", 10.0, 5000.0, near=(450.0, 1100.0)),
        mass("cake_mass", "cake left in the press", 1.0, 5000.0, uncertainty=0.1),
        percent("cake_moisture", "moisture of the cake", 20.0, 80.0, (40.0, 60.0), 0.5),
        percent("juice_brix", "Brix of the juice pressed out", 5.0, 30.0, (14.0, 25.0), 0.05),
        BRIX_FREE_WATER,
    ),
    steps=_press,
    checks=(_cake_below_sample,),
    sampling=0.6,
    cautions=("press", "hot_oven"),
    source="own_derivation",
    at="fibre stays in the cake with its Brix-free water and juice of the Brix pressed out",
    known="derived",
    text="Press results are biased: sucrose of cane by the press lay 0.5 to 1.4 above the "
    "disintegrator, according to the formula [press_comparison].",
)


def _index(values: Values) -> list[Step]:
    leach = step(
        "liquid in the drum, per 100 g",
        cane_analysis.extract_mass,
        100 * values["leach_water"] / values["leach_sample"],
        values["fibre"],
        values["brix_free_water"],
    )
    total = step(
        "liquid in the disintegrator, per 100 g",
        cane_analysis.extract_mass,
        100 * values["total_water"] / values["total_sample"],
        values["fibre"],
        values["brix_free_water"],
    )
    index = step(
        "preparation index",
        cane_analysis.preparation_index,
        values["leach_brix"],
        leach.value,
        values["total_brix"],
        total.value,
    )
    return [leach, total, index]


def _not_above_all(given: Given) -> list[Remark]:
    if given["result"] <= 100.0:
        return []
    return [
        refusal(
            "leach_brix",
            f"An index of {given['result']:.1f} % cannot be: more Brix left the open cells than "
            "all cells held. Check both Brixes, both water weights, and the disintegrator's time.",
        )
    ]


preparation_index = Method(
    name="preparation_index",
    title="preparation index: Brix in open cells",
    analysis="",
    unit="%",
    classes=("cane",),
    inputs=(
        percent("leach_brix", "Brix after the drum", 0.05, 20.0, (0.5, 6.0), 0.02),
        percent("total_brix", "Brix after the disintegrator", 0.05, 20.0, (0.5, 6.0), 0.02),
        replace(SAMPLE, name="leach_sample", label="cane in the drum", default=500.0),
        replace(WATER, name="leach_water", label="water in the drum", default=5000.0),
        replace(SAMPLE, name="total_sample", label="cane in the disintegrator", default=500.0),
        replace(WATER, name="total_water", label="water in the disintegrator", default=5000.0),
        replace(
            percent("fibre", "fibre of the cane", 5.0, 30.0, (10.0, 18.0), 0.4, "fibre"),
            default=14.0,
            text="Of no account where both have the same water ratio.",
        ),
        BRIX_FREE_WATER,
    ),
    steps=_index,
    checks=(_not_above_all,),
    sampling=1.0,
    cautions=("blades",),
    source="open_cells_test",
    at="solids leached in a tumbling drum over all solids",
    known="memory",
    text="Drum, time, speed and water ratio are conventions: compare only with the same ones.",
)
