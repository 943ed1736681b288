"""XLSX, XLS and ODS workbooks as rows of cells, through python-calamine.

Calamine gives an empty cell where a workbook holds an error such as #DIV/0!, and 0.153
where a person sees 15.3 %. Both would be silently wrong readings, so the XML of XLSX and
ODS is looked at first and such cells are marked. In the old XLS format a cell with an error
reads as an empty one.
"""

import io
import re
import zipfile
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from typing import Any

from canewright.files.cells import Cell, Fault, refuse
from canewright.files.problems import InputRefused

MOST_CELLS = 2_000_000
MOST_BYTES = 200 * 1024 * 1024
_SAVE_AGAIN = "Open it in a spreadsheet program, save it again as .xlsx, or save it as CSV."

_Marks = dict[tuple[int, int], Fault]


def read_workbook(name: str, content: bytes) -> list[tuple[str, list[tuple[Cell, ...]]]]:
    """Each sheet's title and rows, from the first row on.

    Raises
    ------
    InputRefused
        If the workbook is damaged, protected by a password, far too large, or of another kind.
    """
    marks: dict[str, _Marks] = {}
    if content[:2] == b"PK":
        try:
            marks = _look_inside(name, content)
        except (zipfile.BadZipFile, NotImplementedError, EOFError, OSError, ValueError) as error:
            if isinstance(error, InputRefused):
                raise
            raise _damaged(name) from None
        except RuntimeError:  # zipfile's word for an encrypted member
            raise _protected(name) from None
        except Exception as error:
            if type(error).__module__ != "zlib":
                raise
            raise _damaged(name) from None
    elif "EncryptedPackage".encode("utf-16-le") in content:
        raise _protected(name)
    return [
        (title, [_row(at, cells, marks.get(title, {})) for at, cells in enumerate(rows)])
        for title, rows in _sheets(name, content)
    ]


def _sheets(name: str, content: bytes) -> Iterator[tuple[str, list[list[Any]]]]:
    import python_calamine

    try:
        workbook = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(content))
        for sheet in workbook.sheets_metadata:
            if sheet.typ == python_calamine.SheetTypeEnum.WorkSheet:
                rows = workbook.get_sheet_by_name(sheet.name).to_python(skip_empty_area=False)
                yield sheet.name, rows
    except python_calamine.PasswordError:
        raise _protected(name) from None
    except (KeyboardInterrupt, SystemExit, GeneratorExit):
        raise
    except BaseException as error:
        # calamine raises its own errors for damage it foresees, and a panic of the Rust
        # runtime (no subclass of Exception) for damage it does not.
        if isinstance(error, Exception) or type(error).__name__ == "PanicException":
            raise _damaged(name) from None
        raise


def _damaged(name: str) -> InputRefused:
    return refuse(name, "The workbook is damaged or of a kind that is not read.", _SAVE_AGAIN)


def _protected(name: str) -> InputRefused:
    return refuse(
        name,
        "The workbook is protected by a password.",
        "Save a copy without the password, or save the sheet as CSV.",
    )


def _row(at: int, cells: list[Any], marks: _Marks) -> tuple[Cell, ...]:
    row: list[Cell] = []
    for column, value in enumerate(cells):
        cell, mark = _cell(value), marks.get((at, column))
        if mark is not None and (mark is not _PERCENT or isinstance(cell, float)):
            cell = mark
        row.append(cell)
    return tuple(row)


def _cell(value: Any) -> Cell:
    if isinstance(value, str):
        return value.strip() or None
    if isinstance(value, bool | datetime | date | time | timedelta):
        return value
    if isinstance(value, int | float):
        return float(value)
    return None if value is None else str(value)


def _look_inside(name: str, content: bytes) -> dict[str, _Marks]:
    """Refuse what would exhaust the machine, and mark the cells that calamine misreads."""
    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        members = set(parts.namelist())
        if sum(part.file_size for part in parts.infolist()) > MOST_BYTES:
            raise refuse(
                name,
                f"The workbook unpacks to more than {MOST_BYTES // 1048576} MB.",
                "Copy the readings alone into a new workbook.",
            )
        if "xl/workbook.xml" in members:
            return _look_at_xlsx(name, parts)
        if "content.xml" in members:
            if b"encryption-data" in _part(parts, "META-INF/manifest.xml").encode():
                raise _protected(name)
            return _marks_of_ods(name, _part(parts, "content.xml"))
    raise refuse(name, "This is a packed file, but no XLSX or ODS workbook.", _SAVE_AGAIN)


def _part(parts: zipfile.ZipFile, member: str) -> str:
    if member not in parts.namelist():
        return ""
    with parts.open(member) as opened:
        return opened.read(MOST_BYTES).decode("utf-8", errors="replace")


def _attribute(tag: str, name: str) -> str:
    found = re.search(rf"""[\s:]{name}\s*=\s*["']([^"']*)["']""", tag)
    return _plain(found.group(1)) if found else ""


def _plain(text: str) -> str:
    for entity, sign in (("lt", "<"), ("gt", ">"), ("quot", '"'), ("apos", "'"), ("amp", "&")):
        text = text.replace(f"&{entity};", sign)
    return text


def _percent_styles(styles: str) -> set[str]:
    """Numbers of the cell styles of an XLSX workbook that show a percentage."""
    formats = {"9", "10"}
    for tag in re.findall(r"<(?:\w+:)?numFmt\s[^>]*>", styles):
        if "%" in re.sub(r'"[^"]*"|\\.', "", _attribute(tag, "formatCode")):
            formats.add(_attribute(tag, "numFmtId"))
    block = re.search(r"<(?:\w+:)?cellXfs[\s>].*?</(?:\w+:)?cellXfs>", styles, re.DOTALL)
    tags = re.findall(r"<(?:\w+:)?xf\s[^>]*>", block.group(0)) if block else []
    return {str(at) for at, tag in enumerate(tags) if _attribute(tag, "numFmtId") in formats}


def _look_at_xlsx(name: str, parts: zipfile.ZipFile) -> dict[str, _Marks]:
    percent = _percent_styles(_part(parts, "xl/styles.xml"))
    targets = {
        _attribute(tag, "Id"): _attribute(tag, "Target").removeprefix("/xl/").removeprefix("./")
        for tag in re.findall(
            r"<(?:\w+:)?Relationship\s[^>]*>", _part(parts, "xl/_rels/workbook.xml.rels")
        )
    }
    marks: dict[str, _Marks] = {}
    for tag in re.findall(r"<(?:\w+:)?sheet\s[^>]*>", _part(parts, "xl/workbook.xml")):
        title, member = _attribute(tag, "name"), targets.get(_attribute(tag, "id"), "")
        marks[title] = _marks_of_sheet(name, title, _part(parts, f"xl/{member}"), percent)
    for member in parts.namelist():
        if member.startswith("xl/worksheets/") and member[14:] not in str(targets.values()):
            _marks_of_sheet(name, member, _part(parts, member), percent)
    return marks


_XLSX_TAG = re.compile(r"<(?:\w+:)?(?:(row)|c)(?=[\s/>])([^>]*)>")
_XLSX_PLACE = re.compile(r"""\br\s*=\s*["']([A-Za-z]{0,4})(\d{1,10})["']""")
_XLSX_VALUE = re.compile(r"(?:<(?:\w+:)?f[\s>/][^<]*(?:</(?:\w+:)?f>)?)?<(?:\w+:)?v>([^<]{1,20})")


def _marks_of_sheet(name: str, title: str, text: str, percent: set[str]) -> _Marks:
    marks: _Marks = {}
    lowest = rightmost = row = column = -1
    for found in _XLSX_TAG.finditer(text):
        is_row, tag = found.groups()
        place = _XLSX_PLACE.search(tag)
        if is_row:
            row, column = int(place.group(2)) - 1 if place else row + 1, -1
        elif place and place.group(1):
            row, column = int(place.group(2)) - 1, _column(place.group(1).upper())
        else:
            column += 1
        lowest, rightmost = max(lowest, row), max(rightmost, column)
        if is_row:
            continue
        if _attribute(tag, "t") == "e":
            value = _XLSX_VALUE.match(text, found.end())
            marks[row, column] = _error_cell(value.group(1) if value else "")
        elif _attribute(tag, "s") in percent:
            marks[row, column] = _PERCENT
    _refuse_vast(name, title, lowest + 1, max(rightmost + 1, 1))
    return marks


def _column(letters: str) -> int:
    number = 0
    for letter in letters:
        number = 26 * number + ord(letter) - ord("A") + 1
    return number - 1


def _refuse_vast(name: str, title: str, rows: int, columns: int) -> None:
    if rows * columns > MOST_CELLS:
        raise refuse(
            name,
            f"The sheet '{title}' reaches down to row {rows} and over {columns} columns.",
            "Copy the readings alone into a new workbook.",
        )


_ODS_TAG = re.compile(
    r"""<table:(table|table-row|table-cell|covered-table-cell)(?=[\s/>])((?:[^>"']|"[^"]*"|'[^']*')*)>"""
)


_ODS_TEXT = re.compile(r"\s*<text:p>([^<]{1,20})")


def _marks_of_ods(name: str, text: str) -> dict[str, _Marks]:
    marks: dict[str, _Marks] = {}
    title, row, repeat, column = "", 0, 0, 0
    for found in _ODS_TAG.finditer(text):
        tag, attributes = found.groups()
        if tag == "table":
            title, row, repeat, column = _attribute(attributes, "name"), 0, 0, 0
            marks[title] = {}
        elif tag == "table-row":
            row, column = row + repeat, 0
            repeat = _count(attributes, "number-rows-repeated")
        else:
            wide = _count(attributes, "number-columns-repeated")
            if "office:" in attributes or not attributes.endswith("/"):
                _refuse_vast(name, title, row + repeat, column + wide)
                mark = None
                if re.search(r"""calcext:value-type=["']error""", attributes):
                    shown = _ODS_TEXT.match(text, found.end())
                    mark = _error_cell(shown.group(1) if shown else "")
                elif re.search(r"""office:value-type=["']percentage""", attributes):
                    mark = _PERCENT
                if mark and title in marks:
                    marks[title].update(
                        {
                            (at, over): mark
                            for at in range(row, row + repeat)
                            for over in range(column, column + wide)
                        }
                    )
            column += wide
    return marks


def _count(attributes: str, name: str) -> int:
    told = _attribute(attributes, name)
    return int(told) if told.isdecimal() and len(told) < 10 else 1


_PERCENT = Fault(
    "The cell is formatted as a percentage, so that it holds a hundredth of what it shows.",
    "Format the cell as a plain number, and write the percentage as a number: 15.3 for 15.3 %.",
)


def _error_cell(shown: str) -> Fault:
    return Fault(
        f"The cell holds an error of the spreadsheet{f' ({shown})' if shown else ''}.",
        "Correct the formula, or leave the cell empty if there is no reading.",
    )
