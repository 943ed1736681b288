"""Sucrose by double polarisation: before and after inversion with acid (Clerget)."""

from collections.abc import Mapping
from dataclasses import replace

from canewright.laboratory.bench_readings import mass, rotation
from canewright.laboratory.method import Given, Method, RawInput, Remark, Step, refusal, step
from canewright.laboratory.polarimetry import pol_of_weighed_sample, sucrose_by_inversion
from canewright.ops import Numeric


def _steps(values: Mapping[str, Numeric]) -> list[Step]:
    direct = step(
        "direct reading to normal weight",
        pol_of_weighed_sample,
        values["direct"],
        values["direct_mass"],
    )
    inverted = step(
        "inverted reading to normal weight",
        pol_of_weighed_sample,
        values["inverted"],
        values["inverted_mass"],
    )
    sucrose = step(
        "apparent sucrose",
        sucrose_by_inversion,
        direct.value,
        inverted.value,
        values["solids"],
        values["temperature"],
    )
    return [direct, inverted, sucrose]


def _inverted_below(given: Given) -> list[Remark]:
    direct = given["direct"] / given["direct_mass"]
    if given["inverted"] / given["inverted_mass"] < direct:
        return []
    return [
        refusal(
            "inverted",
            f"inverted = {given['inverted']:g} degZ is not below the direct reading of "
            f"{given['direct']:g} degZ: check that the acid was added, and its strength and time.",
        )
    ]


def _not_above_100(given: Given) -> list[Remark]:
    if given["result"] <= 100.5:
        return []
    return [
        refusal(
            "direct",
            f"These readings give {given['result']:.2f} % sucrose, which cannot be: check both "
            "readings and both weights.",
        )
    ]


sucrose_by_double_polarisation = Method(
    name="sucrose_by_double_polarisation",
    title="sucrose by double polarisation (Clerget)",
    analysis="sucrose",
    unit="%",
    classes=("juice", "syrup", "massecuite", "molasses"),
    inputs=(
        replace(rotation(0.1), name="direct", label="reading before inversion"),
        replace(rotation(0.1), name="inverted", label="reading after inversion", near=(-40.0, 0.0)),
        mass("direct_mass", "sample in 100 mL of the direct solution", 0.5, 60.0),
        mass("inverted_mass", "sample in 100 mL of the inverted solution", 0.5, 60.0),
        RawInput(
            "solids",
            "dissolved solids in 100 mL of the inverted solution",
            "g",
            0.5,
            26.0,
            near=(2.0, 15.0),
            uncertainty=0.1,
            bench="Brix of the sample times the weight in 100 mL.",
        ),
        RawInput(
            "temperature",
            "temperature of the inverted solution in the tube",
            "degC",
            15.0,
            35.0,
            near=(18.0, 30.0),
            uncertainty=0.29,
            shape="rectangular",
            shared="polarimeter thermometer",
            bench="Measure in the tube: 1 K is 0.4 % of the sucrose.",
        ),
    ),
    steps=_steps,
    checks=(_inverted_below, _not_above_100),
    valid={"solids": (1.0, 26.0)},
    cautions=("acid", "lead"),
    substitutes="Sucrose by chromatography needs neither lead nor acid.",
    default=True,
    source="jackson_gillis",
    at="divisor 132.63 with terms of concentration and temperature",
    known="memory",
    text="Apparent in molasses: raffinose, kestoses and unknowns interfere [icumsa_clerget].",
)
