"""Uncertainty of means, totals, balances and results: published cases and identities."""

import numpy as np
import pytest

from canewright.engine.adjusting import uncertainty
from canewright.engine.adjusting.statistics import (
    global_test,
)
from tests.engine.published_problems import PROBLEMS, as_printed

ROUNDING = 1e-12
"""Algebraic identity in double precision, on numbers of the size of one."""


# -- uncertainty of means, totals and results ------------------------------------------------


def small(what):
    cases = PROBLEMS["uncertainty-small"]["cases"]
    return next(case for case in cases if case["what"].startswith(what))


@pytest.mark.published
def test_gum_h2_impedance():
    case = small("GUM H.2")
    table = np.array([case["V"], np.array(case["I_mA"]) / 1000, case["phi_rad"]])
    volt, ampere, phase = table.mean(axis=1)
    impedance = volt / ampere
    results = [impedance * np.cos(phase), impedance * np.sin(phase), impedance]
    jacobian = [
        [results[0] / volt, -results[0] / ampere, -results[1]],
        [results[1] / volt, -results[1] / ampere, results[0]],
        [1 / ampere, -impedance / ampere, 0],
    ]
    spread = uncertainty.propagate(jacobian, uncertainty.covariance_of_means(table))
    expected = case["expected"]
    assert results == [as_printed(expected[k], 3) for k in ("R", "X", "Z")]
    assert list(np.sqrt(np.diag(spread))) == [as_printed(expected[f"u_{k}"], 3) for k in "RXZ"]
    found = uncertainty.correlation(spread)
    for (i, j), name in (((0, 1), "r_RX"), ((0, 2), "r_RZ"), ((1, 2), "r_XZ")):
        assert found[i, j] == as_printed(expected[name])


@pytest.mark.published
def test_gum_h1_end_gauge():
    case = small("GUM H.1")
    expected = case["expected"]
    parts, freedoms = zip(*case["inputs_nm"].values(), strict=True)
    combined = uncertainty.combine(parts, freedoms)
    assert combined.uncertainty == as_printed(expected["u"])
    assert int(combined.degrees_of_freedom) == expected["dof"]
    assert combined.coverage_factor(0.99) == as_printed(expected["t99"])
    assert combined.expanded(0.99) == as_printed(expected["U99"], 0)


@pytest.mark.published
def test_mean_of_samples_in_a_row():
    for case in small("variance inflation")["cases"]:
        found = uncertainty.correlated_mean_factor(case["n"], case["r"])
        assert found == as_printed(case["factor"])
        assert uncertainty.effective_samples(case["n"], case["r"]) == as_printed(case["n_eff"])


@pytest.mark.published
def test_weekly_total_with_a_common_calibration():
    expected = small("weekly total")["expected"]
    u = uncertainty.total_uncertainty(21, 0.5, 0.3) / 21
    assert u == as_printed(expected["u_percent"])
    wrongly = uncertainty.total_uncertainty(21, float(np.hypot(0.5, 0.3)), 0) / 21
    assert wrongly == as_printed(expected["if_wrongly_independent"])


@pytest.mark.published
def test_losses_of_consecutive_weeks_lean_against_each_other():
    expected = small("undetermined loss")["expected"]
    spread = uncertainty.period_loss_covariance(4, 20, 15)
    assert np.sqrt(spread[0, 0]) == as_printed(expected["u_week"])
    assert uncertainty.correlation(spread)[0, 1] == as_printed(
        expected["correlation_of_neighbours"]
    )
    assert np.sqrt(spread.sum()) == as_printed(expected["u_4_weeks"])
    assert np.sqrt(np.trace(spread)) == as_printed(expected["if_wrongly_independent"])


# -- uncertainty -----------------------------------------------------------------------------


def test_stocks_between_periods_cancel_from_the_total():
    for periods in (1, 2, 7):
        spread = uncertainty.period_loss_covariance(periods, 20, 15)
        assert spread.sum() == pytest.approx(periods * 400 + 2 * 225, rel=ROUNDING)


def test_mean_of_correlated_samples_by_its_covariance():
    lag = np.abs(np.subtract.outer(np.arange(24), np.arange(24)))
    direct = np.sqrt((0.6**lag).sum()) / 24
    assert uncertainty.mean_uncertainty(1.0, 24, 0.6) == pytest.approx(direct, rel=ROUNDING)
    assert uncertainty.mean_uncertainty(1.0, 25) == pytest.approx(0.2, rel=ROUNDING)


def test_drift_adds_in_squares():
    assert uncertainty.drifted(0.3, 0.4) == pytest.approx(0.5, rel=ROUNDING)
    assert uncertainty.drifted(0.3, 0.2, periods=4) == pytest.approx(0.5, rel=ROUNDING)


def test_global_test_says_how_it_judges():
    verdict = global_test(9.0, 4)
    assert verdict.passes
    assert verdict.ratio == pytest.approx(2.25, rel=ROUNDING)
    assert not global_test(9.6, 4).passes
