"""Run rules of control charts: patterns that chance makes rarely, as data in `run_rules.toml`.

Sources: [shewhart_charts], [western_electric1956], [nelson1984]; mean runs between false
alarms [champ_woodall1987].
"""

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

import numpy as np
import numpy.typing as npt

Vector = npt.NDArray[np.float64]


@dataclass(frozen=True)
class RunRule:
    """A pattern that chance makes rarely; see the head of `run_rules.toml`."""

    name: str
    kind: str
    count: int
    window: int
    words: str
    look_for: str
    source: str
    distance: float = 0.0


@dataclass(frozen=True)
class RuleSet:
    """Rules used together; `in_control` is the mean run between false alarms, in points."""

    name: str
    words: str
    rules: tuple[RunRule, ...]
    source: str
    in_control: float = math.nan


@cache
def rule_sets() -> dict[str, RuleSet]:
    """The sets of run rules by name."""
    file = resources.files("canewright.laboratory").joinpath("run_rules.toml")
    document: dict[str, Any] = tomllib.loads(file.read_text(encoding="utf-8"))
    rules = {name: RunRule(name=name, **row) for name, row in document["rule"].items()}
    return {
        name: RuleSet(name=name, **{**row, "rules": tuple(rules[rule] for rule in row["rules"])})
        for name, row in document["set"].items()
    }


def broken(rule: RunRule, standard: Vector) -> npt.NDArray[np.bool_]:
    """Where a rule is broken: at the point that completes the pattern.

    Parameters
    ----------
    rule : RunRule
    standard : array (..., n)
        Points in a row along the last axis, in standard deviations from the centre.
    """
    if rule.kind == "beyond":
        above, below = standard > rule.distance, standard < -rule.distance
        return _often(above, rule) | _often(below, rule)
    if rule.kind == "within":
        return _often(np.abs(standard) < rule.distance, rule)
    if rule.kind == "outside":
        return _often(np.abs(standard) > rule.distance, rule)
    step = np.sign(np.diff(standard, axis=-1, prepend=np.nan))
    if rule.kind == "trend":
        return _in_a_row(step > 0, rule.window - 1) | _in_a_row(step < 0, rule.window - 1)
    turn = np.zeros(standard.shape, dtype=bool)
    turn[..., 2:] = step[..., 2:] * step[..., 1:-1] < 0
    return _in_a_row(turn, rule.window - 2)


def _often(here: npt.NDArray[np.bool_], rule: RunRule) -> npt.NDArray[np.bool_]:
    """Where the newest point counts and `count` of the last `window` do."""
    total = np.cumsum(here, axis=-1, dtype=np.int64)
    before = np.zeros_like(total)
    if rule.window < total.shape[-1]:
        before[..., rule.window :] = total[..., : -rule.window]
    return here & (total - before >= rule.count)


def _in_a_row(here: npt.NDArray[np.bool_], many: int) -> npt.NDArray[np.bool_]:
    rule = RunRule("", "", many, many, "", "", "")
    return _often(here, rule)
