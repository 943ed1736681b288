"""Sulphur dioxide in juice, syrup and sugar."""

from collections.abc import Mapping
from dataclasses import replace

from canewright.laboratory.bench_readings import absorbance, brix_of_liquid, mass, normality, titre
from canewright.laboratory.method import (
    Given,
    Method,
    RawInput,
    Remark,
    Step,
    refusal,
    step,
    warning,
)
from canewright.laboratory.titration import by_calibration_line, per_kilogram, sulphur_dioxide
from canewright.ops import Numeric
from canewright.properties.density import density

IODINE = normality("normality", "normality of the iodine", None)
BLANK = titre(
    "blank_titre",
    "iodine for the blank, sulphite bound or oxidised",
    50.0,
    default=0.0,
    uncertainty=0.03,
)


def of_volume(brix: RawInput, high: float = 50.0) -> tuple[RawInput, ...]:
    """Raw readings of a titration of a measured volume."""
    return (
        titre("titre", "iodine used", high, near=(0.5, 40.0), uncertainty=0.05),
        IODINE,
        RawInput(
            "sample_volume",
            "sample titrated",
            "mL",
            0.5,
            1000.0,
            uncertainty=0.02,
            bench="Read the pipette's mark.",
        ),
        BLANK,
        brix,
    )


def _per_litre(values: Mapping[str, Numeric]) -> list[Step]:
    content = step(
        "SO2 by volume",
        sulphur_dioxide,
        values["titre"],
        values["blank_titre"],
        values["normality"],
        values["sample_volume"],
    )
    content = replace(content, unit="mg/L")
    weight = step("density of the sample", density, values["brix"], 20.0, note="SPS-4 at 20 degC")
    return [content, weight, step("SO2 by mass", per_kilogram, content.value, weight.value)]


def _blank_below(given: Given) -> list[Remark]:
    if given["titre"] < given["blank_titre"]:
        return [
            refusal(
                "blank_titre",
                f"blank_titre = {given['blank_titre']:g} mL is above titre = {given['titre']:g} "
                "mL: check which flask was the blank.",
            )
        ]
    if given["blank_titre"] > 0:
        return []
    return [
        warning(
            "blank_titre",
            "blank_titre is nought: other reducing matter is read as SO2. Titrate a second portion "
            "after hydrogen peroxide.",
        )
    ]


sulphur_dioxide_in_juice = Method(
    name="sulphur_dioxide_in_juice",
    title="SO2 in juice or syrup by titration with iodine",
    analysis="sulphite",
    unit="mg/kg",
    classes=("juice", "syrup"),
    inputs=of_volume(brix_of_liquid((4.0, 70.0), 0.1, "Brix of the sample")),
    steps=_per_litre,
    checks=(_blank_below,),
    usual={"sulphur_dioxide_per_litre": "SO2 by volume"},
    cautions=("sulphur_dioxide", "acid", "formaldehyde"),
    default=True,
    source="iodine_titration",
    at="cold, quickly, acidified, starch; blank with hydrogen peroxide",
    known="memory",
    text="Bound SO2 is set free only by alkali.",
)


def _of_sugar(values: Mapping[str, Numeric]) -> list[Step]:
    content = step(
        "SO2",
        sulphur_dioxide,
        values["titre"],
        values["blank_titre"],
        values["normality"],
        values["sample_mass"],
    )
    return [replace(content, unit="mg/kg")]


sulphur_dioxide_in_sugar = Method(
    name="sulphur_dioxide_in_sugar",
    title="SO2 in sugar by titration with iodine",
    analysis="sulphite",
    unit="mg/kg",
    classes=("sugar",),
    inputs=(
        titre("titre", "iodine used", 50.0, near=(0.3, 30.0), uncertainty=0.03),
        IODINE,
        mass("sample_mass", "sugar dissolved", 1.0, 500.0, near=(20.0, 100.0), uncertainty=0.01),
        BLANK,
    ),
    steps=_of_sugar,
    checks=(_blank_below,),
    sampling=1.0,
    cautions=("sulphur_dioxide", "acid", "formaldehyde", "sulphite_on_labels"),
    default=True,
    source="iodine_titration",
    at="cold, quickly, acidified, starch; blank with hydrogen peroxide",
    known="memory",
)


def _rosaniline(values: Mapping[str, Numeric]) -> list[Step]:
    line = (values["absorbance"], values["blank_absorbance"], values["slope"], values["dilution"])
    return [replace(step("SO2", by_calibration_line, *line), unit="mg/kg")]


sulphur_dioxide_in_sugar_by_rosaniline = Method(
    name="sulphur_dioxide_in_sugar_by_rosaniline",
    title="SO2 in sugar by rosaniline colour at 560 nm",
    analysis="sulphite",
    unit="mg/kg",
    classes=("sugar",),
    inputs=(
        absorbance(),
        absorbance("blank_absorbance", "absorbance of the blank", default=0.0),
        RawInput(
            "slope",
            "slope of the laboratory's calibration line, per mg/kg",
            "1",
            1e-5,
            10.0,
            uncertainty=2.0,
            relative=True,
            shared="rosaniline calibration line",
            bench="Take it from the line in sulphite-free sugar, with its date.",
        ),
        RawInput(
            "dilution",
            "dilution beyond that of the line",
            "1",
            0.1,
            1000.0,
            default=1.0,
            bench="Look up how much was taken.",
        ),
    ),
    steps=_rosaniline,
    cautions=("rosaniline", "sulphite_on_labels"),
    substitutes="Titration with iodine avoids rosaniline, where standard or contract allows it.",
    source="rosaniline_method",
    at="560 nm, formaldehyde, calibration line in sulphite-free sugar",
    known="memory",
)
