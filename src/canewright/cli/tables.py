"""Tables of answers as files: CSV or XLSX, whole or not at all."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

from canewright.cli.problems import Refused
from canewright.files.writing import write_whole


def write_table(path: Path, heading: Sequence[str], rows: Sequence[Sequence[object]]) -> None:
    """Write a table; what is missing or not a number is left empty.

    Raises
    ------
    Refused
        If the file's name ends neither in .csv nor in .xlsx.
    """
    kind = path.suffix.lower()
    clean = [[_cell(value) for value in row] for row in rows]
    if kind == ".csv":
        text = io.StringIO(newline="")
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(heading)
        writer.writerows(clean)
        content = text.getvalue().encode("utf-8")
    elif kind == ".xlsx":
        content = _as_xlsx(heading, clean)
    else:
        raise Refused(f"{path.name}: tables are written as .csv or .xlsx; choose either.")
    write_whole(path, content)


def _cell(value: object) -> Any:
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return ""
    return float(value) if isinstance(value, float) else value


def _as_xlsx(heading: Sequence[str], rows: Sequence[Sequence[Any]]) -> bytes:
    xlsxwriter: Any = import_module("xlsxwriter")

    buffer = io.BytesIO()
    with xlsxwriter.Workbook(buffer, {"in_memory": True}) as workbook:
        sheet = workbook.add_worksheet("answer")
        sheet.write_row(0, 0, heading, workbook.add_format({"bold": True}))
        sheet.freeze_panes(1, 0)
        sheet.set_column(0, 1, 28)
        for at, row in enumerate(rows, start=1):
            for column, value in enumerate(row):
                if isinstance(value, str):
                    sheet.write_string(at, column, value)
                else:
                    sheet.write_number(at, column, value)
    return buffer.getvalue()
