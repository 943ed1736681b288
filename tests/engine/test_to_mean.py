"""From the most likely point of a shift to its mean, against differences and the truth."""

from typing import NamedTuple

import numpy as np
import pytest

from canewright.engine.algebra.kkt import Matrix
from canewright.engine.chain import to_mean
from canewright.engine.chain.chain import Chain
from canewright.engine.chain.chained_shift import Balanced
from canewright.engine.chain.response import Local
from canewright.engine.chain.to_mean import Mean
from tests.engine import chained_factory

STEP = 3e-3
"""Step of the differences, in standard deviations of the inputs: their rounding and their
neglected fourth derivatives then both stay below a part in a thousand."""


class Shift(NamedTuple):
    """A shift of the chain as the step to its mean sees it."""

    chain: Chain
    balanced: Balanced
    spread: Matrix
    parameters: np.ndarray
    mean: Mean

    def pull(self, mean):
        """The step to the mean is -spread times this; told are weights before the readings."""
        balanced = self.balanced
        gain = self.spread @ balanced.sensitivity.T / balanced.noise
        kept = np.eye(len(self.spread)) - balanced.sensitivity.T @ gain.T
        return -np.linalg.solve(kept, mean.weights)

    def moved(self, change) -> Local:
        """Everything with the inputs moved: equations closed."""
        response, local = self.chain.balancer.response, self.balanced.local
        rows = 1 / local.weights
        point = local.point + local.follow(change)
        for _ in range(20):
            there = response.at(point, self.parameters, rows)
            if np.abs(there.misfit).max() < 1e-12:
                return there
            point = point + there.follow(np.zeros(change.size))
        raise AssertionError("the equations did not close")


@pytest.fixture(scope="module")
def shift():
    """The third shift of the poorly read factory."""
    chain = chained_factory.chain()
    told, found = [], chain.to_mean

    def keep(balanced, spread, parameters, absent):
        mean = found(balanced, spread, parameters, np.zeros(absent.size))
        told.append(Shift(chain, balanced, spread, parameters, mean))
        return mean

    chain.to_mean = keep
    _, _, skipped = chain.run(chained_factory.readings(chained_factory.season(3, 3)))
    assert not skipped
    return told[-1]


@pytest.fixture(scope="module")
def raised(shift):
    """Half the trace of second derivatives times covariance, by differences along its axes:
    of every reading, of the variables that follow, and of the amounts."""
    size = np.sqrt(np.diag(shift.spread))
    axes = np.linalg.cholesky(shift.spread / np.outer(size, size) + 1e-12 * np.eye(size.size))
    amounts, response = shift.chain.amounts, shift.chain.balancer.response

    def every(local):
        made = amounts.at(local.point, shift.parameters)[0]
        return np.concatenate([local.predictions, local.point[response.free], made])

    here = every(shift.moved(np.zeros(size.size)))
    total = np.zeros(here.size)
    for axis in axes.T:
        there = sum(every(shift.moved(sign * STEP * size * axis)) for sign in (1, -1))
        total += 0.5 * (there - 2 * here) / STEP**2
    ends = np.cumsum([response.read, response.free.size])
    return np.split(total, ends)


def test_what_follows_and_the_amounts_gain_half_the_trace(shift, raised):
    """Differences against what is told, in standard deviations of each."""
    _, follows, amounts = raised
    local, chain = shift.balanced.local, shift.chain
    sd = np.sqrt(
        np.maximum(np.einsum("ij,jk,ik->i", local.following, shift.spread, local.following), 0)
    )
    known = sd > 1e-9 * chain.balancer.response.free_scale
    assert known.mean() > 0.9
    apart = np.abs(shift.mean.follows - follows)[known] / sd[known]
    assert apart.max() < 1e-3
    assert (np.abs(follows)[known] / sd[known]).max() > 0.1
    lead = chain.amounts.at(local.point, shift.parameters)[1]
    by_following = lead[:, chain.balancer.response.free] @ shift.mean.follows
    gradient = local.through(lead)
    wide = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", gradient, shift.spread, gradient), 1e-300))
    told = shift.mean.amounts + by_following
    assert np.max(np.abs(told - amounts) / wide) < 1e-3


def test_the_mean_lies_where_third_derivatives_say(shift, raised):
    """The step by differences of whole sensitivities, along a few inputs and many mixtures."""
    balanced = shift.balanced
    used, noise = balanced.used, balanced.noise
    size = np.sqrt(np.diag(shift.spread))
    along = np.eye(size.size)[:: size.size // 20]
    mixed = np.random.default_rng(20261126).normal(size=(10, size.size)) / np.sqrt(size.size)
    gain = shift.spread @ balanced.sensitivity.T / noise
    weighted = balanced.sensitivity.T @ (raised[0][used] / noise)
    pull = shift.pull(shift.mean)
    told, found = [], []
    for direction in [*along, *mixed]:
        change = STEP * size * direction
        sides = [shift.moved(sign * change).sensitivity[used] for sign in (1, -1)]
        bend = (sides[0] - sides[1]) / (2 * STEP)
        found.append(np.sum(bend.T * gain) + (size * direction) @ weighted)
        told.append((size * direction) @ pull)
    assert np.max(np.abs(found)) > 0.1
    assert np.max(np.abs(np.subtract(found, told))) < 1e-3


def test_far_means_are_gone_towards_only_so_far(shift, monkeypatch):
    """All parts of the step alike, so that equations stay closed to the same order."""
    monkeypatch.setattr(to_mean, "FURTHEST", 0.01)
    near = shift.chain.to_mean(
        shift.balanced, shift.spread, shift.parameters, np.zeros(len(shift.spread))
    )
    part = near.weights @ shift.mean.weights / (shift.mean.weights @ shift.mean.weights)
    assert 0 < part < 0.2
    assert near.weights == pytest.approx(part * shift.mean.weights)
    assert near.follows == pytest.approx(part * shift.mean.follows)
    assert near.amounts == pytest.approx(part * shift.mean.amounts)
    size = np.sqrt(np.diag(shift.spread))
    furthest = np.max(np.abs(shift.spread @ shift.pull(near)) / size)
    assert furthest == pytest.approx(0.01, rel=1e-6)


@pytest.mark.parametrize("seed", [3, 4])
def test_a_tank_that_nobody_dips_is_not_learnt_to_be_empty(seed):
    """Only what flows out of the molasses tank is analysed: a small content would follow what
    flows in at once, so that the likeliest contents of each shift lean towards none."""
    made = chained_factory.season(20, seed)
    chain = chained_factory.chain()
    _, results, skipped = chain.run(chained_factory.readings(made))
    assert not skipped
    place = chain.carried.names.index("final molasses tank opening.sucrose")
    true = made[-1].truth["final molasses tank closing.sucrose"]
    last = results[-1]
    assert abs(last.carried[place] - true) < 3 * last.carried_sd[place]
