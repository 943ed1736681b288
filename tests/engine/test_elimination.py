"""The quick routes give what the general ones give: Gauss-Newton and IPOPT, two KKT factors."""

from dataclasses import replace

import numpy as np
import pytest

from canewright.engine.adjusting import posterior as posteriors
from canewright.engine.adjusting.adjustment import SETTLED
from canewright.engine.adjusting.posterior import Posterior
from canewright.engine.adjusting.reduced_kkt import ReducedKkt

SEEDS = range(4)


@pytest.fixture
def shift(workshop):
    """Readings of a made-up shift of the demonstration factory, by seed."""
    return lambda seed: workshop.shift(seed).measurements


@pytest.fixture
def solved(workshop):
    """Their reconciliation: by elimination, or in general."""

    def solve(measurements, general=False, **options):
        problem, start = workshop.reconciler.problem, workshop.prepared.usual.values
        with pytest.MonkeyPatch.context() as patch:
            if general:
                patch.setattr(problem, "elimination", None)
            return workshop.reconciler.solve(measurements, start, **options).solution

    return solve


@pytest.mark.parametrize("seed", SEEDS)
def test_gauss_newton_ends_where_ipopt_ends(seed, workshop, shift, solved):
    problem, measurements = workshop.reconciler.problem, shift(seed)
    quick, slow = solved(measurements), solved(measurements, general=True)
    assert quick.message == SETTLED != slow.message
    # Both stop when a step, or the conditions of a minimum, are within 1e-8 of a typical size.
    np.testing.assert_allclose(quick.z / problem.scale, slow.z / problem.scale, atol=1e-7)
    np.testing.assert_array_equal(quick.active, slow.active)
    size = np.abs(slow.multipliers * slow.row_scale).max()
    # Multipliers move with the point times the weights of the readings, up to about 1e3.
    np.testing.assert_allclose(
        quick.multipliers * quick.row_scale, slow.multipliers * slow.row_scale, atol=1e-5 * size
    )


def test_a_bound_that_holds_is_found_by_both(workshop, shift, solved, monkeypatch):
    problem, model = workshop.reconciler.problem, workshop.prepared.model
    measurements = shift(0)
    plain = solved(measurements).z
    # Bounds put in the way of an independent quantity and of one that follows.
    chosen = [model.position("filter 1.cake_moisture"), model.position("syrup.sucrose")]
    assert problem.elimination.is_free[chosen].tolist() == [True, False]
    upper = problem.upper.copy()
    upper[chosen] = plain[chosen] * 0.999
    monkeypatch.setattr(problem, "upper", upper)
    quick, slow = solved(measurements), solved(measurements, general=True)
    assert quick.message == SETTLED != slow.message
    assert (quick.active[chosen] == 1).all()
    np.testing.assert_array_equal(quick.active, slow.active)
    # IPOPT ends a little inside a bound that holds, and the rest moves with it.
    np.testing.assert_allclose(quick.z / problem.scale, slow.z / problem.scale, atol=1e-6)
    pulls = quick.bound_multipliers[chosen]
    assert (pulls > 0).all()
    # As exact as the multipliers of an interior point are.
    np.testing.assert_allclose(pulls, slow.bound_multipliers[chosen], rtol=1e-4)


@pytest.mark.parametrize("held", [[], [3, 40, 700]])
def test_both_factors_know_the_same(held, workshop, shift, solved, monkeypatch):
    problem = workshop.reconciler.problem
    solution = solved(shift(1)[:-6])  # some readings are absent
    active = solution.active.copy()
    active[held] = 1
    solution = replace(solution, active=active)
    quick = Posterior.at(problem, solution)
    monkeypatch.setattr(posteriors, "_reduced", lambda *_: None)
    general = Posterior.at(problem, solution)
    assert isinstance(quick._kkt, ReducedKkt)
    assert not isinstance(general._kkt, ReducedKkt)
    assert quick.degrees_of_freedom == general.degrees_of_freedom

    rng = np.random.default_rng(3)
    figures = rng.standard_normal((12, problem.size)) / problem.scale
    on_data = rng.standard_normal((5, problem.data_count))
    on_rows = rng.standard_normal((5, problem.constraint_count))
    known = [
        (
            *(p.redundancy, p.fitted_sd, p.standardised_adjustments, p.covariance(figures)),
            *(p.residual_matrix, p.multipliers, *p.test_directions(on_data, on_rows)),
        )
        for p in (quick, general)
    ]
    for one, other in zip(*known, strict=True):
        # Two exact routes: rounding parts them, by the condition of the matrix (1e6) at most.
        np.testing.assert_allclose(one, other, atol=1e-9 * np.nanmax(np.abs(other)))
    for one, other in zip(*(p.influences_of(figures) for p in (quick, general)), strict=True):
        assert one.variance == pytest.approx(other.variance, rel=1e-9)
        assert one.prior_share == pytest.approx(other.prior_share, abs=1e-9)


def test_without_a_prior_the_general_route_is_taken(workshop, shift, solved):
    name = workshop.prepared.model.variables[
        workshop.prepared.model.position("filter 1.cake_moisture")
    ].name
    solution = solved(shift(2), priors={name: (75.0, np.inf)})
    assert solution.ok
    assert solution.message != SETTLED
