"""Performance against its own history: what is planted is found, and little else."""

from types import SimpleNamespace

import numpy as np
import pytest

from canewright.account.season_history import LEAST, histories, spread_of
from canewright.engine.chain.carried import Carried
from canewright.engine.chain.chain_parts import Period
from tests.engine import chained_factory

BEFORE, WITHIN = 60, 21


@pytest.fixture(scope="module")
def carried():
    return Carried(chained_factory.workshop().reconciler)


def fitted(carried):
    """Places of the performance parameters among the carried variables."""
    variables = carried.reconciler.model.variables
    return [
        place
        for place, position in enumerate(carried.positions)
        if carried.kinds[place] == "level" and variables[position].role == "fitted"
    ]


def made_up(carried, seed, memory=0.0, moved=None, by=0.0):
    """Shifts of which every performance parameter is known well and wanders by itself."""
    drawn = np.random.default_rng(seed)
    size = np.sqrt(carried.variance)
    state = drawn.normal(size=carried.size)
    found = []
    for number in range(BEFORE + WITHIN):
        state = memory * state + np.sqrt(1 - memory**2) * drawn.normal(size=carried.size)
        point = np.zeros(carried.positions.max() + 1)
        point[carried.positions] = carried.home + 0.1 * size * state
        if moved is not None and number >= BEFORE:
            point[carried.positions[moved]] += by * 0.1 * size[moved]
        name = f"shift {number}"
        found.append(SimpleNamespace(number=number, name=name, point=point, carried_sd=0.1 * size))
    return found


@pytest.mark.parametrize("memory", [0.0, 0.75])
def test_the_variance_of_a_mean_is_that_of_many_means(memory):
    drawn = np.random.default_rng(3)
    count, repeats = 21, 4000
    state = drawn.normal(size=repeats)
    series = []
    for _ in range(count):
        state = memory * state + np.sqrt(1 - memory**2) * drawn.normal(size=repeats)
        series.append(state)
    of_means = np.var(np.mean(series, axis=0), ddof=1)
    long = [drawn.normal()]
    for _ in range(20000):
        long.append(memory * long[-1] + np.sqrt(1 - memory**2) * drawn.normal())
    # 4000 means know their variance to 2.2 %, 20000 values in a row theirs to about 3 %.
    assert spread_of(np.array(long)).of_mean(count) == pytest.approx(of_means, rel=0.1)


def test_a_parameter_that_moved_is_named_first_with_its_side(carried):
    moved = fitted(carried)[3]
    first = histories(carried, made_up(carried, 5, moved=moved, by=3.0))[0]
    assert first.name == carried.names[moved]
    assert first.moved
    assert first.away > 1
    # Three standard deviations up: the run on this side begins with the change or just before.
    assert int(first.since.split()[1]) <= BEFORE


@pytest.mark.parametrize("memory", [0.0, 0.75])
def test_what_did_not_move_is_seldom_said_to_have(carried, memory):
    said = 0
    for seed in range(60):
        said += any(h.moved for h in histories(carried, made_up(carried, seed, memory)))
    # One season in twenty by the family limit: 3 of 60, more than 8 once in 250 such tests.
    assert said <= 8


def test_without_history_nothing_is_said(carried):
    results = made_up(carried, 1)
    assert histories(carried, results[:20]) == []
    assert histories(carried, results, Period("first", 0, LEAST - 2)) == []
    assert len(histories(carried, results, Period("later", LEAST, LEAST + 2))) == len(
        fitted(carried)
    )


def test_what_priors_carry_is_left_out(carried):
    results = made_up(carried, 1)
    unknown = fitted(carried)[0]
    for result in results:
        result.carried_sd[unknown] = np.sqrt(carried.variance[unknown])
    names = {history.name for history in histories(carried, results)}
    assert carried.names[unknown] not in names
    assert len(names) == len(fitted(carried)) - 1
