"""How far the most likely point of a shift lies from the truth on average, by drawing."""

import numpy as np
import pytest

from canewright.demo.factory import WELL_RUN
from canewright.demo.season import Season
from canewright.engine.chain.amounts import Amounts
from canewright.engine.chain.chain import Chain
from canewright.engine.equations.simulate import SolveFailed
from tests.engine.chained_factory import readings

PAIRS = 100


@pytest.fixture(scope="module")
def shift(workshop):
    """The chain, what it knew before the third shift, and how it was balanced."""
    chain = Chain(
        workshop.reconciler, workshop.prepared.usual.values, Amounts(workshop.reconciler, ())
    )
    asked, seen, balance, to_mean = [], [], chain.balancer.balance, chain.to_mean

    def keep(*given, **more):
        asked.append(given)
        return balance(*given, **more)

    def see(balanced, spread, parameters, absent):
        seen.append((balanced, spread, parameters))
        return to_mean(balanced, spread, parameters, absent)

    chain.balancer.balance, chain.to_mean = keep, see
    made = Season(workshop, WELL_RUN.losses, (), 3).shifts(3)
    _, _, skipped = chain.run(readings(made))
    assert not skipped
    chain.balancer.balance, chain.to_mean = balance, to_mean
    return chain, asked[-1], seen[-1]


@pytest.mark.slow
@pytest.mark.parametrize("part", [0.0, 1.0])
def test_the_step_to_the_mean_makes_up_for_what_drawn_shifts_are_off(shift, part):
    """Truths drawn around what was known before the shift, with all of their scatter or with none
    of it, and readings of them: balanced shifts are off by what the step to the mean tells.

    Each truth and each error is taken with both signs: what is linear in them cancels.
    """
    chain, (mean, spread, values, sd, start, parameters), (balanced, after, _) = shift
    response, carried = chain.balancer.response, chain.carried
    absent = part * carried.scatter
    told = spread @ chain.to_mean(balanced, after, parameters, absent).weights
    rng = np.random.default_rng(7)
    size = np.sqrt(np.diag(spread))
    wide = (spread - np.diag(absent)) / np.outer(size, size)
    axes = np.linalg.cholesky(wide + 1e-12 * np.eye(size.size))
    noise = np.where(np.isfinite(sd), sd, 0.0)
    rows = 1 / start.weights

    def off(inputs, errors):
        """What a balanced shift is off, its readings made of these inputs."""
        point = start.point + start.follow(inputs - start.point[response.inputs])
        for _ in range(20):
            there = response.at(point, parameters, rows)
            if np.abs(there.misfit).max() < 1e-10:
                break
            point = point + there.follow(np.zeros(inputs.size))
        read = np.where(np.isfinite(sd), there.predictions + errors, values)
        try:
            found = chain.balancer.balance(
                mean, spread, read, sd, start, parameters, set_aside=False
            )
        except SolveFailed:
            return None
        return None if found.held.size else found.point[response.inputs] - inputs

    total, taken = np.zeros(size.size), 0
    for _ in range(PAIRS):
        moved, errors = size * (axes @ rng.normal(size=size.size)), noise * rng.normal(size=sd.size)
        both = off(mean + moved, errors), off(mean - moved, -errors)
        if both[0] is not None and both[1] is not None:
            total, taken = total - both[0] - both[1], taken + 1
    assert taken > 0.85 * PAIRS  # others ask for what cannot be
    known = np.sqrt(np.diag(after))
    one, other = told / known, total / (2 * taken) / known
    # Of 240 inputs together: the size to a fifth, which so many pairs allow, and the direction.
    assert one @ other / (one @ one) == pytest.approx(1, abs=0.2)
    assert np.corrcoef(one, other)[0, 1] > 0.9
    assert np.linalg.norm(one) > 0.2
