"""Net weight of bags."""

from collections.abc import Mapping

from canewright.laboratory.bench_readings import must_rise
from canewright.laboratory.method import Given, Method, RawInput, Remark, Step, step, warning
from canewright.laboratory.weighing import giveaway, net_weight
from canewright.ops import Numeric


def _steps(values: Mapping[str, Numeric]) -> list[Step]:
    net = step("net weight", net_weight, values["gross"], values["tare"])
    if "label" not in values:
        return [net]
    return [step("above the label", giveaway, net.value, values["label"]), net]


def _usual_fill(given: Given) -> list[Remark]:
    excess = 100 * (given["gross"] - given["tare"] - given["label"]) / given["label"]
    if -1.0 <= excess <= 1.0:
        return []
    return [
        warning(
            "gross",
            f"The bag holds {excess:+.2f} % against its label: check the tare, the unit and the "
            "label before the scale is blamed.",
        )
    ]


def _weight(name: str, label: str, low: float, **more: float) -> RawInput:
    return RawInput(
        name,
        label,
        "kg",
        low,
        3000.0,
        uncertainty=0.05 if name == "gross" else 0.5,
        relative=True,
        unit_required=True,
        default=more.get("default"),
        bench="Look at the scale's zero and unit, and weigh again.",
    )


bag_net_weight = Method(
    name="bag_net_weight",
    title="net weight of a bag",
    analysis="",
    unit="kg",
    classes=("bags", "sugar"),
    inputs=(
        _weight("gross", "bag filled", 0.05),
        _weight("tare", "empty bag, its liner and thread", 0.0),
        RawInput(
            "label",
            "weight on the label",
            "kg",
            0.05,
            3000.0,
            optional=True,
            unit_required=True,
            bench="Read the label.",
        ),
    ),
    steps=_steps,
    checks=(must_rise(("tare", "gross"), "an empty bag is lighter: exchange them."), _usual_fill),
    source="own_derivation",
    at="gross less tare",
    known="derived",
    text="Weigh ten empty bags together for the tare.",
)
