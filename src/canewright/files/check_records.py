"""A record of check samples as a file: one row a reading of a standard, in order of time."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path

from canewright.files.cells import Cell, refuse
from canewright.files.moments import read_moment
from canewright.files.numerals import commas_mean_points, number_in
from canewright.files.problems import InputRefused, Problem, known_names, normal
from canewright.files.tables import Row, read_tables
from canewright.laboratory.check_samples import CheckRecord
from canewright.units import UnitError

COLUMNS = {
    "time": ("time", "date", "when", "taken"),
    "value": ("value", "reading", "read", "found"),
    "expected": ("expected", "standard", "certificate", "certificate_value", "true_value"),
}
"""Column of the record: the headings it may have. `expected` may be missing."""

EXAMPLE = "time,value,expected"


@dataclass(frozen=True)
class CheckFile:
    """The readings of a record, in order of time.

    `expected` is empty where the file has no such column; then the mean is the centre.
    """

    file: str
    times: tuple[datetime, ...]
    values: tuple[float, ...]
    expected: tuple[float, ...]

    @property
    def groups(self) -> list[list[int]]:
        """Places of the readings taken at one moment, for each moment in turn."""
        together: dict[datetime, list[int]] = {}
        for place, moment in enumerate(self.times):
            together.setdefault(moment, []).append(place)
        repeats = list(together.values())
        # Repeats at one moment count together where every moment has as many.
        if len({len(group) for group in repeats}) == 1:
            return repeats
        return [[k] for k in range(len(self.values))]

    def record(
        self,
        instrument: str,
        unit: str = "",
        *,
        repeatability: float | None = None,
        standard_uncertainty: float = 0.0,
        relative: bool = False,
    ) -> CheckRecord:
        """The record of an instrument: one entry for each moment, repeats by their mean.

        Parameters
        ----------
        instrument, unit : str
        repeatability : float, optional
            Standard deviation of a single reading.
        standard_uncertainty : float
            Of the standard's own value.
        relative : bool
            Count everything in % of the standard; uncertainties are given so.

        Raises
        ------
        ValueError
            If there is no reading, or % of a standard of nought is asked for.
        """
        groups = self.groups
        if not groups:
            raise ValueError(f"{instrument}: there is no reading of the check standard.")
        values = [sum(self.values[k] for k in group) / len(group) for group in groups]
        if self.expected:
            expected = [sum(self.expected[k] for k in group) / len(group) for group in groups]
        else:
            expected = [sum(values) / len(values)] * len(values)
        if relative:
            if not all(expected):
                raise ValueError(f"{instrument}: a standard of nought has no %.")
            values = [100 * v / e for v, e in zip(values, expected, strict=True)]
            expected = [100.0] * len(values)
        if repeatability is not None:
            repeatability /= math.sqrt(len(groups[0]))
        return CheckRecord(
            instrument,
            tuple(values),
            tuple(expected),
            unit,
            tuple(self.times[group[0]] for group in groups),
            standard_uncertainty,
            repeatability,
        )

    def between(self, since: date | None, until: datetime | None) -> "CheckFile":
        """Its readings from a day on, and up to and with a moment."""
        kept = [
            k
            for k, moment in enumerate(self.times)
            if (since is None or moment.date() >= since) and (until is None or moment <= until)
        ]
        return CheckFile(
            self.file,
            tuple(self.times[k] for k in kept),
            tuple(self.values[k] for k in kept),
            tuple(self.expected[k] for k in kept) if self.expected else (),
        )


def read_check_file(path: Path | str) -> CheckFile:
    """Read a record of check samples.

    Raises
    ------
    InputRefused
        With everything that is wrong with the file.
    """
    tables = read_tables(path)
    sheet = next((sheet for sheet in tables.sheets if sheet.rows), None)
    if sheet is None:
        raise refuse(tables.file, "The file holds no rows.", f"Start it with {EXAMPLE}.")
    header, rows = sheet.rows[0], sheet.rows[1:]
    places = _places(tables.file, header)
    if not rows:
        raise refuse(tables.file, "The file holds headings and no reading.", "Add a row for each.")
    commas = tables.delimiter == ";" and commas_mean_points(
        row.cell(places[name]) for row in rows for name in places if name != "time"
    )
    problems: list[Problem] = []
    taken: list[tuple[datetime, dict[str, float]]] = []
    for row in rows:
        found = list(_row(tables.file, row, places, commas))
        problems += [entry for entry in found if isinstance(entry, Problem)]
        kept = [entry for entry in found if not isinstance(entry, Problem)]
        if len(kept) == len(found):
            taken += kept
    if problems:
        raise InputRefused(problems)
    taken.sort(key=lambda entry: entry[0])
    return CheckFile(
        tables.file,
        tuple(moment for moment, _ in taken),
        tuple(numbers["value"] for _, numbers in taken),
        tuple(numbers["expected"] for _, numbers in taken) if "expected" in places else (),
    )


def _places(file: str, header: Row) -> dict[str, int]:
    called = {word: name for name, words in COLUMNS.items() for word in words}
    places: dict[str, int] = {}
    problems = []
    for place, cell in enumerate(header.cells):
        name = called.get(normal(cell)) if isinstance(cell, str) else None
        if name in places:
            what = f"Two columns are the {name}."
            problems.append(Problem(file, header.number, str(cell), what, "Keep one of them."))
        elif name is not None:
            places[name] = place
    for name in ("time", "value"):
        if name not in places:
            words = [str(cell) for cell in header.cells if cell is not None]
            remedy = f"Head the columns {EXAMPLE}. {known_names(name, words, 'headings found')}"
            problems.append(Problem(file, header.number, "", f"No column is '{name}'.", remedy))
    if problems:
        raise InputRefused(problems)
    return places


def _row(
    file: str, row: Row, places: dict[str, int], commas: bool
) -> Iterator[Problem | tuple[datetime, dict[str, float]]]:
    numbers: dict[str, float] = {}
    moment: datetime | None = None
    for name, place in places.items():
        cell = row.cell(place)
        try:
            if name == "time":
                moment = _moment(cell)
            else:
                numbers[name] = number_in(cell, commas, may_have_commas=False)
        except UnitError as error:
            what = "The cell is empty." if cell is None else error.what
            yield Problem(file, row.number, name, what, error.remedy)
    if moment is not None and len(numbers) == len(places) - 1:
        yield moment, numbers


def _moment(cell: Cell) -> datetime:
    moment = read_moment(cell)
    if isinstance(moment, time):
        raise UnitError(
            f"'{moment:%H:%M}' has no date.", "Write the date too, like 2026-08-14T14:00."
        )
    return moment
