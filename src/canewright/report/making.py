"""Making reports from files: which kinds there are, and making one again to verify it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from canewright.account import Account, balance
from canewright.account.season import (
    SeasonAccount,
    balance_season,
    put_last_season_beside,
)
from canewright.files.long_file import parted
from canewright.files.plan import plan_path
from canewright.files.stops import stops_path
from canewright.files.tables import read_tables
from canewright.report.content import Input, Letterhead, Report
from canewright.report.period_sheets import PERIOD_KINDS, PeriodRefused, period_report
from canewright.report.same_again import checks_used, input_file, letterhead_of
from canewright.report.sheets import SHIFT_KINDS, shift_report
from canewright.report.verify import Verified, compare
from canewright.report.words import _, speaking, translation

KINDS = (*SHIFT_KINDS, *PERIOD_KINDS)

Balanced = Callable[[Path, Path], Account]
Seasoned = Callable[[Path, Path, Path | None], SeasonAccount]


class KindRefused(ValueError):
    """There is no such report, or not on such readings."""


class InputsMissing(ValueError):
    """A report cannot be made again: a file that it was made from is not there."""


def _season(factory: Path, folder: Path, last_season: Path | None) -> SeasonAccount:
    account = balance_season(factory, folder, keep=False)
    if last_season is not None:
        put_last_season_beside(account, factory, last_season, keep=False)
    return account


def _plain_paper() -> Letterhead:
    """Paper without a letterhead still has lines to sign on."""
    return Letterhead(signatures=(_("prepared by"), _("checked by"), _("approved by")))


def report_on(
    kind: str,
    factory: str | Path,
    readings: str | Path,
    letterhead: Letterhead | None = None,
    options: Mapping[str, str] | None = None,
    *,
    balanced: Balanced = balance,
    seasoned: Seasoned = _season,
) -> Report:
    """A report, from its files.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    factory, readings : path
        For a report on a period the readings are a folder with a file for each shift.
    letterhead : Letterhead, optional
        Without one the report has three lines to sign on.
    options : mapping, optional
        `of`: the name of the day, week, fortnight or month; the last one when left out.
        `last_season`: the folder of last season, put beside.
    balanced, seasoned : callable
        What balances a shift and a season, for those who show progress.

    Raises
    ------
    KindRefused, PeriodRefused
        If there is no such report, or not on such readings.
    InputRefused
        With everything that is wrong with the files.
    SolveFailed
        If the shift cannot be balanced.
    NoTranslation
        If the letterhead asks for a language that is not there.
    """
    head, asked = letterhead or _plain_paper(), dict(options or {})
    place, taken = Path(factory), Path(readings)
    if kind not in KINDS:
        raise KindRefused(f"There is no report '{kind}'. Known: {', '.join(KINDS)}.")
    if kind in SHIFT_KINDS and taken.is_dir():
        raise KindRefused(
            f"{taken} is a folder, and a {kind} report is on one shift: name one file in it. On "
            f"the whole folder there are: {', '.join(PERIOD_KINDS)}."
        )
    if kind in PERIOD_KINDS and taken.is_file() and len(parted(read_tables(taken))) < 2:
        raise KindRefused(
            f"{taken} is one file of one shift, and a {kind} report is on a folder of shifts or a "
            f"file of several. On one shift there are: {', '.join(SHIFT_KINDS)}."
        )
    words = translation(head.language, Path(head.translation) if head.translation else None)
    with speaking(words):
        # What the balance says is in its sentences by now, so it speaks the language too.
        return _spoken(kind, place, taken, head, asked, balanced, seasoned)


def _spoken(
    kind: str,
    place: Path,
    taken: Path,
    head: Letterhead,
    asked: Mapping[str, str],
    balanced: Balanced,
    seasoned: Seasoned,
) -> Report:
    """The report in the language spoken."""
    inputs = [input_file("factory", place)]
    if kind in SHIFT_KINDS:
        inputs.append(input_file("readings", taken))
        account = balanced(place, taken)
        inputs += checks_used(account, place.parent)
        inputs += [
            input_file(f"table {name}", place.parent / name) for name in account.factory.tables
        ]
        return shift_report(kind, account, tuple(inputs), head)
    log, plan = stops_path(taken), plan_path(taken)
    if kind == "time" and log is None:
        raise PeriodRefused(
            f"{taken} holds no log of stops, without which there is no account of the time. Write "
            f"stops.csv there, with the columns start, hours, cause, note."
        )
    before = Path(asked["last_season"]) if asked.get("last_season") else None
    season = seasoned(place, taken, before)
    inputs.append(Input("readings", taken.as_posix(), season.files.fingerprint))
    if log is not None:
        inputs.append(input_file("stops", log))
    if plan is not None:
        inputs.append(input_file("plan", plan))
    if before is not None and season.last is not None:
        inputs.append(Input("last season", before.as_posix(), season.last.files.fingerprint))
    return period_report(kind, season, tuple(inputs), head, asked)


def made_again(
    data: Mapping[str, Any],
    beside: Path,
    factory: Path | None = None,
    readings: Path | None = None,
    *,
    balanced: Balanced = balance,
    seasoned: Seasoned = _season,
) -> Verified:
    """Make a report again from its files and compare.

    Parameters
    ----------
    data : mapping
        What the report carries.
    beside : Path
        Folder of the report: its files are looked for where they were, then there.
    factory, readings : Path, optional
        Where the files are now, if neither.

    Raises
    ------
    InputsMissing
        With a sentence for each file that is not there.
    """
    named = {"factory": factory, "readings": readings, "last season": None}
    places: dict[str, Path] = {}
    missing = []
    for entry in data["inputs"]:
        part = entry["part"]
        if part not in named:
            continue
        found = _found(Path(entry["path"]), beside, named[part])
        if found is None:
            missing.append(
                f"{entry['path']}: the {part} that the report was made from is not there. Name "
                f"both files after --verify: canewright report --verify FILE FACTORY READINGS."
            )
        else:
            places[part] = found
    if missing:
        raise InputsMissing("\n".join(missing))
    content = data["content"]
    options = dict(content["options"])
    if "last season" in places:
        options["last_season"] = str(places["last season"])
    again = report_on(
        content["kind"],
        places["factory"],
        places["readings"],
        letterhead_of(data["letterhead"]),
        options,
        balanced=balanced,
        seasoned=seasoned,
    )
    was = {entry["part"]: entry for entry in data["inputs"]}
    now = {item.part: item for item in again.inputs}
    changed = []
    for part in {**was, **now}:
        if part not in now:
            changed.append(f"{was[part]['path']} is not there any more.")
        elif part not in was:
            changed.append(f"{now[part].path} was not there when the report was made.")
        elif was[part]["sha256"] != now[part].sha256:
            changed.append(f"{now[part].path} is not what it was: its fingerprint differs.")
    return compare(data, again, changed)


def _found(stated: Path, beside: Path, named: Path | None) -> Path | None:
    if named is not None:
        return named
    candidates = (stated, beside / stated, beside / stated.name)
    return next((path for path in candidates if path.exists()), None)
