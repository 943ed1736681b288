"""Reducing sugars by titration of boiling copper solution."""

from collections.abc import Mapping

from canewright.laboratory.bench_readings import mass, titre
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
from canewright.laboratory.reducing_sugars import (
    copper_factor,
    invert_replaced,
    percent_of_aliquot,
    reducing_sugars_percent,
)
from canewright.ops import Numeric

STANDARDISATION = RawInput(
    "standardisation",
    "copper solution's strength against invert sugar",
    "%",
    90.0,
    110.0,
    near=(98.0, 102.0),
    uncertainty=0.5,
    shared="copper solution",
    default=100.0,
    bench="Standardise the copper solution again with invert sugar.",
    reminder="standardisation was not given and is taken as 100 %: an old copper solution is one "
    "of the silent errors. Standardise it with invert sugar.",
    text="% of the theoretical factor.",
)


def _steps(values: Mapping[str, Numeric]) -> list[Step]:
    if "table_factor" in values:
        note = "from a table of one's own"
        factor = Step("factor of the table", values["table_factor"], "mg", "common_practice", note)
    else:
        factor = step("factor of the table", copper_factor, values["titre"], values["sucrose"])
    true = Step(
        "factor of this solution",
        factor.value * values["standardisation"] / 100,
        "mg",
        "own_derivation",
        "f x standardisation/100",
    )
    result = step(
        "reducing sugars",
        reducing_sugars_percent,
        true.value,
        values["titre"],
        values["sample_mass"],
    )
    return [factor, true, result]


reducing_sugars = Method(
    name="reducing_sugars",
    title="reducing sugars by titration (Lane and Eynon)",
    analysis="reducing_sugars",
    unit="%",
    classes=("juice", "syrup", "massecuite", "molasses", "sugar"),
    inputs=(
        RawInput(
            "titre",
            "sample solution used",
            "mL",
            15.0,
            50.0,
            near=(20.0, 45.0),
            uncertainty=0.05,
            bench="The factor table goes from 15 to 50 mL: below, dilute the sample; above, take "
            "more of it. Read the burette again.",
        ),
        mass("sample_mass", "sample in 100 mL", 0.05, 60.0, uncertainty=0.005),
        RawInput(
            "sucrose",
            "sucrose in 100 mL of the sample solution",
            "g",
            0.0,
            1.0,
            uncertainty=0.03,
            default=0.0,
            bench="Above 1 g the factor falls in a way this table does not hold: dilute the "
            "sample, or standardise with invert in the same sucrose and take the method "
            "reducing_sugars_by_own_factor.",
            text="Pol of the sample times the weight in 100 mL, over 100.",
        ),
        STANDARDISATION,
        RawInput(
            "table_factor",
            "factor from a table of one's own",
            "mg",
            30.0,
            60.0,
            optional=True,
            bench="Look it up again, in the row of the titre and the column of the sucrose.",
            text="In place of the method's own table.",
        ),
    ),
    steps=_steps,
    cautions=("copper_soda",),
    default=True,
    source="lane_eynon1923",
    at="table of factors for 10 mL of mixed copper solution",
    known="memory",
    text="Calcium interferes: add EDTA to cane liquors.",
)


def _own_factor(values: Mapping[str, Numeric]) -> list[Step]:
    return [
        step(
            "reducing sugars",
            reducing_sugars_percent,
            values["factor"],
            values["titre"],
            values["sample_mass"],
        )
    ]


reducing_sugars_by_own_factor = Method(
    name="reducing_sugars_by_own_factor",
    title="reducing sugars by titration, factor of the laboratory's own table",
    analysis="reducing_sugars",
    unit="%",
    classes=("juice", "syrup", "massecuite", "molasses", "sugar"),
    inputs=(
        titre("titre", "sample solution used", 60.0, low=10.0, near=(15.0, 50.0)),
        RawInput(
            "factor",
            "invert sugar that the copper solution stands for",
            "mg",
            30.0,
            60.0,
            near=(43.0, 53.0),
            uncertainty=0.3,
            shared="copper solution",
            bench="Look up the printed table at this titre and sucrose, or standardise with invert "
            "in the same sucrose.",
        ),
        mass("sample_mass", "sample in 100 mL", 0.05, 60.0, uncertainty=0.005),
    ),
    steps=_own_factor,
    cautions=("copper_soda",),
    source="own_derivation",
    at="invert in the titre over sample in it",
    known="derived",
)


def _constant_volume(values: Mapping[str, Numeric]) -> list[Step]:
    found = step(
        "reducing sugars in the aliquot",
        invert_replaced,
        values["blank_titre"],
        values["titre"],
    )
    left = Step(
        "less what the sucrose reduces",
        found.value - values["sucrose_correction"],
        "mg",
        "own_derivation",
        "of the laboratory's own table",
    )
    result = step(
        "reducing sugars",
        percent_of_aliquot,
        left.value,
        values["aliquot"],
        values["sample_mass"],
    )
    return [found, left, result]


def _titre_below_blank(given: Given) -> list[Remark]:
    blank, used = given["blank_titre"], given["titre"]
    if used >= blank:
        return [
            refusal(
                "titre",
                f"titre = {used:g} mL is not below blank_titre = {blank:g} mL: the sample must "
                "replace part of the invert solution. Check which flask was which.",
            )
        ]
    if 39.0 <= blank <= 41.0:
        return []
    return [
        warning(
            "blank_titre",
            f"blank_titre = {blank:g} mL is outside 39 to 41 mL [directive_79_796_eec]: the copper "
            "solution or the 0.25 % invert solution is old; make it anew.",
        )
    ]


reducing_sugars_constant_volume = Method(
    name="reducing_sugars_constant_volume",
    title="reducing sugars by titration at constant volume",
    analysis="reducing_sugars",
    unit="%",
    classes=("juice", "syrup", "massecuite", "molasses", "sugar"),
    inputs=(
        titre("blank_titre", "0.25 % invert solution without sample", 60.0, low=20.0),
        titre("titre", "0.25 % invert solution with sample", 60.0, near=(1.0, 38.0)),
        RawInput(
            "aliquot",
            "sample solution in the flask",
            "mL",
            1.0,
            100.0,
            uncertainty=0.03,
            default=25.0,
            bench="Read the pipette's mark.",
        ),
        mass("sample_mass", "sample in 100 mL", 0.05, 60.0, uncertainty=0.005),
        RawInput(
            "sucrose_correction",
            "what the sucrose in the aliquot reduces",
            "mg",
            0.0,
            30.0,
            uncertainty=0.3,
            default=0.0,
            bench="Take it from the laboratory's own table.",
        ),
    ),
    steps=_constant_volume,
    checks=(_titre_below_blank,),
    cautions=("copper_soda",),
    source="directive_79_796_eec",
    at="method 7, blank of 39 to 41 mL; 2.5 mg per mL of 0.25 % invert",
    known="read",
    text="About 2 g of molasses or 40 g of raw sugar in 100 mL.",
)
