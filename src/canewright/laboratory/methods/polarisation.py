"""Pol of juice, syrup, massecuite, molasses and sugar by polarimeter."""

from collections.abc import Mapping
from dataclasses import replace

from canewright.laboratory.bench_readings import (
    FIXED_COMPOSITION,
    MADE_UP_AT_READING,
    MADE_UP_TO,
    REDUCING_SUGARS,
    SAMPLE_TAKEN,
    TUBE_TEMPERATURE,
    ZERO,
    brix_of_liquid,
    mass,
    rotation,
    tube,
)
from canewright.laboratory.method import (
    Given,
    Method,
    Precision,
    RawInput,
    Remark,
    Step,
    Steps,
    refusal,
    step,
)
from canewright.laboratory.polarimetry import (
    pol_at_20,
    pol_of_unweighed_juice,
    pol_of_weighed_sample,
    rotation_before_dilution,
    rotation_in_200_mm,
)
from canewright.ops import Numeric
from canewright.properties.rotation import schmitz_factor

PURE = 1.005
"""Pol over solids that errors of reading may show of pure sugar [instrument_judgement]."""

SAFER = (
    "Read without lead at 880 nm after filter aid (3.5 g per 150 mL), or clear with aluminium "
    "salts and lime, where the standard or contract allows it."
)
CAUTIONS = ("lead", "pol_is_not_sucrose", "store_the_clarifier")


def in_the_tube(values: Mapping[str, Numeric]) -> list[Step]:
    """Rotation less zero, in 200 mm, before the reagent."""
    in_200 = step(
        "rotation in the 200 mm tube",
        rotation_in_200_mm,
        values["rotation"],
        values["zero"],
        values["tube_length"],
    )
    if "made_up_to" not in values:
        return [in_200]
    before = step(
        "rotation before reagent",
        rotation_before_dilution,
        in_200.value,
        values["sample_taken"],
        values["made_up_to"],
    )
    return [in_200, before]


def at_20(name: str, pol: Numeric, values: Mapping[str, Numeric]) -> Step:
    """The line of the temperature correction, which is the result."""
    return step(
        name,
        pol_at_20,
        pol,
        values["temperature"],
        values["coefficient"],
        values["reducing_sugars"],
        note="P20 = Pt [1 + c (t - 20)/100] - 0.004 RS (t - 20)",
    )


def _of_juice(values: Mapping[str, Numeric]) -> list[Step]:
    lines = in_the_tube(values)
    factor = step("Schmitz factor", schmitz_factor, values["brix"])
    pol = step("pol as read", pol_of_unweighed_juice, lines[-1].value, values["brix"])
    return [*lines, factor, pol, at_20("pol of juice at 20 degC", pol.value, values)]


def _strength(given: Given) -> float:
    """What reagent or water left of the sample's strength."""
    return given["sample_taken"] / given["made_up_to"] if "made_up_to" in given else 1.0


def not_above_the_tube(given: Given) -> list[Remark]:
    """Refuse a rotation that not even pure sugar of this Brix would give."""
    brix, length = given["brix"], given["tube_length"]
    if brix <= 0:
        return [refusal("brix", "brix is nought: read the refractometer again.")]
    highest = brix / schmitz_factor(brix) * length / 200
    highest *= _strength(given)
    if given["rotation"] - given["zero"] <= PURE * highest:
        return []
    return [
        refusal(
            "rotation",
            f"rotation = {given['rotation']:g} degZ is above what a {length:g} mm tube allows at "
            f"{brix:g} Brix, {highest:.2f} degZ for pure sucrose: the pol would be above the "
            "Brix. Check the tube's length, the dilution, and the refractometer reading.",
        )
    ]


def dilution_only(given: Given) -> list[Remark]:
    """Refuse a flask made up to less than went in, or only one of its two marks."""
    marks = ("sample_taken", "made_up_to")
    if not any(name in given for name in marks):
        return []
    for name, other in (marks, marks[::-1]):
        if name not in given:
            return [refusal(name, f"{name} is missing beside {other}: read the flask's marks.")]
    if given["made_up_to"] >= given["sample_taken"]:
        return []
    return [
        refusal(
            "made_up_to",
            f"made_up_to = {given['made_up_to']:g} mL is less than sample_taken = "
            f"{given['sample_taken']:g} mL: check the flask's two marks.",
        )
    ]


pol_of_juice = Method(
    name="pol_of_juice",
    title="pol of juice, unweighed, by Schmitz's table",
    analysis="pol",
    unit="%",
    classes=("juice",),
    inputs=(
        rotation(0.12, near=(3.0, 95.0)),
        brix_of_liquid((1.0, 25.0), 0.05, "Brix of the liquid in the tube"),
        ZERO,
        tube(),
        SAMPLE_TAKEN,
        MADE_UP_TO,
        TUBE_TEMPERATURE,
        FIXED_COMPOSITION,
        REDUCING_SUGARS,
    ),
    steps=_of_juice,
    checks=(not_above_the_tube, dilution_only),
    valid={"brix": (0.0, 70.0)},
    cautions=CAUTIONS,
    substitutes=SAFER,
    default=True,
    source="laboratory_schmitz",
    at="table for the pol of unweighed juice",
    known="memory",
    text="Brix before or after clarifying is a convention: 0.1 Brix is 0.04 % of the pol.",
)


def _weighed(name: str) -> Steps:
    def steps(values: Mapping[str, Numeric]) -> list[Step]:
        lines = in_the_tube(values)
        pol = step("pol as read", pol_of_weighed_sample, lines[-1].value, values["sample_mass"])
        return [*lines, pol, at_20(name, pol.value, values)]

    return steps


def _not_above_pure(given: Given) -> list[Remark]:
    """Refuse a rotation above that of pure sugar of this weight."""
    length = given["tube_length"]
    highest = 100 * given["sample_mass"] / 26 * length / 200
    highest *= _strength(given)
    if given["rotation"] - given["zero"] <= PURE * highest:
        return []
    return [
        refusal(
            "rotation",
            f"rotation = {given['rotation']:g} degZ is above what a {length:g} mm tube allows for "
            f"{given['sample_mass']:g} g in 100 mL, {highest:.2f} degZ for pure sucrose. Check "
            "the tube's length, the weight taken, and the flask.",
        )
    ]


def _pol_below_brix(given: Given) -> list[Remark]:
    """Refuse a pol above the Brix of the same sample."""
    brix, pol = given["brix"], given["result"]
    if pol <= PURE * brix:
        return []
    return [
        refusal(
            "brix",
            f"brix = {brix:g} is below the pol of {pol:.2f}, which cannot be: check rotation, "
            "sample_mass and the refractometer reading.",
        )
    ]


def _sample_mass(default: float, near: tuple[float, float]) -> RawInput:
    return mass(
        "sample_mass",
        "sample in 100 mL of the flask",
        0.1,
        60.0,
        default=None,
        near=near,
        uncertainty=0.005,
        bench=f"Usually {default:g} g in 100 mL: look at the balance and the flask's volume.",
    )


def _method(
    name: str,
    title: str,
    classes: tuple[str, ...],
    usual_mass: float,
    rotation_input: RawInput,
    sampling: float,
    text: str,
    cautions: tuple[str, ...] = CAUTIONS,
) -> Method:
    brix = replace(
        brix_of_liquid((0.0, 101.0), 0.0, "Brix of the sample, to be compared"),
        high=105.0,
        optional=True,
    )
    return Method(
        name=name,
        title=title,
        analysis="pol",
        unit="%",
        classes=classes,
        inputs=(
            rotation_input,
            _sample_mass(usual_mass, (usual_mass / 4, 27.0)),
            ZERO,
            tube(),
            SAMPLE_TAKEN,
            MADE_UP_TO,
            TUBE_TEMPERATURE,
            MADE_UP_AT_READING,
            REDUCING_SUGARS,
            brix,
        ),
        steps=_weighed(f"{title.split(',')[0]} at 20 degC"),
        checks=(_not_above_pure, dilution_only, _pol_below_brix),
        sampling=sampling,
        cautions=cautions,
        substitutes=SAFER if "lead" in cautions else "",
        default=True,
        source="icumsa_scale",
        at="proportion to the normal weight, 26.000 g in 100 mL",
        known="derived",
        text=text,
    )


pol_of_syrup = _method(
    "pol_of_syrup",
    "pol of syrup, weighed",
    ("syrup",),
    26.0,
    rotation(0.1, near=(10.0, 75.0)),
    0.0,
    "Weigh, make to volume and read at one temperature.",
)
pol_of_massecuite = _method(
    "pol_of_massecuite",
    "pol of massecuite, weighed",
    ("massecuite",),
    13.0,
    rotation(0.1, near=(5.0, 90.0)),
    0.2,
    "Dissolve every crystal before making to volume. Sampling and mixing add 0.2.",
)
pol_of_molasses = _method(
    "pol_of_molasses",
    "pol of molasses, weighed",
    ("molasses",),
    13.0,
    rotation(0.1, near=(2.0, 40.0)),
    0.0,
    "Glucose 6 and fructose 8 % leave the sucrose 6.46 above the pol.",
)


def _sugar(
    name: str, title: str, near: tuple[float, float], precision: Precision, **more: object
) -> Method:
    cautions = ("store_the_clarifier",)
    made = _method(name, title, ("sugar",), 26.0, rotation(0.03, near=near), 0.0, "", cautions)
    inputs = tuple(raw for raw in made.inputs if raw.name not in ("brix", "sample_mass"))
    weight = mass(
        "sample_mass", "sugar in 100 mL", 1.0, 60.0, default=26.0, near=(25.9, 26.1),
        uncertainty=0.002, bench="The normal weight is 26.000 g in 100 mL.",
    )  # fmt: skip
    inputs = (inputs[0], weight, *inputs[1:])
    return replace(made, inputs=inputs, precision=precision, **more)  # type: ignore[arg-type]


pol_of_white_sugar = _sugar(
    "pol_of_white_sugar",
    "pol of white sugar",
    (99.0, 100.1),
    Precision.of_limits(
        0.066, 0.094, source="icumsa_gs2_1", at="abstract, visible light", low=99.0, high=100.5
    ),
    default=False,
    source="icumsa_gs2_1",
    at="normal weight in 100 mL, read at 589 nm",
    known="memory",
    text="",
)
pol_of_raw_sugar = _sugar(
    "pol_of_raw_sugar",
    "pol of raw sugar",
    (95.0, 100.1),
    Precision.of_limits(
        0.16, 0.27, source="icumsa_gs1_2", at="abstract, 880 nm without lead", low=97.5, high=99.9
    ),
    default=True,
    cautions=("lead", "store_the_clarifier"),
    substitutes=SAFER,
    source="icumsa_gs1_2",
    at="normal weight in 100 mL, filter aid, read at 880 nm",
    known="memory",
    text="The precision is that of near-infrared light without lead.",
)
