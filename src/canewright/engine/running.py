"""Running totals of the periods that are open, corrected by every shift and added to."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from canewright.engine.amounts import Amounts
from canewright.engine.carried import Carried
from canewright.engine.chain_parts import Block, ChainState, ClosedPeriod, Period, Said
from canewright.engine.filter import Totals, even
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
    """

    def __init__(self, carried: Carried, amounts: Amounts, periods: Sequence[Period]) -> None:
        self.carried = carried
        self.amounts = amounts
        self.periods = tuple(periods)
        self.closed: list[ClosedPeriod] = []

    def opened(self, state: ChainState, totals: Totals) -> tuple[list[Block], Totals]:
        """Blocks with those of the periods that begin here."""
        blocks = list(state.blocks)
        for period in self.periods:
            begun = [
                k
                for k, block in enumerate(blocks)
                if (block.period.name, block.period.first) == (period.name, period.first)
            ]
            for k in begun:  # it may go on longer than was known when it began
                blocks[k] = Block(period, blocks[k].amounts, blocks[k].rows)
            if begun or not period.first <= state.number <= period.last:
                continue
            chosen = self.amounts.chosen(period.headline)
            rows = totals.size + np.arange(chosen.size)
            totals = totals.grown(chosen.size)
            blocks.append(Block(period, chosen, rows))
        return blocks, totals

    def added(self, totals: Totals, blocks: list[Block], number: int, said: Said) -> Totals:
        """Correct the totals by what the shift says, and add the shift to them."""
        stock = self.carried.is_stock
        pull = said.update.gain(totals.cross)
        totals.mean += totals.cross @ said.weights
        totals.covariance -= pull @ pull.T
        with_inputs = totals.cross - pull @ said.gain_inputs.T
        cross = totals.cross - pull @ said.gain.T
        rows, chosen = self._rows(totals, blocks, number, with_inputs, cross)
        lead = said.gradient
        cross[:, stock] = with_inputs @ said.follow.T
        if rows.size:
            used = np.unique(chosen)
            place = np.searchsorted(used, chosen)
            lead = lead[used]
            lead_inputs = lead @ said.of_inputs
            own = lead_inputs @ lead.T
            own_cross = lead @ said.inputs_carried
            own_cross[:, stock] = lead_inputs @ said.follow.T
            beside = with_inputs @ lead.T
            totals.mean[rows] += said.amounts[chosen]
            # Every total against every amount of the shift, then the amounts' own covariance.
            beside[rows] += 0.5 * own[place]
            totals.covariance[rows] += beside.T[place]
            totals.covariance[:, rows] += beside[:, place]
            cross[rows] += own_cross[place]
        totals.cross = cross
        totals.covariance = even(totals.covariance)
        return totals

    def _rows(
        self,
        totals: Totals,
        blocks: list[Block],
        number: int,
        with_inputs: Matrix,
        cross: Matrix,
    ) -> tuple[np.ndarray, np.ndarray]:
        """Rows of the totals that this shift is added to, and which amounts go there."""
        rows, chosen = [np.zeros(0, int)], [np.zeros(0, int)]
        for block in blocks:
            if not block.period.first <= number <= block.period.last:
                continue
            rules = np.array([self.amounts.amounts[i].rule for i in block.amounts])
            last = block.rows[rules == "last"]
            totals.forget(last)
            with_inputs[last] = 0.0
            cross[last] = 0.0
            taken = (rules != "first") | (number == block.period.first)
            rows.append(block.rows[taken])
            chosen.append(block.amounts[taken])
        return np.concatenate(rows), np.concatenate(chosen)

    def close(self, state: ChainState) -> None:
        """Put down the periods that ended and are not carried on."""
        ended = [
            block
            for block in state.blocks
            if max(block.period.last, block.period.kept_until) < state.number
        ]
        if not ended:
            return
        gone = np.concatenate([block.rows for block in ended])
        for block in ended:
            self.closed.append(
                ClosedPeriod(block.period, block.amounts, state.totals.kept(block.rows))
            )
        left = np.setdiff1d(np.arange(state.totals.size), gone)
        state.totals = state.totals.kept(left)
        renumber = {int(row): i for i, row in enumerate(left)}
        state.blocks = [
            Block(b.period, b.amounts, np.array([renumber[int(r)] for r in b.rows], dtype=int))
            for b in state.blocks
            if b not in ended
        ]
