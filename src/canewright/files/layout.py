"""Which sheet holds the readings, and the long form of it: one row a reading."""

import difflib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from canewright.files.cells import Cell
from canewright.files.problems import Problem, nearest, normal
from canewright.files.tables import Row, Sheet, Tables

COLUMNS = ("point", "analysis", "value", "unit", "method", "time", "note")
OF_THE_SAMPLE = ("repeat", "amount", "received", "excluded")
"""Columns that a laboratory may add; see `canewright.files.rows.ReadingRow`."""
REQUIRED = ("point", "analysis", "value")
_SEARCHED = 20
_WANTED = (
    "The first row must name the columns: point, analysis, value, unit, method, time, note; "
    "or, for a wide sheet, time and then one column a reading, such as mixed_juice brix [%]."
)


@dataclass(frozen=True)
class Entry:
    """One reading as written, before anything in it is understood.

    `columns` tells, for each part, the column a person would look at.
    """

    row: int
    columns: Mapping[str, str]
    point: Cell
    analysis: Cell
    value: Cell
    unit: Cell = None
    method: Cell = None
    time: Cell = None
    note: Cell = None
    repeat: Cell = None
    amount: Cell = None
    received: Cell = None
    excluded: Cell = None


def heading(cell: Cell) -> str:
    """A header cell's normal form; empty for a blank one."""
    return normal(str(cell)) if cell is not None else ""


def shape(row: Row) -> str:
    """`long` or `wide` if this row can be a header of that form, else empty."""
    names = [heading(cell) for cell in row.cells]
    exact = [name for name in REQUIRED if name in names]
    if len(exact) >= 2 or (exact and any(name in names for name in COLUMNS[3:5])):
        return "long"
    filled = [name for name in names if name and not name.startswith("#")]
    if "point" not in names and names and names[0] == "time" and len(filled) > 1:
        return "wide"
    like = [name for name in REQUIRED if difflib.get_close_matches(name, names, 1, 0.75)]
    return "long" if len(like) >= 2 else ""


def choose(tables: Tables) -> tuple[Sheet, int, str] | list[Problem]:
    """The sheet with the readings, the place of its header and its shape, or what is wrong."""
    found = [(sheet, *_header(sheet)) for sheet in tables.sheets]
    named = [each for each in found if normal(each[0].name) == "readings"]
    with_header = [each for each in found if each[2]]
    if named:
        with_header = [each for each in named if each[2]]
    if len(with_header) == 1:
        return with_header[0]
    return [_no_choice(tables, [each[0] for each in with_header], bool(named))]


def _header(sheet: Sheet) -> tuple[int, str]:
    for at, row in enumerate(sheet.rows[:_SEARCHED]):
        form = shape(row)
        if form:
            return at, form
    return 0, ""


def _no_choice(tables: Tables, several: list[Sheet], named: bool) -> Problem:
    if several:
        titles = ", ".join(f"'{sheet.name}'" for sheet in several)
        return Problem(
            tables.file,
            None,
            "",
            f"{len(several)} sheets hold readings: {titles}.",
            "Name the one to be read 'readings', or remove the others.",
        )
    filled = [sheet for sheet in tables.sheets if sheet.rows]
    if not filled:
        return Problem(tables.file, None, "", "The file has no rows.", _WANTED)
    if len(tables.sheets) > 1:
        titles = ", ".join(f"'{sheet.name}'" for sheet in tables.sheets)
        what = f"The sheet 'readings' has no header; the workbook's sheets are {titles}."
        if not named:
            what = f"None of the sheets {titles} has a header of readings."
        return Problem(tables.file, None, "", what, _WANTED)
    first = filled[0].rows[0]
    shown = ", ".join(str(cell)[:30] for cell in first.cells[:7] if cell is not None)
    return Problem(
        tables.file, first.number, "", f"There is no header; this row reads '{shown}'.", _WANTED
    )


def above_header(file: str, sheet: Sheet, at: int) -> Iterator[Problem]:
    """A problem for each row that stands before the header."""
    for row in sheet.rows[:at]:
        yield Problem(
            file,
            row.number,
            "",
            "This row stands above the header and is no reading.",
            "Remove it, or begin it with # to make it a comment.",
        )


def repeated_header(file: str, header: Row, row: Row) -> Problem | None:
    """The problem of a header that comes again further down, as when files are pasted."""
    if [heading(cell) for cell in header.cells] != [heading(cell) for cell in row.cells]:
        return None
    return Problem(
        file,
        row.number,
        "",
        f"The header of row {header.number} comes a second time.",
        "Two files seem to have been put together: remove this row, and check that both belong "
        "to the same shift.",
    )


def long_entries(file: str, sheet: Sheet, at: int) -> tuple[list[Entry], list[Problem]]:
    """The readings of a sheet with one row a reading, and what is wrong with its form."""
    header = sheet.rows[at]
    places, problems = _places(file, header)
    if any(name not in places for name in REQUIRED):
        return [], problems
    columns = {name: str(header.cells[place]) for name, place in places.items()}
    columns.setdefault("unit", "unit")
    width = max((at for at, cell in enumerate(header.cells) if cell is not None), default=0) + 1
    entries: list[Entry] = []
    for row in sheet.rows[at + 1 :]:
        again = repeated_header(file, header, row)
        too_long = _too_long(file, row, width, places)
        if again or too_long:
            problems += [problem for problem in (again, too_long) if problem]
            continue
        parts = {name: row.cell(place) for name, place in places.items()}
        if any(cell is not None for cell in parts.values()):
            entries.append(Entry(row=row.number, columns=columns, **parts))
    return entries, problems


def _places(file: str, header: Row) -> tuple[dict[str, int], list[Problem]]:
    places: dict[str, int] = {}
    problems: list[Problem] = []
    stray: list[str] = []
    for place, cell in enumerate(header.cells):
        name = heading(cell)
        if not name or name.startswith("#"):
            continue
        if name not in (*COLUMNS, *OF_THE_SAMPLE):
            stray.append(str(cell))
        elif name in places:
            problems.append(
                Problem(
                    file,
                    header.number,
                    str(cell),
                    f"The column '{name}' comes twice.",
                    "Remove one, or begin its name with # to have it passed over.",
                )
            )
        else:
            places[name] = place
    missing = [name for name in REQUIRED if name not in places]
    for name in stray:
        close = nearest(name, [c for c in (*COLUMNS, *OF_THE_SAMPLE) if c not in places], 1)
        hint = f"Did you mean '{close[0]}'? " if close else ""
        problems.append(
            Problem(
                file,
                header.number,
                name,
                f"The column '{name}' is not known.",
                f"{hint}Columns read: {', '.join((*COLUMNS, *OF_THE_SAMPLE))}. Begin a name with "
                "# to have the column passed over.",
            )
        )
    problems += [
        Problem(
            file,
            header.number,
            name,
            f"The column '{name}' is missing.",
            f"Add it; every reading needs {', '.join(REQUIRED)}.",
        )
        for name in missing
    ]
    return places, problems


def _too_long(file: str, row: Row, width: int, places: Mapping[str, int]) -> Problem | None:
    value, after = (row.cell(places["value"] + step) for step in (0, 1))
    parted = _digits(value) and _digits(after)
    beyond = row.cells[width:]
    if not (any(cell is not None for cell in beyond) or (beyond and parted)):
        return None
    remedy = "Put quotation marks around a text that holds the delimiter."
    if parted:
        remedy = f"If a comma was meant as the decimal sign, write {value}.{after}."
    return Problem(
        file,
        row.number,
        "",
        f"The row has {len(row.cells)} cells where the header names {width} columns.",
        remedy,
    )


def _digits(cell: Cell) -> bool:
    return isinstance(cell, str) and cell.lstrip("+-").isdecimal()
