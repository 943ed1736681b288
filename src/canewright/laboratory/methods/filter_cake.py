"""Pol of filter cake."""

from collections.abc import Mapping

from canewright.laboratory.bench_readings import ZERO, mass, rotation, tube
from canewright.laboratory.method import (
    Given,
    Method,
    RawInput,
    Remark,
    Step,
    refusal,
    step,
)
from canewright.laboratory.polarimetry import (
    insoluble_volume,
    pol_of_filter_cake,
    rotation_in_200_mm,
)
from canewright.ops import Numeric


def _steps(values: Mapping[str, Numeric]) -> list[Step]:
    in_200 = step(
        "rotation in the 200 mm tube",
        rotation_in_200_mm,
        values["rotation"],
        values["zero"],
        values["tube_length"],
    )
    room = step(
        "volume of insolubles",
        insoluble_volume,
        values["sample_mass"],
        values["insoluble_solids"],
        values["insoluble_density"],
    )
    pol = step(
        "pol of filter cake",
        pol_of_filter_cake,
        in_200.value,
        values["sample_mass"],
        values["flask_volume"],
        room.value,
    )
    return [in_200, room, pol]


def _possible(given: Given) -> list[Remark]:
    if given["result"] <= 100 - given["insoluble_solids"]:
        return []
    return [
        refusal(
            "rotation",
            f"rotation = {given['rotation']:g} degZ gives a pol of {given['result']:.1f} %, more "
            "than what is not insoluble: check the tube's length, the weight and the flask.",
        )
    ]


pol_of_cake = Method(
    name="pol_of_cake",
    title="pol of filter cake",
    analysis="pol",
    unit="%",
    classes=("cake",),
    inputs=(
        rotation(0.1, near=(0.3, 6.0)),
        mass("sample_mass", "cake in the flask", 1.0, 500.0, default=25.0, uncertainty=0.02),
        RawInput(
            "flask_volume",
            "volume of the flask",
            "mL",
            10.0,
            2000.0,
            uncertainty=0.05,
            relative=True,
            shared="flasks",
            default=100.0,
            bench="Read the flask's mark.",
        ),
        RawInput(
            "insoluble_solids",
            "insoluble solids of the cake",
            "%",
            0.0,
            60.0,
            near=(12.0, 35.0),
            uncertainty=3.0,
            default=25.0,
            takes="insoluble_solids",
            bench="Check the drying of the cake.",
            text="3 % more of them move the pol by 0.4 % of itself.",
        ),
        RawInput(
            "insoluble_density",
            "density of the insolubles",
            "g/mL",
            1.2,
            3.0,
            near=(1.5, 2.5),
            uncertainty=0.2,
            shared="density of the cake's insolubles",
            default=2.0,
            bench="It is assumed, not measured.",
        ),
        ZERO,
        tube(),
    ),
    steps=_steps,
    checks=(_possible,),
    sampling=0.1,
    cautions=("lead", "sampling", "pol_is_not_sucrose"),
    substitutes="Clear with aluminium salts and lime, or filter aid alone at 880 nm.",
    default=True,
    source="own_derivation",
    at="25 g to 100 mL of which insolubles take a part",
    known="derived",
    text="25 g in 100 mL, or 50 g in 200 mL, may be read directly: the factor is 1.0075.",
)
