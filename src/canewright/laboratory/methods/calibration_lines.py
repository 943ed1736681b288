"""Phosphate, starch and dextran: contents read from the laboratory's own calibration line."""

from collections.abc import Mapping
from dataclasses import replace

from canewright.laboratory.bench_readings import absorbance, brix_of_liquid
from canewright.laboratory.method import Given, Method, RawInput, Remark, Step, refusal, step
from canewright.laboratory.polarimetry import pol_of_dextran
from canewright.laboratory.titration import (
    by_calibration_line,
    per_kilogram,
    phosphate_of_phosphorus,
)
from canewright.ops import Numeric
from canewright.properties.density import density


def line(what: str, per: str) -> tuple[RawInput, ...]:
    """Raw readings of an absorbance on a calibration line."""
    return (
        absorbance(),
        RawInput(
            "slope",
            f"slope of the laboratory's calibration line, per {per}",
            "1",
            1e-6,
            10.0,
            uncertainty=2.0,
            relative=True,
            shared=f"{what} calibration line",
            bench="Take it from the line of the method, with its date.",
        ),
        absorbance("blank_absorbance", "absorbance of the blank", default=0.0),
        RawInput(
            "dilution",
            "dilution beyond that of the line",
            "1",
            0.1,
            1e5,
            uncertainty=0.3,
            relative=True,
            default=1.0,
            bench="Look up how much was taken.",
        ),
    )


def read(values: Mapping[str, Numeric], name: str, unit: str) -> Step:
    """The line of a content read from a calibration line."""
    arguments = (
        values["absorbance"],
        values["blank_absorbance"],
        values["slope"],
        values["dilution"],
    )
    return replace(step(name, by_calibration_line, *arguments), unit=unit)


def above_blank(given: Given) -> list[Remark]:
    """Refuse an absorbance below that of the blank."""
    if given["absorbance"] >= given["blank_absorbance"]:
        return []
    return [
        refusal(
            "absorbance",
            f"absorbance = {given['absorbance']:g} is below blank_absorbance = "
            f"{given['blank_absorbance']:g}: check which cell was the blank.",
        )
    ]


def _phosphate(values: Mapping[str, Numeric]) -> list[Step]:
    phosphorus = read(values, "phosphorus by the line", "mg/L")
    phosphate = step("phosphate as P2O5", phosphate_of_phosphorus, phosphorus.value)
    weight = step("density of the juice", density, values["brix"], 20.0, note="SPS-4 at 20 degC")
    by_mass = step("phosphate by mass", per_kilogram, phosphate.value, weight.value)
    return [phosphorus, phosphate, weight, by_mass]


phosphate = Method(
    name="phosphate",
    title="phosphate in juice as P2O5, by molybdenum blue",
    analysis="phosphate",
    unit="mg/kg",
    classes=("juice", "syrup"),
    inputs=(
        *line("phosphate", "mg phosphorus per litre"),
        brix_of_liquid((4.0, 70.0), 0.1, "Brix of the sample"),
    ),
    steps=_phosphate,
    checks=(above_blank,),
    usual={"phosphate_per_litre": "phosphate as P2O5"},
    cautions=("acid",),
    default=True,
    source="molybdenum_blue",
    at="calibration line in mg phosphorus per litre",
    known="memory",
    text="Mixed juice should hold more than 300 mg P2O5/L to clarify well.",
)


def _starch(values: Mapping[str, Numeric]) -> list[Step]:
    return [read(values, "starch", "mg/kg")]


starch = Method(
    name="starch",
    title="starch by iodine blue, 600 to 700 nm",
    analysis="",
    unit="mg/kg",
    classes=("sugar", "juice"),
    inputs=line("starch", "mg/kg"),
    steps=_starch,
    checks=(above_blank,),
    valid={"result": (0.0, 1000.0)},
    cautions=("acid",),
    source="icumsa_starch",
    at="methods below 300 and from 300 to 1000 mg/kg differ",
    known="memory",
)


def _dextran(values: Mapping[str, Numeric]) -> list[Step]:
    found = read(values, "dextran", "mg/kg")
    return [step("pol that it adds", pol_of_dextran, found.value), found]


dextran = Method(
    name="dextran",
    title="dextran by alcohol haze at 720 nm",
    analysis="",
    unit="mg/kg",
    classes=("sugar", "juice", "syrup", "molasses"),
    inputs=line("dextran", "mg/kg"),
    steps=_dextran,
    checks=(above_blank,),
    cautions=("alcohol", "trichloroacetic_acid"),
    source="haze_method_description",
    at="after amylase and trichloroacetic acid; 5 mL filtrate, 5 mL ethanol, two minutes",
    known="read",
)
