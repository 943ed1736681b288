"""When to clean: the square law, and the plan against every plan of a coarse grid."""

import numpy as np
import pytest

from canewright.engine.advising.cleaning import CleaningRefused, bodies_of, plan_cleaning
from canewright.flowsheet import Limit
from canewright.laws.heat_transfer import mean_coefficient
from tests.engine.advised_factory import optimiser_of, workshop_with

SINCE, CLEAN, STOP = 96.0, 4.5, 8.0


@pytest.fixture(scope="module")
def optimiser():
    return optimiser_of(workshop_with())


@pytest.fixture(scope="module")
def bodies(optimiser):
    return bodies_of(optimiser, {"": SINCE}, {"": CLEAN}, STOP)


def test_each_body_passes_through_clean_and_found(bodies):
    assert len(bodies) == 5
    for body in bodies:
        # The law is solved for its two constants: algebra.
        assert 1 / np.sqrt(body.start) == pytest.approx(CLEAN, rel=1e-12)
        fouled = 1 / np.sqrt(body.growth * SINCE + body.start)
        assert fouled == pytest.approx(body.now, rel=1e-12)


def test_the_best_run_of_a_body_has_the_greatest_mean(bodies):
    for body in bodies:
        best = mean_coefficient(body.growth, body.start, STOP, body.best_run)
        for run in (0.8 * body.best_run, 1.25 * body.best_run):
            assert mean_coefficient(body.growth, body.start, STOP, run) < best


def test_money_falls_with_scale(optimiser, bodies):
    plan = plan_cleaning(optimiser, bodies, STOP)
    # From where it is now; near clean the curve is flat, and hotter juice inverts a little more.
    later = plan.money[plan.ages >= SINCE]
    assert np.all(np.diff(later) < 0)
    assert plan.money[0] > later[0]
    # The age as found is one of the knots: the same state, closed to 1e-9.
    there = np.interp(SINCE, plan.ages, plan.money)
    assert there == pytest.approx(optimiser.money_found, rel=1e-8)


def test_the_plan_earns_most_of_all_first_stops(optimiser, bodies):
    """Cheap stops, the season being longer by them: an independent sum over a coarse grid."""
    lost, chemicals = 5.0, 50.0
    plan = plan_cleaning(optimiser, bodies, STOP, chemicals=chemicals, lost_hour=lost)
    assert plan.stops

    def total(first, count):
        run = (plan.horizon - first) / count
        hours = np.linspace(0, 1, 401)
        before = np.trapezoid(
            np.interp(SINCE + first * hours, plan.ages, plan.money), first * hours
        )
        after = np.trapezoid(np.interp(run * hours, plan.ages, plan.money), run * hours)
        return (before + count * after) / 24 - count * (chemicals + STOP * lost)

    best = max(
        total(first, count) for count in range(1, 9) for first in np.arange(0.0, 330.0, 12.0)
    )
    own = total(plan.stops[0], len(plan.stops))
    # The sums differ by the rule of integration only.
    assert own >= best - 1e-4 * abs(best)
    assert plan.gain > 0
    assert plan.gain_over_now >= 0


def test_a_stop_that_costs_too_much_is_not_made(optimiser, bodies):
    plan = plan_cleaning(optimiser, bodies, STOP, chemicals=1e7)
    assert plan.stops == []
    assert plan.gain == 0.0


@pytest.mark.slow
def test_a_limit_that_scale_breaks_forces_a_stop():
    """Syrup must not be thinner than it is with scale a day older."""
    loose = optimiser_of(workshop_with([Limit("syrup.brix", at_least=30.0)]))
    now = loose.program.limit_values(loose.found.values, loose.given)[0]
    tight = optimiser_of(workshop_with([Limit("syrup.brix", at_least=float(now) - 0.3)]))
    bodies = bodies_of(tight, {"": SINCE}, {"": CLEAN}, STOP)
    plan = plan_cleaning(tight, bodies, STOP, chemicals=1e3)
    assert SINCE <= plan.runs_until < SINCE + plan.horizon
    # As far as it runs the syrup is at its limit: a step of 14 h was halved ten times.
    last = tight.state(tight.settings_found).values.copy()
    for body in bodies:
        hours = body.hours + plan.runs_until - SINCE
        place = tight.model.position(f"{body.name}.coefficient")
        last[place] = 1 / np.sqrt(body.growth * hours + body.start)
    there = tight.square.solve(last, tight.given.sizes, tight.targets).values
    brix = tight.program.limit_values(there, tight.given)[0]
    assert brix == pytest.approx(float(now) - 0.3, abs=0.001)
    assert plan.stops
    assert SINCE + plan.stops[0] <= plan.runs_until


def test_what_is_not_said_is_asked_for(optimiser):
    with pytest.raises(CleaningRefused, match="evaporator body 1: say how many hours"):
        bodies_of(optimiser, {}, {}, STOP)
    with pytest.raises(CleaningRefused, match="shows no scale"):
        bodies_of(optimiser, {"": SINCE}, {"": 0.5}, STOP)
    with pytest.raises(CleaningRefused, match="No evaporator body is called body nine"):
        bodies_of(optimiser, {"body nine": SINCE}, {"": CLEAN}, STOP)
