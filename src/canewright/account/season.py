"""The season: every shift of a folder chained, and what can be said to date."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cached_property
from pathlib import Path

import numpy as np

from canewright.account.season_keeping import Keeper
from canewright.account.time_account import TimeAccount, time_account
from canewright.engine.amounts import Amount, Amounts
from canewright.engine.cache import prepared as prepared_factory
from canewright.engine.chain import Chain
from canewright.engine.chain_parts import (
    ChainState,
    ClosedPeriod,
    Freed,
    Period,
    ShiftReadings,
    ShiftResult,
)
from canewright.engine.comparison import Change, changed
from canewright.engine.nominal import Prepared
from canewright.engine.periods import KINDS, calendar
from canewright.engine.points import Points
from canewright.engine.reconcile import Measurement, Reconciler
from canewright.engine.watch import Call, Watch
from canewright.figures.control import control_figures
from canewright.figures.figure import Figure
from canewright.figures.ledgers import Ledger, ledgers
from canewright.figures.to_date import CHIEF, PeriodFigure, PeriodFigures, row_name
from canewright.files.catalogue import FactoryCatalogue
from canewright.files.factory import read_factory
from canewright.files.problems import InputRefused, Problem
from canewright.files.readings import combine
from canewright.files.season_folder import Left, SeasonFiles, read_season, season_paths
from canewright.files.stops import Stop, read_stops, stops_path
from canewright.flowsheet import Factory

SEASON = "season to date"
UNDETERMINED = "undetermined_loss"
HEALTHY = (0.3, 1.3)
"""Mean of the squared innovations within which the stated uncertainties are believed; our
choice."""
NEARLY = 1e-12

Say = Callable[[str], None]
Count = Callable[[str, int], Callable[[], None]]


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
    figures : list of PeriodFigure
        Of the season to date, all of them.
    period_figures : dict
        (kind, name) of each day, week, fortnight and month -> its headline figures.
    """

    factory: Factory
    prepared: Prepared
    chain: Chain
    made: PeriodFigures
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
    notes: list[str] = field(default_factory=list)

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
    def figures(self) -> list[PeriodFigure]:
        """Every figure of the season to date."""
        names, mean, covariance, _ = self._season
        return self.made.of(names, mean, covariance)

    def figure(self, name: str) -> PeriodFigure | None:
        """One figure of the season to date."""
        return next((figure for figure in self.figures if figure.name == name), None)

    def ledger(self, name: str) -> list[tuple[str, str, float, float, float]]:
        """Rows of a ledger to date: side, row, value, standard uncertainty, % of the base."""
        names, mean, covariance, _ = self._season
        base = mean[names.index(f"{name}: base")]
        found = []
        ledger = self.ledgers[name]
        for side, rows in (("in", ledger.entering), ("out", ledger.leaving)):
            for row in rows:
                place = names.index(row_name(name, side, row))
                sd = float(np.sqrt(max(covariance[place, place], 0.0)))
                share = 100 * mean[place] / base
                found.append((side, row.name, float(mean[place]), sd, float(share)))
        return found

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
            figures = self.made.of(self.headline, result.to_date, result.to_date_covariance)
            figure = next((f for f in figures if f.name == UNDETERMINED), None)
            if figure is None:
                return []
            independent = float(np.sqrt(figure.gradient @ summed @ figure.gradient))
            found.append(ToDate(result.number, figure.value, figure.sd, independent))
        return found

    @property
    def gamma_per_degree(self) -> float:
        """Mean of the squared innovations of all readings used: 1 where all is as stated."""
        degrees = sum(result.degrees_of_freedom for result in self.results)
        return sum(result.gamma for result in self.results) / max(degrees, 1)

    @cached_property
    def closed(self) -> list[ClosedPeriod]:
        """Totals of every period that is not the season: put down, or still carried."""
        running = [
            ClosedPeriod(block.period, block.amounts, self.state.totals.kept(block.rows))
            for block in self.state.blocks
            if block.period.name != SEASON
        ]
        return [*self.chain.running.closed, *running]

    def periods(self, kind: str) -> list[tuple[Period, list[PeriodFigure]]]:
        """Headline figures of each period of a kind."""
        starts = [shift.shift.start for shift in self.files.shifts]
        names = {period.name for period in _calendar(starts, kind)}
        found = []
        for closed in self.closed:
            if closed.period.name in names:
                totals = closed.totals
                figures = self.made.of(self.headline, totals.mean, totals.covariance)
                found.append((closed.period, figures))
        return sorted(found, key=lambda pair: pair[0].first)

    def compare(self, before: Period, after: Period) -> Change | None:
        """What changed in sugar on cane between two periods. [% cane]."""
        chained, alone = [], []
        for period in (before, after):
            rows = [r for r in self.results if period.first <= r.number <= period.last]
            closed = next((c for c in self.closed if c.period.name == period.name), None)
            if closed is None or not rows or not set(CHIEF) <= set(self.headline):
                return None
            place = {name: i for i, name in enumerate(self.headline)}
            base = place["sucrose: base"]
            mean, own = closed.totals.mean, np.sum([r.alone for r in rows], axis=0)
            cane, juice, sugar = (mean[place[name]] for name in CHIEF)
            chained.append(
                {
                    "cane": 100 * mean[base] / cane,
                    "extraction": juice / mean[base],
                    "boiling house": sugar / juice,
                }
            )
            alone.append(float(100 * own[place[CHIEF[2]]] / own[place[CHIEF[0]]]))
        return changed(chained[0], chained[1], alone[0], alone[1])

    @cached_property
    def time(self) -> TimeAccount | None:
        """Where the hours went, if there is a log of stops."""
        first, last = self.results[0].start, self.results[-1].start
        if not self.stops or first is None or last is None:
            return None
        end = last + timedelta(hours=self.results[-1].hours)
        cane = self.figure("cane_tonnes")
        read = sum(result.hours for result in self.results)
        return time_account(self.stops, first, end, read, cane.value if cane else float("nan"))


def _calendar(starts: list[datetime | None], kind: str) -> list[Period]:
    known = [start for start in starts if start is not None]
    return calendar(known, kind)  # type: ignore[arg-type]


def season_periods(starts: list[datetime | None]) -> list[Period]:
    """The season with everything, and each day, week, fortnight and month with its headline.

    A period is carried on until the one after it has ended, so that the two can be compared.
    """
    found = [Period(SEASON, 0, len(starts) - 1, kept_until=len(starts))]
    for kind in KINDS[:-1]:
        periods = _calendar(starts, kind)
        for place, period in enumerate(periods):
            until = periods[min(place + 1, len(periods) - 1)].last
            found.append(Period(period.name, period.first, period.last, True, until))
    return found


def balance_season(
    factory_path: str | Path,
    folder: str | Path,
    *,
    resume: bool = False,
    keep: bool = True,
    say: Say = lambda words: None,
    count: Count = lambda words, total: lambda: None,
) -> SeasonAccount:
    """Chain every shift of a folder.

    Where an instrument is called for a step or a drift, the season is chained again with its
    bias let go from where the fault began.

    Parameters
    ----------
    factory_path, folder : path
    resume : bool
        Go on from what an earlier run wrote down, as far as its files are unchanged.
    keep : bool
        Write down how far the run has come, in the folder.
    say : callable
        Told what is being done.
    count : callable
        Given words and a total, returns what is called at each step.

    Raises
    ------
    InputRefused
        If the factory file or every file of readings is refused.
    """
    begun = time.perf_counter()
    say("Reading the factory")
    factory = read_factory(factory_path)
    prepared = prepared_factory(factory)
    catalogue = FactoryCatalogue(Points(prepared.model))
    place = Path(folder)
    paths = season_paths(place)
    files = read_season(paths, catalogue, factory.shift_hours, count("Reading", len(paths)))
    if not files.shifts:
        raise InputRefused(_problems(files.left))
    log = stops_path(place)
    stops = read_stops(log) if log is not None else []
    shifts, reconciler = _shifts(prepared, files, catalogue, factory)
    say("Writing the equations")
    made_ledgers = ledgers(prepared.model)
    figures = control_figures(prepared.model, reconciler.relations, made_ledgers)
    made = PeriodFigures(reconciler, made_ledgers, figures)
    amounts = Amounts(reconciler, made.amounts)
    of_shift = Amounts(reconciler, [Amount(n, f.unit, f.expression) for n, f in figures.items()])
    periods = season_periods([shift.start for shift in shifts])

    def run(freed: tuple[Freed, ...], words: str) -> SeasonAccount:
        chain = Chain(reconciler, prepared.usual.values, amounts, of_shift, periods, freed)
        watch = Watch()
        keeper = Keeper.of(factory_path, files, reconciler, freed, place, wanted=keep)
        state, results, taken_up = keeper.taken_up(chain, watch) if resume else (None, [], 0)
        chain.watcher = watch
        state = state or chain.begin()
        skipped: list[tuple[str, str]] = []
        done = count(words, len(shifts) - state.number)
        for number in range(state.number, len(shifts)):
            state, found, failed = chain.run([shifts[number]], state)
            results += found
            skipped += [(shift.name, sentence) for shift, sentence in failed]
            keeper.keep(number + 1, chain, state, results, watch)
            done()
        return SeasonAccount(
            factory, prepared, chain, made, figures, made_ledgers, files, state, results,
            skipped, tuple(watch.calls), stops, time.perf_counter() - begun, taken_up,
        )  # fmt: skip

    account = run((), "Balancing")
    if not account.results:
        raise InputRefused(_problems([Left(name, (why,)) for name, why in account.skipped]))
    calls = account.calls
    if calls:
        freed = tuple(call.freed() for call in calls)
        account = run(freed, "Balancing again, with what was found allowed for")
        account.calls = calls + tuple(c for c in account.calls if _is_new(c, calls))
    return account


def _is_new(call: Call, known: tuple[Call, ...]) -> bool:
    return all(call.instrument != other.instrument for other in known)


def _shifts(
    prepared: Prepared, files: SeasonFiles, catalogue: FactoryCatalogue, factory: Factory
) -> tuple[list[ShiftReadings], Reconciler]:
    """Readings of the shifts, and the reconciler for all of their channels."""
    points = Points(prepared.model)
    shifts: list[ShiftReadings] = []
    named: dict[tuple[str, str], None] = {}
    shared: dict[tuple[str, str], None] = {}
    for file in files.shifts:
        readings = combine(file.rows, catalogue)
        measured = []
        for r in readings:
            named[r.point, r.analysis] = None
            shared.update({(f"{r.point} {r.analysis}", source): None for source in r.shared})
            measured.append(Measurement(r.point, r.analysis, r.value, r.count, r.sd, r.shared))
        start = file.shift.start
        name = file.shift.name or (f"{start:%Y-%m-%d %H:%M}" if start else file.file)
        hours = file.shift.hours or factory.shift_hours
        shifts.append(ShiftReadings(name, start, hours, tuple(measured)))
    channels = [points.channel(point, analysis) for point, analysis in named]
    return shifts, Reconciler(prepared.model, channels, prepared.statements, list(shared))


def _problems(left: Iterable[Left]) -> list[Problem]:
    return [
        Problem(item.file, None, "", item.sentences[0], " ".join(item.sentences[1:]))
        for item in left
    ]
