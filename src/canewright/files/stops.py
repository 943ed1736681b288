"""The log of stops of a season: `stops.csv` (or .xlsx, .ods) with one row a stop.

Columns `start, hours, cause, note` in any order; the note may be left out. Causes are those
of `CAUSES`, whose kinds decide what time counts as available.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from canewright.files.cells import Fault
from canewright.files.moments import read_moment
from canewright.files.numerals import commas_mean_points, number_in
from canewright.files.problems import InputRefused, Problem, known_names, normal
from canewright.files.tables import Row, beside, read_tables
from canewright.units import UnitError

NAME = "stops"
CAUSES: dict[str, str] = {
    "no cane": "cane",
    "rain": "outside",
    "strike or unrest": "outside",
    "no power from outside": "outside",
    "mechanical": "factory",
    "electrical": "factory",
    "no steam": "factory",
    "process full": "factory",
    "cleaning": "scheduled",
    "holiday": "scheduled",
    "other": "factory",
}
"""Cause -> its kind. Outside the factory's power: not part of gross available time;
scheduled: planned before; cane: want of cane; factory: by the factory itself
[common_practice]."""
COLUMNS = ("start", "hours", "cause", "note")
LONGEST = 1000.0
"""Hours; a longer stop is a mistaken number."""


@dataclass(frozen=True)
class Stop:
    """One stop: when it began, how long it lasted, its cause and what was noted. [h]."""

    start: datetime
    hours: float
    cause: str
    note: str = ""

    @property
    def kind(self) -> str:
        """Kind of the cause."""
        return CAUSES[self.cause]


def stops_path(folder: Path) -> Path | None:
    """The log of stops in a folder, or beside a file of several shifts, if there is one."""
    return beside(folder, NAME)


def read_stops(path: Path) -> list[Stop]:
    """Every stop of a log, in order of start.

    Raises
    ------
    InputRefused
        With everything that is wrong in it.
    """
    tables = read_tables(path)
    rows = tables.sheets[0].rows if tables.sheets else ()
    if not rows:
        raise InputRefused(
            [Problem(tables.file, None, "", "The log of stops is empty.", f"Columns: {_COLUMNS}.")]
        )
    header = [normal(str(cell)) if cell is not None else "" for cell in rows[0].cells]
    missing = [name for name in COLUMNS[:3] if name not in header]
    if missing:
        what = f"The column '{missing[0]}' is missing."
        raise InputRefused(
            [Problem(tables.file, rows[0].number, missing[0], what, f"Columns: {_COLUMNS}.")]
        )
    place = {name: header.index(name) for name in COLUMNS if name in header}
    commas = commas_mean_points(row.cell(place["hours"]) for row in rows[1:])
    semicolons = tables.delimiter == ";"
    problems: list[Problem] = []
    found = []
    for row in rows[1:]:
        stop = _stop(tables.file, row, place, commas and semicolons, semicolons, problems)
        if stop is not None:
            found.append(stop)
    if problems:
        raise InputRefused(problems)
    return sorted(found, key=lambda stop: stop.start)


_COLUMNS = ", ".join(COLUMNS)


def _stop(
    file: str,
    row: Row,
    place: dict[str, int],
    commas: bool,
    may_have_commas: bool,
    problems: list[Problem],
) -> Stop | None:
    def wrong(column: str, what: str, remedy: str) -> None:
        problems.append(Problem(file, row.number, column, what, remedy))

    start: datetime | None = None
    hours = 0.0
    try:
        moment = read_moment(row.cell(place["start"]))
        if isinstance(moment, datetime):
            start = moment
        else:
            wrong("start", "The start has no date.", "Write it like 2026-08-14T14:00.")
    except UnitError as error:
        wrong("start", error.what, error.remedy)
    try:
        hours = number_in(row.cell(place["hours"]), commas, may_have_commas)
        if not 0 < hours <= LONGEST:
            wrong("hours", f"A stop of {hours:g} h is not possible.", "Give its length in hours.")
    except UnitError as error:
        wrong("hours", error.what, error.remedy)
    cell = row.cell(place["cause"])
    written = "" if cell is None or isinstance(cell, Fault) else str(cell)
    causes = {normal(cause): cause for cause in CAUSES}
    cause = causes.get(normal(written), "")
    if not cause:
        remedy = known_names(written, list(CAUSES), "causes", shown=len(CAUSES))
        wrong("cause", f"'{written}' is no cause of a stop.", remedy)
    note = row.cell(place["note"]) if "note" in place else None
    if start is None or not cause or not 0 < hours <= LONGEST:
        return None
    return Stop(start, hours, cause, "" if note is None else str(note))
