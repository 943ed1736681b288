"""Published reconciliation problems, solved again: linear networks.

The numbers, their sources and how they are known stand in `data/reconciliation.json`. Each
problem goes through the engine's own route (casadi, KKT factor) and through the closed forms;
both must print the digits that the data file prints.
"""

import casadi
import numpy as np
import pytest

from canewright.engine.adjusting.adjustment import Problem
from canewright.engine.adjusting.linear import LinearAdjustment, classify
from canewright.engine.adjusting.posterior import Posterior
from canewright.engine.adjusting.statistics import (
    chi_square_limit,
    detectable_bias,
    family_limit,
    global_test_of,
    measurement_test,
    vdi_criteria,
)
from canewright.engine.suspects.compensation import compensate, eliminate
from canewright.engine.suspects.gross_errors import search
from tests.engine.published_problems import (
    PROBLEMS,
    adjust,
    as_printed,
    closed_form,
    linear,
    matrix,
    streams_and_nodes,
)

LINEAR = ["hx-bypass", "hx-bypass-bias", "steam-metering", "mitsas-2010", "yang-1995"]


# -- linear networks, everything read -------------------------------------------------------


@pytest.mark.published
@pytest.mark.parametrize("name", LINEAR)
def test_linear_network_is_adjusted_as_printed(name):
    problem = PROBLEMS[name]
    expected = problem["expected"]
    _, solution, posterior = adjust(problem)
    closed = closed_form(problem)
    for found in (solution.z, closed.adjusted):
        assert list(found) == as_printed(expected["reconciled"])
        if "reconciled" in problem.get("published", {}):
            assert list(found) == as_printed(problem["published"]["reconciled"])
    for found in (posterior.gamma, 2 * solution.objective, closed.gamma):
        assert found == as_printed(expected["global_statistic"])
    for found in (posterior.degrees_of_freedom, closed.degrees_of_freedom):
        assert found == expected["dof"]
    assert chi_square_limit(expected["dof"]) == as_printed(expected["chi2_95"])


@pytest.mark.published
@pytest.mark.parametrize("name", LINEAR)
def test_uncertainties_and_tests_are_as_printed(name):
    problem = PROBLEMS[name]
    expected = problem["expected"]
    _, _, posterior = adjust(problem)
    closed = closed_form(problem)
    closed_sd = np.sqrt(np.diag(closed.adjusted_covariance))
    for found in (posterior.variable_sd(), posterior.fitted_sd, closed_sd):
        assert list(found) == as_printed(expected["posterior_sd"])
    for found in (
        posterior.standardised_adjustments,
        closed.measurement_test,
        closed.maximum_power_test,  # the same for independent readings
    ):
        assert list(found) == as_printed(expected["measurement_test"])
    assert list(closed.nodal_test) == as_printed(expected["node_test"])


@pytest.mark.published
@pytest.mark.parametrize("name", LINEAR)
def test_likelihood_ratios_are_as_printed(name):
    problem = PROBLEMS[name]
    built, solution, posterior = adjust(problem)
    biases, losses = streams_and_nodes(built)
    findings = {f.candidate.name: f for f in search(posterior, biases + losses, solution.values)}
    closed = closed_form(problem)
    for line in problem["expected"]["GLR_top"]:
        place = line["where"] - 1
        if line["kind"] == "bias in stream":
            found = findings[f"bias of stream {line['where']}"]
            direct = closed.likelihood_ratio(bias=np.eye(built.data_count)[place])
        else:
            found = findings[f"loss at node {line['where']}"]
            direct = closed.likelihood_ratio(loss=np.eye(built.constraint_count)[place])
        assert found.statistic == as_printed(line["statistic"])
        assert found.size == as_printed(line["magnitude"])
        assert direct == pytest.approx((found.statistic, found.size, found.sd), rel=1e-9)  # algebra


@pytest.mark.published
@pytest.mark.parametrize("name", ["steam-metering", "hx-bypass"])
def test_true_flows_lie_where_the_adjustment_says(name):
    # Chi-square of the distance to the published true flows, in the freedom left by the nodes.
    problem = PROBLEMS[name]
    _, solution, posterior = adjust(problem)
    miss = (np.array(problem["published"]["true"]) - solution.z) / posterior.variable_sd()
    assert np.abs(miss).max() < family_limit(miss.size)


# -- one gross error -------------------------------------------------------------------------


@pytest.mark.published
def test_limits_of_the_biased_heat_exchanger_are_as_published():
    problem = PROBLEMS["hx-bypass-bias"]
    published = problem["published"]
    _, _, posterior = adjust(problem)
    verdict = global_test_of(posterior)
    assert not verdict.passes
    assert verdict.gamma == as_printed(published["global_statistic"])
    assert verdict.limit == as_printed(published["chi2_95"])
    assert measurement_test(posterior).limit == as_printed(published["z_crit_measurements"])
    assert family_limit(4) == as_printed(published["z_crit_nodes"])
    assert measurement_test(posterior).suspects == [1]
    # 4.79 sd for 90 % power: [own_derivation] from the limit 2.631 and redundancy 2/3.
    assert detectable_bias(posterior) == pytest.approx([4.79] * 6, abs=0.005)  # printed digits


@pytest.mark.published
def test_principal_components_of_the_biased_heat_exchanger():
    problem = PROBLEMS["hx-bypass-bias"]
    expected = problem["principal_component_test"]
    variances, scores = closed_form(problem).principal_components
    assert list(variances) == as_printed(expected["eigenvalues_of_cov_of_residuals"])
    assert list(np.abs(scores)) == as_printed(expected["scores_abs"])
    assert scores @ scores == as_printed(problem["expected"]["global_statistic"])


def test_a_loss_looks_worse_than_the_true_culprit_unless_losses_are_impossible():
    problem = PROBLEMS["hx-bypass-bias"]
    built, solution, posterior = adjust(problem)
    biases, losses = streams_and_nodes(built)
    everything = search(posterior, biases + losses, solution.values)
    assert [f.candidate.name for f in everything[:2]] == ["loss at node 2", "bias of stream 2"]
    only_biases = search(posterior, biases, solution.values)
    assert only_biases[0].candidate.name == "bias of stream 2"
    no_losses = search(
        posterior,
        biases + losses,
        solution.values,
        possible=lambda candidate, size, corrected: candidate.kind != "loss",
    )
    assert next(f.candidate.name for f in no_losses if f.possible) == "bias of stream 2"


@pytest.mark.published
def test_compensation_and_elimination_agree_on_the_biased_heat_exchanger():
    problem = PROBLEMS["hx-bypass-bias"]
    built, solution, posterior = adjust(problem)
    verdict = compensate(built, solution, streams_and_nodes(built)[0])
    removal = eliminate(built, solution)
    assert [f.candidate.name for f in verdict.findings] == ["bias of stream 2"]
    assert removal.removed == ("stream 2",)
    assert verdict.explained
    # Reference: deletion lowers gamma by exactly the statistic, 16.674 - 10.270 = 6.404, dof 3.
    for overall in (verdict.overall, removal.overall):
        assert overall.degrees_of_freedom == 3
        assert overall.gamma == pytest.approx(16.674167 - 10.270417, abs=1e-6)  # printed digits
    assert verdict.findings[0].size == as_printed(3.925)
    assert verdict.solution.z == pytest.approx(removal.solution.z, rel=1e-7)  # solver tolerance
    # Reference: deletion gives 100.23 64.53 35.71.
    assert removal.solution.z[:3] == pytest.approx([100.23, 64.53, 35.71], abs=0.0051)  # printed
    assert posterior.gamma > verdict.overall.gamma


@pytest.mark.published
def test_the_only_feed_and_a_loss_at_its_node_cannot_be_told_apart():
    problem = PROBLEMS["yang-1995"]
    expected = problem["serial_elimination"]
    built, solution, posterior = adjust(problem)
    biases, losses = streams_and_nodes(built)
    first, second = search(posterior, biases + losses, solution.values)[:2]
    assert {first.candidate.name, second.candidate.name} == {
        "bias of stream 1",
        "loss at node 1",
    }
    assert second.candidate.name in first.equivalents
    assert first.candidate.name in second.equivalents
    removal = eliminate(built, solution)
    assert removal.removed == tuple(f"stream {i}" for i in expected["removed"])
    assert removal.overall.gamma == as_printed(expected["global_after"])
    assert removal.overall.degrees_of_freedom == expected["dof_after"]
    assert list(removal.solution.z) == as_printed(expected["reconciled_after"])
    verdict = compensate(built, solution, biases + losses)
    assert len(verdict.findings) == 1
    assert verdict.overall.gamma == as_printed(expected["global_after"])


# -- the steam network -----------------------------------------------------------------------


def test_a_correction_to_a_negative_flow_is_not_possible():
    # Reference: stream 7 reads 2.2 and would be 5.43 too high, a true flow of -3.2.
    built, solution, posterior = adjust(PROBLEMS["steam-metering"])
    findings = search(
        posterior,
        streams_and_nodes(built)[0],
        solution.values,
        possible=lambda candidate, size, corrected: min(corrected.values()) >= 0,
    )
    assert findings[0].candidate.name == "bias of stream 7"
    assert findings[0].corrected["stream 7"] == pytest.approx(2.201 - 5.43074, abs=1e-5)  # printed
    assert not findings[0].possible
    assert next(f for f in findings if f.possible).candidate.name == "bias of stream 20"
    assert not any(f.significant for f in findings)


def test_a_meter_that_nobody_checks_says_so():
    # Stream 1 is some thousandth of what it is balanced with: a tenfold error would not show.
    _, _, posterior = adjust(PROBLEMS["steam-metering"])
    detectable = detectable_bias(posterior) / np.array(PROBLEMS["steam-metering"]["readings"])
    assert posterior.redundancy[0] < 1e-3
    assert detectable[0] > 5
    assert detectable[8 - 1] < 0.15


@pytest.mark.parametrize("way", ["compensation", "elimination"])
def test_two_planted_errors_in_the_steam_network_are_found(way):
    # Planted by us: stream 4 reads 30 too high, stream 21 reads 25 too low (11 sd each).
    problem = PROBLEMS["steam-metering"]
    built = linear(problem)
    readings = np.array(problem["readings"])
    readings[3] += 30
    readings[20] -= 25
    solution = built.solve(readings, problem["sd"], readings)
    if way == "elimination":
        found = set(eliminate(built, solution).removed)
    else:
        verdict = compensate(
            built,
            solution,
            streams_and_nodes(built)[0],
            possible=lambda candidate, size, corrected: min(corrected.values()) >= 0,
        )
        assert verdict.explained
        found = {name for f in verdict.findings for name in f.corrected}
        sizes = {name: f for f in verdict.findings for name in f.corrected}
        for name, planted in (("stream 4", 30), ("stream 21", -25)):
            assert abs(sizes[name].size - planted) < 2.5 * sizes[name].sd  # 99 % interval
    assert found == {"stream 4", "stream 21"}


# -- correlated readings: VDI 2048 -----------------------------------------------------------


@pytest.mark.published
def test_vdi_2048_by_closed_form_and_by_shared_errors():
    problem = PROBLEMS["vdi2048"]
    expected, published = problem["expected"], problem["published"]
    half = np.array(problem["half_width_95"])
    sd = half / 1.96
    balances = matrix(problem["balance_rows"], 10)
    covariance = np.diag(sd**2)
    for pair in problem["correlation"]:
        i, j = pair["i"] - 1, pair["j"] - 1
        covariance[i, j] = covariance[j, i] = pair["r"] * sd[i] * sd[j]
    closed = LinearAdjustment(balances, problem["readings"], covariance)

    # The engine's way: a correlation is an error that two readings share, itself a soft prior.
    z = casadi.SX.sym("z", 12)
    predicted, alone = [z[i] for i in range(10)], sd.copy()
    for place, pair in enumerate(problem["correlation"]):
        for i in (pair["i"] - 1, pair["j"] - 1):
            predicted[i] = predicted[i] + np.sqrt(pair["r"]) * sd[i] * z[10 + place]
            alone[i] = sd[i] * np.sqrt(1 - pair["r"])
    built = Problem(
        z,
        casadi.mtimes(casadi.DM(balances), z[:10]),
        casadi.vertcat(*predicted, z[10], z[11]),
        [-np.inf] * 12,
        [np.inf] * 12,
        [*problem["readings"], 1, 1],
        kinds=["reading"] * 10 + ["prior"] * 2,
    )
    readings = np.array(problem["readings"])
    solution = built.solve([*readings, 0, 0], [*alone, 1, 1], [*readings, 0, 0])
    posterior = Posterior.at(built, solution)
    posterior_sd = posterior.variable_sd(range(10))
    local = (readings - solution.z[:10]) / np.sqrt(sd**2 - posterior_sd**2)

    for values, widths, gamma, freedom, tests in (
        (
            closed.adjusted,
            1.96 * np.sqrt(np.diag(closed.adjusted_covariance)),
            closed.gamma,
            closed.degrees_of_freedom,
            closed.measurement_test,
        ),
        (
            solution.z[:10],
            1.96 * posterior_sd,
            posterior.gamma,
            posterior.degrees_of_freedom,
            local,
        ),
    ):
        assert list(values) == as_printed(expected["reconciled"])
        assert list(values) == as_printed(published["reconciled"])
        assert list(widths) == as_printed(expected["half_width_95"])
        assert list(widths) == as_printed(published["half_width_95"])
        assert gamma == as_printed(expected["global_statistic"])
        assert list(tests) == as_printed(expected["local_test"])
        verdict = vdi_criteria(gamma, freedom, tests)
        assert freedom == expected["dof"]
        assert verdict.overall.limit == as_printed(expected["chi2_95"])
        assert not verdict.accepted
        # Feedwater meters (4.50) and main steam meters (1.964) exceed 1.96.
        assert verdict.local_failures == [0, 1, 2, 3]
    assert list(balances @ readings) == as_printed(expected["contradictions"])


# -- unread streams --------------------------------------------------------------------------


@pytest.mark.published
@pytest.mark.parametrize("case", PROBLEMS["hx-bypass-classify"]["cases"])
def test_classification_by_projection_and_by_the_factor(case):
    problem = PROBLEMS["hx-bypass-classify"]
    balances = matrix(problem["balance_rows"], 6)
    read = [i - 1 for i in case["measured"]]
    unread = [i for i in range(6) if i not in read]
    found = classify(balances[:, read], balances[:, unread])
    assert [case["measured"][i] for i in found.redundant] == case["redundant"]
    assert [case["measured"][i] for i in found.nonredundant] == case["nonredundant"]
    assert [unread[i] + 1 for i in found.observable] == case["observable"]
    assert [unread[i] + 1 for i in found.unobservable] == case["unobservable"]

    built = linear(problem, case["measured"])
    readings = case.get("readings", [101.91, 64.45])
    solution = built.solve(readings, np.ones(len(read)), np.full(6, 50.0))
    posterior = Posterior.at(built, solution)
    assert [case["measured"][i] for i in np.flatnonzero(posterior.checked)] == case["redundant"]
    assert [i + 1 for i in unread if posterior.observable_variables[i]] == case["observable"]
    if "expected" in case:
        closed = LinearAdjustment(
            balances[:, read], readings, np.ones(len(read)), balances[:, unread]
        )
        whole = np.empty(6)
        whole[read], whole[unread] = closed.adjusted, closed.unread
        for values, gamma in ((solution.z, posterior.gamma), (whole, closed.gamma)):
            assert list(values) == as_printed(case["expected"]["reconciled"])
            assert gamma == as_printed(case["expected"]["global_statistic"])
        assert posterior.degrees_of_freedom == closed.degrees_of_freedom == 2
        # Reference: sd 0.632 for streams 1 and 6, 0.775 for 2 to 5.
        assert posterior.variable_sd() == pytest.approx(
            [0.632, 0.775, 0.775, 0.775, 0.775, 0.632],
            abs=0.0005,  # printed digits
        )
