"""Closed periods corrected by what was read after them, and what is remembered for it."""

import numpy as np
import pytest

from canewright.account.season_memories import Memories
from canewright.account.season_smoothing import corrected
from canewright.engine.chain import keeping
from canewright.engine.chain.chain import Period
from tests.engine import chained_factory

ROUNDING = 1e-8
"""The two differ only in the order of their sums; in standard deviations."""
BROKEN = 3


@pytest.fixture(scope="module")
def both():
    """Two shifts added up: put down when they end, and carried on; a later shift is missing."""
    measured = chained_factory.readings(chained_factory.season(6, 5))
    chain = chained_factory.chain(
        (Period("put down", 1, 2, True), Period("carried on", 1, 2, True, kept_until=99))
    )
    memories = []
    state, _, _ = chain.run(measured[:BROKEN], memories=memories)
    chain.pass_over(state)
    state, _, skipped = chain.run(measured[BROKEN + 1 :], state, memories=memories)
    assert not skipped
    return chain, state, memories


def test_a_closed_period_corrected_is_the_same_as_one_carried_on(both):
    chain, state, memories = both
    (closed,) = chain.running.closed
    assert closed.after == 2
    (found,) = corrected(chain.carried, memories, [closed]).closed
    (block,) = state.blocks
    sd = np.sqrt(np.maximum(np.diag(state.totals.covariance)[block.rows], 1e-300))
    off = (found.totals.mean - state.totals.mean[block.rows]) / sd
    assert np.max(np.abs(off)) < ROUNDING
    own = state.totals.covariance[np.ix_(block.rows, block.rows)]
    assert np.max(np.abs(found.totals.covariance - own) / np.outer(sd, sd)) < ROUNDING
    # Later shifts do say something of it.
    before = (closed.totals.mean - found.totals.mean) / sd
    assert np.max(np.abs(before)) > 0.01
    assert (np.diag(closed.totals.covariance) >= (1 - ROUNDING) * np.diag(own)).all()


def test_every_balanced_shift_is_smoothed_under_its_own_number(both):
    chain, state, memories = both
    counted = []
    found = corrected(chain.carried, memories, [], done=lambda: counted.append(1))
    assert sorted(found.shifts) == [0, 1, 2, 4, 5]
    assert len(counted) == 5
    np.testing.assert_array_equal(found.shifts[5].carried, state.mean)
    bias = chain.carried.of_kind("bias")
    # Knowing more never widens: the first shift's biases, after it and from all shifts.
    filtered = np.sqrt(np.diag(memories[0].covariance))
    assert (found.shifts[0].carried_sd[bias] <= filtered[bias] * (1 + ROUNDING)).all()


def test_shifts_put_down_in_files_are_the_same(both, tmp_path):
    chain, _, memories = both
    kept = Memories()
    for number, memory in enumerate(memories):
        kept.append(memory)
        if number in (1, 3):
            path = tmp_path / f"{number}.npz"
            path.write_bytes(keeping.written(kept.held))
            kept.put_down(path)
    assert len(kept) == len(memories)
    assert [memory.number for memory in kept] == [0, 1, 2, 4, 5]
    assert kept[-1] is memories[-1]
    one = corrected(chain.carried, memories, chain.running.closed)
    other = corrected(chain.carried, kept, chain.running.closed)
    np.testing.assert_array_equal(one.closed[0].totals.mean, other.closed[0].totals.mean)
    for number, shift in one.shifts.items():
        np.testing.assert_array_equal(shift.carried_sd, other.shifts[number].carried_sd)


def test_nothing_balanced_corrects_nothing(both):
    chain, _, _ = both
    assert corrected(chain.carried, [], chain.running.closed).closed == []
