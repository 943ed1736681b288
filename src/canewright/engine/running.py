"""Running totals of the periods that are open, corrected by every shift and added to.

The covariance of totals is kept within each period; between totals of different periods it is
not, and stands as zero.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from canewright.engine.amounts import Amounts
from canewright.engine.carried import Carried
from canewright.engine.chain_parts import (
    Block,
    ChainState,
    ClosedPeriod,
    EndedPeriod,
    Period,
    Said,
)
from canewright.engine.filter import Totals
from canewright.engine.kkt import Matrix


class Running:
    """Adds shifts to the totals of their periods.

    Parameters
    ----------
    carried : Carried
    amounts : Amounts
        What is added up.
    periods : sequence of Period

    Attributes
    ----------
    closed : list of ClosedPeriod
        Periods that ended and were put down for the smoother.
    ended : list of EndedPeriod
        What `tell` made of periods whose amounts were all added up, when they ended.
    tell : callable, optional
        Given a block, its totals and the derivatives of a shift's amounts by its inputs, what
        is to be kept of them.
    gradient : array (q, n)
        Derivatives of the amounts of the last shift by its inputs.
    """

    def __init__(self, carried: Carried, amounts: Amounts, periods: Sequence[Period]) -> None:
        self.carried = carried
        self.amounts = amounts
        self.periods = tuple(periods)
        self.closed: list[ClosedPeriod] = []
        self.ended: list[EndedPeriod] = []
        self.tell: Callable[[Block, Totals, Matrix], EndedPeriod] | None = None
        self.gradient: Matrix | None = None
        self._rules = np.array([amount.rule for amount in amounts.amounts])
        self._named = {(period.name, period.first): period for period in self.periods}
        self._first = np.array([period.first for period in self.periods], dtype=int)
        self._last = np.array([period.last for period in self.periods], dtype=int)

    def opened(self, state: ChainState, totals: Totals) -> tuple[list[Block], Totals]:
        """Blocks with those of the periods that begin here."""
        # A period may go on longer than was known when it began.
        blocks = [
            replace(block, period=self._named.get(_key(block.period), block.period))
            for block in state.blocks
        ]
        begun = {_key(block.period) for block in blocks}
        size = totals.size
        for place in np.flatnonzero((self._first <= state.number) & (state.number <= self._last)):
            period = self.periods[place]
            if _key(period) in begun:
                continue
            chosen = self.amounts.chosen(period.headline and period.whole_until < state.number)
            blocks.append(Block(period, chosen, size + np.arange(chosen.size), state.number))
            size += chosen.size
        return blocks, totals.grown(size - totals.size) if size > totals.size else totals

    def added(self, totals: Totals, blocks: list[Block], number: int, said: Said) -> Totals:
        """Correct the totals by what the shift says, and add the shift to them."""
        stock, closings = self.carried.is_stock, said.follow.shape[0]
        self.gradient = said.gradient
        pull = said.update.gain(totals.cross)
        totals.mean += totals.cross @ said.weights
        # Covariance of the totals with the closing stocks and with the amounts of the shift.
        sought = np.vstack([said.follow, said.gradient]).T
        beside = totals.cross @ (sought - said.update.whitened.T @ (said.gain_inputs.T @ sought))
        cross = totals.cross - pull @ said.gain.T
        cross[:, stock] = beside[:, :closings]
        lead_inputs = said.gradient @ said.of_inputs
        own = lead_inputs @ said.gradient.T
        own_cross = said.gradient @ said.inputs_carried
        own_cross[:, stock] = lead_inputs @ said.follow.T
        before = totals.covariance
        totals.covariance = np.zeros(before.shape)
        for block in blocks:
            whole = _slice(block.rows)
            covariance = totals.covariance[whole, whole]
            np.subtract(before[whole, whole], pull[whole] @ pull[whole].T, out=covariance)
            if block.period.first <= number <= block.period.last:
                block.shifts += 1
                with_shift = beside[whole, closings:][:, block.amounts]
                rules = self._rules[block.amounts]
                last = rules == "last"
                for part in (covariance, covariance.T, totals.mean[whole], cross[whole]):
                    part[last] = 0.0
                with_shift[last] = 0.0
                taken = (rules != "first") | (number == block.since)
                chosen = block.amounts[taken]
                totals.mean[whole][taken] += said.amounts[chosen]
                with_shift[taken] += 0.5 * own[np.ix_(chosen, block.amounts)]
                with_shift[:, ~taken] = 0.0
                covariance += with_shift + with_shift.T
                cross[whole][taken] += own_cross[chosen]
        totals.cross = cross
        return totals

    def close(self, state: ChainState) -> None:
        """Tell of the periods that ended; put down those that are not carried on."""
        blocks: list[Block] = []
        kept: list[np.ndarray] = []
        changed = False
        for block in state.blocks:
            if self._is_whole(block) and block.period.whole_until < state.number:
                if self.tell is not None and self.gradient is not None:
                    totals = state.totals.kept(block.rows)
                    self.ended.append(self.tell(block, totals, self.gradient))
                chosen = self.amounts.chosen(headline=True)
                rows = block.rows[np.searchsorted(block.amounts, chosen)]
                block, changed = replace(block, amounts=chosen, rows=rows), True
            if max(block.period.last, block.period.kept_until) < state.number:
                totals = state.totals.kept(block.rows)
                self.closed.append(ClosedPeriod(block.period, block.amounts, totals))
                changed = True
                continue
            blocks.append(block)
            kept.append(block.rows)
        if not changed:
            return
        state.totals = state.totals.blocks(kept)
        ends = np.cumsum([rows.size for rows in kept], dtype=int)
        state.blocks = [
            replace(block, rows=np.arange(end - block.rows.size, end))
            for block, end in zip(blocks, ends, strict=True)
        ]

    def _is_whole(self, block: Block) -> bool:
        """Whether all amounts of a headline period are still added up."""
        headline = self.amounts.chosen(headline=True).size
        return block.period.headline and block.amounts.size > headline


def _slice(rows: np.ndarray) -> slice:
    """Rows of one block, which stand together."""
    return slice(int(rows[0]), int(rows[-1]) + 1) if rows.size else slice(0, 0)


def _key(period: Period) -> tuple[str, int]:
    return period.name, period.first
