"""Gross errors, shared biases, losses and soft priors on problems small enough to see through."""

import casadi
import numpy as np
import pytest

from canewright.engine.adjusting.adjustment import Problem
from canewright.engine.adjusting.posterior import Posterior
from canewright.engine.adjusting.statistics import (
    detectable_bias,
    global_test_of,
    measurement_test,
)
from canewright.engine.suspects.compensation import compensate
from canewright.engine.suspects.gross_errors import bias, loss, search, shared_bias

ROUNDING = 1e-12
"""Algebraic identity in double precision, on numbers of the size of one."""


# -- shared biases, priors, determined or not ------------------------------------------------


def two_instruments():
    """A line of four flows that are equal; the first two are read by the same instrument."""
    z = casadi.SX.sym("z", 1)
    names = ["a first", "a second", "b first", "b second"]
    return Problem(
        z,
        casadi.SX(0, 1),
        casadi.vertcat(z, z, z, z),
        [-np.inf],
        [np.inf],
        [10],
        data_names=names,
    )


def test_a_shared_bias_is_found_as_one_error():
    problem = two_instruments()
    solution = problem.solve([14, 14.2, 10, 10.1], [0.5] * 4, [10])
    candidates = [bias(n) for n in problem.data_names]
    candidates += [
        shared_bias("instrument a", ["a first", "a second"]),
        shared_bias("instrument b", ["b first", "b second"]),
    ]
    verdict = compensate(problem, solution, candidates)
    assert len(verdict.findings) == 1
    finding = verdict.findings[0]
    # Which of the two instruments is wrong cannot be told: the other one is equivalent.
    assert {finding.candidate.name, *finding.equivalents} == {
        "bias of instrument a",
        "bias of instrument b",
    }
    assert abs(finding.size) == pytest.approx(4.05, rel=1e-6)  # 14.1 - 10.05, solver's tolerance
    assert finding.sd == pytest.approx(0.5, rel=1e-6)  # 0.5 sqrt(1/2 + 1/2)
    assert verdict.overall.degrees_of_freedom == 2


def test_what_cannot_be_is_passed_over_and_said():
    problem = two_instruments()
    solution = problem.solve([14, 14.2, 10, 10.1], [0.5] * 4, [10])
    candidates = [
        shared_bias("instrument a", ["a first", "a second"]),
        shared_bias("instrument b", ["b first", "b second"]),
    ]
    verdict = compensate(
        problem,
        solution,
        candidates,
        possible=lambda candidate, size, corrected: max(corrected.values()) < 12,
    )
    assert [f.candidate.name for f in verdict.findings] == ["bias of instrument a"]
    assert [f.candidate.name for f in verdict.rejected] == ["bias of instrument b"]
    assert min(verdict.rejected[0].corrected.values()) > 12


def test_nothing_possible_leaves_the_contradiction_unexplained():
    problem = two_instruments()
    solution = problem.solve([14, 14.2, 10, 10.1], [0.5] * 4, [10])
    verdict = compensate(
        problem,
        solution,
        [bias(n) for n in problem.data_names],
        possible=lambda candidate, size, corrected: False,
    )
    assert verdict.findings == ()
    assert not verdict.explained
    assert not verdict.overall.passes


def test_a_loss_in_a_nonlinear_model_is_sized_by_solving_again():
    # Flow x content in = out + lost; both flows and both contents are read, each twice.
    z = casadi.SX.sym("z", 4)
    problem = Problem(
        z,
        casadi.vertcat(z[0] - z[2], z[0] * z[1] - z[2] * z[3]),
        casadi.vertcat(z, z),
        [0] * 4,
        [1e3] * 4,
        [100, 10, 100, 10],
        constraint_names=["flow", "content"],
    )
    readings = np.array([100, 12, 100, 10.0])
    solution = problem.solve([*readings, *readings], [1, 0.1, 1, 0.1] * 2, readings)
    verdict = compensate(problem, solution, [loss("the vessel", {"content": 1})])
    assert verdict.explained
    assert verdict.overall.gamma == pytest.approx(0, abs=1e-6)  # everything then agrees exactly
    assert verdict.findings[0].size == pytest.approx(200, rel=1e-3)  # sizes settle to 1e-4 sd


def test_a_candidate_with_an_unknown_name_is_refused():
    problem = two_instruments()
    solution = problem.solve([10] * 4, [0.5] * 4, [10])
    with pytest.raises(ValueError, match="there is none"):
        compensate(problem, solution, [bias("c first")])


def test_a_reading_nobody_checks_is_neither_tested_nor_suspected():
    posterior = Posterior(np.eye(2), np.zeros((0, 2)), [1, 1], [0, 0])
    assert np.isnan(posterior.standardised_adjustments).all()
    assert np.isinf(detectable_bias(posterior)).all()
    assert search(posterior, [bias(n) for n in posterior.data_names], [1, 2]) == []
    assert measurement_test(posterior).suspects == []
    verdict = global_test_of(posterior)
    assert verdict.degrees_of_freedom == 0
    assert verdict.passes


def test_a_figure_carried_by_a_prior_is_not_determined():
    # One unknown, a prior of sd 1 and a reading of sd s: the prior carries s^2/(1 + s^2).
    for sd, determined in ((0.9, True), (1.1, False)):
        posterior = Posterior(
            [[1.0], [1.0]], np.zeros((0, 1)), [sd, 1.0], [0, 0], kinds=["reading", "prior"]
        )
        figure = posterior.influences([1.0])
        share = sd**2 / (1 + sd**2)
        assert figure.prior_share == pytest.approx(share, rel=ROUNDING)
        assert figure.determined is determined
