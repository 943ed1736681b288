"""Reconciling a shift in which a reading is wildly wrong: 26 Brix for 62.

Such a reading pulls the solver so far from any factory that it may not come back. It is
then given less weight, as much less as it is off, until the others have found each other;
if the shift can be solved from there with its full weight it is, and if not the reading
keeps the lower weight and stands out as a suspect all the same.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence

import numpy as np

from canewright.engine.adjustment import Solution
from canewright.engine.reconcile import Estimate, Measurement, Reconciler
from canewright.engine.simulate import SolveFailed

FARTHEST = 6.0
"""Standard deviations at which a wild reading is held back; well above any test's limit."""
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
    try:
        return reconciler.solve(measurements, start, hours=hours, warm=warm, priors=priors)
    except SolveFailed as failure:
        solution = _held_back(reconciler, measurements, start, hours, priors)
        if solution is None:
            raise failure
        return Estimate(reconciler, tuple(measurements), solution, time.perf_counter() - begun)


def _held_back(
    reconciler: Reconciler,
    measurements: Sequence[Measurement],
    start: np.ndarray,
    hours: float | None,
    priors: Mapping[str, tuple[float, float]] | None,
) -> Solution | None:
    problem = reconciler.problem
    values, sd = reconciler.data(measurements, priors)
    parameters, point = reconciler.parameters(hours), reconciler.start(start)
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
    assert found is not None
    full = problem.solve(values, sd, point, found, parameters)
    return full if full.ok else found


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
