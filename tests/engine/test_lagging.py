"""Performance worse than usual: what is told, what it rests on, and what is left alone."""

import numpy as np
import pytest

from canewright.engine.advising.advise import Optimiser
from canewright.engine.advising.lagging import lagging, remedies
from canewright.figures.ledgers import products
from canewright.model import stations
from tests.engine.advised_factory import money
from tests.whole_factory import balance

BODY = "evaporator body 2.coefficient"
FOULED = 1.3


@pytest.fixture(scope="module")
def optimiser(workshop):
    """A shift with one fouled body, everything else as usual."""
    model = workshop.prepared.model
    values = workshop.draw(np.random.default_rng(3), 0.0)
    values[model.position(BODY)] = FOULED
    truth = workshop.solve(values)
    rng = np.random.default_rng(4)
    readings = workshop.read(truth, rng, workshop.biases(rng), workshop.relations(rng))
    estimate = balance(workshop, readings)
    return Optimiser(estimate, money, products(estimate.model))


def test_remedies_are_of_performance_that_exists():
    kinds = stations()
    for name, remedy in remedies().items():
        kind, _, quantity = name.partition(".")
        assert kinds[kind].quantities[quantity].role == "fitted"
        assert not remedy.endswith(".")


def test_the_fouled_body_comes_first_with_its_worth(optimiser):
    found = lagging(optimiser)
    first = found[0]
    assert first.name == BODY
    # The prior draws what is found towards usual; without it the readings say a little less.
    assert first.read < first.found < first.usual
    sd = abs(first.interval[1] - first.gain) / 1.96
    assert abs(first.read - FOULED) < 0.2 * FOULED
    assert 0 < sd < first.gain
    assert "confined spaces" in first.cautions
    gains = [one.gain for one in found]
    assert gains == sorted(gains, reverse=True)
    assert [one.name for one in lagging(optimiser, least=first.gain)] == []


def test_its_worth_is_money_with_it_as_usual_less_money_as_read(optimiser):
    first = lagging(optimiser)[0]
    ends = []
    for value in (first.read, first.usual):
        start = optimiser.found.values.copy()
        start[optimiser.model.position(BODY)] = value
        state = optimiser.square.solve(start, optimiser.given.sizes, optimiser.targets)
        ends.append(optimiser.program.money(state.values, optimiser.given))
    # The same two states, closed to 1e-9.
    assert first.gain == pytest.approx(ends[1] - ends[0], rel=1e-6)


def test_what_stands_within_its_usual_range_is_not_told(optimiser):
    for one in lagging(optimiser):
        variable = optimiser.model.variables[optimiser.model.position(one.name)]
        assert abs(one.found - one.usual) > variable.prior_sd
