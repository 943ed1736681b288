"""Ash by conductivity, white and raw methods, and the check of the cell."""

from collections.abc import Mapping
from dataclasses import replace

from canewright.laboratory.ash import (
    ash_of_raw_sugar,
    ash_of_white_sugar,
    cell_factor,
    conductivity_at_20,
)
from canewright.laboratory.bench_readings import mass
from canewright.laboratory.method import Given, Method, RawInput, Remark, Step, refusal, step
from canewright.ops import Numeric

CONDUCTIVITY = RawInput(
    "conductivity",
    "conductivity of the solution",
    "uS/cm",
    0.0,
    20000.0,
    near=(2.0, 2000.0),
    uncertainty=2.0,  # weighing in, making up and cell together, as judged for ash
    relative=True,
    unit_required=True,
    bench="Look whether the instrument shows uS/cm or mS/cm, and rinse the cell.",
)
WATER_CONDUCTIVITY = RawInput(
    "water_conductivity",
    "conductivity of the water used",
    "uS/cm",
    0.0,
    200.0,
    near=(0.0, 5.0),
    uncertainty=0.1,
    shared="water of the laboratory",
    unit_required=True,
    bench="Above a few uS/cm the still or the ion exchanger needs care; rinse the cell.",
)
TEMPERATURE = RawInput(
    "temperature",
    "temperature of the solution in the cell",
    "degC",
    15.0,
    25.0,
    near=(18.0, 22.0),
    uncertainty=0.17,
    shape="rectangular",
    shared="conductivity thermometer",
    default=20.0,
    bench="The correction holds from 15 to 25 degC: bring the solution to 20 degC.",
    reminder="temperature was not given and is taken as 20 degC: 1 K is 2.6 % of the ash.",
)
CELL = RawInput(
    "cell_factor",
    "factor of the cell by its check",
    "1",
    0.5,
    2.0,
    near=(0.95, 1.05),
    uncertainty=0.005,
    shared="conductivity cell",
    default=1.0,
    bench="Check the cell with potassium chloride: method conductivity_cell.",
)


def _at_20(values: Mapping[str, Numeric], what: str, name: str) -> Step:
    reading = values[what] * values["cell_factor"]
    return step(name, conductivity_at_20, reading, values["temperature"])


def _white(values: Mapping[str, Numeric]) -> list[Step]:
    solution = _at_20(values, "conductivity", "conductivity at 20 degC")
    water = _at_20(values, "water_conductivity", "of the water at 20 degC")
    ash = step("conductivity ash", ash_of_white_sugar, solution.value, water.value)
    return [solution, water, ash]


def _raw(values: Mapping[str, Numeric]) -> list[Step]:
    solution = _at_20(values, "conductivity", "conductivity at 20 degC")
    water = _at_20(values, "water_conductivity", "of the water at 20 degC")
    ash = step(
        "conductivity ash",
        ash_of_raw_sugar,
        solution.value,
        water.value,
        values["sample_mass"],
    )
    return [solution, water, ash]


def _above_water(given: Given) -> list[Remark]:
    if given["conductivity"] > given["water_conductivity"]:
        return []
    return [
        refusal(
            "conductivity",
            f"conductivity = {given['conductivity']:g} uS/cm is not above that of the water, "
            f"{given['water_conductivity']:g} uS/cm: check which reading is which, and whether one "
            "was in mS/cm.",
        )
    ]


ash_of_white_sugar_by_conductivity = Method(
    name="ash_of_white_sugar_by_conductivity",
    title="conductivity ash of white and plantation white sugar, 28 g in 100 g",
    analysis="ash",
    unit="%",
    classes=("sugar",),
    inputs=(replace(CONDUCTIVITY, near=(2.0, 300.0)), WATER_CONDUCTIVITY, TEMPERATURE, CELL),
    steps=_white,
    checks=(_above_water,),
    valid={"temperature": (15.0, 25.0)},
    default=True,
    source="is_15279",
    at="amendment 1 (2011), factor 6e-4; water correction from memory",
    known="read",
)
ash_by_conductivity = Method(
    name="ash_by_conductivity",
    title="conductivity ash of juice, syrup, massecuite and molasses",
    analysis="ash",
    unit="%",
    classes=("juice", "syrup", "massecuite", "molasses"),
    inputs=(
        CONDUCTIVITY,
        WATER_CONDUCTIVITY,
        mass(
            "sample_mass",
            "sample in 100 mL",
            0.05,
            6.0,
            default=5.0,
            near=(0.4, 5.1),
            bench="5 g in 100 mL for raw sugar; the factor is stated to 6 g.",
        ),
        TEMPERATURE,
        CELL,
    ),
    steps=_raw,
    checks=(_above_water,),
    valid={"sample_mass": (0.5, 6.0)},
    default=True,
    source="icumsa_conductivity_ash",
    at="raw method, 5 g in 100 mL, and its factor at other strengths",
    known="memory",
)
ash_of_raw_sugar_by_conductivity = replace(
    ash_by_conductivity,
    name="ash_of_raw_sugar_by_conductivity",
    title="conductivity ash of raw sugar, 5 g in 100 mL",
    classes=("sugar",),
    default=False,
)


def _cell(values: Mapping[str, Numeric]) -> list[Step]:
    return [step("factor of the cell", cell_factor, values["certified"], values["reading"])]


conductivity_cell = Method(
    name="conductivity_cell",
    title="check of the conductivity cell with potassium chloride at 20 degC",
    analysis="",
    unit="1",
    classes=(),
    inputs=(
        replace(CONDUCTIVITY, name="reading", label="reading at 20 degC", low=1.0, uncertainty=0.5),
        replace(
            CONDUCTIVITY,
            name="certified",
            label="conductivity of the standard at 20 degC",
            uncertainty=0.2,
            shared="conductivity standard",
            default=1278.0,
            low=1.0,
            unit_required=False,
            text="1278 uS/cm at 0.01 mol/L, 26.6 at 0.0002 mol/L.",
        ),
    ),
    steps=_cell,
    valid={"result": (0.9, 1.1)},
    source="icumsa_conductivity_ash",
    at="check of the cell",
    known="memory",
)
