"""The plan of a season: `plan.csv` (or .xlsx, .ods) in its folder, one row a span of days.

Columns `first, last, cane, sugar, recovery, hours` in any order; the last three may be left
out. Days are written 2026-08-14 and both count; cane and sugar in t over the span, recovery the
overall recovery of sucrose in %, hours those of crushing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import pairwise
from pathlib import Path

from canewright.files.cells import Cell, Fault
from canewright.files.numerals import commas_mean_points, number_in
from canewright.files.problems import InputRefused, Problem, normal
from canewright.files.tables import Row, beside, read_tables
from canewright.units import UnitError

NAME = "plan"
COLUMNS = ("first", "last", "cane", "sugar", "recovery", "hours")
REQUIRED = COLUMNS[:3]
LARGEST = {"cane": 1e8, "sugar": 1e8, "recovery": 100.0, "hours": 1e4}
"""Numbers above which a plan is mistaken: t, t, %, h."""
DAY = timedelta(days=1)


@dataclass(frozen=True)
class PlannedSpan:
    """What is planned from one day to another, both counted; None where it is not planned."""

    first: date
    last: date
    cane: float
    sugar: float | None = None
    recovery: float | None = None
    hours: float | None = None

    @property
    def begins(self) -> datetime:
        """The moment it begins."""
        return datetime.combine(self.first, time())

    @property
    def ends(self) -> datetime:
        """The moment it ends."""
        return datetime.combine(self.last, time()) + DAY


def plan_path(folder: Path) -> Path | None:
    """The plan in a folder, or beside a file of several shifts, if there is one."""
    return beside(folder, NAME)


def read_plan(path: Path) -> list[PlannedSpan]:
    """Every span of a plan, in order.

    Raises
    ------
    InputRefused
        With everything that is wrong in it.
    """
    tables = read_tables(path)
    rows = tables.sheets[0].rows if tables.sheets else ()
    columns = f"Columns: {', '.join(COLUMNS)}."
    if not rows:
        raise InputRefused([Problem(tables.file, None, "", "The plan is empty.", columns)])
    header = [normal(str(cell)) if cell is not None else "" for cell in rows[0].cells]
    problems = [
        Problem(tables.file, rows[0].number, name, f"The column '{name}' is missing.", columns)
        for name in REQUIRED
        if name not in header
    ] + [
        Problem(tables.file, rows[0].number, name, f"The column '{name}' is not known.", columns)
        for name in header
        if name and name not in COLUMNS and not name.startswith("#")
    ]
    if problems:
        raise InputRefused(problems)
    place = {name: header.index(name) for name in COLUMNS if name in header}
    numbers = [row.cell(place[name]) for name in place if name in LARGEST for row in rows[1:]]
    semicolons = tables.delimiter == ";"
    reader = _Reader(tables.file, place, commas_mean_points(numbers) and semicolons, semicolons)
    found = [span for row in rows[1:] if (span := reader.span(row)) is not None]
    found.sort(key=lambda span: span.first)
    reader.problems += _overlaps(tables.file, found)
    if reader.problems:
        raise InputRefused(reader.problems)
    return found


def _overlaps(file: str, spans: Sequence[PlannedSpan]) -> list[Problem]:
    return [
        Problem(
            file,
            None,
            "first",
            f"The span from {after.first} begins before the one from {before.first} ends.",
            "Let each day belong to one span.",
        )
        for before, after in pairwise(spans)
        if after.first <= before.last
    ]


class _Reader:
    def __init__(self, file: str, place: dict[str, int], commas: bool, may_have: bool) -> None:
        self.file, self.place = file, place
        self.commas, self.may_have_commas = commas, may_have
        self.problems: list[Problem] = []

    def span(self, row: Row) -> PlannedSpan | None:
        """The span of a row, or nothing; `problems` holds what is wrong."""
        before = len(self.problems)
        first, last = self._day(row, "first"), self._day(row, "last")
        numbers = {name: self._number(row, name) for name in LARGEST}
        if first and last and last < first:
            self._wrong(row, "last", f"The span ends {last}, before it begins.", "Exchange them.")
        cane = numbers.pop("cane")
        if cane is None and len(self.problems) == before:
            self._wrong(row, "cane", "No cane is planned.", "Give it in t; 0 for days of rest.")
        hours = numbers["hours"]
        if first and last and hours and hours > 24 * ((last - first).days + 1):
            self._wrong(row, "hours", f"{hours:g} h are more than the span has.", "Correct them.")
        if len(self.problems) > before or first is None or last is None or cane is None:
            return None
        return PlannedSpan(first, last, cane, **numbers)

    def _cell(self, row: Row, name: str) -> Cell:
        return row.cell(self.place[name]) if name in self.place else None

    def _wrong(self, row: Row, column: str, what: str, remedy: str) -> None:
        self.problems.append(Problem(self.file, row.number, column, what, remedy))

    def _day(self, row: Row, name: str) -> date | None:
        cell = self._cell(row, name)
        if isinstance(cell, datetime):
            return cell.date()
        if isinstance(cell, date):
            return cell
        try:
            return date.fromisoformat(str(cell).strip())
        except ValueError:
            shown = "" if cell is None or isinstance(cell, Fault) else str(cell)[:60]
            self._wrong(row, name, f"'{shown}' is not a day.", "Write it like 2026-08-14.")
            return None

    def _number(self, row: Row, name: str) -> float | None:
        cell = self._cell(row, name)
        if cell is None:
            return None
        try:
            number = number_in(cell, self.commas, self.may_have_commas)
        except UnitError as error:
            self._wrong(row, name, error.what, error.remedy)
            return None
        if not 0 <= number <= LARGEST[name]:
            self._wrong(row, name, f"{name} {number:g} is not possible.", "Correct it.")
            return None
        return number
