"""Batches of scenarios: each agrees with solving it alone, odd ones and failed ones are told."""

import pickle
from dataclasses import replace

import casadi
import numpy as np
import pytest
import scipy.sparse as sparse

from canewright.engine.algebra.static_lu import newton_step, pivots
from canewright.engine.equations.settled import Square
from canewright.engine.scenarios.batch import make_batch
from canewright.engine.scenarios.scenarios import LANES, Runner, any_expressions, scenarios
from canewright.engine.scenarios.tape import Lanes, NoTape, Tape
from canewright.engine.scenarios.tape_c import compiled, compiler
from canewright.figures.control import control_figures

IMBIBITION = "imbibition.imbibition_percent_fibre"
CANE = "cane yard.cane_rate"
COLD = "C crystallisers.temperature"
NAMES = ("wet raw sugar.crystal", "final molasses.sucrose", "live steam from boilers.water")


@pytest.fixture(scope="module")
def batch(halcyon_bend):
    return make_batch(halcyon_bend.model, halcyon_bend.usual.values, any_expressions(NAMES))


@pytest.fixture(scope="module")
def plain(batch):
    return Runner(batch, compile=False)


@pytest.fixture(scope="module")
def own_cache(tmp_path_factory):
    """Compiled code is kept in a folder of the tests' own."""
    with pytest.MonkeyPatch.context() as patch:
        folder = tmp_path_factory.mktemp("cache")
        patch.setattr("canewright.engine.scenarios.tape_c.cache_folder", lambda: folder)
        yield folder


@pytest.fixture(scope="module")
def table():
    rng = np.random.default_rng(7)
    return {
        IMBIBITION: rng.uniform(180, 280, 40),
        CANE: rng.uniform(190, 225, 40),
        COLD: rng.uniform(42, 50, 40),
    }


def test_each_scenario_agrees_with_solving_it_alone(halcyon_bend, plain, table):
    model, usual = halcyon_bend.model, halcyon_bend.usual
    found = plain.run(table)
    square = Square(model, "settled")
    assert found.failed == 0
    for k in range(0, 40, 7):
        start = usual.values.copy()
        for name, column in table.items():
            start[model.position(name)] = column[k]
        alone = square.solve(start, targets=square.targets(usual.values))
        for name in NAMES:
            # Both close their equations to 1e-9 of the terms.
            assert found.figures[name][k] == pytest.approx(alone[name], rel=1e-8)


def test_first_shift_agrees_with_a_simulation(halcyon_bend, table):
    found = scenarios(halcyon_bend, table, any_expressions(NAMES), stocks="as found", compile=False)
    for k in (0, 20):
        start = halcyon_bend.usual.values.copy()
        for name, column in table.items():
            start[halcyon_bend.model.position(name)] = column[k]
        alone = halcyon_bend.simulator.solve(start)
        for name in NAMES:
            # The simulation is closed to 1e-9 of the terms.
            assert found.figures[name][k] == pytest.approx(alone[name], rel=1e-7)


def test_a_scenario_does_not_depend_on_the_others(plain, table):
    whole = plain.run(table)
    backwards = plain.run({name: column[::-1] for name, column in table.items()})
    alone = plain.run({name: column[3:4] for name, column in table.items()})
    for name in NAMES:
        assert np.array_equal(whole.figures[name], backwards.figures[name][::-1])
        assert whole.figures[name][3] == alone.figures[name][0]


def test_more_scenarios_than_fit_side_by_side(plain):
    values = np.linspace(200, 240, LANES + 3)
    found = plain.run({IMBIBITION: values})
    assert len(found) == LANES + 3
    assert np.all(np.diff(found.figures["live steam from boilers.water"]) > 0)


def test_a_batch_travels_to_another_process(batch, plain, table):
    there = Runner(pickle.loads(pickle.dumps(batch)), compile=False)
    for name, column in there.run(table).figures.items():
        assert np.array_equal(column, plain.run(table).figures[name])


def test_what_is_not_told_stays_as_it_is(halcyon_bend, plain):
    found = plain.run({})
    for name in NAMES:
        # Solved to 1e-9 of the terms.
        assert found.figures[name][0] == pytest.approx(halcyon_bend.usual[name], rel=1e-7)


def test_a_scenario_that_cannot_be_is_a_row_with_its_reason(plain):
    steam = np.array([60.0, 200.0, float("nan"), -5.0, 58.0])
    found = plain.run({"turbine.steam_flow": steam})
    assert [bool(reason) for reason in found.reasons] == [False, True, True, True, False]
    assert "cannot run so" in found.reasons[1]
    assert "live steam to let-down" in found.reasons[1]
    assert "it can be 0 to 1000" in found.reasons[3]
    for name in NAMES:
        assert np.isnan(found.figures[name][1:4]).all()
        assert np.isfinite(found.figures[name][[0, 4]]).all()
    assert found.failed == 3


def test_the_odd_one_goes_to_ipopt_and_is_counted(batch, table):
    """Steps that lead nowhere: every scenario must be rescued, and be right all the same."""
    point = casadi.SX.sym("point", batch.size)
    given = casadi.SX.sym("given", batch.given.size)
    astray = replace(batch, tapes=batch.tapes | {"step": Tape.of([point, given], [point * 1.5])})
    few = {name: column[:3] for name, column in table.items()}
    found, right = Runner(astray, compile=False).run(few), Runner(batch, compile=False).run(few)
    assert found.rescued == 3
    assert right.rescued == 0
    assert found.failed == 0
    for name in NAMES:
        # IPOPT closes to 1e-7 of the terms.
        assert found.figures[name] == pytest.approx(right.figures[name], rel=1e-5)


def test_many_columns_differ_at_once(halcyon_bend, batch, plain):
    """Every setting and parameter drawn: no first-order start, more steps."""
    model = halcyon_bend.model
    rng = np.random.default_rng(11)
    square = Square(model, "settled")
    columns = {}
    for i in square.held:
        variable = model.variables[int(i)]
        if variable.role in ("setting", "fitted") and np.isfinite(variable.prior_sd):
            drawn = rng.normal(halcyon_bend.usual.values[i], 0.2 * variable.prior_sd, 12)
            columns[variable.name] = np.clip(drawn, variable.lower, variable.upper)
    found = plain.run(columns)
    assert len(columns) > 100
    assert found.failed == 0
    for k in (0, 11):
        start = halcyon_bend.usual.values.copy()
        for name, column in columns.items():
            start[model.position(name)] = column[k]
        alone = square.solve(start, targets=square.targets(halcyon_bend.usual.values))
        # Both close their equations to 1e-9 of the terms.
        assert found.figures[NAMES[0]][k] == pytest.approx(alone[NAMES[0]], rel=1e-7)


def test_unknown_columns_are_refused(plain):
    with pytest.raises(KeyError, match=r"nothing that a scenario can set\. Did you mean"):
        plain.run({"cane yard.cane_rat": [200.0]})
    with pytest.raises(KeyError, match="nothing that a scenario can set"):
        plain.run({"wet raw sugar.crystal": [9.0]})


@pytest.mark.slow
@pytest.mark.parametrize("count", [1, 5, 40])
def test_compiled_and_uncompiled_runs_agree(batch, plain, table, count, own_cache):
    if compiler() is None:
        assert compiled(batch.tapes) is None
        return
    made = Runner(batch, compile=True, threads=2)
    few = {name: column[:count].copy() for name, column in table.items()}
    few["turbine.steam_flow"] = np.where(np.arange(count) == 3, 300.0, 60.0)
    found, right = made.run(few), plain.run(few)
    assert made.route == "compiled"
    assert len(list(own_cache.iterdir())) == 1
    assert found.reasons == right.reasons
    for name in NAMES:
        # The same steps; exp, log and pow of the two libraries may differ in the last digit.
        assert found.figures[name] == pytest.approx(right.figures[name], rel=1e-12, nan_ok=True)


def test_without_a_compiler_nothing_is_asked_of_one(batch, monkeypatch):
    monkeypatch.setattr("canewright.engine.scenarios.tape_c.shutil.which", lambda name: None)
    assert compiled(batch.tapes) is None
    assert Runner(batch).route == "steps"
    with pytest.raises(RuntimeError, match="No C compiler"):
        Runner(batch, compile=True)


def test_a_compiler_that_fails_is_done_without(batch, monkeypatch, tmp_path):
    monkeypatch.setattr("canewright.engine.scenarios.tape_c.compiler", lambda: "/bin/false")
    monkeypatch.setattr("canewright.engine.scenarios.tape_c.cache_folder", lambda: tmp_path)
    assert compiled(batch.tapes) is None


def test_a_tape_does_what_its_expression_says():
    one, two = casadi.SX.sym("one", 3), casadi.SX.sym("two", 2)
    formula = [
        one[0] ** two[0] + casadi.exp(one[1]) / casadi.log(two[1]),
        casadi.sqrt(one[2]) - one[0] * one[0] + 2 * two[0] + casadi.log10(two[1]),
        -one[1] + casadi.fabs(one[0] - two[1]) + 1 / one[2] + 7.5,
    ]
    expression = casadi.vertcat(*formula)
    lanes = Lanes(Tape.of([one, two], [expression]))
    rng = np.random.default_rng(3)
    values = rng.uniform(1.1, 3.0, (5, LANES))
    lanes.inputs[0][:], lanes.inputs[1][:] = values[:3], values[3:]
    lanes.run()
    function = casadi.Function("f", [one, two], [expression])
    for k in (0, 100, LANES - 1):
        right = np.array(function(values[:3, k], values[3:, k])).ravel()
        # The same operations; exp, log and pow may differ in the last digit.
        assert lanes.outputs[0][:, k] == pytest.approx(right, rel=1e-13)


def test_an_operation_that_no_tape_knows_is_named():
    one, two = casadi.SX.sym("one", 1), casadi.SX.sym("two", 1)
    with pytest.raises(NoTape, match="ATAN2"):
        Tape.of([one, two], [casadi.atan2(one, two)])


def test_elimination_in_a_chosen_order_solves_the_system():
    """Against a dense solver of numpy, with zeros on the diagonal."""
    rng = np.random.default_rng(5)
    size = 30
    matrix = np.where(rng.random((size, size)) < 0.15, rng.normal(size=(size, size)), 0.0)
    matrix[np.arange(size), (np.arange(size) + 1) % size] = 2.0 + rng.random(size)
    right = rng.normal(size=size)
    order = pivots(sparse.coo_array(matrix))
    assert sorted(i for i, _ in order) == sorted(j for _, j in order) == list(range(size))
    pattern = casadi.DM(sparse.csc_matrix(matrix)).sparsity()
    entries = casadi.SX.sym("a", pattern)
    step = newton_step(entries, casadi.SX(right), order)
    found = casadi.Function("s", [entries], [step])(casadi.DM(sparse.csc_matrix(matrix)))
    # Condition number of the matrix is below 1e4.
    assert np.array(found).ravel() == pytest.approx(np.linalg.solve(matrix, right), rel=1e-9)
    with pytest.raises(ArithmeticError, match="dependent"):
        pivots(sparse.coo_array(np.ones((3, 3)) * np.array([[1.0], [2.0], [3.0]])))


def test_figures_of_the_factory_run_in_batches(halcyon_bend):
    def figures(model):
        return {name: figure.expression for name, figure in control_figures(model).items()}

    found = scenarios(halcyon_bend, {IMBIBITION: [200.0, 240.0]}, figures, compile=False)
    extraction = found.figures["sucrose_extraction"]
    assert extraction[1] > extraction[0]
    assert set(found.figures) == set(figures(halcyon_bend.model))
