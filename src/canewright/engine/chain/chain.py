"""Shifts chained: what each leaves behind is where the next begins.

Carried from shift to shift, with their whole covariance: stocks component by component, the
bias of every instrument, the level of every setting and performance parameter, the relations
between state and readings, and the running totals of the periods that are open. The totals
are carried together with the rest, so that what a later shift says of a bias corrects what was
added up before. Each shift's equations are linearised once at its own most likely point; what
was said of earlier shifts is not linearised again.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
import scipy.sparse as sparse

from canewright.engine.adjusting.reconcile import Reconciler
from canewright.engine.adjusting.solution import Vector
from canewright.engine.adjusting.wild_readings import reconcile
from canewright.engine.algebra.kkt import Matrix
from canewright.engine.chain.alone import Alone
from canewright.engine.chain.amounts import Amounts
from canewright.engine.chain.carried import Carried, Step
from canewright.engine.chain.chain_parts import (
    ChainState,
    Freed,
    Memory,
    Period,
    Remembering,
    Said,
    ShiftReadings,
    ShiftResult,
    let_go,
)
from canewright.engine.chain.chained_shift import Balanced, ShiftBalancer
from canewright.engine.chain.filter import Totals, even
from canewright.engine.chain.response import Lead, Local
from canewright.engine.chain.running import Added, Running, Tally
from canewright.engine.chain.scatter import factor_so_far, shown_by
from canewright.engine.chain.to_mean import ToMean
from canewright.engine.equations.simulate import SolveFailed

__all__ = ["Chain", "ChainState", "Freed", "Memory", "Period", "ShiftReadings", "ShiftResult"]

JOINED = timedelta(minutes=30)
"""Longest time between two shifts that still counts as none; our choice."""
BEHIND = 3
"""Shifts that may be balanced before they are added up; our choice."""

Watcher = Callable[["Chain", ChainState, Balanced, Step, Matrix], None]


@dataclass(frozen=True)
class _Pending:
    """A balanced shift that is still to be added up; its result lacks the totals."""

    result: ShiftResult
    balanced: Balanced
    mean: Vector
    said: Said
    step: Step


class Chain:
    """The filter over the shifts of one factory.

    Parameters
    ----------
    reconciler : Reconciler
        For the channels of all shifts.
    usual : array
        Values of the model's variables to begin from.
    amounts : Amounts
        What is added up.
    figures : Amounts, optional
        What is asked of each shift.
    periods : sequence of Period
        What is added up over which shifts; the longest is the one "to date".
    freed : sequence of Freed
        Instruments whose bias is let go.
    """

    def __init__(
        self,
        reconciler: Reconciler,
        usual: Vector,
        amounts: Amounts,
        figures: Amounts | None = None,
        periods: Sequence[Period] = (),
        freed: Sequence[Freed] = (),
    ) -> None:
        self.reconciler = reconciler
        self.carried = Carried(reconciler)
        self.balancer = ShiftBalancer(self.carried)
        self.usual = usual
        self.amounts = amounts
        self.figures = figures if figures is not None else Amounts(reconciler, ())
        self.running = Running(self.carried, amounts, periods)
        self.freed = tuple(freed)
        self.headline = amounts.chosen(headline=True)
        self.watcher: Watcher | None = None
        self._leads = [
            Lead(self.balancer.response, asked.evaluator, np.arange(len(asked)))
            for asked in (self.amounts, self.figures)
        ]
        self.to_mean = ToMean(self.balancer.response, amounts)
        self._alone = Alone(self.carried, self.headline)

    def begin(self) -> ChainState:
        """The state before the first shift."""
        mean, covariance = self.carried.beforehand()
        return ChainState(0, mean, covariance, Totals.none(self.carried.size))

    def run(
        self,
        shifts: Iterable[ShiftReadings],
        state: ChainState | None = None,
        each: Callable[[ShiftResult], None] = lambda result: None,
        memories: Remembering | None = None,
    ) -> tuple[ChainState, list[ShiftResult], list[tuple[ShiftReadings, str]]]:
        """Filter shifts in order.

        Parameters
        ----------
        shifts : iterable of ShiftReadings
        state : ChainState, optional
            To go on from; the beginning when left out.
        each : callable
            Called with each result.
        memories : list or what appends like one, optional
            Filled with what the smoother needs.

        Returns
        -------
        state : ChainState
        results : list of ShiftResult
        skipped : list of (shift, sentence)
            Shifts that could not be balanced: the chain goes on as after a gap.
        """
        state = self.begin() if state is None else state
        results: list[ShiftResult] = []
        skipped: list[tuple[ShiftReadings, str]] = []
        tally = Tally(state.blocks, state.totals)
        waiting: deque[tuple[Future[tuple[Tally, Added, ShiftResult]], Memory]] = deque()

        def take() -> Tally:
            summed, memory = waiting.popleft()
            after, added, result = summed.result()
            memory.ended.extend(self.running.note(added, result.number))
            results.append(result)
            each(result)
            return after

        # While a shift is balanced, those before it are added up beside: two cores are used.
        with ThreadPoolExecutor(1) as beside:
            last: Future[tuple[Tally, Added, ShiftResult]] | None = None
            for shift in shifts:
                try:
                    state, memory, pending = self._balanced(state, shift)
                except SolveFailed as error:
                    skipped.append((shift, error.sentence))
                    self.pass_over(state)
                    continue
                last = beside.submit(self._summed, last or tally, pending)
                waiting.append((last, memory))
                if memories is not None:
                    memories.append(memory)
                if len(waiting) > BEHIND:
                    take()
            while waiting:
                tally = take()
        return replace(state, blocks=tally.blocks, totals=tally.totals), results, skipped

    def pass_over(self, state: ChainState) -> None:
        """Count a shift that is missing: its place in the periods is taken, nothing is added."""
        state.number += 1

    def step(
        self, state: ChainState, shift: ShiftReadings
    ) -> tuple[ChainState, ShiftResult, Memory]:
        """Filter one shift.

        Raises
        ------
        SolveFailed
            If the shift cannot be balanced; the state is as it was.
        """
        new, memory, pending = self._balanced(state, shift)
        tally, added, result = self._summed(Tally(state.blocks, state.totals), pending)
        memory.ended.extend(self.running.note(added, result.number))
        return replace(new, blocks=tally.blocks, totals=tally.totals), result, memory

    def _balanced(
        self, state: ChainState, shift: ShiftReadings
    ) -> tuple[ChainState, Memory, _Pending]:
        """Balance a shift; its totals are still to be added up by `_summed`."""
        begun = time.perf_counter()
        carried = self.carried
        step, joined = self._passing(state, shift)
        step = let_go(self.freed, carried.names, state.number, step)
        mean, spread = carried.passed(state.mean, state.covariance, step)
        values, sd = self.reconciler.data(shift.measurements)
        read = len(self.reconciler.channels)
        whole = spread + np.diag(carried.scatter)
        parameters = self.reconciler.parameters(shift.hours, shift.measurements)
        balanced = self._balance(state, shift, mean, whole, values[:read], sd[:read], parameters)
        said = balanced.update
        gain_inputs = said.moved
        gain = gain_inputs - carried.scatter[:, None] * said.whitened.T
        of_inputs = even(whole - gain_inputs @ gain_inputs.T)
        absent = (1 - factor_so_far(state.scatter)) * carried.scatter
        mean_of = self.to_mean(balanced, of_inputs, parameters, absent)
        shown = shown_by(said, carried.scatter, balanced.noise)
        balanced = replace(balanced, weights=balanced.weights + mean_of.weights)
        inputs_carried = spread - gain_inputs @ gain.T
        follow = balanced.local.places(carried.closings)
        after, after_spread = self._after(
            mean, spread, gain, balanced, of_inputs, inputs_carried, follow
        )
        figures, amounts, gradient, by_following = self._amounts(balanced, parameters)
        # From the point where the last step ended to the mean, by the derivatives there.
        rest = mean + whole @ balanced.weights - balanced.point[carried.positions]
        closings = self.balancer.response.place[carried.closings]
        after[carried.is_stock] += follow @ rest + mean_of.follows[closings]
        amounts += gradient[: amounts.size] @ rest
        amounts += by_following @ mean_of.follows + mean_of.amounts
        told = Said(
            said,
            balanced.weights,
            whole @ balanced.weights,
            gain,
            gain_inputs,
            of_inputs,
            inputs_carried,
            follow,
            amounts,
            gradient[: amounts.size],
        )
        if self.watcher is not None:
            self.watcher(self, state, balanced, step, spread)
        stock = carried.is_stock
        opening = inputs_carried[stock, :]
        opening[:, stock] = of_inputs[stock, :] @ follow.T
        memory = Memory(
            state.number,
            after,
            Memory.half(after_spread),
            (balanced.point[carried.positions] + rest)[stock],
            of_inputs[np.ix_(stock, stock)],
            opening,
            step,
        )
        new = ChainState(
            state.number + 1, after, after_spread, state.totals, state.blocks,
            state.scatter + shown, balanced.point, shift.hours, shift.end, shift.start,
            balanced.local,
        )  # fmt: skip
        lead, nothing = gradient[amounts.size :], np.zeros(0)
        result = ShiftResult(
            number=state.number,
            name=shift.name,
            start=shift.start,
            hours=shift.hours,
            joined=joined,
            gamma=balanced.gamma,
            degrees_of_freedom=balanced.degrees_of_freedom,
            aside=balanced.aside,
            held=tuple(int(i) for i in balanced.held),
            steps=balanced.steps,
            seconds=time.perf_counter() - begun,
            point=balanced.point,
            carried=after,
            carried_sd=_deviations(np.diag(after_spread)),
            figures=figures,
            figures_sd=_deviations(((lead @ of_inputs) * lead).sum(axis=1)),
            amounts=amounts,
            to_date=nothing,
            to_date_covariance=nothing,
            scatter=shown,
            alone=nothing,
            alone_covariance=nothing,
        )
        return new, memory, _Pending(result, balanced, mean, told, step)

    def _summed(
        self, before: Tally | Future[tuple[Tally, Added, ShiftResult]], pending: _Pending
    ) -> tuple[Tally, Added, ShiftResult]:
        """Add a balanced shift to the totals: new totals, and the result made whole."""
        tally = before if isinstance(before, Tally) else before.result()[0]
        result = pending.result
        tally, added = self.running.take(tally, result.number, pending.step, pending.said)
        alone, alone_spread = self._alone.of(pending.balanced, pending.mean, pending.said)
        return (
            tally,
            added,
            replace(
                result,
                to_date=added.to_date,
                to_date_covariance=added.to_date_covariance,
                alone=alone,
                alone_covariance=alone_spread,
            ),
        )

    def _passing(self, state: ChainState, shift: ShiftReadings) -> tuple[Step, bool]:
        """How the carried come from the end of the last shift to the start of this one."""
        usual = self.reconciler.model.factory.shift_hours
        if state.point is None:
            return self.carried.step(0.0, True), False
        joined, elapsed = True, state.hours / usual
        if shift.start is not None and state.end is not None and state.start is not None:
            joined = abs(shift.start - state.end) <= JOINED
            elapsed = (shift.start - state.start).total_seconds() / 3600 / usual
        return self.carried.step(max(elapsed, 0.0), joined), joined

    def _balance(
        self,
        state: ChainState,
        shift: ShiftReadings,
        mean: Vector,
        whole: Matrix,
        values: Vector,
        sd: Vector,
        parameters: Vector,
    ) -> Balanced:
        """Balance from the shift before, else from a reconciliation with the same variances."""
        if state.point is not None:
            start = state.local or self._local(state.point, state.hours)
            try:
                return self.balancer.balance(mean, whole, values, sd, start, parameters)
            except SolveFailed:
                pass
        estimate = reconcile(
            self.reconciler,
            shift.measurements,
            self.usual,
            hours=shift.hours,
            priors=self.carried.priors(mean, whole),
        )
        start = self._local(estimate.solution.z, shift.hours)
        return self.balancer.balance(mean, whole, values, sd, start, parameters)

    def _local(self, point: Vector, hours: float) -> Local:
        parameters = self.reconciler.parameters(hours)
        rows = self.reconciler.problem.row_scale(point, parameters)
        return self.balancer.response.at(point, parameters, rows)

    def _after(
        self,
        mean: Vector,
        spread: Matrix,
        gain: Matrix,
        balanced: Balanced,
        of_inputs: Matrix,
        inputs_carried: Matrix,
        follow: Matrix,
    ) -> tuple[Vector, Matrix]:
        """Mean and covariance of the carried after the shift: stocks are the closing ones."""
        stock = self.carried.is_stock
        after = mean + spread @ balanced.weights
        after[stock] = balanced.point[self.carried.closings]
        covariance = spread - gain @ gain.T
        beside = follow @ inputs_carried
        beside[:, stock] = follow @ of_inputs @ follow.T
        covariance[stock, :] = beside
        covariance[:, stock] = beside.T
        return after, even(covariance)

    def _amounts(
        self, balanced: Balanced, parameters: Vector
    ) -> tuple[Vector, Vector, Matrix, sparse.sparray]:
        """Figures, amounts, derivatives of both by the inputs and of amounts by what follows."""
        found, slopes, leads = [], [], []
        for asked, lead in zip((self.amounts, self.figures), self._leads, strict=True):
            values, entries = asked.evaluator(balanced.point, parameters)
            found.append(values.copy())
            leads.append(lead.parts(entries))
            slopes.append(balanced.local.leading(leads[-1]))
        return found[1], found[0], np.vstack(slopes), leads[0][0].matrix

    def gradient(self, state: ChainState) -> Matrix:
        """Derivatives of the amounts of the last shift by its inputs."""
        if state.point is None:
            raise ValueError("No shift was balanced yet.")
        local = state.local or self._local(state.point, state.hours)
        parameters = self.reconciler.parameters(state.hours)
        _values, entries = self.amounts.evaluator(state.point, parameters)
        return local.leading(self._leads[0].parts(entries))


def _deviations(variances: Vector) -> Vector:
    return np.asarray(np.sqrt(np.maximum(variances, 0.0)))
