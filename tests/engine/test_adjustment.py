"""The adjustment and its posterior on small problems whose answers are known by hand."""

import casadi
import numpy as np
import pytest

from canewright.engine.adjusting.adjustment import Problem
from canewright.engine.adjusting.posterior import Posterior
from canewright.engine.adjusting.solution import Datum

ROUNDING = 1e-9
"""Relative: the solver stops at 1e-9, and a linear problem is then exact to rounding."""


def scale_problem(bounds=(-np.inf, np.inf), **options):
    """Two scales weigh the same stream, and a split halves it: in = left + right."""
    z = casadi.SX.sym("z", 3)
    balance = casadi.vertcat(z[0] - z[1] - z[2])
    lower, upper = [bounds[0]] * 3, [bounds[1]] * 3
    return Problem(
        z,
        balance,
        casadi.vertcat(z[0], z[0], z[1], z[2]),
        lower,
        upper,
        [100, 50, 50],
        data_names=["first scale", "second scale", "left", "right"],
        constraint_names=["balance"],
        **options,
    )


def test_two_scales_give_their_weighted_mean():
    # Weighted mean of 101 (sd 1) and 104 (sd 2): (101 + 104/4)/(1 + 1/4) = 101.6, sd 1/sqrt(1.25).
    problem = scale_problem()
    values, sd = problem.arrange(
        [
            Datum("first scale", "reading", 101, 1),
            Datum("second scale", "reading", 104, 2),
            Datum("left", "reading", 50, 1),
        ]
    )
    solution = problem.solve(values, sd, [100, 50, 50])
    posterior = Posterior.at(problem, solution)
    assert solution.ok
    assert solution.z == pytest.approx([101.6, 50, 51.6], rel=ROUNDING)
    assert posterior.variable_sd() == pytest.approx(
        [1 / np.sqrt(1.25), 1, np.sqrt(0.8 + 1)], rel=ROUNDING
    )
    # The left reading is checked by nobody, the absent right one has a forecast.
    assert posterior.redundancy[:3] == pytest.approx([0.2, 0.8, 0], abs=1e-12)  # rounding
    assert np.isnan(posterior.redundancy[3])
    assert posterior.fitted_sd[3] == pytest.approx(np.sqrt(1.8), rel=ROUNDING)
    assert list(posterior.checked) == [True, True, False, False]
    assert posterior.degrees_of_freedom == 1


def test_a_warm_start_ends_where_a_cold_one_does():
    problem = scale_problem(bounds=(0, 1e4))
    sd = [1, 2, 1, 1]
    before = problem.solve([101, 104, 50, 50], sd, [100, 50, 50])
    cold = problem.solve([99, 103, 52, 46], sd, [100, 50, 50])
    warm = problem.solve([99, 103, 52, 46], sd, [100, 50, 50], warm=before)
    assert warm.z == pytest.approx(cold.z, rel=1e-8)  # ten times the solver's tolerance
    assert warm.multipliers == pytest.approx(cold.multipliers, rel=1e-6)  # flatter than z
    assert warm.iterations <= cold.iterations


def test_a_variable_pressed_on_its_bound_is_pinned():
    # By hand: right would be -2; held at 0 there are three readings of one flow, sd 1 each.
    z = casadi.SX.sym("z", 3)
    problem = Problem(z, z[0] - z[1] - z[2], z, [0, 0, 0], [1e3] * 3, [100, 100, 100])
    solution = problem.solve([98, 100, -2.0], [1, 1, 1], [100, 90, 10])
    posterior = Posterior.at(problem, solution)
    assert list(solution.active) == [0, 0, -1]
    assert solution.z == pytest.approx([99, 99, 0], abs=1e-6)  # bound reached within the barrier
    assert posterior.variable_sd() == pytest.approx([np.sqrt(0.5), np.sqrt(0.5), 0], abs=1e-9)
    assert posterior.degrees_of_freedom == 2


def test_a_bound_that_is_only_near_is_not_pinned():
    problem = scale_problem(bounds=(0, 1e4))
    solution = problem.solve([100, 100, 99, 1.0], [1, 1, 1, 1], [100, 50, 50])
    assert not solution.active.any()


def test_an_unobservable_direction_is_reported_and_not_given_a_figure():
    problem = scale_problem()
    solution = problem.solve([100, 102, 0, 0], [1, 1, np.inf, np.inf], [100, 50, 50])
    posterior = Posterior.at(problem, solution)
    assert list(posterior.observable_variables) == [True, False, False]
    direction = posterior.unobservable[0]
    assert direction == pytest.approx(np.array([0, 1, -1]) * direction[1], abs=1e-9)  # rounding
    assert posterior.variable_sd()[0] == pytest.approx(np.sqrt(0.5), rel=ROUNDING)
    assert np.isinf(posterior.variable_sd()[1:]).all()
    # The sum of the two is known although neither of them is.
    assert posterior.variances([0, 1, 1])[0] == pytest.approx(0.5, rel=ROUNDING)
    seen = posterior.influences([0, 1, 0])
    assert not seen.determined
    assert np.isinf(seen.variance)


def test_an_equation_said_twice_changes_nothing():
    z = casadi.SX.sym("z", 3)
    once = Problem(z, z[0] - z[1] - z[2], z, [0] * 3, [1e3] * 3, [100, 50, 50])
    twice = Problem(
        z,
        casadi.vertcat(z[0] - z[1] - z[2], 2 * (z[1] + z[2] - z[0])),
        z,
        [0] * 3,
        [1e3] * 3,
        [100, 50, 50],
    )
    answers = [p.solve([101, 52, 47], [1, 2, 3], [100, 50, 50]) for p in (once, twice)]
    first, second = (Posterior.at(p, s) for p, s in zip((once, twice), answers, strict=True))
    assert second.redundant_constraints == 1
    assert second.degrees_of_freedom == first.degrees_of_freedom == 1
    assert answers[1].z == pytest.approx(answers[0].z, rel=1e-8)  # solver's tolerance
    assert second.variable_sd() == pytest.approx(first.variable_sd(), rel=ROUNDING)


def test_influences_add_up_and_name_the_priors():
    z = casadi.SX.sym("z", 2)
    # A product of a flow read within 1 and a factor only guessed within 0.1.
    problem = Problem(
        z, casadi.SX(0, 1), z, [0, 0], [1e3, 10], [100, 1], kinds=["reading", "prior"]
    )
    solution = problem.solve([100, 0.5], [1, 0.1], [90, 0.4])
    figure = Posterior.at(problem, solution).influences([0.5, 100])
    assert figure.contributions == pytest.approx([0.5, 10], rel=ROUNDING)
    assert figure.variance == pytest.approx(100.25, rel=ROUNDING)
    assert figure.prior_share == pytest.approx(100 / 100.25, rel=ROUNDING)
    assert not figure.determined


def test_a_contribution_is_what_a_small_change_of_the_reading_does():
    # Outside check: solve again with one reading moved, central difference.
    z = casadi.SX.sym("z", 3)
    problem = Problem(z, z[0] * z[1] - z[2], z, [0] * 3, [1e4] * 3, [10, 10, 100])
    values, sd = np.array([10.0, 9.0, 95.0]), np.array([0.5, 0.4, 2.0])
    solution = problem.solve(values, sd, values)
    figure = Posterior.at(problem, solution).influences([0, 0, 1])
    for i in range(3):
        step = np.zeros(3)
        step[i] = 1e-3 * sd[i]
        up = problem.solve(values + step, sd, values).z[2]
        down = problem.solve(values - step, sd, values).z[2]
        slope = (up - down) / 2e-3
        # The posterior is linearised without the curvature of the product, which is of the
        # size of residual x curvature: a few per cent here.
        assert figure.contributions[i] == pytest.approx(slope, rel=0.03)


def test_parameters_and_offsets_move_the_equations():
    z, factor = casadi.SX.sym("z", 2), casadi.SX.sym("factor")
    problem = Problem(z, z[1] - factor * z[0], z, [0, 0], [1e3] * 2, [10, 10], parameters=factor)
    plain = problem.solve([10, 0], [1, np.inf], [5, 5], parameters=[3.0])
    lost = problem.solve([10, 0], [1, np.inf], [5, 5], parameters=[3.0], offsets=[-4.0])
    assert plain.z == pytest.approx([10, 30], rel=1e-8)  # solver's tolerance
    assert lost.z == pytest.approx([10, 26], rel=1e-8)


def test_equations_that_contradict_each_other_fail_and_say_which():
    z = casadi.SX.sym("z", 3)
    problem = Problem(
        z,
        casadi.vertcat(z[0] - 100, z[0] - z[1] - z[2]),
        z,
        [0, 0, 0],
        [200, 30, 30],
        [100, 30, 30],
        constraint_names=["feed", "balance"],
    )
    solution = problem.solve([100, 30, 30], [1, 1, 1], [90, 20, 20])
    assert solution.status == "failed"
    with pytest.raises(ValueError, match="did not close"):
        Posterior.at(problem, solution)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"scale": [0, 1]}, "must be above zero"),
        ({"lower": [5, 0], "upper": [4, 1]}, "cross"),
        ({"scale": [1, 1, 1]}, "must have 2 entries"),
    ],
)
def test_a_problem_that_makes_no_sense_is_refused(change, message):
    z = casadi.SX.sym("z", 2)
    given = {"lower": [0, 0], "upper": [1, 1], "scale": [1, 1]} | change
    with pytest.raises(ValueError, match=message):
        Problem(z, z[0] - z[1], z, **given)


def test_the_value_of_an_absent_datum_does_not_matter():
    problem = scale_problem()
    sd = [1, 2, 1, np.inf]
    blank = problem.solve([101, 104, 50, np.nan], sd, [100, 50, 50])
    filled = problem.solve([101, 104, 50, 1e9], sd, [100, 50, 50])
    assert list(blank.z) == list(filled.z)
    with pytest.raises(ValueError, match="must be finite"):
        problem.solve([np.nan, 104, 50, 50], sd, [100, 50, 50])


def test_unknown_and_repeated_data_are_refused():
    problem = scale_problem()
    with pytest.raises(ValueError, match="no prediction"):
        problem.arrange([Datum("third scale", "reading", 1, 1)])
    with pytest.raises(ValueError, match="given twice"):
        problem.arrange([Datum("left", "reading", 1, 1)] * 2)
    with pytest.raises(ValueError, match="must be above zero"):
        problem.solve([1, 1, 1, 1], [1, 1, 0, 1], [1, 1, 1])
