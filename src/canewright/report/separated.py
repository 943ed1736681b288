"""A report as separated values: a file for each table, and the data that it carries."""

from __future__ import annotations

import csv
import io

from canewright.report.content import Cell, Moment, Number, Report, Table
from canewright.report.same_again import canonical, carried

DATA_NAME = "report.json"


def as_separated(report: Report) -> dict[str, bytes]:
    """Name of each file -> its content.

    Numbers are written in full, never as printed; the text of a row that heads others stands
    in the column `under`, so that each row can be read by itself.
    """
    files = {f"{table.key}.csv": _table(table) for table in report.tables}
    files[DATA_NAME] = (canonical(carried(report)) + "\n").encode()
    return files


def _table(table: Table) -> bytes:
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(["under", "level", *[column.key for column in table.columns]])
    under = ""
    for row in table.rows:
        if row.style == "group":
            under = _written(row.cells[0])
        else:
            writer.writerow([under, row.level, *[_written(cell) for cell in row.cells]])
    return text.getvalue().encode("utf-8-sig")


def _written(cell: Cell) -> str:
    if isinstance(cell, Number):
        return repr(cell.value).removesuffix(".0") if cell.value is not None else cell.text
    if isinstance(cell, Moment):
        return cell.value.isoformat(timespec="minutes")
    return cell or ""
