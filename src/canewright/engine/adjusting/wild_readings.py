"""Reconciling a shift in which a reading is wildly wrong: 26 Brix for 62.

Such a reading pulls the solution so far from any factory that it may not be found, or be
one in which nothing flows. It is then given less weight, as much less as it is off, until
the others have found each other. It keeps that weight, and stands out as a suspect all the
same: it is still further off than any test allows.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence

import numpy as np

from canewright.engine.adjusting.reconcile import Estimate, Measurement, Reconciler
from canewright.engine.adjusting.solution import Solution
from canewright.engine.equations.simulate import SolveFailed

FARTHEST = 6.0
"""Standard deviations at which a wild reading is held back; well above any test's limit."""
WILD = 50.0
"""Standard deviations off, after a plain balance, from which a reading is held back."""
ROUNDS = 8
SETTLED = 0.02
"""Relative change of every weight at which the rounds end."""


def reconcile(
    reconciler: Reconciler,
    measurements: Sequence[Measurement],
    start: np.ndarray,
    *,
    hours: float | None = None,
    warm: Solution | None = None,
    priors: Mapping[str, tuple[float, float]] | None = None,
) -> Estimate:
    """Reconcile a shift, wildly wrong readings included. Arguments as `Reconciler.solve`.

    Raises
    ------
    SolveFailed
        If it cannot be solved even with wild readings held back.
    """
    begun = time.perf_counter()
    failure: SolveFailed | None = None
    plain: Estimate | None = None
    try:
        plain = reconciler.solve(measurements, start, hours=hours, warm=warm, priors=priors)
        if _sound(plain):
            return plain
    except SolveFailed as error:
        failure = error
    solution = _held_back(reconciler, measurements, start, hours, priors)
    if solution is not None:
        return Estimate(reconciler, tuple(measurements), solution, time.perf_counter() - begun)
    if failure is not None:
        raise failure
    assert plain is not None
    return plain


def _sound(estimate: Estimate) -> bool:
    """Whether a plain balance is near enough to a factory for its tests to mean something."""
    problem, solution = estimate.reconciler.problem, estimate.solution
    at = problem.linearise(solution.z, solution.parameters)
    count = len(estimate.reconciler.channels)
    pull = np.abs((solution.values - solution.fitted)[:count] / solution.sd[:count])
    finite = (
        np.isfinite(at.data_jacobian.data).all() and np.isfinite(at.constraint_jacobian.data).all()
    )
    return bool(finite and np.all(pull < WILD))


def _held_back(
    reconciler: Reconciler,
    measurements: Sequence[Measurement],
    start: np.ndarray,
    hours: float | None,
    priors: Mapping[str, tuple[float, float]] | None,
) -> Solution | None:
    problem = reconciler.problem
    values, sd = reconciler.data(measurements, priors)
    parameters, point = reconciler.parameters(hours, measurements), reconciler.start(start)
    found: Solution | None = None
    wide = sd
    for _ in range(ROUNDS):
        predicted = problem.linearise(point if found is None else found.z, parameters).predictions
        before, wide = wide, _widened(reconciler, values, sd, predicted)
        if found is not None and _same(before, wide):
            break
        trial = problem.solve(values, wide, point, found, parameters)
        if not trial.ok:
            return None
        found = trial
    return found


def _widened(
    reconciler: Reconciler, values: np.ndarray, sd: np.ndarray, predicted: np.ndarray
) -> np.ndarray:
    """Uncertainties with every reading that is off by more than `FARTHEST` held back to it."""
    with np.errstate(invalid="ignore"):
        pull = np.nan_to_num(np.abs(values - predicted) / sd)
    factor = np.maximum(1.0, pull / FARTHEST)
    factor[len(reconciler.channels) :] = 1.0
    return np.asarray(sd * factor)


def _same(before: np.ndarray, after: np.ndarray) -> bool:
    present = np.isfinite(after)
    return bool(np.all(np.abs(after[present] / before[present] - 1) < SETTLED))
