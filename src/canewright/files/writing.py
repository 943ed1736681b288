"""Write a file of readings that `canewright.files.readings` reads back unchanged."""

import csv
import io
import os
from collections.abc import Iterable, Sequence
from datetime import datetime
from importlib import import_module
from pathlib import Path
from typing import Any

from canewright.files.layout import COLUMNS, OF_THE_SAMPLE
from canewright.files.rows import ReadingRow, ShiftFacts
from canewright.files.wide import SHIFT

_Line = tuple[float | str | datetime | None, ...]


def write_readings(
    path: str | Path,
    rows: Iterable[ReadingRow],
    shift: ShiftFacts | None = None,
    comments: Sequence[str] = (),
) -> None:
    """Write readings in the long form, values and units as they were read.

    A CSV file keeps every digit; a workbook, as spreadsheet programs do, the first sixteen.

    The file appears whole or not at all: it is written beside its place and then renamed.

    Parameters
    ----------
    path : str or Path
        Ends in `.csv` or `.xlsx`.
    rows : iterable of ReadingRow
        The readings.
    shift : ShiftFacts, optional
        Facts of the shift, written as the first rows.
    comments : sequence of str
        Lines put above the header, each begun with #.

    Raises
    ------
    ValueError
        If the name ends otherwise.
    ImportError
        If `.xlsx` is asked for and the package xlsxwriter is not installed.
    """
    place = Path(path)
    rows = list(rows)
    wide = any(row.repeat or row.amount or row.received or row.excluded for row in rows)
    columns = (*COLUMNS, *OF_THE_SAMPLE) if wide else COLUMNS
    lines = [*_facts(shift), *(_line(row, wide) for row in rows)]
    remarks = [f"# {line}" for comment in comments for line in comment.splitlines()]
    kind = place.suffix.lower()
    if kind == ".csv":
        content = _as_csv(columns, lines, remarks)
    elif kind == ".xlsx":
        content = _as_xlsx(columns, lines, remarks)
    else:
        raise ValueError(f"{place.name}: readings are written as .csv or .xlsx; choose either.")
    write_whole(place, content)


def write_whole(place: Path, content: bytes) -> None:
    """Write a file so that nobody ever sees half of it.

    Raises
    ------
    OSError
        Naming the file, if it cannot be written: no such folder, a full disk.
    """
    beside = place.with_name(f".{place.name}.{os.getpid()}.part")
    try:
        with beside.open("wb") as opened:
            opened.write(content)
            opened.flush()
            os.fsync(opened.fileno())
        beside.replace(place)
    except OSError as error:
        error.filename, error.filename2 = str(place), None
        raise
    finally:
        beside.unlink(missing_ok=True)


def _facts(shift: ShiftFacts | None) -> list[_Line]:
    if shift is None:
        return []
    facts: list[_Line] = []
    if shift.start is not None:
        facts.append((SHIFT, "start", shift.start, "", "", None, ""))
    if shift.hours is not None:
        facts.append((SHIFT, "hours", shift.hours, "h", "", None, ""))
    if shift.name:
        facts.append((SHIFT, "name", shift.name, "", "", None, ""))
    return facts


def _line(row: ReadingRow, wide: bool) -> _Line:
    value, unit = row.value_as_read, row.unit_as_read
    line = (row.point, row.analysis, value, unit, row.method, row.time, row.note)
    return (*line, row.repeat, row.amount, row.received, row.excluded) if wide else line


def _as_csv(columns: Sequence[str], lines: list[_Line], remarks: list[str]) -> bytes:
    text = io.StringIO(newline="")
    text.writelines(f"{remark}\n" for remark in remarks)
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([_csv_cell(cell) for cell in line] for line in lines)
    return text.getvalue().encode("utf-8")


def _csv_cell(cell: float | str | datetime | None) -> str:
    if cell is None:
        return ""
    if isinstance(cell, datetime):
        return cell.isoformat(timespec="seconds" if cell.second else "minutes")
    return cell if isinstance(cell, str) else f"{float(cell)!r}".removesuffix(".0")


def _as_xlsx(columns: Sequence[str], lines: list[_Line], remarks: list[str]) -> bytes:
    try:
        xlsxwriter: Any = import_module("xlsxwriter")
    except ImportError:
        raise ImportError(
            "Writing .xlsx needs the package xlsxwriter, which is not installed: install it, or "
            "choose a name that ends in .csv."
        ) from None
    buffer = io.BytesIO()
    with xlsxwriter.Workbook(buffer, {"in_memory": True}) as workbook:
        sheet = workbook.add_worksheet("readings")
        bold = workbook.add_format({"bold": True})
        moment = workbook.add_format({"num_format": "yyyy-mm-dd hh:mm"})
        at = 0
        for remark in remarks:
            sheet.write_string(at, 0, remark)
            at += 1
        sheet.write_row(at, 0, columns, bold)
        sheet.freeze_panes(at + 1, 0)
        sheet.set_column(0, 1, 22)
        sheet.set_column(4, 6, 18)
        for line in lines:
            at += 1
            for column, cell in enumerate(line):
                if isinstance(cell, datetime):
                    sheet.write_datetime(at, column, cell, moment)
                elif isinstance(cell, str):
                    if cell:
                        sheet.write_string(at, column, cell)
                elif cell is not None:
                    sheet.write_number(at, column, float(cell))
    return buffer.getvalue()
