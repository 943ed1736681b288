"""Every number explains itself: its interval, what carries it, what would sharpen it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from canewright.engine.adjusting.posterior import DETERMINED_UP_TO, Influences, Posterior
from canewright.engine.adjusting.reconcile import Estimate
from canewright.laboratory.predictions import RELATIONS
from canewright.streams import in_words

COVERAGE = 1.959964
"""Half width of a two-sided 95 % interval in standard uncertainties."""
CARRIED_BY_ASSUMPTIONS = 0.98
"""Share of the variance that may come from priors: where readings and calibrations carry less
than a fiftieth, the figure follows from assumptions, however narrow it is; our choice."""
UNREAD = 1e3
"""Factor on the uncertainty of readings that takes them out of account."""
BOUND_MATTERS = 1.01
"""Variance without the bounds over variance with them, above which a figure rests on one."""
CALIBRATION = "calibration of "
Kind = Literal["reading", "calibration", "prior"]
Side = Literal["", "at least", "at most", "either way"]


@dataclass(frozen=True)
class Statement:
    """A figure with what is known of it.

    Attributes
    ----------
    value, sd : float
        Reconciled value and standard uncertainty, in the figure's unit.
    interval : (float, float)
        95 %. Where the figure rests on a variable at a bound, its free side has the width
        that the figure would have without that bound.
    determined : bool
        Whether readings bring more of what is known of it than priors do, carry some of what
        is still uncertain, and it has a value at all.
    prior_share : float
        Share of what is known of it that comes from priors, 0 to 1: see
        `information_from_priors`.
    one_sided : str
        "at least" or "at most" where a bound keeps the figure from going the other way,
        "either way" where several bounds pull both ways.
    """

    value: float
    sd: float
    interval: tuple[float, float]
    determined: bool
    prior_share: float
    one_sided: Side = ""

    @property
    def differs_from_zero(self) -> bool:
        """Whether zero lies outside the interval."""
        return self.determined and not self.interval[0] <= 0 <= self.interval[1]


@dataclass(frozen=True)
class Contribution:
    """One reading, calibration or prior behind a figure.

    `sensitivity` is the change of the figure per unit of the reading (of a calibration: per
    standard uncertainty of it); `share` its share of the variance, 0 to 1; `moves` the change
    of the figure when it moves by one standard uncertainty, in the figure's unit.
    """

    name: str
    kind: Kind
    value: float
    unit: str
    sensitivity: float
    share: float
    moves: float


def statements(estimate: Estimate, expressions: Sequence[Any]) -> list[Statement]:
    """Value, interval and standing of several figures, in one back-substitution.

    Parameters
    ----------
    estimate : Estimate
    expressions : sequence of SX
        Of the model's symbols and parameters and the reconciler's relations.
    """
    if not expressions:
        return []
    values, gradients = estimate.evaluate(expressions)
    usable = np.isfinite(values) & np.isfinite(gradients).all(axis=1)
    safe = np.where(usable[:, None], gradients, 0.0)
    influences = estimate.posterior.influences_of(safe)
    variances = np.array([item.variance for item in influences])
    free = _Bounds(estimate).without(safe, variances)
    assumed = information_from_priors(estimate, safe, variances)
    found = []
    for k, (value, good, influence) in enumerate(zip(values, usable, influences, strict=True)):
        if not good:
            found.append(Statement(float("nan"), float("inf"), _WHOLE, False, 1.0))
            continue
        found.append(_statement(float(value), influence, float(assumed[k]), *free[k]))
    return found


def information_from_priors(
    estimate: Estimate, gradients: np.ndarray, variances: np.ndarray
) -> np.ndarray:
    """Share of what is known of each figure that priors alone would give, 0 to 1.

    The variance of the figure with the readings over that without any: information is one
    over variance, and that of priors and readings adds. 1 says that the readings taught
    nothing about the figure.

    Parameters
    ----------
    gradients : array (q, n)
        Of the figures by the problem's variables.
    variances : array (q)
        With the readings.
    """
    problem, solution = estimate.reconciler.problem, estimate.solution
    sd = solution.sd.copy()
    # Readings a thousand times less sure say nothing, yet keep the equations well posed;
    # calibrations stay, which without readings say nothing of the factory.
    sd[: len(estimate.reconciler.channels)] *= UNREAD
    unread = Posterior.at(problem, replace(solution, sd=sd), held=False)
    before = unread.variances(gradients)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(before > 0, variances / before, 0.0)
    share = np.where(np.isinf(before), 0.0, share)
    return np.clip(np.where(np.isinf(variances), 1.0, share), 0.0, 1.0)


def statement(estimate: Estimate, expression: Any) -> Statement:
    """Value, interval and standing of one figure. See `statements`."""
    return statements(estimate, [expression])[0]


_WHOLE = (float("-inf"), float("inf"))


def _statement(
    value: float, influence: Influences, assumed: float, side: Side, loose: float
) -> Statement:
    sd = influence.sd
    down = COVERAGE * (loose if side in ("at most", "either way") else sd)
    up = COVERAGE * (loose if side in ("at least", "either way") else sd)
    return Statement(
        value=value,
        sd=sd,
        interval=(value - down, value + up),
        determined=assumed <= DETERMINED_UP_TO
        and influence.prior_share <= CARRIED_BY_ASSUMPTIONS
        and bool(np.isfinite(sd)),
        prior_share=assumed,
        one_sided=side,
    )


class _Bounds:
    """What the bounds that variables rest on do to figures."""

    def __init__(self, estimate: Estimate) -> None:
        self._estimate = estimate
        self._active = np.flatnonzero(estimate.solution.active)

    def without(self, gradients: np.ndarray, variances: np.ndarray) -> list[tuple[Side, float]]:
        """For each figure, the side on which it is free, and its uncertainty there."""
        if not self._active.size:
            return [("", float("nan"))] * len(gradients)
        released = Posterior.at(
            self._estimate.reconciler.problem, self._estimate.solution, held=False
        )
        pins = np.zeros((self._active.size, gradients.shape[1]))
        pins[np.arange(self._active.size), self._active] = 1.0
        both = released.covariance(np.vstack([gradients, pins]))
        count = len(gradients)
        # From a lower bound (-1) a variable can only move up, from an upper one only down.
        inward = -self._estimate.solution.active[self._active].astype(float)
        answers: list[tuple[Side, float]] = []
        for i, held in enumerate(variances):
            loose = both[i, i]
            if not loose > BOUND_MATTERS * held:
                answers.append(("", float("nan")))
                continue
            pulls = both[i, count:] * inward / np.sqrt(np.diag(both)[count:])
            pulls = np.nan_to_num(pulls)
            strong = pulls[np.abs(pulls) > 0.1 * np.abs(pulls).max(initial=0.0)]
            side: Side = "either way"
            if strong.size and (strong > 0).all():
                side = "at least"
            elif strong.size and (strong < 0).all():
                side = "at most"
            answers.append((side, float(np.sqrt(loose))))
        return answers


def explain(estimate: Estimate, expression: Any) -> list[Contribution]:
    """What a figure rests on: readings, calibrations and priors, the largest share first.

    Raises
    ------
    ValueError
        If the figure has no value at the reconciled point.
    """
    values, gradients = estimate.evaluate([expression])
    if not (np.isfinite(values).all() and np.isfinite(gradients).all()):
        raise ValueError("The figure has no value in this shift: something it divides by is zero.")
    influence = estimate.posterior.influences(gradients[0])
    order = np.argsort(-influence.shares, kind="stable")
    return [
        contribution(estimate, int(i), influence)
        for i in order
        if influence.contributions[i] != 0.0
    ]


def contribution(estimate: Estimate, place: int, influence: Influences) -> Contribution:
    """One datum's part in a figure."""
    reconciler, solution = estimate.reconciler, estimate.solution
    name = reconciler.problem.data_names[place]
    kind, unit = "prior", ""
    if place < len(reconciler.channels):
        kind, unit = "reading", reconciler.channels[place].unit
    elif name.startswith(CALIBRATION):
        kind, unit = "calibration", "standard uncertainties"
    else:
        name, unit = prior_in_words(estimate, name)
    moves = float(influence.contributions[place])
    return Contribution(
        name,
        kind,  # type: ignore[arg-type]
        float(solution.values[place]),
        unit,
        moves / float(solution.sd[place]),
        float(influence.shares[place]),
        moves,
    )


def prior_in_words(estimate: Estimate, name: str) -> tuple[str, str]:
    """What a prior says, in the trade's words, and its unit."""
    model = estimate.model
    if name in model.index:
        variable = model.variables[model.position(name)]
        return f"{variable.label or variable.name}, as usual", variable.unit
    for relation in RELATIONS.values():
        if relation.label == name:
            return f"{relation.label}, as usual", relation.unit
    owner, _, component = name.rpartition(", ")
    return f"{owner}, {in_words(component)}, as usual", "t"
