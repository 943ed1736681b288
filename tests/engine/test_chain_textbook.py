"""The chain against a textbook Kalman filter and smoother of the same linear chain."""

from dataclasses import replace
from datetime import timedelta
from typing import NamedTuple

import casadi
import numpy as np
import pytest

from canewright.engine.adjusting.reconcile import Reconciler
from canewright.engine.chain.carried import Carried
from canewright.engine.chain.chain import Chain, ChainState, Period
from canewright.engine.chain.filter import update
from canewright.engine.chain.smoother import smooth, smooth_totals
from canewright.engine.chain.to_mean import Mean
from canewright.engine.chain.watch import SHAPES, Watch
from canewright.engine.equations.simulate import SolveFailed
from tests.engine import chained_factory
from tests.engine.small_factory import small_reconciler
from tests.engine.textbook_filter import Linear, Textbook

ROUNDING = 1e-8
"""The two differ only in the order of their sums; variances span 1e12 in their own units, so
deviations are compared in standard deviations."""


class Recorder:
    """Writes down the linear relations of each shift: all affine in the inputs."""

    def __init__(self, measured, to_mean, bent):
        self.measured = measured
        self.shifts = []
        self._to_mean, self._bent = to_mean, float(bent)

    def to_mean(self, *shift):
        """Write down how a shift's mean lies from its most likely point: an input of the chain."""
        found, part = self._to_mean(*shift), self._bent
        self.mean = Mean(part * found.weights, part * found.follows, part * found.amounts)
        return self.mean

    def __call__(self, chain, state, balanced, step, spread):
        carried = chain.carried
        hours = self.measured[len(self.shifts)].hours
        values, _ = chain.reconciler.data(self.measured[len(self.shifts)].measurements)
        inputs = balanced.point[carried.positions]
        follow = balanced.local.places(carried.closings)
        amounts, lead = chain.amounts.at(balanced.point, chain.reconciler.parameters(hours))
        gradient = balanced.local.through(lead)
        by_follow = np.zeros(balanced.point.size)
        by_follow[balanced.local.response.free] = self.mean.follows
        assert not balanced.held.size, "a bound is no linear relation; take another season"
        read, predicted = values[balanced.used], balanced.local.predictions[balanced.used]
        self.shifts.append(
            Linear(
                balanced.sensitivity,
                balanced.noise,
                read - predicted + balanced.sensitivity @ inputs,
                follow,
                balanced.point[carried.closings] - follow @ inputs + by_follow[carried.closings],
                gradient,
                amounts - gradient @ inputs + lead @ by_follow + self.mean.amounts,
                step,
                self.mean.weights,
            )
        )


def with_gap(measured):
    """Five shifts: the second of seven hours, the third of nine, a day's gap before the fourth."""
    hours = [8.0, 7.0, 9.0, 8.0, 8.0]
    start, found = measured[0].start, []
    for number, (shift, length) in enumerate(zip(measured, hours, strict=True)):
        if number == 3:
            start += timedelta(hours=24)
        found.append(replace(shift, start=start, hours=length))
        start += timedelta(hours=length)
    return found


class Both(NamedTuple):
    """The chain and what it left, the textbook, and what was written down of each shift."""

    chain: Chain
    state: ChainState
    results: list
    memories: list
    textbook: Textbook
    moves: list
    shifts: list
    watch: Watch


@pytest.fixture(scope="module")
def both():
    """The chain and the textbook run over the same five shifts."""
    return side_by_side(bent=True)


@pytest.fixture(scope="module")
def straight():
    """The same of a chain that takes the most likely point of a shift for its mean."""
    return side_by_side(bent=False)


def side_by_side(*, bent):
    """The chain, and the textbook by the linear relations that it wrote down."""
    measured = with_gap(chained_factory.readings(chained_factory.season(5, 3)))
    season, second = Period("season", 0, 99), Period("second and third", 1, 2, kept_until=99)
    chain = chained_factory.chain((season, second, Period("first two", 0, 1)))
    recorder, watch = Recorder(measured, chain.to_mean, bent), Watch()
    chain.to_mean = recorder.to_mean

    def watcher(*seen):
        recorder(*seen)
        watch(*seen)

    chain.watcher = watcher
    memories = []
    state, results, skipped = chain.run(measured, memories=memories)
    assert not skipped
    chain.watcher = None
    count = len(chain.amounts)
    textbook = Textbook(chain.carried, 3 * count)
    periods = [(0, 99), (1, 2), (0, 1)]
    moves = []
    for number, linear in enumerate(recorder.shifts):
        textbook.pass_on(linear.step)
        textbook.read(linear)
        taken, forgotten = [], []
        for block, (first, last) in enumerate(periods):
            if not first <= number <= last:
                continue
            for amount, entry in enumerate(chain.amounts.amounts):
                row = block * count + amount
                if entry.rule == "last":
                    forgotten.append(row)
                if entry.rule != "first" or number == first:
                    taken.append((row, amount))
        textbook.produce(linear, taken, forgotten)
        moves.append(len(textbook.history) - 1)
    return Both(chain, state, results, memories, textbook, moves, recorder.shifts, watch)


def apart(value, other, spread):
    """Largest difference in standard deviations."""
    size = np.sqrt(np.maximum(np.diag(spread), 1e-300))
    return np.max(np.abs(value - other) / size)


def spreads_apart(one, other):
    """Largest difference of two covariances, each variable in its standard deviation."""
    size = np.sqrt(np.maximum(np.diag(other), 1e-300))
    return np.max(np.abs(one - other) / np.outer(size, size))


def test_carried_variables_agree_with_a_textbook_filter(both):
    chain, state, _, _, textbook, *_ = both
    size = chain.carried.size
    expected = textbook.spread[:size, :size]
    assert apart(state.mean, textbook.mean[:size], expected) < ROUNDING
    assert spreads_apart(state.covariance, expected) < ROUNDING


def test_totals_and_their_covariance_agree_with_a_textbook_filter(both):
    chain, state, _, _, textbook, *_ = both
    count, first = len(chain.amounts), textbook.count + textbook.level.size
    rows = first + np.arange(2 * count)
    expected = textbook.spread[np.ix_(rows, rows)]
    season, second = state.blocks
    order = np.concatenate([season.rows, second.rows])
    assert apart(state.totals.mean[order], textbook.mean[rows], expected) < ROUNDING
    for block in (season, second):
        own = np.flatnonzero(np.isin(order, block.rows))
        got = state.totals.covariance[np.ix_(block.rows, block.rows)]
        assert spreads_apart(got, expected[np.ix_(own, own)]) < ROUNDING
    cross = textbook.spread[rows][:, : textbook.count]
    size = np.outer(
        np.sqrt(np.maximum(np.diag(expected), 1e-300)), np.sqrt(np.diag(state.covariance))
    )
    assert np.max(np.abs(state.totals.cross[order] - cross) / size) < ROUNDING


def test_smoothed_carried_variables_agree_with_a_textbook_smoother(both):
    chain, _, _, memories, textbook, moves, *_ = both
    size = chain.carried.size
    for smoothed in smooth(chain.carried, memories):
        mean, spread = textbook.smoothed(moves[smoothed.number])
        expected = spread[:size, :size]
        assert apart(smoothed.mean, mean[:size], expected) < ROUNDING, smoothed.number
        assert spreads_apart(smoothed.covariance, expected) < ROUNDING, smoothed.number


def test_totals_of_a_closed_period_agree_with_a_textbook_smoother(both):
    chain, _, _, memories, textbook, *_ = both
    (closed,) = chain.running.closed
    smoothed = next(s for s in smooth(chain.carried, memories) if s.number == 1)
    got = smooth_totals(closed, memories[1], smoothed)
    count, first = len(chain.amounts), textbook.count + textbook.level.size
    rows = first + 2 * count + np.arange(count)
    expected = textbook.spread[np.ix_(rows, rows)]
    assert apart(got.mean, textbook.mean[rows], expected) < ROUNDING
    assert spreads_apart(got.covariance, expected) < ROUNDING


def test_stocks_pass_exactly_when_shifts_join_and_are_renewed_after_a_gap(both):
    chain, _, results, memories, *_ = both
    assert [result.joined for result in results] == [False, True, True, False, True]
    stock = chain.carried.is_stock
    for number in (1, 2, 4):
        step = memories[number].step
        assert not step.renewed.any()
        assert (step.keep[stock] == 1).all()
        assert (step.noise[stock] == 0).all()
    assert memories[3].step.renewed[stock].all()


def all_at_once(carried, shifts):
    """All readings of a season as one Gaussian vector: no filter.

    Deviations from what is expected before any reading, their covariance, and what a bias of
    size 1 of each instrument adds to those of each shift.
    """
    book = Textbook(carried, 0)
    inputs, bias = book.inputs(), np.flatnonzero(carried.of_kind("bias"))
    maps, readings, weights = [], [], []
    for linear in shifts:
        book.pass_on(linear.step)
        transition = book.history[-1][-1]
        for place, earlier in enumerate(maps):
            maps[place] = earlier @ transition.T
        matrix = linear.sensitivity @ inputs
        weights.append((matrix @ book.mean, matrix, linear.noise))
        readings.append(linear.readings)
        # Covariance of the readings so far with the state now.
        maps.append(matrix @ book.spread)
        blocks = [earlier @ matrix.T for earlier in maps]
        weights[-1] = (*weights[-1], blocks)
        book.produce(linear, [], [])
        transition = book.history[-1][-1]
        maps = [earlier @ transition.T for earlier in maps]
    ends = np.cumsum([0, *(len(read) for read in readings)])
    whole = np.zeros((ends[-1], ends[-1]))
    for k, (_, _, noise, blocks) in enumerate(weights):
        for j, block in enumerate(blocks):
            whole[ends[j] : ends[j + 1], ends[k] : ends[k + 1]] = block
            whole[ends[k] : ends[k + 1], ends[j] : ends[j + 1]] = block.T
        whole[ends[k] : ends[k + 1], ends[k] : ends[k + 1]] += np.diag(noise)
    away = np.concatenate([read - told[0] for read, told in zip(readings, weights, strict=True)])
    return away, whole, [linear.sensitivity[:, bias] for linear in shifts]


def test_the_watch_agrees_with_least_squares_over_the_whole_season_at_once(straight):
    """Score and information of every start, shape and instrument, without any recursion."""
    away, whole, added = all_at_once(straight.chain.carried, straight.shifts)
    size = np.sqrt(np.diag(whole))
    whole, away = whole / np.outer(size, size), away / size
    assert not straight.watch.calls
    assert [start.number for start in straight.watch.starts] == [0, 1, 2, 3, 4]
    for start in straight.watch.starts:
        shapes = {"step": lambda age: 1.0, "drift": lambda age: age + 1.0}
        columns = [
            np.concatenate(
                [
                    block * (shapes[shape](k - start.number) if k >= start.number else 0.0)
                    for k, block in enumerate(added)
                ]
            )
            for shape in SHAPES
        ]
        signature = np.hstack(columns) / size[:, None]
        solved = np.linalg.solve(whole, signature)
        information = np.einsum("ij,ij->j", signature, solved)
        # Signatures are carried with seven digits, of which a likelihood ratio needs three.
        assert start.information == pytest.approx(information, rel=1e-3, abs=1e-6)
        root = np.sqrt(np.maximum(information, 1e-6))
        assert np.max(np.abs(start.score - solved.T @ away) / root) < 1e-3


def tangents(prepared):
    """Statements on opening stocks as a Gaussian carries them: by their tangent, usual point."""
    model = prepared.model
    usual = casadi.DM(model.guess)
    found = []
    for statement in prepared.statements:
        slope = casadi.jacobian(statement.expression, model.symbols)
        at = casadi.Function("at", [model.symbols], [statement.expression, slope])
        value, gradient = at(usual)
        straight = value + casadi.mtimes(gradient, model.symbols - usual)
        found.append(replace(statement, expression=straight))
    return found


def test_first_shift_is_the_reconciliation_of_that_shift_alone(both):
    results = both.results
    measured = chained_factory.readings(chained_factory.season(5, 3))[0]
    made = chained_factory.workshop()
    alone = Reconciler(made.prepared.model, made.channels, tangents(made.prepared))
    estimate = alone.solve(measured.measurements, made.prepared.usual.values)
    # The chain stops within 1e-4 standard deviations, on the square of which gamma depends.
    assert results[0].gamma == pytest.approx(estimate.posterior.gamma, rel=1e-6)
    # A stop on the step leaves the step over one minus the rate of convergence still to go:
    # at a rate of one half, twice the step. The single balance stops a hundred times closer.
    sd = np.maximum(estimate.posterior.variable_sd(), 1e-9 * made.reconciler.problem.scale)
    assert np.max(np.abs(results[0].point - estimate.solution.z) / sd) < 2e-4


def test_readings_that_cannot_be_weighed_are_said_in_a_sentence():
    # What is known before is infinite, so the covariance of the readings is not a number.
    sensitivity, spread = np.ones((1, 1)), np.full((1, 1), np.inf)
    with pytest.raises(SolveFailed, match="cannot be weighed against what the shifts before"):
        update(-sensitivity, np.ones(1), -spread, np.zeros(1))


def test_a_factory_whose_inputs_do_not_give_the_rest_is_refused_in_a_sentence():
    # Two of its quantities are decided by holds alone.
    with pytest.raises(SolveFailed, match="cannot be chained: its settings"):
        Carried(small_reconciler())
