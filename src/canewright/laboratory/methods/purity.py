"""Purities, each with its kind in the name."""

from collections.abc import Mapping
from dataclasses import replace

from canewright.laboratory.method import Check, Given, Method, RawInput, Remark, Step, refusal, step
from canewright.laboratory.weighing import purity
from canewright.ops import Numeric


def _input(name: str, label: str, uncertainty: float) -> RawInput:
    return RawInput(
        name,
        label,
        "%",
        0.0,
        105.0,
        uncertainty=uncertainty,
        takes=name if name in ("pol", "brix", "sucrose", "dry_solids") else "",
        bench="Check the analysis it comes from.",
    )


def _not_above(sugar: str, solids: str) -> Check:
    def check(given: Given) -> list[Remark]:
        if given[solids] <= 0:
            return [refusal(solids, f"{solids} is nought: there is no purity without solids.")]
        if given[sugar] <= 1.005 * given[solids]:
            return []
        return [
            refusal(
                solids,
                f"{solids} = {given[solids]:g} % is below {sugar} = {given[sugar]:g} %, which "
                "cannot be: check the rotation and its tube, the dilution and the refractometer, "
                "and whether the bottles were exchanged.",
            )
        ]

    return check


def _method(name: str, title: str, sugar: RawInput, solids: RawInput, **more: object) -> Method:
    def steps(values: Mapping[str, Numeric]) -> list[Step]:
        return [step(title, purity, values[sugar.name], values[solids.name])]

    made = Method(
        name=name,
        title=title,
        analysis="",
        unit="%",
        classes=("juice", "syrup", "massecuite", "molasses"),
        inputs=(sugar, solids),
        steps=steps,
        checks=(_not_above(sugar.name, solids.name),),
        valid={"result": (5.0, 100.5)},
        cautions=("purity_kinds",),
        source="purity_definitions",
        at=title,
        known="memory",
    )
    return replace(made, **more)  # type: ignore[arg-type]


apparent_purity = _method(
    "apparent_purity",
    "apparent purity",
    _input("pol", "pol", 0.03),
    _input("brix", "refractometer Brix", 0.05),
    analysis="apparent_purity",
    default=True,
    cautions=("purity_kinds", "pol_is_not_sucrose"),
)
gravity_purity = _method(
    "gravity_purity",
    "gravity purity",
    _input("clerget_sucrose", "sucrose by double polarisation", 0.2),
    _input("spindle_brix", "spindle Brix", 0.1),
)
true_purity = _method(
    "true_purity",
    "true purity",
    _input("sucrose", "sucrose by chromatography", 0.1),
    _input("dry_solids", "dry solids by drying", 0.2),
)
