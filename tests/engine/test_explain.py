"""Every figure says what it rests on; what it says is checked by solving again."""

import numpy as np
import pytest

from canewright.engine.adjusting.explain import COVERAGE, explain, statement, statements
from canewright.engine.adjusting.reconcile import Estimate, Measurement, Reconciler
from canewright.engine.equations.points import Points
from canewright.engine.measuring.what_to_measure import what_to_measure
from canewright.figures.control import control_figures
from tests.engine.small_factory import (
    READ,
    balanced,
    made_up_shift,
    small_prepared,
    small_reconciler,
    true_readings,
    usual_readings,
)


@pytest.fixture(scope="module")
def estimate():
    return balanced(seed=3)


@pytest.fixture(scope="module")
def figures(estimate):
    return control_figures(estimate.model, estimate.reconciler.relations)


def test_all_figures_at_once_say_what_each_says_alone(estimate, figures):
    chosen = [figures[n].expression for n in ("sucrose_extraction", "mixed_juice_percent_cane")]
    for together, expression in zip(statements(estimate, chosen), chosen, strict=True):
        alone = statement(estimate, expression)
        assert together.value == pytest.approx(alone.value, rel=1e-12)  # same arithmetic
        assert together.sd == pytest.approx(alone.sd, rel=1e-9)  # same factor
        assert together.interval[1] == pytest.approx(alone.value + COVERAGE * alone.sd, rel=1e-9)


@pytest.mark.parametrize("name", ["sucrose_extraction", "boiling_house_recovery"])
def test_contributions_make_up_the_whole_variance(estimate, figures, name):
    parts = explain(estimate, figures[name].expression)
    sd = statement(estimate, figures[name].expression).sd
    assert sum(part.share for part in parts) == pytest.approx(1.0, rel=1e-9)  # identity
    assert sum(part.moves**2 for part in parts) == pytest.approx(sd**2, rel=1e-9)  # identity
    assert [part.share for part in parts] == sorted((p.share for p in parts), reverse=True)


@pytest.fixture(scope="module")
def undisturbed():
    """Readings and priors without any error: there a sensitivity is a derivative and no more."""
    reconciler, usual = small_reconciler(), small_prepared().usual
    exact = [
        Measurement(channel.point, channel.analysis, value)
        for channel, value in zip(reconciler.channels, usual_readings(), strict=True)
    ]
    start, parameters = reconciler.start(usual.values), reconciler.parameters()
    predicted = reconciler.problem.linearise(start, parameters).predictions
    _, sd = reconciler.data(exact)
    solution = reconciler.problem.solve(predicted, sd, start, None, parameters)
    return Estimate(reconciler, tuple(exact), solution, 0.0)


@pytest.mark.parametrize("name", ["sucrose_extraction", "pol_extraction", "overall_recovery"])
@pytest.mark.parametrize("reading", ["cane fibre", "mixed_juice weight", "bagasse moisture"])
def test_a_sensitivity_is_what_happens_when_the_reading_changes(
    undisturbed, figures, name, reading
):
    expression = figures[name].expression
    part = next(p for p in explain(undisturbed, expression) if p.name == reading)
    problem, solution = undisturbed.reconciler.problem, undisturbed.solution
    place = problem.data_names.index(reading)
    changes = []
    for sign in (1, -1):
        values = solution.values.copy()
        values[place] += sign * 0.2 * solution.sd[place]
        again = problem.solve(
            values, solution.sd, solution.z, warm=solution, parameters=solution.parameters
        )
        moved = Estimate(undisturbed.reconciler, undisturbed.measurements, again, 0.0)
        changes.append(statement(moved, expression).value)
    difference = (changes[0] - changes[1]) / (0.4 * solution.sd[place])
    # 1 %: central difference over 0.4 standard uncertainties; its error is of second order
    assert difference == pytest.approx(part.sensitivity, rel=0.01)


def test_priors_are_named_in_the_trades_words(estimate, figures):
    names = [p.name for p in explain(estimate, figures["undetermined_loss"].expression)]
    assert "boiling section, undetermined loss % of the section's sucrose, as usual" in names
    assert not any("_" in p for p in names if p.endswith(", as usual"))


def test_a_figure_that_only_priors_carry_is_not_determined(estimate, figures):
    known = statement(estimate, figures["loss_deteriorated_in_the_yard"].expression)
    assert not known.determined
    # The rate and hours of deterioration are known from priors alone; the cane's sucrose, by
    # which they are multiplied, is read, and that is all the readings add.
    assert 0.5 < known.prior_share < 1.0
    yard = estimate.model.stations["yard"]
    # Of the rate itself nearly all that is known is the prior: readings see only its product
    # with the hours, and that hardly.
    assert statement(estimate, yard.deterioration).prior_share > 0.95
    assert statement(estimate, figures["mixed_juice_percent_cane"].expression).determined


def test_a_figure_that_divides_by_nothing_has_no_number(estimate):
    state = estimate.model.states["bagasse"]
    nothing = state.sucrose / (state.water - state.water)
    asked = statement(estimate, nothing)
    assert not asked.determined
    assert np.isnan(asked.value)
    with pytest.raises(ValueError, match="no value"):
        explain(estimate, nothing)


def test_what_to_measure_keeps_its_promise(estimate, figures):
    expression = figures["purity_of_final_molasses"].expression
    (hint,) = what_to_measure(estimate, [expression])
    # Pol says little of sucrose in molasses: the trade knows that chromatography settles it.
    assert (hint.point, hint.analysis) == ("final_molasses", "sucrose")
    prepared, points = small_prepared(), Points(small_prepared().model)
    channels = [*small_reconciler().channels, points.channel(hint.point, hint.analysis)]
    reconciler = Reconciler(prepared.model, channels, prepared.statements)
    truth = true_readings(reconciler, prepared.usual)
    again = reconciler.solve(made_up_shift(reconciler, truth, seed=3), prepared.usual.values)
    figure = control_figures(prepared.model, reconciler.relations)["purity_of_final_molasses"]
    # 5 %: linearised at another point
    assert statement(again, figure.expression).sd == pytest.approx(hint.sd, rel=0.05)


def test_a_figure_that_rests_on_a_bound_says_on_which_side_it_is_free():
    # The bags are heavier than the sugar that went to them: rejects cannot be below zero.
    reconciler = small_reconciler(READ.replace("melt brix", "melt brix | a_sugar weight"))
    prepared = small_prepared()
    truth = true_readings(reconciler, prepared.usual)
    names = [channel.name for channel in reconciler.channels]
    off = {"a_sugar weight": -0.2 * truth[names.index("a_sugar weight")]}
    shift = made_up_shift(reconciler, truth, seed=5, off=off)
    estimate = reconciler.solve(shift, prepared.usual.values)
    place = prepared.model.position("packing.rejected")
    assert estimate.solution.active[place] == -1
    rejects = statement(estimate, prepared.model.symbols[place])
    assert rejects.one_sided == "at least"
    low, high = rejects.interval
    assert rejects.value - low < 0.1 * (high - rejects.value)
