"""What to measure next: rank-one updates against the balance done again."""

from itertools import pairwise

import numpy as np
import pytest

from canewright.demo.factory import WELL_RUN
from canewright.demo.plan import planned
from canewright.demo.truth import Workshop
from canewright.engine.adjusting.posterior import Posterior
from canewright.engine.equations.points import Points
from canewright.engine.measuring.value_of_readings import Measuring, costs
from canewright.figures.control import control_figures
from canewright.laboratory.readings import READINGS
from tests.engine.advised_factory import workshop_with
from tests.whole_factory import balance

NEW = ("syrup_to_pans", "brix")


@pytest.fixture(scope="module")
def workshop():
    return workshop_with()


@pytest.fixture(scope="module")
def estimate(workshop):
    return balance(workshop, workshop.shift(7, width=0.5).measurements)


@pytest.fixture(scope="module")
def loss(estimate):
    model, relations = estimate.model, estimate.reconciler.relations
    figure = control_figures(model, relations)["undetermined_loss"]
    values, gradients = estimate.evaluate([figure.expression])
    return float(values[0]), gradients[0]


@pytest.fixture(scope="module")
def measuring(estimate):
    return Measuring(estimate)


def offered(measuring, kind, point, analysis):
    (found,) = [
        offer
        for offer in measuring.offers
        if (offer.kind, offer.point, offer.analysis) == (kind, point, analysis)
    ]
    return found


def sd_with(estimate, gradient, offer):
    """Standard uncertainty of a figure once one more datum is among the data."""
    problem, solution = estimate.reconciler.problem, estimate.solution
    at = problem.linearise(solution.z, solution.parameters)
    data = np.vstack([at.data_jacobian.toarray(), offer.gradient])
    again = Posterior(
        data,
        at.constraint_jacobian,
        np.append(solution.sd, np.sqrt(offer.noise)),
        np.append(solution.values - at.predictions, 0.0),
        scale=problem.scale,
        row_scale=solution.row_scale,
        active=solution.active != 0,
    )
    return float(np.sqrt(again.variances(gradient[None, :])[0]))


@pytest.mark.parametrize(
    ("kind", "point", "analysis"),
    [
        ("new reading", *NEW),
        ("repeat", "mixed_juice", "pol"),
        ("repeat", "c_crystalliser_stock_closing", "volume_held"),
        ("calibration", "polarimeter", "calibration of polarimeter"),
    ],
)
def test_one_more_datum_narrows_as_the_whole_posterior_says(
    estimate, loss, measuring, kind, point, analysis
):
    value, gradient = loss
    offer = offered(measuring, kind, point, analysis)
    candidates = measuring._candidates(measuring._joint(gradient), value, 0.0)
    told = candidates[measuring.offers.index(offer)]
    # Both are exact algebra on one linearisation; the factorisations agree to 1e-6.
    assert told.sd_after == pytest.approx(sd_with(estimate, gradient, offer), rel=1e-5)
    assert told.sd_after < told.sd_before


def test_the_interval_forecast_is_the_one_that_comes(halcyon_bend, workshop, estimate, loss):
    """The reading is taken and the shift balanced again: the interval is as forecast."""
    value, gradient = loss
    measuring = Measuring(estimate)
    candidates = measuring._candidates(measuring._joint(gradient), value, 0.0)
    told = candidates[measuring.offers.index(offered(measuring, "new reading", *NEW))]
    plan = (*WELL_RUN.plan, (NEW[0], (NEW[1],), 1))
    wider = Workshop(workshop.prepared, planned(Points(workshop.prepared.model), plan))
    again = balance(wider, wider.shift(7, width=0.5).measurements)
    figure = control_figures(again.model, again.reconciler.relations)["undetermined_loss"]
    _, gradients = again.evaluate([figure.expression])
    sd = float(np.sqrt(again.posterior.variances(gradients)[0]))
    # Another point of linearisation, since the new reading moves the estimate: a few per cent.
    assert sd == pytest.approx(told.sd_after, rel=0.05)


def test_ranked_by_hour_and_only_what_narrows(loss, measuring):
    ranked = measuring.ranked(*loss)
    assert len(ranked) > 5
    rates = [one.per_hour for one in ranked]
    assert rates == sorted(rates, reverse=True)
    for one in ranked:
        low, high = one.interval_after
        assert high - low < one.interval_before[1] - one.interval_before[0]


def test_a_plan_fits_its_hours_and_each_step_narrows_further(loss, measuring):
    plan = measuring.plan(*loss, hours=2.0)
    assert plan
    assert sum(one.cost_hours for one in plan) <= 2.0 + 1e-9  # sums of decimals
    for one, then in pairwise(plan):
        assert then.sd_before == pytest.approx(one.sd_after, rel=1e-9)  # the same number
        assert then.sd_after < then.sd_before


def test_nothing_is_offered_that_cannot_be_read(measuring):
    for offer in measuring.offers:
        assert not offer.point.endswith("_opening")
        assert offer.analysis not in ("share", "undetermined", "volume")
        if offer.kind == "repeat":
            assert offer.analysis not in ("weight", "energy")


def test_every_reading_has_its_hours():
    assert set(costs()["analysis"]) == set(READINGS)
    instruments = {reading.instrument for reading in READINGS.values()}
    assert instruments <= set(costs()["calibration"])
    assert all(hours > 0 for hours in costs()["analysis"].values())


def test_a_calibration_leaves_what_the_table_says(estimate, measuring):
    """A bias that nothing else tells of keeps 30 % of its spread."""
    offer = offered(measuring, "calibration", "polarimeter", "calibration of polarimeter")
    left = costs()["after_calibration"]["left_percent"] / 100
    # One over variance adds: prior 1 and what is seen, 1/noise, make 1/left^2.
    assert 1 + 1 / offer.noise == pytest.approx(1 / left**2, rel=1e-12)  # algebra
