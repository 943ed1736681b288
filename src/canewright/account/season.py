"""The season: every shift of a folder chained, and what can be said to date."""

from __future__ import annotations

import time
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from canewright.account.instruments import read_checks
from canewright.account.season_account import (
    UNDETERMINED,
    Floor,
    SeasonAccount,
    ToDate,
    gamma_per_degree,
)
from canewright.account.season_checks import known_at_first, with_checks
from canewright.account.season_keeping import Keeper
from canewright.account.season_periods import (
    CALENDAR,
    Standings,
    season_periods,
)
from canewright.account.season_smoothing import corrected
from canewright.account.start import prepared_of
from canewright.account.stock_jumps import StockCheck
from canewright.engine.adjusting.reconcile import Measurement, Reconciler
from canewright.engine.chain.amounts import Amount, Amounts
from canewright.engine.chain.chain import Chain
from canewright.engine.chain.chain_parts import (
    Freed,
    ShiftReadings,
)
from canewright.engine.chain.watch import Call, Watch
from canewright.engine.equations.nominal import Prepared
from canewright.engine.equations.points import CHECK, Points
from canewright.figures.control import control_figures
from canewright.figures.ledgers import ledgers
from canewright.figures.to_date import PeriodFigures
from canewright.files.catalogue import FactoryCatalogue
from canewright.files.check_records import CheckFile
from canewright.files.factory import read_factory
from canewright.files.plan import plan_path, read_plan
from canewright.files.problems import InputRefused, Problem
from canewright.files.readings import combine
from canewright.files.season_folder import Left, SeasonFiles, read_season, season_paths
from canewright.files.stops import read_stops, stops_path
from canewright.files.table_files import fingerprints, own_methods
from canewright.flowsheet import Factory

__all__ = [
    "UNDETERMINED",
    "Floor",
    "SeasonAccount",
    "ToDate",
    "balance_season",
    "gamma_per_degree",
]

Say = Callable[[str], None]
Count = Callable[[str, int], Callable[[], None]]


def balance_season(
    factory_path: str | Path,
    folder: str | Path,
    *,
    resume: bool = False,
    keep: bool = True,
    whole: Collection[str] = CALENDAR,
    same_days_as: SeasonAccount | None = None,
    say: Say = lambda words: None,
    count: Count = lambda words, total: lambda: None,
) -> SeasonAccount:
    """Chain every shift of a folder.

    Where an instrument is called for a step or a drift, the season is chained again with its
    bias let go from where the fault began. Then periods that are closed are corrected by what
    was read since.

    Parameters
    ----------
    factory_path, folder : path
    resume : bool
        Go on from what an earlier run wrote down, as far as its files are unchanged.
    keep : bool
        Write down how far the run has come, in the folder.
    whole : collection of str
        Kinds of periods of which every figure and ledger is wanted, not the losses only.
    same_days_as : SeasonAccount, optional
        A later season: only the shifts up to the same day and hour of the crop are taken, and
        days, weeks and months are named as there.
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
    prepared = prepared_of(factory, factory_path)
    tables = own_methods(factory.tables, Path(factory_path).parent)
    catalogue = FactoryCatalogue(Points(prepared.model), tables)
    place = Path(folder)
    paths = season_paths(place)
    files = read_season(paths, catalogue, factory.shift_hours, count("Reading", len(paths)))
    if not files.shifts:
        raise InputRefused(_problems(files.left))
    shifted = timedelta(0)
    if same_days_as is not None:
        shifted = _days_between(files, same_days_as.files)
        files = files.before(same_days_as.ended - shifted)
    log, plan = stops_path(place), plan_path(place)
    stops = read_stops(log) if log is not None else []
    planned = read_plan(plan) if plan is not None else []
    checks = read_checks(factory, Path(factory_path).parent)
    shifts, reconciler = _shifts(prepared, files, catalogue, factory, checks)
    say("Writing the equations")
    made_ledgers = ledgers(prepared.model)
    figures = control_figures(prepared.model, reconciler.relations, made_ledgers)
    made = PeriodFigures(reconciler, made_ledgers, figures)
    amounts = Amounts(reconciler, made.amounts)
    of_shift = Amounts(reconciler, [Amount(n, f.unit, f.expression) for n, f in figures.items()])
    periods = season_periods(files.starts(shifted), whole)
    prints = _prints(files, shifts)

    def run(freed: tuple[Freed, ...], words: str) -> tuple[SeasonAccount, Keeper]:
        chain = Chain(reconciler, prepared.usual.values, amounts, of_shift, periods, freed)
        making = Standings(made, amounts, chain.carried)
        chain.running.tell = making.tell
        watch = Watch()
        added_up = (
            amounts.places,
            (*whole, str(shifted), *fingerprints(factory.tables, factory_path)),
        )
        keeper = Keeper.of(factory_path, prints, reconciler, freed, added_up, place, wanted=keep)
        state, results, skipped, taken_up = (
            keeper.taken_up(chain, watch) if resume else (None, [], [], 0)
        )
        chain.watcher, memories = watch, keeper.memories
        state = state or chain.begin()
        done = count(words, len(shifts) - state.number)
        for stop in keeper.stops(state.number):
            # With a call the season is chained again: this run will not be smoothed.
            memory = None if watch.calls and not freed else memories
            stretch = shifts[state.number : stop]
            state, found, failed = chain.run(stretch, state, lambda _: done(), memory)
            results += found
            for shift, sentence in failed:
                skipped.append((shift.name, sentence))
                done()
            keeper.keep(stop, chain, state, results, skipped, watch)
            # Made again from here on, as by a run that is taken up here: both give the same digits.
            state = replace(state, local=None)
        account = SeasonAccount(
            factory, prepared, chain, making, figures, made_ledgers, files, state, results,
            skipped, tuple(watch.calls), stops, time.perf_counter() - begun, taken_up, planned,
            shifted,
        )  # fmt: skip
        return account, keeper

    account, keeper = run((), "Balancing")
    if not account.results:
        raise InputRefused(_problems([Left(name, (why,)) for name, why in account.skipped]))
    calls = account.calls
    if calls:
        freed = tuple(call.freed() for call in calls)
        account, keeper = run(freed, "Balancing again, with what was found allowed for")
        account.calls = calls + tuple(c for c in account.calls if _is_new(c, calls))
    memories, chain = keeper.memories, account.chain
    running, done = chain.running, count("Correcting closed periods", len(memories))
    account.corrected = corrected(
        chain.carried, memories, running.closed, running.ended, account.making.tell_again, done
    )
    keeper.tidy()
    account.jumps = StockCheck(reconciler).jumps(shifts, account.results)
    account.seconds = time.perf_counter() - begun
    return account


def put_last_season_beside(
    account: SeasonAccount,
    factory_path: str | Path,
    folder: str | Path,
    *,
    keep: bool = True,
    count: Count = lambda words, total: lambda: None,
) -> None:
    """Balance last season over the same days of its crop, and put it beside this one.

    What an earlier run wrote down of it is taken up.

    Raises
    ------
    InputRefused
        If its files are refused, or are those of this season.
    """
    last = balance_season(
        factory_path, folder, resume=True, keep=keep, same_days_as=account, count=count
    )
    both = set(last.files.fingerprints) & set(account.files.fingerprints)
    if both:
        what = f"{len(both)} of its shifts are shifts of this season."
        raise InputRefused(
            [Problem(str(folder), None, "", what, "Name the folder of last season.")]
        )
    account.last = last


def _days_between(files: SeasonFiles, later: SeasonFiles) -> timedelta:
    """Whole days from the first day of one season to that of another."""
    first, other = files.starts()[0], later.starts()[0]
    if first is None or other is None:
        return timedelta(0)
    return timedelta(days=(other.date() - first.date()).days)


def _is_new(call: Call, known: tuple[Call, ...]) -> bool:
    return all(call.instrument != other.instrument for other in known)


def _prints(files: SeasonFiles, shifts: Sequence[ShiftReadings]) -> tuple[str, ...]:
    """What tells each shift from every other: its file, and the checks made in it."""
    return tuple(
        f"{fingerprint} {[m for m in shift.measurements if m.analysis == CHECK]}"
        for fingerprint, shift in zip(files.fingerprints, shifts, strict=True)
    )


def _shifts(
    prepared: Prepared,
    files: SeasonFiles,
    catalogue: FactoryCatalogue,
    factory: Factory,
    checks: Mapping[str, CheckFile],
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
    known = known_at_first(factory, checks, shifts, channels)
    shifts, channels, standards = with_checks(factory, checks, shifts, channels)
    return shifts, Reconciler(
        prepared.model, channels, prepared.statements, [*shared, *standards], known
    )


def _problems(left: Iterable[Left]) -> list[Problem]:
    return [
        Problem(item.file, None, "", item.sentences[0], " ".join(item.sentences[1:]))
        for item in left
    ]
