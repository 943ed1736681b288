"""Intervals of forecasts by draws: against first order, again the same, and in a Monte Carlo."""

import numpy as np
import pytest

from canewright.engine.equations.responses import links, responses
from canewright.engine.equations.settled import CannotRun
from canewright.engine.forecasting.forecast import Forecaster
from tests.engine.test_forecast import FIGURES, IMBIBITION, expressions
from tests.whole_factory import balance


@pytest.fixture(scope="module")
def estimate(workshop):
    return balance(workshop, workshop.shift(7, width=0.5).measurements)


def drawn(forecaster, rng, count):
    """What is held and the right sides of the rows, drawn from the posterior.

    A draw that asks for what cannot be, such as a heat loss below nothing, is drawn again: a
    Gaussian around a small quantity reaches past its bound, no factory does.
    """
    estimate, square = forecaster.estimate, forecaster._base.square
    size = estimate.reconciler.problem.size
    directions = np.zeros((square.held.size + len(square.rows), size))
    directions[np.arange(square.held.size), square.held] = 1.0
    for k, row in enumerate(square.rows):
        directions[square.held.size + k, list(row.places)] = row.factors
    covariance = estimate.posterior.covariance(directions)
    sd = np.sqrt(np.maximum(np.diag(covariance), 1e-300))
    values, vectors = np.linalg.eigh(covariance / np.outer(sd, sd))
    root = sd[:, None] * vectors * np.sqrt(np.maximum(values, 0.0))
    held, model = square.held, estimate.model
    lower, upper = model.lower[held], model.upper[held]
    draws = []
    while len(draws) < count:
        draw = root @ rng.normal(size=len(sd))
        values = forecaster.before.values[held] + draw[: held.size]
        if np.all(values >= lower) and np.all(values <= upper):
            draws.append(draw)
    return draws


@pytest.fixture(scope="module")
def sixty(estimate):
    return Forecaster(estimate, expressions, draws=60)


def test_drawn_intervals_of_what_is_nearly_linear_are_those_of_first_order(estimate):
    forecaster = Forecaster(estimate, expressions, draws=400)
    told = forecaster.forecast(forecaster.changes(["pan condenser.approach=-1"]))
    for name in ("earned", "power_sold"):
        one = told.differences[name]
        wide, known = (high - low for low, high in (one.interval, one.first_order))
        # Two ends by order statistics of 400 draws: each has a standard error of 0.13 of the
        # standard deviation told (0.025 * 0.975 / 400, over the density at 1.96), so that of
        # the width is 5 % of itself; three of those.
        assert wide == pytest.approx(known, rel=0.15)
        assert one.interval[0] <= one.difference <= one.interval[1]
    assert told.drawing.counted + told.drawing.failed_before + told.drawing.failed_after == 400


def test_draws_are_the_same_again_and_follow_their_seed(estimate):
    plain = Forecaster(estimate, expressions)
    changes = plain.changes([f"{IMBIBITION}=+10"])
    first, again, other = (
        Forecaster(estimate, expressions, draws=60, seed=seed)
        .forecast(changes)
        .differences["earned"]
        .interval
        for seed in (1, 1, 2)
    )
    assert again == first
    assert other != pytest.approx(first, rel=1e-3)


def test_draws_of_a_rebuilt_factory_and_of_a_changed_size(sixty):
    found = sixty.forecast([], ["mill 4"]).differences["sucrose_extraction"]
    assert found.drawn is not None
    assert found.interval[1] < 0
    changes = sixty.changes(["evaporator body 1.surface=+10%"])
    found = sixty.forecast(changes).differences["surplus_bagasse"]
    assert found.drawn is not None
    assert found.interval[0] > 0


def test_too_few_draws_are_refused(estimate):
    few = Forecaster(estimate, expressions, draws=30)
    with pytest.raises(ValueError, match="needs 50 draws or more"):
        few.forecast(few.changes([f"{IMBIBITION}=+10"]))


@pytest.mark.slow
def test_the_interval_of_a_difference_holds_in_a_monte_carlo(estimate):
    """Settings, performance and stocks drawn, both factories solved in full.

    The interval told is that of the tool's own draws, with another seed and another way of
    solving; that of first order is held to what its docstring states.
    """
    forecaster = Forecaster(estimate, expressions, draws=1000)
    changes = forecaster.changes([f"{IMBIBITION}=+20", "C crystallisers.temperature=-2"])
    told = forecaster.forecast(changes).differences
    base = forecaster._base
    model, square = base.model, base.square
    rng = np.random.default_rng(20260706)
    count = 600
    targets = square.targets(forecaster.before.values)
    moved = [
        link for link in links(model) if link.cause in {model.position(c.name) for c in changes}
    ]
    names = [*FIGURES, "earned"]
    places = [base.names.index(name) for name in names]
    differences, skipped = [], 0
    for draw in drawn(forecaster, rng, count):
        values = forecaster.before.values.copy()
        values[square.held] += draw[: square.held.size]
        goal = targets + draw[square.held.size :]
        slopes = {response: rng.normal(response.slope, response.sd) for response in responses()}
        after = values.copy()
        for change in changes:
            after[model.position(change.name)] += change.amount
        for link in moved:
            step = after[link.cause] - values[link.cause]
            assert link.response.by == "difference"
            assert link.response.moves == "points"
            after[link.effect] += slopes[link.response] * step
        try:
            ends = [square.solve(x, forecaster.before.parameters, goal) for x in (values, after)]
        except CannotRun:
            skipped += 1
            continue
        figures = [base.values(end, forecaster.relations)[places] for end in ends]
        differences.append(figures[1] - figures[0])
    assert skipped < 0.2 * count
    middle = np.mean(differences, axis=0)
    columns = np.array(differences).T
    for name, drawn_ones, mean in zip(names, columns, middle, strict=True):
        inside = [
            np.mean((drawn_ones >= low) & (drawn_ones <= high))
            for low, high in (told[name].interval, told[name].first_order)
        ]
        # The band that the project asks of every 95 % interval (house style, section 6). The
        # share has a standard error of 1.1 % from 600 draws here and 1000 behind the interval.
        assert 0.91 <= inside[0] <= 0.985, name
        # First order covers 91 to 96 %, says its docstring; three standard errors below that.
        assert inside[1] >= 0.875, name
        # Second-order terms may move the mean by a fraction of the spread.
        assert abs(mean - told[name].difference) < 0.3 * told[name].sd
