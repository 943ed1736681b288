"""Lime salts, alkalinity and milk of lime."""

from collections.abc import Mapping
from dataclasses import replace

from canewright.laboratory.bench_readings import brix_of_liquid, normality, titre
from canewright.laboratory.method import Method, RawInput, Step, rectangular, step
from canewright.laboratory.titration import alkalinity, lime_salts, per_kilogram
from canewright.ops import Numeric
from canewright.properties.density import density
from canewright.properties.milk_of_lime import calcium_oxide_percent, strength

ALIQUOT = RawInput(
    "aliquot",
    "sample titrated",
    "mL",
    0.5,
    1000.0,
    near=(5.0, 200.0),
    uncertainty=0.02,
    bench="Read the pipette's mark.",
)
BRIX = brix_of_liquid((4.0, 70.0), 0.1, "Brix of the sample")


def _by_mass(by_volume: Step, values: Mapping[str, Numeric]) -> list[Step]:
    weight = step("density of the sample", density, values["brix"], 20.0, note="SPS-4 at 20 degC")
    return [by_volume, weight, step("CaO by mass", per_kilogram, by_volume.value, weight.value)]


def _lime_salts(values: Mapping[str, Numeric]) -> list[Step]:
    arguments = values["titre"], values["concentration"], values["aliquot"]
    return _by_mass(step("CaO by volume", lime_salts, *arguments), values)


lime_salts_of_juice = Method(
    name="lime_salts",
    title="lime salts as CaO by titration with EDTA",
    analysis="lime",
    unit="mg/kg",
    classes=("juice", "syrup"),
    inputs=(
        titre("titre", "EDTA used", 50.0, near=(1.0, 40.0)),
        normality("concentration", "concentration of the EDTA", 0.01),
        ALIQUOT,
        BRIX,
    ),
    steps=_lime_salts,
    usual={"lime_per_litre": "CaO by volume"},
    default=True,
    source="own_derivation",
    at="molar mass of CaO per mole of EDTA",
    known="derived",
    text="Magnesium is titrated with it.",
)


def _alkalinity(values: Mapping[str, Numeric]) -> list[Step]:
    arguments = values["titre"], values["normality"], values["aliquot"]
    return [step("alkalinity as CaO", alkalinity, *arguments)]


alkalinity_of_juice = Method(
    name="alkalinity",
    title="alkalinity as CaO by titration with acid",
    analysis="",
    unit="mg/L",
    classes=("juice",),
    inputs=(
        titre("titre", "acid used", 50.0, near=(0.5, 40.0)),
        normality("normality", "normality of the acid", None),
        ALIQUOT,
    ),
    steps=_alkalinity,
    cautions=("acid",),
    source="own_derivation",
    at="half of the molar mass of CaO per equivalent of acid",
    known="derived",
)


def _milk(values: Mapping[str, Numeric]) -> list[Step]:
    by_volume = step("CaO by volume", strength, values["baume"])
    by_mass = step("CaO by mass", calcium_oxide_percent, values["baume"])
    return [by_mass, by_volume]


milk_of_lime = Method(
    name="milk_of_lime",
    title="milk of lime: CaO from degrees Baume",
    analysis="",
    unit="g/L",
    classes=("milk of lime",),
    inputs=(
        RawInput(
            "baume",
            "spindle reading in degrees Baume",
            "degBe",
            0.0,
            25.0,
            near=(6.0, 20.0),
            uncertainty=rectangular(0.3),
            shape="rectangular",
            bench="Stir, read at once before the lime settles; the table ends at 25.",
        ),
    ),
    steps=_milk,
    sampling=3.0,
    valid={"baume": (0.0, 25.0)},
    cautions=("lime",),
    source="blatner",
    at="straight line through the table of technical lime",
    known="memory",
    text="The table is for technical lime with its grit; the lime decides: titrate.",
)
milk_of_lime_by_titration = replace(
    alkalinity_of_juice,
    name="milk_of_lime_by_titration",
    title="milk of lime: CaO by titration with acid",
    classes=("milk of lime",),
    inputs=(
        titre("titre", "acid used", 100.0, near=(5.0, 90.0)),
        normality("normality", "normality of the acid", None),
        replace(ALIQUOT, low=0.1, near=(0.5, 50.0), label="milk of lime titrated"),
    ),
    cautions=("lime", "acid"),
)
