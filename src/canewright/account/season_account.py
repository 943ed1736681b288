"""What can be said of a season that is balanced: to date, and period by period."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import cached_property

import numpy as np

from canewright.account.season_history import History, histories
from canewright.account.season_periods import (
    CALENDAR,
    SEASON,
    PeriodRow,
    Standing,
    Standings,
    periods_of,
)
from canewright.account.season_plan import Pace, PlanLine, against_plan, pace, planned
from canewright.account.season_smoothing import Corrected
from canewright.account.sentences import spoken
from canewright.account.stock_jumps import StockJump
from canewright.account.time_account import Span, TimeAccount, time_account
from canewright.account.words import dated, told
from canewright.engine.chain.chain import Chain
from canewright.engine.chain.chain_parts import (
    Block,
    ChainState,
    ClosedPeriod,
    Period,
    ShiftResult,
)
from canewright.engine.chain.comparison import Change, changed
from canewright.engine.chain.periods import Kind
from canewright.engine.chain.watch import Call
from canewright.engine.equations.nominal import Prepared
from canewright.engine.equations.points import Points
from canewright.figures.figure import Figure
from canewright.figures.ledger import Ledger
from canewright.figures.to_date import CHIEF, PeriodFigure
from canewright.files.plan import PlannedSpan
from canewright.files.season_folder import SeasonFiles
from canewright.files.stops import Stop
from canewright.flowsheet import Factory

UNDETERMINED = "undetermined_loss"
NEARLY = 1e-12


@dataclass(frozen=True)
class Floor:
    """An instrument and the part of a figure's variance that its bias carries."""

    instrument: str
    share: float
    without: float


@dataclass(frozen=True)
class ToDate:
    """A figure to date after one shift: chained, and as a sum of independent shifts."""

    number: int
    value: float
    sd: float
    independent_sd: float


@dataclass
class SeasonAccount:
    """What can be said of a season.

    Attributes
    ----------
    results : list of ShiftResult
        One for each shift that was balanced, in order.
    skipped : list of (str, str)
        Shifts that could not be balanced, with a sentence.
    files : SeasonFiles
        With the files that were left out.
    calls : tuple of Call
        Instruments that stepped or drifted; the results allow for them.
    making : Standings
        Makes what is known of a period from its totals.
    corrected, jumps
        Closed periods by all shifts; stocks that jumped by more than could flow.
    plan : list of PlannedSpan
    shifted : timedelta
        Added to the starts of shifts before they are put into days and weeks, so that the first
        day is that of another season.
    last : SeasonAccount, optional
        The season before, over the same days of its crop, its periods named as here.
    """

    factory: Factory
    prepared: Prepared
    chain: Chain
    making: Standings
    figures_of_shift: Mapping[str, Figure]
    ledgers: Mapping[str, Ledger]
    files: SeasonFiles
    state: ChainState
    results: list[ShiftResult]
    skipped: list[tuple[str, str]]
    calls: tuple[Call, ...]
    stops: list[Stop]
    seconds: float
    taken_up: int = 0
    plan: list[PlannedSpan] = field(default_factory=list)
    shifted: timedelta = timedelta(0)
    last: SeasonAccount | None = None
    jumps: list[StockJump] = field(default_factory=list)
    corrected: Corrected = field(default_factory=Corrected)

    @cached_property
    def headline(self) -> tuple[str, ...]:
        """Names of the headline amounts."""
        amounts = self.chain.amounts
        return tuple(amounts.amounts[i].name for i in self.chain.headline)

    @cached_property
    def _season(self) -> tuple[tuple[str, ...], np.ndarray, np.ndarray, np.ndarray]:
        block = next(b for b in self.state.blocks if b.period.name == SEASON)
        names = tuple(self.chain.amounts.amounts[i].name for i in block.amounts)
        totals = self.state.totals
        return (
            names,
            totals.mean[block.rows],
            totals.covariance[np.ix_(block.rows, block.rows)],
            totals.cross[block.rows],
        )

    @cached_property
    def season(self) -> Standing:
        """The season to date, with every shift that was balanced."""
        block = next(b for b in self.state.blocks if b.period.name == SEASON)
        return self._now("season", block)

    def _now(self, kind: str, block: Block) -> Standing:
        """A period that is still added up, with all shifts up to now."""
        totals = self.state.totals.kept(block.rows)
        ended = self.making.tell(block, totals, self.chain.gradient(self.state))
        found = self.making.of(kind, ended, over=False)
        names = self.making.names
        known = self.making.made.of(names, totals.mean, totals.covariance)
        figures = [
            replace(figure, gradient=own.gradient)
            for figure, own in zip(found.figures, known, strict=True)
        ]
        return replace(found, figures=figures)

    @property
    def figures(self) -> list[PeriodFigure]:
        """Every figure of the season to date."""
        return self.season.figures

    def figure(self, name: str) -> PeriodFigure | None:
        """One figure of the season to date."""
        return self.season.figure(name)

    def ledger(self, name: str) -> list[PeriodRow]:
        """Rows of a ledger to date."""
        return self.season.ledgers[name]

    def floor(self, name: str = UNDETERMINED) -> list[Floor]:
        """Instruments by the part of a figure's variance that their bias carries."""
        figure = self.figure(name)
        if figure is None or not figure.sd > 0:
            return []
        _, _, _, cross = self._season
        carried = self.chain.carried
        beside = figure.gradient @ cross
        found = []
        for place in np.flatnonzero(carried.of_kind("bias")):
            own = self.state.covariance[place, place]
            share = float(beside[place] ** 2 / (own * figure.sd**2)) if own > NEARLY else 0.0
            without = figure.sd * float(np.sqrt(max(1 - share, 0.0)))
            found.append(Floor(carried.names[place], share, without))
        return sorted(found, key=lambda floor: -floor.share)

    @cached_property
    def undetermined(self) -> list[ToDate]:
        """The undetermined loss to date after each shift."""
        found = []
        summed = np.zeros((len(self.headline), len(self.headline)))
        for result in self.results:
            summed = summed + result.alone_covariance
            figures = self.making.made.of(self.headline, result.to_date, result.to_date_covariance)
            figure = next((f for f in figures if f.name == UNDETERMINED), None)
            if figure is None:
                return []
            independent = float(np.sqrt(figure.gradient @ summed @ figure.gradient))
            found.append(ToDate(result.number, figure.value, figure.sd, independent))
        return found

    @property
    def gamma_per_degree(self) -> float:
        """Mean of the squared innovations of all readings used: 1 where all is as stated."""
        return gamma_per_degree(self.results)

    @cached_property
    def closed(self) -> list[ClosedPeriod]:
        """Totals of every period that is not the season, by all that was read since."""
        headline = self.chain.headline
        running = []
        for block in self.state.blocks:
            if block.period.name != SEASON:
                rows = block.rows[np.searchsorted(block.amounts, headline)]
                running.append(ClosedPeriod(block.period, headline, self.state.totals.kept(rows)))
        return [*self.corrected.closed, *running]

    @cached_property
    def _standings(self) -> dict[Kind, list[Standing]]:
        return {kind: self._of_kind(kind) for kind in CALENDAR}

    def standings(self, kind: Kind) -> list[Standing]:
        """All that is known, by all shifts, of each period of which everything was added up."""
        return self._standings[kind]

    def last_season(self, standing: Standing) -> Standing | None:
        """The same period of last season, if that was balanced too."""
        if self.last is None:
            return None
        if standing.kind == "season":
            return self.last.season
        kind = next(known for known in CALENDAR if known == standing.kind)
        name = standing.period.name
        return next((s for s in self.last.standings(kind) if s.period.name == name), None)

    def _of_kind(self, kind: Kind) -> list[Standing]:
        names = {period.name for period in self._calendar(kind)}
        found = [
            self.making.of(kind, ended)
            for ended in self.corrected.ended
            if ended.period.name in names and ended.period.name not in self._still_whole
        ]
        found += [self._now(kind, b) for n, b in self._still_whole.items() if n in names]
        return sorted(found, key=lambda standing: standing.period.first)

    @cached_property
    def _still_whole(self) -> dict[str, Block]:
        count = len(self.making.names)
        return {
            block.period.name: block
            for block in self.state.blocks
            if block.period.name != SEASON and block.amounts.size == count
        }

    def _calendar(self, kind: Kind) -> list[Period]:
        return periods_of(self.files.starts(self.shifted), kind)

    def periods(self, kind: Kind) -> list[tuple[Period, list[PeriodFigure]]]:
        """Figures of each period of a kind: all of them, or the losses only."""
        whole = {standing.period.name: standing for standing in self.standings(kind)}
        names = {period.name for period in self._calendar(kind)}
        found = []
        for closed in self.closed:
            name = closed.period.name
            if name in whole:
                found.append((closed.period, whole[name].figures))
            elif name in names:
                found.append((closed.period, self.making.headline_of(closed.totals)))
        return sorted(found, key=lambda pair: pair[0].first)

    def histories(self, standing: Standing | None = None) -> list[History]:
        """Performance parameters of a period against the shifts before it, or of the last week."""
        period = None if standing is None or standing.kind == "season" else standing.period
        return histories(self.chain.carried, self.results, period)

    @cached_property
    def _owners(self) -> Mapping[str, str]:
        return Points(self.prepared.model).owners

    def reading(self, name: str) -> str:
        """A reading in words: what its point is of, and the analysis."""
        point, _, analysis = name.partition(" ")
        return f"{self._owners.get(point, spoken(point))}, {told(spoken(analysis))}"

    def named(self, number: int) -> str:
        """The name of a shift, with its day where the name does not tell it."""
        shift = self.files.shifts[number].shift
        if shift.start is None:
            return shift.name or str(number + 1)
        if not shift.name:
            return dated(shift.start, "%d %b %Y, %H:%M")
        if f"{shift.start:%d %b}" in shift.name:
            return shift.name
        return f"{shift.name} ({dated(shift.start, '%d %b')})"

    def compare(self, before: Period, after: Period) -> Change | None:
        """What changed in sugar on cane between two periods. [% cane]."""
        one, other = self._factors(before.name), self._factors(after.name)
        return None if one is None or other is None else changed(one[0], other[0], one[1], other[1])

    def compare_with_last_season(self, standing: Standing) -> Change | None:
        """What changed in sugar on cane since the same period of last season. [% cane]."""
        if self.last is None:
            return None
        name = standing.period.name
        one, other = self.last._factors(name), self._factors(name)
        return None if one is None or other is None else changed(one[0], other[0], one[1], other[1])

    def _factors(self, name: str) -> tuple[dict[str, float], float] | None:
        """Factors of sugar on cane in a period, and it as each shift by itself reported it."""
        season = self._season if name == SEASON else None
        if season is not None:
            place = {amount: i for i, amount in enumerate(season[0])}
            period, mean = self.season.period, season[1]
        else:
            closed = next((c for c in self.closed if c.period.name == name), None)
            if closed is None:
                return None
            place = {amount: i for i, amount in enumerate(self.headline)}
            period, mean = closed.period, closed.totals.mean
        rows = self.within(period)
        if not rows or not set(CHIEF) <= set(place):
            return None
        own = np.sum([r.alone for r in rows], axis=0)
        alone = {amount: float(own[i]) for i, amount in enumerate(self.headline)}
        base = float(mean[place["sucrose: base"]])
        cane, juice, sugar = (float(mean[place[amount]]) for amount in CHIEF)
        factors = {
            "cane": 100 * base / cane,
            "extraction": juice / base,
            "boiling house": sugar / juice,
        }
        if any(not value > 0 for value in (*factors.values(), alone[CHIEF[0]])):
            return None  # without cane, juice or sugar there is nothing to compare
        return factors, 100 * alone[CHIEF[2]] / alone[CHIEF[0]]

    def within(self, period: Period) -> list[ShiftResult]:
        """Shifts of a period that were balanced."""
        return [r for r in self.results if period.first <= r.number <= period.last]

    @property
    def ended(self) -> datetime:
        """When the last shift that was balanced ended."""
        last = self.results[-1]
        return (last.start or datetime.max) + timedelta(hours=last.hours)

    @cached_property
    def time(self) -> TimeAccount | None:
        """Where the hours of the season went, if there is a log of stops."""
        return self.time_of(self.season)

    def time_of(self, standing: Standing) -> TimeAccount | None:
        """Where the hours of a period went, if there is a log of stops."""
        read = _spans(self.within(standing.period))
        if not self.stops or not read:
            return None
        first, last = read[0][0], read[-1][1]
        cane = standing.figure("cane_tonnes")
        asked = planned(self.plan, first, last).cane if self.plan else None
        return time_account(
            self.stops, first, last, read, cane.value if cane else float("nan"), asked
        )

    def plan_of(self, standing: Standing) -> list[PlanLine]:
        """Plan against actual of a period; of the season, from the first day of the plan on."""
        read = _spans(self.within(standing.period))
        if not self.plan or not read:
            return []
        first = read[0][0]
        if standing.kind == "season":
            first = min(first, self.plan[0].begins)
        time = self.time_of(standing)

        def actual(name: str) -> tuple[float, float] | None:
            figure = standing.figure(name)
            return None if figure is None else (figure.value, figure.sd)

        return against_plan(
            self.plan, first, read[-1][1], actual, None if time is None else time.crushing
        )

    @property
    def pace(self) -> Pace | None:
        """When the planned cane will have been crushed if the pace to date holds."""
        read, cane = _spans(self.results), self.figure("cane_tonnes")
        if not read or cane is None:
            return None
        return pace(self.plan, read[0][0], read[-1][1], cane.value)


def gamma_per_degree(results: Sequence[ShiftResult]) -> float:
    """Mean of the squared innovations of the readings used in shifts."""
    degrees = sum(result.degrees_of_freedom for result in results)
    return sum(result.gamma for result in results) / max(degrees, 1)


def _spans(results: Sequence[ShiftResult]) -> list[Span]:
    """Begin and end of shifts, as far as their begin is known."""
    return [
        (result.start, result.start + timedelta(hours=result.hours))
        for result in results
        if result.start is not None
    ]
