"""Forecasts: before is what was found, settled is where shifts lead, intervals hold."""

import numpy as np
import pytest

from canewright.engine.adjusting.reconcile import Estimate
from canewright.engine.equations.changes import ChangeRefused, parse, resolve
from canewright.engine.equations.nominal import stocks
from canewright.engine.equations.responses import links, responses
from canewright.engine.equations.settled import CannotRun, Square
from canewright.engine.equations.simulate import usually_fixed
from canewright.engine.forecasting.forecast import Forecaster
from canewright.figures.control import control_figures
from canewright.figures.money import earnings
from canewright.registry import sources
from tests.whole_factory import balance

IMBIBITION = "imbibition.imbibition_percent_fibre"
FIGURES = (
    "sucrose_extraction",
    "purity_of_final_molasses",
    "process_steam_percent_cane",
    "overall_recovery",
)


def expressions(model, relations):
    written = {name: f.expression for name, f in control_figures(model, relations).items()}
    sold = earnings(model, relations=relations)
    return written | {row.name: row.amount for row in sold.rows} | {"earned": sold.total}


@pytest.fixture(scope="module")
def estimate(workshop):
    return balance(workshop, workshop.shift(7, width=0.5).measurements)


@pytest.fixture(scope="module")
def forecaster(estimate):
    return Forecaster(estimate, expressions)


def ask(forecaster, *texts, out=()):
    return forecaster.forecast(forecaster.changes(texts), out).differences


@pytest.mark.parametrize("kept", ["settled", "as found"])
def test_before_is_the_reconciled_state(estimate, kept):
    square = Square(estimate.model, kept)
    disturbed = estimate.values.copy()
    # 1 % off everywhere that follows: the way back must lead to what was reconciled.
    disturbed[square.free] *= 1.01
    back = square.solve(disturbed, targets=square.targets(estimate.values))
    off = np.abs(back.values - estimate.values) / np.maximum(np.abs(estimate.values), square.scale)
    # The equations of the reconciled state are closed to 1e-8 of their terms.
    assert off.max() < 1e-6


def test_as_many_follow_as_there_are_equations(halcyon_bend):
    model = halcyon_bend.model
    for kept in ("settled", "as found"):
        square = Square(model, kept)
        assert square.free.size == len(model.equations) + len(square.rows)
    assert set(square.held) == set(usually_fixed(model))


def test_settled_is_where_shift_after_shift_leads(halcyon_bend):
    """Simulated one by one, each shift opening with what the last one closed with.

    Less what the stock gained when it was found: the molasses store empties or fills for
    ever, and is brought back to where it was.
    """
    model, usual = halcyon_bend.model, halcyon_bend.usual
    square = Square(model, "settled")
    start = usual.values.copy()
    start[model.position(IMBIBITION)] = 260.0
    start[model.position("C crystallisers.temperature")] = 43.0
    targets = square.targets(usual.values)
    gains = {row.name: gain for row, gain in zip(square.rows, targets, strict=True)}
    settled = square.solve(start, targets=targets)
    values, simulator = start.copy(), halcyon_bend.simulator
    # What the molasses store sends away follows when it is settled; shifts must be told it.
    dispatch = model.position("final molasses tank.dispatch")
    values[dispatch] = settled.values[dispatch]
    for _ in range(400):
        shift = simulator.solve(values)
        values = shift.values.copy()
        for stock in stocks(model):
            for component in model.states[stock.opening].components:
                left = shift[f"{stock.closing}.{component}"]
                left -= gains[f"{stock.station}: gain of {component}"]
                values[model.position(f"{stock.opening}.{component}")] = left
    for name in ("wet raw sugar.crystal", "C molasses.sucrose", "syrup.sucrose", "melt.water"):
        # 400 shifts leave exp(-400 x 8 h/65 h) of the slowest stock's distance: nothing.
        assert shift[name] == pytest.approx(settled[name], rel=1e-6)
    # The first shift alone is far from it: that is why the stocks are settled.
    assert settled["C molasses.sucrose"] != pytest.approx(usual["C molasses.sucrose"], rel=1e-3)


def test_the_interval_of_a_difference_is_narrower_than_that_of_its_ends(forecaster):
    found = ask(forecaster, f"{IMBIBITION}=+15")
    for name in FIGURES:
        apart = np.hypot(found[name].sd_before, found[name].sd_after)
        assert 0 < found[name].sd < apart
    assert found["process_steam_percent_cane"].sd < 0.5 * apart


def test_slopes_agree_with_solving_again(forecaster):
    base, before = forecaster._base, forecaster.before
    square = base.square
    slopes = base.slopes(before, forecaster.relations)
    place = base.names.index("overall_recovery")
    targets = square.targets(before.values)
    for name in (IMBIBITION, "C machines.film", "evaporator body 2.coefficient"):
        at = int(np.flatnonzero(square.held == base.model.position(name))[0])
        step = 1e-4 * abs(before[name])
        ends = []
        for side in (-1, 1):
            values = before.values.copy()
            values[square.held[at]] += side * step
            ends.append(square.solve(values, before.parameters, targets))
        up, down = (base.values(end, forecaster.relations)[place] for end in (ends[1], ends[0]))
        # A central difference over 1e-4 of the value: curvature and rounding below 1e-5.
        assert slopes.by_held[place, at] == pytest.approx((up - down) / (2 * step), rel=1e-4)


def test_a_setting_given_its_own_value_changes_nothing(forecaster):
    found = ask(forecaster, f"{IMBIBITION}=+0")
    for name in FIGURES:
        # Both ends are solved to 1e-9 of the equations' terms.
        assert found[name].difference == pytest.approx(0.0, abs=1e-6)
        assert found[name].sd == pytest.approx(0.0, abs=1e-6)


def test_more_imbibition_extracts_more_and_costs_steam(forecaster):
    found = ask(forecaster, f"{IMBIBITION}=+20")
    assert found["sucrose_extraction"].difference > 0
    assert found["process_steam_percent_cane"].difference > 0
    assert found["surplus_bagasse"].difference < 0
    names = {response.effect for response in found["sucrose_extraction"].assumed}
    assert names == {"mill.mixing", "mill.non_sugar_mixing", "mill.moisture"}


def test_assumed_responses_are_counted_and_can_be_left_out(estimate, forecaster):
    plain = Forecaster(estimate, expressions, assumed=False)
    without, counted = (ask(each, "C machines.wash_percent=+0.4") for each in (plain, forecaster))
    name = "purity_of_final_molasses"
    assert counted[name].sd > without[name].sd
    assert not without[name].assumed
    assert {r.cause for r in counted[name].assumed} == {"centrifugals.wash_percent"}
    assert counted["sucrose_extraction"].assumed == ()


def test_a_performance_set_by_hand_does_not_answer_as_well(forecaster):
    changes = forecaster.changes(["C machines.wash_percent=+0.4", "C machines.film=+0"])
    moved = {
        forecaster._base.model.variables[link.effect].name
        for link, _, _ in forecaster.forecast(changes).moved
    }
    assert "C machines.film" not in moved
    assert "C machines.crystal_loss" in moved


def test_assumed_responses_are_of_quantities_that_exist(halcyon_bend):
    from canewright.model import stations

    kinds = stations()
    for response in responses():
        for name, roles in (
            (response.cause, {"setting"}),
            (response.effect, {"fitted", "setting"}),
        ):
            kind, _, quantity = name.partition(".")
            assert kinds[kind].quantities[quantity].role in roles
        assert response.sd > 0
        assert response.source == "common_practice" or response.source in sources()
        assert response.words.endswith(".")
    assert len({link.response for link in links(halcyon_bend.model)}) > 10


OUT = (
    "mill 4",
    "mill 2",
    "mill 6",
    "evaporator body 1",
    "evaporator body 3",
    "evaporator body 5",
    "juice heater 2",
)


@pytest.mark.parametrize("station", OUT)
def test_a_station_out_of_the_way_leaves_a_factory_that_closes(forecaster, station):
    found = ask(forecaster, out=[station])
    assert len(found) > 100
    # A mill less extracts less; an effect or a heater less takes more steam, so more bagasse.
    worse = "sucrose_extraction" if station.startswith("mill") else "surplus_bagasse"
    assert found[worse].difference < 0
    assert found[worse].sd > 0
    assert found["cane_tonnes"].difference == pytest.approx(0.0, abs=1e-9)


def test_what_cannot_be_passed_by_is_refused(forecaster):
    with pytest.raises(ChangeRefused, match=r"filter 1.*cannot be passed by"):
        ask(forecaster, out=["filter 1"])
    with pytest.raises(ChangeRefused, match=r"no station called 'mill 9'.*Did you mean"):
        ask(forecaster, out=["mill 9"])


def test_names_may_be_short_and_near_ones_are_offered(halcyon_bend):
    model = halcyon_bend.model
    for short in ("imbibition", "Imbibition percent fibre", IMBIBITION, "imbibition_percent"):
        assert resolve(model, short) == IMBIBITION
    assert resolve(model, "lime_rate") == "lime station.lime_rate"
    assert resolve(model, "c machines wash percent") == "C machines.wash_percent"
    with pytest.raises(ChangeRefused, match=r"could be .*mill 1\.moisture"):
        resolve(model, "moisture")
    with pytest.raises(ChangeRefused, match=r"Did you mean 'lime station.lime_rate'"):
        resolve(model, "lime station.lime_rte")


@pytest.mark.parametrize(
    ("text", "how", "amount"),
    [
        ("imbibition=240", "set", 240.0),
        ("imbibition=+10", "add", 10.0),
        ("cane_rate=-5%", "add share", -5.0),
        ("cane_rate=200000 kg/h", "set", 200.0),
        ("C crystallisers.temperature=+2 K", "add", 2.0),
        ("evaporator condenser.pressure=15 kPa abs", "set", 0.15),
    ],
)
def test_changes_are_read_as_typed(halcyon_bend, text, how, amount):
    (change,) = parse(halcyon_bend.model, [text])
    # Units convert to rounding.
    assert (change.how, change.amount) == (how, pytest.approx(amount, rel=1e-12))


@pytest.mark.parametrize(
    ("texts", "sentence"),
    [
        (["imbibition"], "does not say to what"),
        (["imbibition=much"], "is no number"),
        (["imbibition=900"], "can be 0 to 600 %, not 900"),
        (["imbibition=240", "imbibition=250"], "changed twice"),
        (["cane_rate=200 bar"], "is in t/h"),
        (["imbibition=nan"], "is no number"),
    ],
)
def test_bad_changes_are_refused_in_a_sentence(halcyon_bend, texts, sentence):
    with pytest.raises(ChangeRefused, match=sentence):
        parse(halcyon_bend.model, texts)


def test_all_that_is_wrong_is_said_at_once(halcyon_bend):
    with pytest.raises(ChangeRefused) as refused:
        parse(halcyon_bend.model, ["imbibition=900", "nothing at all=1", "lime_rate=x"])
    assert len(str(refused.value).splitlines()) == 3


def test_a_factory_that_cannot_run_so_says_what_runs_out_and_how_far_it_can_go(forecaster):
    with pytest.raises(CannotRun, match=r"would be -.*less than the 0.*It can go as far as") as no:
        ask(forecaster, "turbine.steam_flow=150")
    furthest = float(str(no.value).rpartition("=")[2].split()[0])
    assert ask(forecaster, f"turbine.steam_flow={furthest - 0.1:.4f}")
    with pytest.raises(CannotRun):
        ask(forecaster, f"turbine.steam_flow={furthest + 0.1:.4f}")


def test_what_follows_is_not_set(forecaster):
    with pytest.raises(ChangeRefused, match="follows from the equations"):
        ask(forecaster, "final molasses tank.dispatch=9")


def test_every_figure_has_its_gradient(forecaster):
    """Differences of all figures are finite but for those a factory cannot have."""
    found = ask(forecaster, f"{IMBIBITION}=+5")
    assert set(found) == set(forecaster.names)
    assert all(np.isfinite(item.sd) for item in found.values())


def test_a_loss_that_the_balance_allowed_for_stays(workshop, estimate):
    """An equation that must equal something: before reproduces it, and after keeps it."""
    reconciler = estimate.reconciler
    problem, old = reconciler.problem, estimate.solution
    offsets = np.zeros(problem.constraint_count)
    offsets[problem.constraint_names.index("juice section: sucrose")] = 0.2
    solution = problem.solve(old.values, old.sd, old.z, parameters=old.parameters, offsets=offsets)
    assert solution.ok
    spilt = Estimate(reconciler, estimate.measurements, solution, 0.0)
    forecaster = Forecaster(spilt, expressions)
    off = np.abs(forecaster.before.values - spilt.values) / np.maximum(
        np.abs(spilt.values), spilt.model.scale
    )
    # The equations of the reconciled state are closed to 1e-8 of their terms.
    assert off.max() < 1e-6
    plain = Forecaster(estimate, expressions)
    changed, kept = (ask(each, f"{IMBIBITION}=+10") for each in (plain, forecaster))
    # 0.2 t/h of 27 less to boil with: the change of extraction hardly differs.
    assert kept["sucrose_extraction"].difference == pytest.approx(
        changed["sucrose_extraction"].difference, rel=0.2
    )
