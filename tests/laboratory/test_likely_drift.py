"""How fast an instrument drifts, as its record of checks tells: no lag, no false haste."""

import numpy as np
import pytest

from canewright.laboratory.check_samples import (
    CheckRecord,
    bias_prior,
    drift_of_weight,
    likely_drift,
)

SD = 0.05


def record(errors):
    return CheckRecord(
        "bench refractometer", tuple(20 + errors), (20.0,) * len(errors), "%", repeatability=SD
    )


def test_a_bias_that_runs_away_is_not_followed_with_a_lag():
    random = np.random.default_rng(41)
    missed = []
    for _ in range(200):
        truth = SD * np.arange(30)  # one standard deviation further off at each check
        known = record(truth + random.normal(0, SD, 30))
        mean, sd = bias_prior(known)
        usual, usual_sd = bias_prior(known, drift=drift_of_weight(0.2, SD))
        missed.append((mean - truth[-1]) / sd)
        # The usual weight lags by (1 - w)/w = 4 steps: nine of its standard uncertainties.
        assert (usual - truth[-1]) / usual_sd < -5
    # Weight 0.9 lags by a ninth of a step. 95 % within two, less three standard errors of 200.
    assert np.mean(np.abs(missed) < 2) > 0.9


def test_a_steady_instrument_is_seldom_taken_for_a_hasty_one():
    random = np.random.default_rng(42)
    usual = drift_of_weight(0.2, SD)
    hasty = [likely_drift(record(random.normal(0, SD, 30))) > usual for _ in range(500)]
    # 5 % by the limit of the likelihood ratio, and three standard errors of 500.
    assert np.mean(hasty) < 0.05 + 3 * np.sqrt(0.05 * 0.95 / 500)


def test_a_stale_check_is_less_sure_by_the_walk_since():
    known = record(np.zeros(200))
    fresh, stale = bias_prior(known)[1], bias_prior(known, elapsed=9.0)[1]
    assert stale**2 - fresh**2 == pytest.approx(9 * drift_of_weight(0.2, SD) ** 2)
