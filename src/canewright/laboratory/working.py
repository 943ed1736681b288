"""Raw readings examined and worked: all that is wrong at once, or the lines and a result."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from canewright.laboratory.method import (
    Given,
    Method,
    NotGivenError,
    RawInput,
    Remark,
    Step,
    refusal,
    warning,
)


@dataclass(frozen=True)
class Worked:
    """One determination worked through: the lines, the result, and what was remarked."""

    method: Method
    inputs: Mapping[str, float]
    defaults: tuple[str, ...]
    steps: tuple[Step, ...]
    remarks: tuple[Remark, ...]

    @property
    def refusals(self) -> list[Remark]:
        """Remarks that stopped the working."""
        return [remark for remark in self.remarks if remark.refused]

    @property
    def warnings(self) -> list[Remark]:
        """Remarks beside the result."""
        return [remark for remark in self.remarks if not remark.refused]

    @property
    def value(self) -> float:
        """The result; not a number if the working was refused."""
        return float(self.steps[-1].value) if self.steps else math.nan


def examine(method: Method, given: Mapping[str, float]) -> Worked:
    """Check raw readings, all problems at once, and work the method if none stops it.

    Parameters
    ----------
    method : Method
    given : mapping
        Raw readings by name, in the inputs' units.
    """
    remarks: list[Remark] = []
    usable: dict[str, float] = {}
    for raw in method.inputs:
        value = given.get(raw.name)
        if value is None:
            if raw.required:
                remarks.append(
                    refusal(raw.name, f"{raw.name} is missing: {raw.label} [{raw.unit}].")
                )
            elif raw.default is not None:
                usable[raw.name] = raw.default
                remarks += [warning(raw.name, raw.reminder)] if raw.reminder else []
            continue
        said = _limits(raw, value)
        remarks += said
        if not any(remark.refused for remark in said):
            usable[raw.name] = value
    remarks += [
        refusal(name, f"{method.name} has no raw reading {name!r}.")
        for name in given
        if name not in {raw.name for raw in method.inputs}
    ]
    remarks += _checked(method, usable)
    steps: tuple[Step, ...] = ()
    if not any(remark.refused for remark in remarks):
        with np.errstate(all="ignore"):
            steps = tuple(method.steps(usable))
        result = float(steps[-1].value)
        if not math.isfinite(result):
            steps = ()
            remarks.append(
                refusal("result", "These readings give no finite result: check each of them.")
            )
        else:
            remarks += _checked(method, {"result": result}, after=usable)
            remarks += _outside(method, {**usable, "result": result})
            if any(remark.refused for remark in remarks):
                steps = ()
    defaults = tuple(name for name in usable if name not in given)
    return Worked(method, usable, defaults, steps, tuple(remarks))


def _limits(raw: RawInput, value: float) -> list[Remark]:
    unit = "" if raw.unit == "1" else f" {raw.unit}"
    shown = f"{raw.name} = {value:g}{unit}"
    if not math.isfinite(value) or not raw.low <= value <= raw.high:
        limits = f"{raw.low:g} to {raw.high:g}{unit}"
        sentence = f"{shown} is outside what can be taken for the {raw.label}, {limits}."
        return [refusal(raw.name, f"{sentence} {raw.bench}".rstrip())]
    if raw.near is not None and not raw.near[0] <= value <= raw.near[1]:
        sentence = f"{shown} is unusual: mostly {raw.near[0]:g} to {raw.near[1]:g}{unit}."
        return [warning(raw.name, f"{sentence} {raw.bench}".rstrip())]
    return []


def _checked(
    method: Method, usable: Mapping[str, float], after: Mapping[str, float] | None = None
) -> list[Remark]:
    """What the checks say before the result is known, or (with `after`) only once it is."""
    found: list[Remark] = []
    for check in method.checks:
        if after is not None:
            try:
                list(check(Given(after)))
                continue  # said already, before the result
            except NotGivenError:
                pass
        try:
            found += check(Given({**usable, **(after or {})}))
        except NotGivenError:
            continue
    return found


def _outside(method: Method, values: Mapping[str, float]) -> list[Remark]:
    return [
        warning(
            name,
            f"{name} = {values[name]:.6g} lies outside {low:g} to {high:g}, the range for which "
            f"{method.name} is stated.",
        )
        for name, (low, high) in method.valid.items()
        if name in values and not low <= values[name] <= high
    ]
