"""A chemist's night: too much cooling water or wash, a fouled body, a mill that is set wrong.

The truth is made up, read with noise, balanced, and advice is taken on it; the advice is then
followed in the truth. The equations do not say how performance answers some settings: the
truth of the first test answers by the slopes that advice assumes, that of the second by slopes
drawn from their own uncertainty, which is the harder world. There the forecast was met to 80 %
in 8 of 10 seeds for either, and what must hold is the interval of the gain (9 of 10 for either).

A fouled body and a mill that is set wrong are no settings: advice names them as performance that
is worse than usual, with what bringing it back is worth. Nothing is assumed there.
"""

from dataclasses import replace

import numpy as np
import pytest

from canewright.demo.truth import Workshop
from canewright.engine.advising.advise import Optimiser
from canewright.engine.advising.gain import gains_of
from canewright.engine.advising.lagging import lagging
from canewright.engine.equations.simulate import SolveFailed
from canewright.figures.ledgers import products
from tests.engine.advised_factory import PAN_APPROACH, money, workshop_with
from tests.whole_factory import balance

SEEDS = range(101, 111)
PLANTED = {PAN_APPROACH: (11.0, 6.0), "C machines.wash_percent": (3.6, 1.6)}
"""Setting -> what it is, and how far above usual, which operators accept to move it back.

At 11 K the leg water takes up about two thirds of the heat it takes at 5 K: half as much water
again.
"""
FIRST = 5
WORSE = {"evaporator body 2.coefficient": 1.3, "mill 6.moisture": 54.5}
"""Performance -> what it has fallen to: half of its usual 2.4 or so; 4 points wetter than usual."""


@pytest.fixture(scope="module")
def workshop():
    return workshop_with()


def made_up(workshop: Workshop, seed: int, name: str, value: float):
    """A shift with one setting far from usual."""
    rng = np.random.default_rng(seed)
    model = workshop.prepared.model
    for _ in range(40):
        values = workshop.draw(rng, 0.5)
        values[model.position(name)] = value
        try:
            truth = workshop.solve(values)
        except SolveFailed:
            continue
        biases, relations = workshop.biases(rng), workshop.relations(rng)
        return truth, relations, workshop.read(truth, rng, biases, relations)
    raise AssertionError("no truth of this seed can run")


def followed(optimiser, truth, relations, move, slopes=None):
    """What moving settings by so much earns in the truth. [money a day]"""
    program = optimiser.program
    own = program.slopes() if slopes is None else slopes
    values = truth.values.copy()
    for one, step in zip(optimiser.settings, move, strict=True):
        values[one.place] = min(max(values[one.place] + step, one.lower), one.upper)
    for link in program.links:
        was, now = truth.values[link.cause], values[link.cause]
        if was != now:
            response = replace(link.response, slope=own[program.place_of(link.response)])
            moved = response.moved(values[link.effect], response.change(was, now))
            values[link.effect] = moved
    return gained(optimiser, truth, relations, values)


def gained(optimiser, truth, relations, values):
    """What holding other values earns in the truth. [money a day]"""
    square, sizes = optimiser.square, truth.parameters
    ties = np.array([relations[name] for name in optimiser.estimate.reconciler.relations])
    after = square.solve(values, sizes, square.targets(truth.values)).values
    both = np.stack([truth.values, after])
    earned, _ = optimiser.program.many(both, sizes, np.stack([ties, ties]))
    return float(earned[1] - earned[0])


def advised(workshop, seed, planted):
    """A truth with a planted inefficiency, and the advice taken on its readings."""
    value, back = PLANTED[planted]
    truth, relations, readings = made_up(workshop, seed, planted, value)
    estimate = balance(workshop, readings)
    optimiser = Optimiser(estimate, money, products(estimate.model), accepted={planted: back})
    return truth, relations, optimiser, optimiser.choose()


@pytest.mark.slow
@pytest.mark.parametrize("planted", list(PLANTED))
def test_the_planted_inefficiency_is_named_valued_and_cured(workshop, planted):
    named, valued, cured, told = 0, 0, 0, []
    for seed in SEEDS:
        truth, relations, optimiser, chosen = advised(workshop, seed, planted)
        move = chosen.best.settings - optimiser.settings_found
        alone = {optimiser.settings[k].name: value for k, value, _ in optimiser.gains(chosen)}
        forecast = chosen.best.money - optimiser.money_found
        earned = followed(optimiser, truth, relations, move)
        only = np.array(
            [
                step if one.name == planted else 0.0
                for one, step in zip(optimiser.settings, move, strict=True)
            ]
        )
        true_alone = followed(optimiser, truth, relations, only)
        value = alone.get(planted, 0.0)
        named += planted in sorted(alone, key=lambda name: -alone[name])[:FIRST]
        named -= only.sum() >= 0
        valued += true_alone / 1.3 <= value <= 1.3 * true_alone
        cured += earned >= 0.8 * forecast
        told.append((seed, value, true_alone, forecast, earned))
    # Among the first five every time; within a factor of 1.3 and to 80 % nine times in ten.
    assert named == len(SEEDS), told
    assert valued >= 9, told
    assert cured >= 9, told


@pytest.mark.slow
def test_where_responses_are_not_as_assumed_the_interval_of_the_gain_holds(workshop):
    within, told = 0, []
    for planted in PLANTED:
        for seed in SEEDS:
            truth, relations, optimiser, chosen = advised(workshop, seed, planted)
            settings = chosen.best.settings
            (gain,) = gains_of(optimiser, [settings], [optimiser.settings_found])
            program = optimiser.program
            slopes = program.slopes() + program.response_sd() * np.random.default_rng(
                seed + 5000
            ).standard_normal(len(program.responses))
            move = settings - optimiser.settings_found
            earned = followed(optimiser, truth, relations, move, slopes)
            within += gain.interval[0] <= earned <= gain.interval[1]
            told.append((planted, seed, gain.interval, earned))
    # 95 % of 20: fewer than 16 would come once in 400 times.
    assert within >= 16, told


@pytest.mark.slow
@pytest.mark.parametrize("planted", list(WORSE))
def test_performance_that_has_fallen_is_named_and_valued(workshop, planted):
    named, valued, cured, told = 0, 0, 0, []
    for seed in SEEDS:
        truth, relations, readings = made_up(workshop, seed, planted, WORSE[planted])
        estimate = balance(workshop, readings)
        optimiser = Optimiser(estimate, money, products(estimate.model))
        found = lagging(optimiser)
        place = [k for k, one in enumerate(found) if one.name == planted][:1]
        forecast, earned = 0.0, 0.0
        if place:
            one = found[place[0]]
            forecast = one.gain
            values = truth.values.copy()
            values[optimiser.model.position(planted)] = one.usual
            earned = gained(optimiser, truth, relations, values)
            named += place[0] < FIRST
            valued += earned / 1.3 <= forecast <= 1.3 * earned
            cured += earned >= 0.8 * forecast
        told.append((seed, place, forecast, earned))
    # Among the first five every time; within a factor of 1.3 and to 80 % nine times in ten.
    assert named == len(SEEDS), told
    assert valued >= 9, told
    assert cured >= 9, told
