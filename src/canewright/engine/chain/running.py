"""Running totals of the periods that are open, corrected by every shift and added to.

The covariance of totals is kept within each period; between totals of different periods it is
not, and stands as zero.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from canewright.engine.adjusting.solution import Vector
from canewright.engine.algebra.kkt import Matrix
from canewright.engine.chain.amounts import Amounts
from canewright.engine.chain.carried import Carried, Step
from canewright.engine.chain.chain_parts import (
    Block,
    ClosedPeriod,
    EndedPeriod,
    Period,
    Said,
)
from canewright.engine.chain.filter import Totals


@dataclass(frozen=True)
class Tally:
    """The totals of the periods that are open, and which are whose."""

    blocks: list[Block]
    totals: Totals


@dataclass(frozen=True)
class Added:
    """What a shift made of the totals.

    Attributes
    ----------
    to_date, to_date_covariance : array (q), (q, q)
        Headline totals of the longest open period.
    ended : list of (Block, Totals)
        Periods whose amounts were all added up and that end here.
    closed : list of ClosedPeriod
        Periods put down here.
    gradient : array (q, n)
        Derivatives of the amounts of the shift by its inputs.
    """

    to_date: Vector
    to_date_covariance: Matrix
    gradient: Matrix
    ended: list[tuple[Block, Totals]] = field(default_factory=list)
    closed: list[ClosedPeriod] = field(default_factory=list)


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
    """

    def __init__(self, carried: Carried, amounts: Amounts, periods: Sequence[Period]) -> None:
        self.carried = carried
        self.amounts = amounts
        self.periods = tuple(periods)
        self.closed: list[ClosedPeriod] = []
        self.ended: list[EndedPeriod] = []
        self.tell: Callable[[Block, Totals, Matrix], EndedPeriod] | None = None
        self._rules = np.array([amount.rule for amount in amounts.amounts])
        self._headline = amounts.chosen(headline=True)
        self._named = {(period.name, period.first): period for period in self.periods}
        self._first = np.array([period.first for period in self.periods], dtype=int)
        self._last = np.array([period.last for period in self.periods], dtype=int)

    def take(self, tally: Tally, number: int, step: Step, said: Said) -> tuple[Tally, Added]:
        """Totals after one more shift; nothing here is changed, see `note`.

        Parameters
        ----------
        tally : Tally
            After the shift before.
        number : int
            Of the shift.
        step : Step
            From the shift before.
        said : Said
        """
        totals = tally.totals
        totals = Totals(
            totals.mean.copy(), totals.covariance, self.carried.beside(totals.cross, step)
        )
        blocks, totals = self._opened(tally.blocks, totals, number)
        totals = self._added(totals, blocks, number, said, gap=bool(step.renewed.any()))
        rows = np.zeros(0, dtype=int)
        here = [b for b in blocks if b.period.first <= number <= b.period.last]
        if here:
            longest = max(here, key=lambda b: b.period.last - b.period.first)
            rows = longest.rows[np.isin(longest.amounts, self._headline)]
        added = Added(totals.mean[rows], totals.covariance[np.ix_(rows, rows)], said.gradient)
        return self._closed(Tally(blocks, totals), added, number), added

    def note(self, added: Added, number: int) -> list[ClosedPeriod]:
        """Take up the periods that ended with a shift; returns those that the smoother wants."""
        self.closed.extend(added.closed)
        if self.tell is None:
            return []
        self.ended += [self.tell(block, totals, added.gradient) for block, totals in added.ended]
        return [
            ClosedPeriod(block.period, block.amounts, totals, number)
            for block, totals in added.ended
        ]

    def _opened(
        self, before: list[Block], totals: Totals, number: int
    ) -> tuple[list[Block], Totals]:
        """Blocks with those of the periods that begin here."""
        # A period may go on longer than was known when it began.
        blocks = [
            replace(block, period=self._named.get(_key(block.period), block.period))
            for block in before
        ]
        begun = {_key(block.period) for block in blocks}
        size = totals.size
        for place in np.flatnonzero((self._first <= number) & (number <= self._last)):
            period = self.periods[place]
            if _key(period) in begun:
                continue
            chosen = self.amounts.chosen(period.headline and period.whole_until < number)
            blocks.append(Block(period, chosen, size + np.arange(chosen.size), number))
            size += chosen.size
        return blocks, totals.grown(size - totals.size) if size > totals.size else totals

    def _added(
        self, totals: Totals, blocks: list[Block], number: int, said: Said, *, gap: bool
    ) -> Totals:
        """Correct the totals by what the shift says, and add the shift to them."""
        stock, closings = self.carried.is_stock, said.follow.shape[0]
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
        before, half = totals.covariance, 0.5 * own
        totals.covariance = np.zeros(before.shape)
        for block in blocks:
            whole = _slice(block.rows)
            covariance = totals.covariance[whole, whole]
            np.subtract(before[whole, whole], pull[whole] @ pull[whole].T, out=covariance)
            if block.period.first <= number <= block.period.last:
                block.shifts += 1
                here = slice(None) if block.amounts.size == half.shape[0] else block.amounts
                with_shift = beside[whole, closings:][:, here]
                rules = self._rules[block.amounts]
                last = np.flatnonzero(rules == "last")
                once = (rules == "first") & (number != block.since)
                if gap and number > block.since:
                    opens, ends = self._ends(block)
                    for part in (covariance, covariance.T, totals.mean[whole], cross[whole]):
                        part[opens] -= part[ends]
                    with_shift[opens] -= with_shift[ends]
                    once[opens] = False
                for part in (covariance, covariance.T, totals.mean[whole], cross[whole]):
                    part[last] = 0.0
                with_shift[last] = 0.0
                # What is only taken once stays as it is.
                left = np.flatnonzero(once)
                for part, more in (
                    (with_shift, half[here][:, here]),
                    (cross[whole], own_cross[here]),
                    (totals.mean[whole], said.amounts[here]),
                ):
                    kept = part[left].copy()
                    part += more
                    part[left] = kept
                with_shift[:, left] = 0.0
                covariance += with_shift + with_shift.T
        totals.cross = cross
        return totals

    def _closed(self, tally: Tally, added: Added, number: int) -> Tally:
        """Totals without those that are put down; which, is noted in `added`."""
        blocks: list[Block] = []
        kept: list[np.ndarray] = []
        for block in tally.blocks:
            if self._is_whole(block) and block.period.whole_until <= number:
                added.ended.append((block, tally.totals.kept(block.rows)))
                rows = block.rows[np.searchsorted(block.amounts, self._headline)]
                block = replace(block, amounts=self._headline, rows=rows)
            if max(block.period.last, block.period.kept_until) <= number:
                totals = tally.totals.kept(block.rows)
                added.closed.append(ClosedPeriod(block.period, block.amounts, totals, number))
                continue
            blocks.append(block)
            kept.append(block.rows)
        if not added.ended and not added.closed:
            return tally
        ends = np.cumsum([rows.size for rows in kept], dtype=int)
        renumbered = [
            replace(block, rows=np.arange(end - block.rows.size, end))
            for block, end in zip(blocks, ends, strict=True)
        ]
        return Tally(renumbered, tally.totals.blocks(kept))

    def _ends(self, block: Block) -> tuple[np.ndarray, np.ndarray]:
        """Rows within a block of what vessels held at first, and of the same at last."""
        place = {int(amount): row for row, amount in enumerate(block.amounts)}
        known = self.amounts.places
        found = [
            (place[i], place[known[amount.ends_as]])
            for i, amount in enumerate(self.amounts.amounts)
            if i in place and known.get(amount.ends_as, -1) in place
        ]
        both = np.array(found, dtype=int).reshape(-1, 2)
        return both[:, 0], both[:, 1]

    def _is_whole(self, block: Block) -> bool:
        """Whether all amounts of a headline period are still added up."""
        return block.period.headline and block.amounts.size > self._headline.size


def _slice(rows: np.ndarray) -> slice:
    """Rows of one block, which stand together."""
    return slice(int(rows[0]), int(rows[-1]) + 1) if rows.size else slice(0, 0)


def _key(period: Period) -> tuple[str, int]:
    return period.name, period.first
