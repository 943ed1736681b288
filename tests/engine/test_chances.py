"""How sure advice is: draws against single solves and first order, limits kept, contributions."""

from dataclasses import replace

import numpy as np
import pytest

from canewright.engine.advising.chances import Chances, Outcome
from canewright.engine.advising.contributions import Given, contributions
from canewright.engine.advising.gain import Gain, gains_of
from tests.engine.advised_factory import (
    IMBIBITION,
    PAN_APPROACH,
    optimiser_of,
    workshop_with,
)

DRAWS = 120


@pytest.fixture(scope="module")
def workshop():
    return workshop_with()


@pytest.fixture(scope="module")
def optimiser(workshop):
    return optimiser_of(workshop)


@pytest.fixture(scope="module")
def chances(optimiser):
    return Chances(optimiser, DRAWS, 3)


@pytest.fixture(scope="module")
def moves(optimiser):
    settings = optimiser.settings_found
    for name, step in ((IMBIBITION, 10.0), (PAN_APPROACH, -1.0)):
        (place,) = [k for k, one in enumerate(optimiser.settings) if one.name == name]
        settings[place] += step
    return settings


@pytest.mark.slow
def test_draws_solved_together_are_those_solved_one_by_one(optimiser, chances, moves):
    which = np.arange(4)
    held = chances.after(moves - optimiser.settings_found, which)
    together, runs = chances.states(held, which, optimiser.state(moves).values)
    assert runs.all()
    for k in which:
        start = optimiser.found.values.copy()
        start[optimiser.square.held] = held[k]
        alone = optimiser.square.solve(start, optimiser.given.sizes, chances.targets[k])
        off = np.abs(together[k] - alone.values) / optimiser.model.scale
        # Both close the equations to 1e-8 of their terms; the worst conditioned loses 2 digits.
        assert off.max() < 1e-6


def middle_sd(values):
    """Standard deviation told by the middle half, which far tails do not move."""
    low, high = np.quantile(values, [0.25, 0.75])
    return (high - low) / 1.349


def test_the_spread_of_a_gain_that_is_nearly_linear_is_that_of_first_order(optimiser, chances):
    settings = optimiser.settings_found
    (place,) = [k for k, one in enumerate(optimiser.settings) if one.name == PAN_APPROACH]
    settings[place] -= 1.0
    outcome = chances.outcome(settings)
    (told,) = gains_of(optimiser, [settings], [optimiser.settings_found])
    # The standard deviation of 120 draws has a relative error of 6.5 %; three of those.
    assert outcome.gains.std() == pytest.approx(told.sd, rel=0.2)
    assert outcome.gain == pytest.approx(told.value, abs=3 * told.sd / np.sqrt(DRAWS))
    assert outcome.failed < 0.1 * DRAWS


def test_the_middle_of_a_gain_is_that_of_first_order_and_its_tails_are_real(
    optimiser, chances, moves
):
    """Imbibition: cush-cush returns to the mills, and the draws that return much are far out.

    First order does not know of them, which is why intervals are those of the draws. The ones
    furthest out are solved again by themselves.
    """
    outcome = chances.outcome(moves)
    (told,) = gains_of(optimiser, [moves], [optimiser.settings_found])
    # The spread by quartiles has a relative error of 1.17/sqrt(120) = 11 %; three of those.
    assert middle_sd(outcome.gains) == pytest.approx(told.sd, rel=0.32)
    which = np.arange(DRAWS)
    held = chances.after(moves - optimiser.settings_found, which)
    values, runs = chances.states(held, which, optimiser.state(moves).values)
    far = np.argsort(-np.abs(held - optimiser.found.values[optimiser.square.held]).max(axis=1))
    checked = 0
    for k in far[:10]:
        if not runs[k]:
            continue
        start = values[k] * 1.001
        start[optimiser.square.held] = held[k]
        alone = optimiser.square.solve(start, optimiser.given.sizes, chances.targets[k])
        off = np.abs(values[k] - alone.values) / optimiser.model.scale
        # Both close the equations to 1e-8 of their terms, and lose two digits in conditioning.
        assert off.max() < 1e-6
        checked += 1
    assert checked >= 5


def test_derivatives_of_the_gain_are_finite_differences(optimiser, moves):
    """By everything held: settings are moved by the same amount from wherever they stood."""
    (told,) = gains_of(optimiser, [moves], [optimiser.settings_found])
    move = moves - optimiser.settings_found
    square, model, given = optimiser.square, optimiser.model, optimiser.given

    def gain(place, step):
        values = optimiser.found.values.copy()
        values[place] += step
        first = square.solve(values, given.sizes, optimiser.targets).values
        moved = first.copy()
        for one, amount in zip(optimiser.settings, move, strict=True):
            moved[one.place] += amount
        for link in optimiser.program.links:
            was, now = first[link.cause], moved[link.cause]
            change = link.response.change(was, now)
            moved[link.effect] = link.response.moved(moved[link.effect], change)
        after = square.solve(moved, given.sizes, optimiser.targets).values
        return optimiser.program.money(after, given) - optimiser.program.money(first, given)

    for name in (IMBIBITION, "cane yard.sucrose_percent", "mill 3.mixing", "boilers.efficiency"):
        place = model.position(name)
        step = 1e-3 * model.scale[place]
        slope = (gain(place, step) - gain(place, -step)) / (2 * step)
        # Central differences of a money of 1e5 a day closed to 1e-9: 1e-3 of the gain's slope.
        assert told.direction[place] == pytest.approx(slope, rel=2e-3, abs=1e-3), name


def test_limits_are_kept_as_often_as_asked(optimiser, chances):
    """Without backing off a limit that binds is kept half the time; with it, as asked."""
    sizes = np.array([bound.scale for bound in optimiser.bounds])
    plain = optimiser.best()
    before = chances.outcome(plain.settings).kept(sizes)
    binding = plain.limit_prices * [bound.sign for bound in optimiser.bounds] > 1.0
    assert binding.any()
    # A share of 120 draws around one half has a standard error of 4.6 %.
    assert np.all(np.abs(before[binding] - 0.5) < 0.25)
    excess = chances.outcome(plain.settings).excess
    room = np.where(before < 0.9, 1.2816 * excess.std(axis=0), 0.0)
    signs = np.array([bound.sign for bound in optimiser.bounds])
    backed = optimiser.best(
        replace(optimiser.given, limits=optimiser.given.limits - signs * room), may_pass=room
    )
    after = chances.outcome(backed.settings).kept(sizes)
    # 90 % by the normal quantile; a share of 120 draws has a standard error of 2.7 %.
    assert np.all(after > 0.8)
    assert backed.money <= plain.money + 1e-3


def test_contributions_add_up_to_the_whole_change(workshop, optimiser):
    later = optimiser_of(workshop, seed=8)
    found = contributions(later, Given.of(optimiser))
    assert found.before == pytest.approx(optimiser.money_found, rel=1e-9)  # closed to 1e-9
    assert found.after == pytest.approx(later.money_found, rel=1e-9)
    parts = sum(found.by_held.values()) + sum(found.by_stock.values())
    whole = found.after - found.before
    # Only relations between state and pol, and losses allowed for, are in the rest.
    assert parts + found.rest == pytest.approx(whole, abs=1e-6)
    assert abs(found.rest) < 0.05 * sum(abs(part) for part in found.by_held.values())


def test_what_one_setting_brought_is_what_moving_it_brings(optimiser, moves):
    """The same shift but for two settings: nothing else has a part in the change."""
    then = Given.of(optimiser)
    for one, value in zip(optimiser.settings, moves, strict=True):
        then.held[optimiser.model.variables[one.place].name] = float(value)
    found = contributions(optimiser, then)
    brought = {name: money for name, money in found.by_held.items() if money != 0.0}
    names = {
        optimiser.model.variables[optimiser.model.position(n)].name
        for n in (IMBIBITION, PAN_APPROACH)
    }
    assert set(brought) == names
    # Five Gauss points integrate the way between exactly enough for a cent.
    assert sum(brought.values()) == pytest.approx(found.after - found.before, abs=0.01)


def test_the_chance_of_a_part_of_the_gain_is_counted_or_that_of_a_normal():
    """By hand: of five draws three reach 80; a normal reaches its mean less one sd in 84.13 %."""
    counted = Outcome(np.array([-10.0, 79.9, 80.0, 120.0, 200.0]), np.zeros((5, 0)), 0)
    assert counted.chance_of(80.0) == 0.6
    assert counted.chance_better == 0.8
    told = Gain(100.0, 20.0, np.zeros(1), 0.0)
    assert told.chance_of(80.0) == pytest.approx(0.841345, abs=5e-7)  # six digits of the table
    assert Gain(100.0, 0.0, np.zeros(1), 0.0).chance_of(80.0) == 1.0
