"""Cane and bagasse in the wet disintegrator: fibre, Brix and pol."""

from collections.abc import Mapping
from dataclasses import replace

from canewright.laboratory import cane_analysis
from canewright.laboratory.bench_readings import (
    FIXED_COMPOSITION,
    TUBE_TEMPERATURE,
    ZERO,
    mass,
    rotation,
    tube,
)
from canewright.laboratory.method import (
    Check,
    Given,
    Method,
    RawInput,
    Remark,
    Step,
    refusal,
    step,
    warning,
)
from canewright.laboratory.polarimetry import (
    pol_at_20,
    pol_of_unweighed_juice,
    rotation_in_200_mm,
)
from canewright.ops import Numeric
from canewright.properties.rotation import schmitz_factor

Values = Mapping[str, Numeric]


def percent(
    name: str,
    label: str,
    low: float,
    high: float,
    near: tuple[float, float],
    uncertainty: float,
    takes: str = "",
) -> RawInput:
    """An analysis, % of the sample or of its extract."""
    return RawInput(
        name,
        label,
        "%",
        low,
        high,
        near=near,
        uncertainty=uncertainty,
        takes=takes,
        bench="Read it again on the strained extract, and look at the sample's label.",
    )


BRIX_FREE_WATER = RawInput(
    "brix_free_water",
    "Brix-free water of fibre",
    "%",
    0.0,
    60.0,
    near=(10.0, 30.0),
    uncertainty=3.0,
    shared="Brix-free water",
    default=25.0,
    bench="It is assumed, not measured: 25 unless the laboratory has agreed on another.",
    text="% of fibre; 0.25 against 0.283 moves fibre of cane by 0.03 and its pol by 0.02.",
)
SAMPLE = mass("sample_mass", "sample in the disintegrator", 1.0, 1e5, uncertainty=0.5)
WATER = mass("water_mass", "water added", 1.0, 1e6, uncertainty=2.0)


def _fibre(values: Values) -> tuple[list[Step], Numeric]:
    water = 100 * values["water_mass"] / values["sample_mass"]
    fibre = step(
        "fibre",
        cane_analysis.fibre,
        values["moisture"],
        values["extract_brix"],
        water,
        values["brix_free_water"],
    )
    added = Step("water on 100 g of sample", water, "g", "own_derivation", "W = 100 water/sample")
    return [added, fibre], water


def _extract(values: Values) -> list[Step]:
    lines, water = _fibre(values)
    extract = step(
        "extract from 100 g of sample",
        cane_analysis.extract_mass,
        water,
        lines[-1].value,
        values["brix_free_water"],
    )
    return [*lines, extract]


def _fibre_only(values: Values) -> list[Step]:
    return _fibre(values)[0]


def _brix(values: Values) -> list[Step]:
    lines = _extract(values)
    return [
        *lines,
        step("Brix", cane_analysis.percent_on_sample, values["extract_brix"], lines[-1].value),
    ]


def _pol(values: Values) -> list[Step]:
    lines = _extract(values)
    in_200 = step(
        "rotation in the 200 mm tube",
        rotation_in_200_mm,
        values["rotation"],
        values["zero"],
        values["tube_length"],
    )
    factor = step("Schmitz factor", schmitz_factor, values["extract_brix"])
    read = step(
        "pol of the extract as read", pol_of_unweighed_juice, in_200.value, values["extract_brix"]
    )
    cool = step(
        "pol of the extract at 20 degC",
        pol_at_20,
        read.value,
        values["temperature"],
        values["coefficient"],
        0.0,
        note="P20 = Pt [1 + c (t - 20)/100]",
    )
    pol = step("pol", cane_analysis.percent_on_sample, cool.value, lines[-1].value)
    return [*lines, in_200, factor, read, cool, pol]


def _room_for_fibre(given: Given) -> list[Remark]:
    solids = given["extract_brix"] * (given["water_mass"] / given["sample_mass"] + 1)
    if given["moisture"] + solids < 100:
        return []
    return [
        refusal(
            "moisture",
            f"moisture = {given['moisture']:g} % and the extract's solids, {solids:.2f} % on the "
            "sample, leave no room for fibre: check the dish, the extract's Brix and the water "
            "added.",
        )
    ]


def _pure_extract(given: Given) -> list[Remark]:
    brix, length = given["extract_brix"], given["tube_length"]
    highest = brix / schmitz_factor(brix) * length / 200
    if given["rotation"] - given["zero"] <= 1.005 * highest:
        return []
    return [
        refusal(
            "rotation",
            f"rotation = {given['rotation']:g} degZ is above what a {length:g} mm tube allows at "
            f"an extract of {brix:g} Brix, {highest:.2f} degZ for pure sucrose. Check the tube's "
            "length and the extract's Brix.",
        )
    ]


def _ratio(low: float, high: float) -> Check:
    def check(given: Given) -> list[Remark]:
        ratio = given["water_mass"] / given["sample_mass"]
        if low <= ratio <= high:
            return []
        return [
            warning(
                "water_mass",
                f"{ratio:.3g} parts of water to one of sample are unusual: mostly {low:g} to "
                f"{high:g}. Check both weights and their units.",
            )
        ]

    return check


def _low_pol(given: Given) -> list[Remark]:
    if given["result"] >= 1.0:
        return []
    return [
        warning(
            "rotation",
            f"A pol of bagasse of {given['result']:.2f} % is below 1: check the sample, the tube's "
            "length and the water added.",
        )
    ]


_CANE = (
    percent("extract_brix", "Brix of the extract", 0.01, 20.0, (3.0, 7.0), 0.02),
    percent("moisture", "moisture of the cane", 30.0, 95.0, (60.0, 78.0), 0.3, "moisture"),
    SAMPLE,
    WATER,
    BRIX_FREE_WATER,
)
_BAGASSE = (
    percent("extract_brix", "Brix of the extract", 0.01, 5.0, (0.1, 0.6), 0.02),
    percent("moisture", "moisture of the bagasse", 20.0, 85.0, (44.0, 56.0), 0.4, "moisture"),
    SAMPLE,
    WATER,
    BRIX_FREE_WATER,
)


def _polarimeter(tube_length: float, uncertainty: float) -> tuple[RawInput, ...]:
    return (
        rotation(uncertainty),
        ZERO,
        tube(tube_length),
        TUBE_TEMPERATURE,
        FIXED_COMPOSITION,
    )


fibre_of_cane = Method(
    name="fibre_of_cane",
    title="fibre of cane by direct analysis",
    analysis="fibre",
    unit="%",
    classes=("cane",),
    inputs=_CANE,
    steps=_fibre_only,
    checks=(_room_for_fibre, _ratio(1.5, 4.0)),
    sampling=0.4,
    cautions=("blades", "hot_oven"),
    default=True,
    source="own_derivation",
    at="water and solids of the disintegrator; with 1:2 it is the direct analysis of cane",
    known="derived",
)
brix_of_cane = replace(
    fibre_of_cane,
    name="brix_of_cane",
    title="Brix of cane by direct analysis",
    analysis="",
    steps=_brix,
    sampling=0.1,
    default=False,
)
pol_of_cane = replace(
    fibre_of_cane,
    name="pol_of_cane",
    title="pol of cane by direct analysis",
    analysis="pol",
    inputs=(*_CANE, *_polarimeter(200.0, 0.05)),
    steps=_pol,
    checks=(_room_for_fibre, _ratio(1.5, 4.0), _pure_extract),
    sampling=0.1,
    cautions=("blades", "hot_oven", "pol_is_not_sucrose"),
)
fibre_of_bagasse = replace(
    fibre_of_cane,
    name="fibre_of_bagasse",
    title="fibre of bagasse",
    classes=("bagasse",),
    inputs=_BAGASSE,
    checks=(_room_for_fibre, _ratio(5.0, 15.0)),
    cautions=("blades", "hot_oven", "sampling"),
)
brix_of_bagasse = replace(
    fibre_of_bagasse,
    name="brix_of_bagasse",
    title="Brix of bagasse",
    analysis="",
    steps=_brix,
    sampling=0.1,
    default=False,
    text="0.02 on the extract is 0.2 on bagasse: pol over the purity of last juice is better.",
)
pol_of_bagasse = replace(
    fibre_of_bagasse,
    name="pol_of_bagasse",
    title="pol of bagasse",
    analysis="pol",
    inputs=(*_BAGASSE, *_polarimeter(400.0, 0.03)),
    steps=_pol,
    checks=(_room_for_fibre, _ratio(5.0, 15.0), _pure_extract, _low_pol),
    sampling=0.1,
    cautions=("blades", "hot_oven", "sampling", "pol_is_not_sucrose"),
    text="Leaving the fibre out of the extract's mass reads 0.9 % of the pol too high.",
)
