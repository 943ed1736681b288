"""Advice: the optimum against a sweep, shadow prices against finite differences, refusals."""

from dataclasses import replace

import numpy as np
import pytest

from canewright.engine.advising.advise import Optimiser
from canewright.engine.advising.binding import binding, next_binding
from canewright.engine.advising.conflict import LimitsConflict
from canewright.engine.advising.limits import LimitRefused
from canewright.engine.advising.marginal import component_worth, consumer_rows, regime
from canewright.engine.advising.movable import movable, rules
from canewright.figures.ledgers import products
from canewright.flowsheet import Limit
from canewright.laws.economics import pol_per_imbibition_water
from canewright.model.station import _registered
from tests.engine.advised_factory import (
    IMBIBITION,
    PAN_APPROACH,
    money,
    optimiser_of,
    workshop_with,
)

STEAM = Limit("live steam from boilers.weight", at_most=580, why="one boiler is out")


@pytest.fixture(scope="module")
def free():
    """No limit in the factory file."""
    return optimiser_of(workshop_with())


@pytest.fixture(scope="module")
def limited():
    """Steam is short."""
    return optimiser_of(workshop_with([STEAM]))


@pytest.fixture(scope="module")
def best(limited):
    return limited.best()


def only(optimiser, *names):
    """The same problem with only these settings movable, as far as the equations hold."""
    places = [k for k, one in enumerate(optimiser.settings) if one.name in names]
    assert len(places) == len(names)
    return places, optimiser.kept(optimiser.given, places)


def every(optimiser):
    """All limits, to be left out."""
    return range(len(optimiser.bounds))


def test_every_setting_of_every_station_has_a_rule():
    declared = {
        f"{kind}.{name}"
        for kind, station in _registered.items()
        for name, quantity in station.quantities.items()
        if quantity.role == "setting"
    }
    assert declared <= set(rules())


@pytest.mark.slow
def test_an_optimum_is_the_best_of_a_sweep_of_two_settings(free):
    """Imbibition has its optimum inside, the pan condenser's at an end of its range."""
    (one, other), given = only(free, IMBIBITION, PAN_APPROACH)
    low, high = given.low.copy(), given.high.copy()
    low[one], high[one] = 150.0, 300.0
    # The sweep knows no limits: with washing fixed, colour as found would stop imbibition.
    found = free.program.solve(replace(given, low=low, high=high), without=every(free))
    steps = 151
    first, second = np.linspace(150.0, 300.0, steps), np.linspace(low[other], high[other], 5)
    grid = np.empty((first.size, second.size))
    for i, water in enumerate(first):
        for j, approach in enumerate(second):
            settings = free.settings_found
            settings[one], settings[other] = water, approach
            grid[i, j] = free.money_at(settings)
    i, j = np.unravel_index(grid.argmax(), grid.shape)
    assert 0 < i < steps - 1  # or the sweep would not test the inside of a range
    # The optimum lies within a step of the best point of the grid, and is not below it.
    assert found.settings[one] == pytest.approx(first[i], abs=first[1] - first[0])
    assert found.settings[other] == pytest.approx(second[j], abs=1e-4)
    assert found.money >= grid.max() - 1e-6 * abs(grid.max())
    # A step of 1 % of imbibition is worth next to nothing at the top of a parabola.
    assert found.money - grid.max() < 1.0


def test_the_answer_closes_the_equations_of_the_forecast(limited, best):
    again = limited.money_at(best.settings)
    # IPOPT closes the equations to 1e-9 of their terms; money is 1e5 a day.
    assert again == pytest.approx(best.money, abs=1e-3)


@pytest.mark.parametrize("step", [1.0])
def test_the_shadow_price_of_steam_is_a_finite_difference(limited, best, step):
    """One tonne of steam a shift more, or less: the optimum found anew."""
    (place,) = [k for k, bound in enumerate(limited.bounds) if bound.name == STEAM.what]
    assert best.limit_prices[place] > 0
    ends = []
    for sign in (-1, 1):
        limits = limited.given.limits.copy()
        limits[place] += sign * step
        ends.append(limited.best(replace(limited.given, limits=limits)).money)
    # The issue asks for 1 %; the optimum is smooth but for the corner of another limit.
    assert best.limit_prices[place] == pytest.approx((ends[1] - ends[0]) / (2 * step), rel=0.01)


def test_prices_of_ends_are_finite_differences(limited, best):
    at_ends = [
        k
        for k, one in enumerate(limited.settings)
        if abs(best.setting_prices[k]) * one.reach > 20.0
    ]
    assert len(at_ends) >= 3
    for k in at_ends:
        step = 0.02 * limited.settings[k].reach
        side = "high" if best.setting_prices[k] > 0 else "low"
        ends = []
        for sign in (-1, 1):
            moved = getattr(limited.given, side).copy()
            moved[k] += sign * step
            ends.append(limited.best(replace(limited.given, **{side: moved})).money)
        # 1 % as the issue asks.
        slope = (ends[1] - ends[0]) / (2 * step)
        assert best.setting_prices[k] == pytest.approx(slope, rel=0.01), limited.settings[k].name


@pytest.mark.parametrize(
    ("stream", "component"),
    [
        ("mixed juice", "sucrose"),
        ("bagasse", "sucrose"),
        ("syrup", "sucrose"),
        ("exhaust", "water"),
    ],
)
def test_what_a_tonne_is_worth_is_a_finite_difference(limited, best, stream, component):
    """One tonne an hour more for the station that takes it: its equations are let go by it."""
    model = limited.model
    if stream == "exhaust":
        (main,) = [main for main in model.flowsheet.mains if main.name == stream]
        stream = main.feeds[0]
    place = model.index[f"{stream}.{component}"]
    rows = consumer_rows(model, place, component)
    _, entries = model.evaluator(best.values, limited.given.sizes)
    matrix = model.evaluator.matrix(entries.copy()).tocsc()
    column = np.asarray(matrix[:, [place]].todense()).ravel()
    step, ends = 0.01, []
    for sign in (-1, 1):
        offsets = limited.given.offsets.copy()
        offsets[rows] -= sign * step * column[rows]
        ends.append(limited.best(replace(limited.given, offsets=offsets)).money)
    told = component_worth(limited, best, stream, component)
    # 1 % as the issue asks; money is a day, the tonne an hour.
    assert told == pytest.approx((ends[1] - ends[0]) / (2 * step) / 24, rel=0.01)


def test_steam_is_worth_the_bagasse_it_leaves_where_the_let_down_is_open(free):
    """Steam-power-economics, regime (b): price of bagasse over the evaporation coefficient."""
    found = free.best()
    told = regime(free.model, found.values)
    assert told.regime == "let-down open"
    steam = "live steam from boilers"
    value = component_worth(free, found, steam, "water")
    made, burnt = (
        found.values[free.model.position("live steam from boilers.water")],
        sum(
            found.values[free.model.position(f"bagasse to boilers.{component}")]
            for component in free.model.states["bagasse to boilers"].components
            if component not in ("colour", "sulphite", "lime", "phosphate")
        ),
    )
    by_hand = free.model.factory.prices["surplus_bagasse"] / (made / burnt)
    # The rule counts the fuel only: boiler fans, feed pumps and blowdown cost 5 to 15 % more.
    assert value == pytest.approx(by_hand, rel=0.2)


def test_regimes_by_their_valves(free):
    model, values = free.model, free.found.values.copy()
    values[model.position("bagasse house.surplus_share")] = 0.1
    assert regime(model, values).regime == "fuel short"
    values = free.found.values.copy()
    values[model.position("live steam to let-down.water")] = 0.0
    assert regime(model, values).regime == ""


def test_the_optimum_of_imbibition_is_where_a_tonne_of_water_earns_its_steam(free):
    """Steam-power-economics section 10: pol won by a tonne of water is worth what water costs.

    By hand as there: pol won a tonne of water by the formula of the example, its dE/dI being
    that of the milling model, times what sucrose is worth in juice rather than in bagasse;
    against it what that water costs to evaporate. Then the whole account of the tonne: every
    component of juice and bagasse at its worth must add up to nothing at an optimum.
    """
    (one,), given = only(free, IMBIBITION)
    low, high = given.low.copy(), given.high.copy()
    low[one], high[one] = 150.0, 300.0
    found = free.program.solve(replace(given, low=low, high=high), without=every(free))
    model, step = free.model, 0.5
    states = []
    for sign in (-1, 1):
        settings = found.settings.copy()
        settings[one] += sign * step
        states.append(free.state(settings).values)

    def change(name):
        place = model.position(name)
        return float(states[1][place] - states[0][place])

    def worth(stream, component):
        return component_worth(free, found, stream, component, given)

    water = change("imbibition water.water")
    account = {
        (stream, component): change(f"{stream}.{component}") / water * worth(stream, component)
        for stream in ("mixed juice", "bagasse")
        for component in model.states[stream].components
    }
    fibre, sucrose = (found.values[model.position(f"cane.{c}")] for c in ("fibre", "sucrose"))
    rate = found.values[model.position("cane yard.cane_rate")]
    extraction = 100 * change("mixed juice.sucrose") / sucrose / (2 * step)
    won = pol_per_imbibition_water(100 * sucrose / rate, 100 * fibre / rate, extraction)
    earned = won / 1000 * (worth("mixed juice", "sucrose") - worth("bagasse", "sucrose"))
    cost = -account["mixed juice", "water"] - account["bagasse", "water"]
    # Non-sugars and phosphate won with the pol are left out by hand: 1.7 % of what it earns.
    assert earned == pytest.approx(cost, rel=0.03)
    # The change over one point of imbibition is a central difference: 1e-3 of what is earned.
    assert abs(sum(account.values())) < 1e-3 * earned
    # Steam a tonne of water: 0.35 in the worked example, a quintuple effect with bleeding here.
    assert change("live steam from boilers.water") / water == pytest.approx(0.35, abs=0.1)


def test_small_moves_are_left_and_told(free):
    chosen = free.choose()
    gains = {free.settings[k].name: together for k, _, together in free.gains(chosen)}
    whole = chosen.best.money - free.money_found
    assert chosen.dropped
    left = sum(value for _, value in chosen.dropped)
    every = free.best().money - free.money_found
    # What is left out is what the optimum over all settings has more; each is small.
    assert every - whole == pytest.approx(left, abs=0.02 * every)
    assert not set(gains) & {free.settings[k].name for k, _ in chosen.dropped}


def test_what_comes_next_is_told(limited):
    """Steam is short: with steam enough, what binds then is what comes next."""
    chosen = limited.choose()
    coming = next_binding(limited, chosen)
    now = binding(limited, chosen)
    assert coming.limit not in {one.words for one in now}
    assert coming.eased in now
    assert coming.gain > 0


def test_what_the_moves_would_meet_if_they_went_on(free):
    """Nothing new binds when one end is moved: all moves at their ends, one is nearly there."""
    chosen = free.choose()
    coming = next_binding(free, chosen)
    assert coming.eased is None
    further = 1 + (coming.further + 0.01) / 100
    settings = free.settings_found + further * (chosen.best.settings - free.settings_found)
    passed = [
        one.name
        for k, one in enumerate(free.settings)
        if k in chosen.moved and not free.given.low[k] <= settings[k] <= free.given.high[k]
    ]
    assert any(coming.limit.startswith(one.label) for one in free.settings if one.name in passed)


@pytest.mark.slow
def test_limits_that_contradict_are_named_and_no_others():
    limits = [
        Limit("syrup.brix", at_least=66),
        Limit("power house.exported", at_least=-1e5),
        Limit("live steam from boilers.weight", at_most=900),
    ]
    optimiser = optimiser_of(workshop_with(limits))
    with pytest.raises(LimitsConflict, match="syrup") as refusal:
        optimiser.best()
    assert len(refusal.value.limits) == 2
    assert any("moved in a shift" in words for words in refusal.value.limits)
    assert "power" not in str(refusal.value)
    # Each of the set can be spared: without it the others are kept.
    wide = replace(
        optimiser.given,
        low=np.array([one.lower for one in optimiser.settings]),
        high=np.array([one.upper for one in optimiser.settings]),
    )
    assert optimiser.program.solve(wide, may_pass=lambda _: True, money=False).passed.sum() == 0
    (place,) = [k for k, bound in enumerate(optimiser.bounds) if bound.name == "syrup.brix"]
    assert optimiser.program.solve(optimiser.given, without=[place]).money > 0


def test_a_limit_on_what_does_not_exist_is_refused():
    workshop = workshop_with([Limit("syrop.brix", at_least=60)])
    with pytest.raises(LimitRefused, match="syrop"):
        optimiser_of(workshop)


def test_settings_stay_within_what_operators_accept(free):
    own = Optimiser(
        free.estimate, money, products(free.model), reach=10, accepted={IMBIBITION: 2.0}
    )
    settings = own.best().settings
    for one, value, found in zip(own.settings, settings, own.settings_found, strict=True):
        reach = 2.0 if one.name == IMBIBITION else 0.4 * free.model.variables[one.place].prior_sd
        # A range is four standard deviations, of which 10 % are accepted.
        assert abs(value - found) <= reach * (1 + 1e-6)
    with pytest.raises(KeyError, match="does not move"):
        Optimiser(free.estimate, money, products(free.model), accepted={"cane yard.soil": 1.0})


def test_what_is_not_linked_is_moved_only_where_it_is_limited(free):
    names = {one.name for one in free.settings}
    assert "cane yard.cane_rate" not in names
    assert "pan condenser.pressure" not in names
    model = free.model
    bounded = replace(model.factory, limits=(Limit("cane yard.cane_rate", at_most=212),))
    limited = replace(model, factory=bounded)
    held = [int(place) for place in free.square.held]
    found = {one.name for one in movable(limited, held, free.case.links)}
    assert "cane yard.cane_rate" in found


def test_products_stay_as_good_as_they_were(free):
    best = free.best()
    for bound, value in zip(
        free.bounds, free.program.limit_values(best.values, free.given), strict=True
    ):
        # 1e-6 of the limit is what the solver may miss.
        assert bound.sign * (value - bound.value) <= 1e-6 * bound.scale, bound.words
