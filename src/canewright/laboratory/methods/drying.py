"""Moisture and dry solids by drying, and ash by weighing: one dish weighed three times."""

from collections.abc import Mapping
from dataclasses import replace

from canewright.laboratory.ash import carbonated_ash
from canewright.laboratory.bench_readings import mass, must_rise
from canewright.laboratory.method import Check, Given, Method, RawInput, Remark, Step, step, warning
from canewright.laboratory.weighing import loss_on_drying, residue_percent
from canewright.ops import Numeric


def _dish(unit_uncertainty: float, high: float) -> tuple[RawInput, ...]:
    return (
        mass("dish", "empty dish", 0.5, high, uncertainty=unit_uncertainty),
        mass("dish_and_sample", "dish with the sample", 0.5, high, uncertainty=unit_uncertainty),
        mass("dish_and_dry", "dish with what is left", 0.5, high, uncertainty=unit_uncertainty),
    )


def _weights(values: Mapping[str, Numeric]) -> tuple[Numeric, Numeric, Numeric]:
    return values["dish"], values["dish_and_sample"], values["dish_and_dry"]


def _moisture(values: Mapping[str, Numeric]) -> list[Step]:
    return [step("loss on drying", loss_on_drying, *_weights(values))]


def _residue(values: Mapping[str, Numeric]) -> list[Step]:
    return [step("dry solids", residue_percent, *_weights(values))]


_ORDER = must_rise(
    ("dish", "dish_and_dry", "dish_and_sample"),
    "an empty dish is lightest and the dish with the moist sample heaviest. Check which dish it "
    "was, and whether two weights were exchanged.",
)


def _enough(least: float) -> Check:
    def check(given: Given) -> list[Remark]:
        weight = given["dish_and_sample"] - given["dish"]
        if weight <= 0 or weight >= least:
            return []
        return [
            warning(
                "dish_and_sample",
                f"Only {weight:.3g} g of sample were dried; mostly {least:g} g or more: check the "
                "weight of the dish.",
            )
        ]

    return check


def _method(
    name: str,
    title: str,
    classes: tuple[str, ...],
    least: float,
    scale: tuple[float, float],
    **more: object,
) -> Method:
    made = Method(
        name=name,
        title=title,
        analysis="moisture",
        unit="%",
        classes=classes,
        inputs=_dish(*scale),
        steps=_moisture,
        checks=(_ORDER, _enough(least)),
        cautions=("hot_oven",),
        default=True,
        source="common_practice",
        at="drying at 105 degC to constant mass",
        known="memory",
    )
    return replace(made, **more)  # type: ignore[arg-type]


moisture_of_bagasse = _method(
    "moisture_of_bagasse",
    "moisture of bagasse",
    ("bagasse",),
    50.0,
    (0.05, 20000.0),
    sampling=0.4,
    cautions=("hot_oven", "sampling"),
    source="wong_thesis",
    at="section 2.2.1.1: 105 degC to constant mass, weighed hot; 1 kg in hot air is from memory",
    text="Weigh hot, before it takes up water.",
)
moisture_of_cake = _method(
    "moisture_of_cake",
    "moisture of filter cake",
    ("cake",),
    20.0,
    (0.01, 5000.0),
    sampling=0.7,
    cautions=("hot_oven", "sampling"),
)
moisture_of_cane = _method(
    "moisture_of_cane",
    "moisture of prepared cane",
    ("cane",),
    50.0,
    (0.05, 20000.0),
    sampling=0.3,
    cautions=("hot_oven", "sampling"),
)
moisture_of_sugar = _method(
    "moisture_of_sugar",
    "moisture of sugar",
    ("sugar",),
    20.0,
    (0.0005, 1000.0),
    sampling=0.004,
    source="common_practice",
    at="20 to 30 g at 105 degC for 3 h, cooled in the desiccator, after the sugar method",
    text="It is the water of the film, not the 0.05 to 0.3 % locked in the crystal.",
)
dry_solids_by_drying = _method(
    "dry_solids_by_drying",
    "dry solids by drying",
    ("juice", "syrup", "massecuite", "molasses"),
    1.0,
    (0.0005, 1000.0),
    analysis="dry_solids",
    steps=_residue,
    sampling=0.2,
    at="thin layer on sand, vacuum oven, to constant mass",
    text="Dilute and spread on sand: a crust keeps water in. Fructose is lost above 70 degC.",
)


def _sulphated(values: Mapping[str, Numeric]) -> list[Step]:
    ash = step("sulphated ash", residue_percent, *_weights(values))
    carbonated = step("carbonated ash, for comparison", carbonated_ash, ash.value)
    return [carbonated, ash]


sulphated_ash = _method(
    "sulphated_ash",
    "sulphated ash by weighing",
    ("juice", "syrup", "massecuite", "molasses", "sugar"),
    2.0,
    (0.0005, 500.0),
    analysis="ash",
    default=False,
    steps=_sulphated,
    cautions=("acid", "hot_oven"),
    substitutes="Conductivity ash needs no acid and no furnace.",
    source="icumsa_conductivity_ash",
    at="weighed sulphate residue, compared there with carbonated ash",
    known="memory",
)
