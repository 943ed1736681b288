"""The readings of a shift from a file: all of them, or a list of all that is wrong.

The long form has one row a reading, with the columns `point, analysis, value, unit, method,
time, note` in any order; the last four may be left out. The wide form has one column a
reading (see `canewright.files.wide`). A blank value is a gap, not a reading. Rows with the
point `shift` and the analyses `start`, `hours` and `name` tell the facts of the shift.
Lines that begin with # are comments.
"""

from collections.abc import Mapping
from datetime import datetime, time, timedelta
from pathlib import Path
from typing import Literal

from canewright.files.cells import Cell, Fault
from canewright.files.combining import combine, combine_all, only_once
from canewright.files.layout import Entry, above_header, choose, long_entries
from canewright.files.moments import read_moment, within_shift
from canewright.files.numerals import commas_mean_points, number_in
from canewright.files.plausible import outside_limits, problems_between
from canewright.files.problems import InputRefused, Problem, known_names, normal
from canewright.files.rows import (
    Analysis,
    Catalogue,
    CombinedReading,
    ReadingRow,
    ReadingsFile,
    ShiftFacts,
)
from canewright.files.tables import Tables, read_tables
from canewright.files.wide import SHIFT, SHIFT_FACTS, wide_entries
from canewright.units import UnitError, canonical, convert

__all__ = [
    "Analysis",
    "Catalogue",
    "CombinedReading",
    "InputRefused",
    "Problem",
    "ReadingRow",
    "ReadingsFile",
    "ShiftFacts",
    "combine",
    "combine_all",
    "read_readings",
]

LONGEST_SHIFT = 9000.0
"""hours; more than a year, so that the file of a whole season is still taken."""

STRAYING = timedelta(hours=24)
"""How far outside the shift a reading's time may lie; more is a mistaken date."""


def read_readings(path: str | Path, catalogue: Catalogue) -> ReadingsFile:
    """All readings of a CSV, XLSX, XLS or ODS file, in internal units.

    Parameters
    ----------
    path : str or Path
        The file.
    catalogue : Catalogue
        What can be read in this factory.

    Raises
    ------
    InputRefused
        If anything in the file is wrong; it lists every problem found.
    """
    return readings_of(read_tables(path), catalogue)


def readings_of(tables: Tables, catalogue: Catalogue) -> ReadingsFile:
    """All readings of the tables of a file. See `read_readings`."""
    chosen = choose(tables)
    if isinstance(chosen, list):
        raise InputRefused(chosen)
    sheet, at, form = chosen
    problems = list(above_header(tables.file, sheet, at))
    if form == "wide":
        entries, wrong = wide_entries(tables.file, sheet, at, catalogue)
    else:
        entries, wrong = long_entries(tables.file, sheet, at)
    problems += wrong
    reader = _Reader(tables, catalogue, entries)
    rows, shift = reader.read()
    problems += reader.problems
    if not rows and not problems:
        problems.append(
            Problem(
                tables.file,
                None,
                "",
                "The file holds no reading.",
                "Fill in the values that were read; a row or cell left blank is a gap.",
            )
        )
    if problems:
        raise InputRefused(sorted(problems, key=lambda problem: problem.row or 0))
    return ReadingsFile(tuple(rows), shift, tables.fingerprint, tables.file)


class _Reader:
    """Understands the entries of one file, gathering every problem on the way."""

    def __init__(self, tables: Tables, catalogue: Catalogue, entries: list[Entry]) -> None:
        self.file = tables.file
        self.catalogue = catalogue
        self.entries = entries
        self.problems: list[Problem] = []
        self.commas = tables.delimiter == ";" and commas_mean_points(
            entry.value for entry in entries
        )
        self.may_have_commas = tables.delimiter == ";"
        self._points = {normal(point): point for point in catalogue.points()}
        self._analyses: dict[str, dict[str, str]] = {}
        self._names: dict[tuple[str, str], tuple[str, str] | Problem] = {}

    def read(self) -> tuple[list[ReadingRow], ShiftFacts]:
        """Readings and facts of the shift; `problems` holds what is wrong."""
        facts = [entry for entry in self.entries if self._is_fact(entry)]
        shift = self._shift(facts)
        rows = [
            row
            for entry in self.entries
            if not self._is_fact(entry) and (row := self._row(entry, shift)) is not None
        ]
        self.problems += problems_between(rows)
        groups: dict[tuple[str, str], list[ReadingRow]] = {}
        for row in rows:
            if not row.excluded:
                groups.setdefault((row.point, row.analysis), []).append(row)
        for (point, analysis), group in groups.items():
            self.problems += only_once(self.catalogue.analyses(point)[analysis], group)
        return rows, shift

    def _is_fact(self, entry: Entry) -> bool:
        return isinstance(entry.point, str) and normal(entry.point) == SHIFT

    def _problem(self, entry: Entry, part: str, what: str, remedy: str) -> None:
        column = entry.columns.get(part, part)
        self.problems.append(Problem(self.file, entry.row, column, what, remedy))

    def _shift(self, facts: list[Entry]) -> ShiftFacts:
        told: dict[str, tuple[object, int]] = {}
        for entry in facts:
            fact = normal(str(entry.analysis)) if entry.analysis is not None else ""
            if fact not in SHIFT_FACTS:
                self._problem(
                    entry,
                    "analysis",
                    f"'{_shown(entry.analysis)}' is no fact of the shift.",
                    f"Facts of the shift: {', '.join(SHIFT_FACTS)}.",
                )
                continue
            if entry.value is None:
                continue
            try:
                value = self._fact(fact, entry)
            except UnitError as error:
                self._problem(entry, "value", error.what, error.remedy)
                continue
            before = told.setdefault(fact, (value, entry.row))
            if before[0] != value:
                self._problem(
                    entry,
                    "value",
                    f"The {fact} of the shift was told otherwise in row {before[1]}.",
                    "Keep the one that holds; `canewright season` takes a file of several shifts.",
                )
        start, hours, name = (told.get(fact, (None,))[0] for fact in SHIFT_FACTS)
        return ShiftFacts(
            start if isinstance(start, datetime) else None,
            hours if isinstance(hours, float) else None,
            name if isinstance(name, str) else "",
        )

    def _fact(self, fact: str, entry: Entry) -> object:
        if fact == "name":
            if isinstance(entry.value, Fault):
                raise UnitError(entry.value.what, entry.value.remedy)
            is_whole = isinstance(entry.value, float) and entry.value.is_integer()
            return f"{entry.value:.0f}" if is_whole else str(entry.value)
        if fact == "hours":
            hours = number_in(entry.value, self.commas, self.may_have_commas)
            if entry.unit is not None:
                hours = convert(hours, str(entry.unit), "h")
            if not 0 < hours <= LONGEST_SHIFT:
                raise UnitError(
                    f"A shift of {hours:g} h is not possible.",
                    "Give its length in hours, such as 8.",
                )
            return hours
        start = read_moment(entry.value)
        if isinstance(start, time):
            raise UnitError(
                f"'{_shown(entry.value)}' has no date.", "Write the start like 2026-08-14T14:00."
            )
        return start

    def _row(self, entry: Entry, shift: ShiftFacts) -> ReadingRow | None:
        names = self._named(entry)
        moment = self._moment(entry, shift)
        if names is None or entry.value is None:
            return None
        point, analysis = names
        known = self.catalogue.analyses(point)[analysis]
        try:
            number = number_in(entry.value, self.commas, self.may_have_commas)
        except UnitError as error:
            remedy = f"{error.remedy} Leave the cell empty if there is no reading."
            self._problem(entry, "value", error.what, remedy)
            number = None
        unit = self._unit(entry, known)
        if number is None or unit is None:
            return None
        try:
            value = convert(number, unit, known.unit)
        except UnitError as error:
            self._problem(entry, "unit", error.what, error.remedy)
            return None
        excluded = self._text(entry, "excluded", entry.excluded)
        wrong = outside_limits(point, analysis, known, value, number, unit)
        if wrong and not excluded:
            self._problem(entry, "value", *wrong)
            return None
        return ReadingRow(
            point=point,
            analysis=analysis,
            value=value,
            unit=known.unit,
            value_as_read=number,
            unit_as_read=unit,
            method=self._text(entry, "method", entry.method),
            time=moment,
            note=self._text(entry, "note", entry.note),
            file=self.file,
            row=entry.row,
            column=entry.columns.get("value", "value"),
            repeat=self._text(entry, "repeat", entry.repeat).removesuffix(".0"),
            amount=self._amount(entry),
            received=self._moment(entry, shift, "received"),
            excluded=excluded,
        )

    def _amount(self, entry: Entry) -> float | None:
        if entry.amount is None:
            return None
        try:
            amount = number_in(entry.amount, self.commas, self.may_have_commas)
        except UnitError as error:
            self._problem(entry, "amount", error.what, error.remedy)
            return None
        if not amount > 0:
            self._problem(
                entry,
                "amount",
                f"A sample cannot stand for {amount:g}.",
                "Write the flow or mass it stands for; leave it out for a plain mean.",
            )
            return None
        return amount

    def _text(self, entry: Entry, part: str, cell: Cell) -> str:
        if isinstance(cell, Fault):
            self._problem(entry, part, cell.what, cell.remedy)
            return ""
        return "" if cell is None else str(cell)

    def _named(self, entry: Entry) -> tuple[str, str] | None:
        written = []
        for part, cell in (("point", entry.point), ("analysis", entry.analysis)):
            if isinstance(cell, Fault):
                self._problem(entry, part, cell.what, cell.remedy)
            elif cell is None:
                self._problem(entry, part, f"The {part} is missing.", f"Write which {part} it is.")
            else:
                written.append(str(cell))
        if len(written) < 2:
            return None
        key = (written[0], written[1])
        if key not in self._names:
            self._names[key] = self._look_up(*key)
        found = self._names[key]
        if isinstance(found, Problem):
            self._problem(entry, found.column, found.what, found.remedy)
            return None
        return found

    def _look_up(self, written_point: str, written_analysis: str) -> tuple[str, str] | Problem:
        point = self._points.get(normal(written_point))
        if point is None:
            return Problem(
                self.file,
                None,
                "point",
                f"The point '{_shown(written_point)}' is not known.",
                known_names(written_point, list(self._points.values()), "points"),
            )
        if point not in self._analyses:
            names = self.catalogue.analyses(point)
            self._analyses[point] = {normal(name): name for name in names}
        analyses: Mapping[str, str] = self._analyses[point]
        analysis = analyses.get(normal(written_analysis))
        if analysis is None:
            return Problem(
                self.file,
                None,
                "analysis",
                f"The analysis '{_shown(written_analysis)}' is not known at {point}.",
                known_names(written_analysis, list(analyses.values()), f"analyses at {point}"),
            )
        return point, analysis

    def _unit(self, entry: Entry, known: Analysis) -> str | None:
        if entry.unit is None:
            if known.unit_required:
                what = f"'{_shown(entry.value)}' has no unit, and instruments differ in it."
                self._problem(entry, "unit", what, f"Write what it shows, such as {known.unit}.")
                return None
            return known.unit
        if isinstance(entry.unit, Fault):
            self._problem(entry, "unit", entry.unit.what, entry.unit.remedy)
            return None
        unit = str(entry.unit)
        try:
            convert(1.0, unit, known.unit)
        except UnitError as error:
            remedy = error.remedy
            if unit.isdecimal() and isinstance(entry.value, str) and entry.value.isdecimal():
                remedy = (
                    f"If {entry.value}.{unit} was meant, write it with a decimal point. {remedy}"
                )
            self._problem(entry, "unit", error.what, remedy)
            return None
        return canonical(unit)

    def _moment(
        self, entry: Entry, shift: ShiftFacts, part: Literal["time", "received"] = "time"
    ) -> datetime | None:
        cell = entry.time if part == "time" else entry.received
        if cell is None or entry.value is None:
            return None
        try:
            moment = read_moment(cell)
        except UnitError as error:
            self._problem(entry, part, error.what, error.remedy)
            return None
        if isinstance(moment, time):
            if shift.start is None:
                self._problem(
                    entry,
                    part,
                    f"'{_shown(cell)}' has no date, and the file does not tell when the "
                    "shift began.",
                    "Add the row: shift, start, 2026-08-14T14:00; or write the date with the time.",
                )
                return None
            return within_shift(moment, shift.start)
        if shift.start is not None and part == "time":
            end = shift.end or shift.start
            if not shift.start - STRAYING <= moment <= end + STRAYING:
                self._problem(
                    entry,
                    "time",
                    f"{moment:%Y-%m-%d %H:%M} lies more than {STRAYING.total_seconds() / 3600:.0f} "
                    f"h outside the shift that began {shift.start:%Y-%m-%d %H:%M}.",
                    "Check the date of the reading and of the shift.",
                )
                return None
        return moment


def _shown(cell: Cell) -> str:
    text = "" if cell is None else str(cell)
    return text if len(text) <= 60 else f"{text[:60]}..."
