"""A file of readings that holds several shifts, parted into its shifts.

In the long form a row `shift, start` begins a shift, with the facts of the shift that stand
just above it; in the wide form a shift begins where the column `shift start` tells a new one.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from canewright.files.layout import choose, heading
from canewright.files.problems import InputRefused, normal
from canewright.files.readings import readings_of
from canewright.files.rows import Catalogue, ReadingsFile
from canewright.files.tables import Row, Sheet, Tables, read_tables
from canewright.files.wide import SHIFT

START = "start"


def read_shifts(
    path: str | Path, catalogue: Catalogue
) -> Iterator[tuple[str, ReadingsFile | InputRefused]]:
    """Each shift of a file by its name, or what is wrong with it.

    The name is that of the file, with the rows of the shift where there are several.

    Raises
    ------
    InputRefused
        If the file cannot be read at all.
    """
    for part in parted(read_tables(path)):
        try:
            yield part.file, readings_of(part, catalogue)
        except InputRefused as refused:
            yield part.file, refused


def parted(tables: Tables) -> list[Tables]:
    """The tables of each shift of a file; the file itself where it holds one shift or none."""
    chosen = choose(tables)
    if isinstance(chosen, list):
        return [tables]
    sheet, at, form = chosen
    starts = _starts_down(sheet, at) if form == "long" else _starts_across(sheet, at)
    if len(starts) < 2:
        return [tables]
    found: list[Tables] = []
    # What stands before the first start is the first shift's, and refused there if it must be.
    for first, last in zip([at + 1, *starts[1:]], [*starts[1:], len(sheet.rows)], strict=True):
        rows = (
            *(sheet.rows[: at + 1] if not found else (sheet.rows[at],)),
            *sheet.rows[first:last],
        )
        place = f"{tables.file} (rows {sheet.rows[first].number} to {sheet.rows[last - 1].number})"
        content = "\n".join(repr(row.cells) for row in rows)
        print_ = hashlib.sha256(content.encode()).hexdigest()
        own = Sheet(sheet.name, rows)
        found.append(replace(tables, file=place, sheets=(own,), fingerprint=print_))
    return found


def _starts_down(sheet: Sheet, at: int) -> list[int]:
    names = [heading(cell) for cell in sheet.rows[at].cells]
    if "point" not in names or "analysis" not in names:
        return []
    point, analysis = names.index("point"), names.index("analysis")

    def tells(row: Row) -> str:
        written = row.cell(point)
        is_fact = isinstance(written, str) and normal(written) == SHIFT
        return normal(str(row.cell(analysis))) if is_fact else ""

    found = []
    for place, row in enumerate(sheet.rows[at + 1 :], start=at + 1):
        if tells(row) != START:
            continue
        first = place
        while first - 1 > at and tells(sheet.rows[first - 1]) not in ("", START):
            first -= 1
        found.append(first)
    return found


def _starts_across(sheet: Sheet, at: int) -> list[int]:
    names = [heading(cell) for cell in sheet.rows[at].cells]
    wanted = normal(f"{SHIFT} {START}")
    column = next(
        (i for i, name in enumerate(names) if name.replace(".", "_").split("_[")[0] == wanted), None
    )
    if column is None:
        return []
    found, told = [], None
    for place, row in enumerate(sheet.rows[at + 1 :], start=at + 1):
        cell = row.cell(column)
        if cell is not None and cell != told:
            found.append(place)
            told = cell
    return found
