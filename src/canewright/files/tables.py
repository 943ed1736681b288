"""A file a user wrote, as rows of cells: text in any usual encoding, or a workbook.

Nothing here knows what the cells mean. What cannot be read is refused in sentences.
"""

import csv
import hashlib
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from canewright.files.cells import Cell, refuse
from canewright.files.problems import InputRefused

LARGEST = 20 * 1024 * 1024
"""bytes; a shift's readings are some tens of kilobytes, so anything larger is another file."""

DELIMITERS = (",", ";", "\t")
_EXCEL_FAULT = re.compile(
    r"#(REF!|N/A|NAME\?|VALUE!|DIV/0!|NUM!|NULL!|SPILL!|CALC!)", re.IGNORECASE
)


@dataclass(frozen=True)
class Row:
    """One row, with its number in the file counted from 1; blank cells are None."""

    number: int
    cells: tuple[Cell, ...]

    def cell(self, column: int) -> Cell:
        """The cell in a column counted from 0; None beyond the end of the row."""
        return self.cells[column] if column < len(self.cells) else None


@dataclass(frozen=True)
class Sheet:
    """The rows of a sheet that are neither blank nor comments."""

    name: str
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Tables:
    """All sheets of a file; a text file has one, without a name."""

    file: str
    sheets: tuple[Sheet, ...]
    delimiter: str
    encoding: str
    fingerprint: str


def beside(place: Path, name: str) -> Path | None:
    """The table of a name in a folder, or in the folder of a file, if there is one."""
    folder = place if place.is_dir() else place.parent
    found = (folder / f"{name}{suffix}" for suffix in (".csv", ".xlsx", ".xls", ".ods"))
    return next((path for path in found if path.exists()), None)


def read_bytes(path: str | Path, purpose: str = "readings") -> tuple[str, bytes]:
    """The name and content of a file a user named.

    Raises
    ------
    InputRefused
        If there is no such file, it cannot be opened, is empty, or is larger than `LARGEST`.
    """
    place = Path(path)
    name = place.name or str(path)
    try:
        if place.is_dir():
            raise refuse(str(path), "This is a folder.", f"Name the {purpose} file inside it.")
        if not place.is_file():
            raise refuse(str(path), "There is no such file.", "Check the name and the folder.")
        size = place.stat().st_size
        if size > LARGEST:
            raise _too_large(name, size, purpose)
        with place.open("rb") as opened:
            content = opened.read(LARGEST + 1)
    except OSError as error:
        reason = error.strerror or "it cannot be opened"
        raise refuse(
            str(path),
            f"The file cannot be read: {reason.lower()}.",
            "Close it elsewhere, try again.",
        ) from None
    except ValueError as error:
        if isinstance(error, InputRefused):
            raise
        raise refuse(str(path), "This is no file name.", "Check the name.") from None
    if len(content) > LARGEST:
        raise _too_large(name, len(content), purpose)
    if not content.strip():
        raise refuse(
            name, "The file is empty.", f"Write the {purpose} into it, or name another file."
        )
    return name, content


def _too_large(name: str, size: int, purpose: str) -> InputRefused:
    return refuse(
        name,
        f"The file has {size / 1048576:.0f} MB; at most {LARGEST // 1048576} MB are read.",
        f"Check that this is the {purpose} file; if it is, split it by shift.",
    )


def read_tables(path: str | Path) -> Tables:
    """Every sheet of a CSV, XLSX, XLS or ODS file; the content decides which it is.

    Raises
    ------
    InputRefused
        If the file cannot be read as any of them.
    """
    name, content = read_bytes(path)
    fingerprint = hashlib.sha256(content).hexdigest()
    if content[:2] == b"PK" or content[:8] == b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1":
        from canewright.files.workbooks import read_workbook

        sheets = tuple(
            Sheet(title, tuple(_kept(Row(at, cells) for at, cells in enumerate(rows, 1))))
            for title, rows in read_workbook(name, content)
        )
        return Tables(name, sheets, "", "", fingerprint)
    text, encoding = decode(name, content)
    rows, delimiter = _text_rows(name, text)
    return Tables(name, (Sheet("", rows),), delimiter, encoding, fingerprint)


def _kept(rows: Iterator[Row]) -> Iterator[Row]:
    for row in rows:
        if all(cell is None for cell in row.cells):
            continue
        first = row.cells[0]
        if isinstance(first, str) and first.startswith("#") and not _EXCEL_FAULT.match(first):
            continue
        yield row


def decode(name: str, content: bytes) -> tuple[str, str]:
    """The text of a file, and the encoding it was found to be in.

    Raises
    ------
    InputRefused
        If the bytes are not text in UTF-8, UTF-16 or Windows-1252.
    """
    for encoding in _encodings(content):
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if re.search(r"[\x00-\x08\x0b\x0e-\x1f\x7f]", text):
            break
        return text, encoding
    raise refuse(
        name,
        "This is not a text file: it holds bytes that no text has.",
        "Give a CSV file saved as UTF-8, or an XLSX, XLS or ODS workbook.",
    )


def _encodings(content: bytes) -> tuple[str, ...]:
    if content.startswith(b"\xef\xbb\xbf"):
        return ("utf-8-sig",)
    if content.startswith((b"\xff\xfe\x00\x00", b"\x00\x00\xfe\xff")):
        return ("utf-32",)
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return ("utf-16",)
    zeros_even, zeros_odd = content[0:4000:2].count(0), content[1:4000:2].count(0)
    if zeros_odd > 4 * zeros_even + 4:
        return ("utf-16-le",)
    if zeros_even > 4 * zeros_odd + 4:
        return ("utf-16-be",)
    return ("utf-8", "cp1252")


def _lines(text: str) -> list[str]:
    """Lines with their ends; comment lines are blanked so that row numbers stay true."""
    lines = []
    inside_quotes = False
    for line in re.split(r"(?<=\n)|(?<=\r)(?!\n)", text):
        if not inside_quotes and line.lstrip().startswith("#") and not _EXCEL_FAULT.match(line):
            lines.append("\n")
            continue
        if line.count('"') % 2:
            inside_quotes = not inside_quotes
        lines.append(line)
    return lines


def _delimiter(lines: list[str]) -> str:
    """The sign that parts the cells of the first line that is not blank."""
    first = next((line for line in lines if line.strip()), "")
    unquoted = re.sub(r'"[^"]*"', "", first)
    return max(DELIMITERS, key=unquoted.count)


def _text_rows(name: str, text: str) -> tuple[tuple[Row, ...], str]:
    lines = _lines(text)
    for at, line in enumerate(lines):
        if line.strip():
            told = re.fullmatch(r"\s*sep=([,;\t])\s*", line)
            if told:
                lines[at] = "\n"
            break
    else:
        told = None
    delimiter = told.group(1) if told else _delimiter(lines)
    reader = csv.reader(io.StringIO("".join(lines), newline=""), delimiter=delimiter, strict=True)
    rows: list[Row] = []
    before = 0
    try:
        for cells in reader:
            rows.append(Row(before + 1, tuple(cell.strip() or None for cell in cells)))
            before = reader.line_num
    except csv.Error as error:
        raise refuse(
            name,
            f"The cells of this row cannot be told apart ({error}).",
            'Look for a quotation mark (") that is opened and not closed, or a missing line end.',
            before + 1,
        ) from None
    return tuple(row for row in rows if any(cell is not None for cell in row.cells)), delimiter
