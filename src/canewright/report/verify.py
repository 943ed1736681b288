"""Whether a report still comes out the same from its files, and if not, what moved."""

from __future__ import annotations

import json
import re
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from canewright.report.content import Report
from canewright.report.page import DATA, END
from canewright.report.same_again import FORM, canonical, carried, fingerprint
from canewright.report.separated import DATA_NAME
from canewright.report.workbook import DATA_SHEET

_BEGIN = f'{{"form":"{FORM[:17]}'.encode()


class NoReport(ValueError):
    """The file carries no report of ours."""


@dataclass(frozen=True)
class Moved:
    """One thing that reads otherwise now: where it stands, what it was, what it is."""

    where: str
    before: str
    after: str


@dataclass(frozen=True)
class Verified:
    """What a second making of a report found.

    Attributes
    ----------
    whole : bool
        Whether the carried data are those that were written (their fingerprint fits).
    same : bool
        Whether the second making gave the same data, byte by byte.
    same_as_printed : bool
        Whether at least every word and number reads the same.
    files : list of str
        Sentences on files that are not what they were.
    engine : list of str
        Sentences on another version or another table of sources.
    moved : list of Moved
        Everything that reads otherwise.
    """

    whole: bool
    same: bool
    same_as_printed: bool
    fingerprint: str
    files: list[str] = field(default_factory=list)
    engine: list[str] = field(default_factory=list)
    moved: list[Moved] = field(default_factory=list)

    @property
    def holds(self) -> bool:
        """Whether the report still reproduces."""
        return self.whole and self.same


def carried_by(path: Path) -> dict[str, Any]:
    """The data that a report carries: PDF, workbook, page, or folder of separated values.

    Raises
    ------
    NoReport
        If there are none.
    OSError
        If the file cannot be read.
    """
    place = path / DATA_NAME if path.is_dir() else path
    content = place.read_bytes()
    text = _text_in(content)
    try:
        data = json.loads(text) if text is not None else None
    except ValueError:
        data = None
    if not isinstance(data, dict) or not {"form", "fingerprint", "content"} <= set(data):
        raise NoReport(
            f"{path} carries no report of canewright. Name the PDF, workbook or page as it was "
            f"written; a file printed or saved again by another program may have lost its data."
        )
    if data["form"] != FORM:
        raise NoReport(
            f"{path} is of the form '{data['form']}'; this version of canewright reads '{FORM}'. "
            f"Verify it with the version that wrote it."
        )
    return data


def _text_in(content: bytes) -> str | None:
    if content.startswith(b"%PDF"):
        return _in_pdf(content)
    if content.startswith(b"PK"):
        return _in_workbook(content)
    if DATA.encode() in content:
        text = content.decode("utf-8", "replace").split(DATA, 1)[1]
        return text.split(END, 1)[0]
    return content.decode("utf-8", "replace")


def _in_pdf(content: bytes) -> str | None:
    """The attached data: the stream that begins as ours do, packed or not."""
    for found in re.finditer(rb"stream\r?\n", content):
        start = found.end()
        if content.startswith(_BEGIN, start):
            return content[start : content.index(b"endstream", start)].decode().rstrip()
        try:
            unpacking = zlib.decompressobj()
            if unpacking.decompress(content[start : start + 4096], 64).startswith(_BEGIN):
                return zlib.decompressobj().decompress(content[start:]).decode()
        except (zlib.error, UnicodeDecodeError):
            continue
    return None


def _in_workbook(content: bytes) -> str | None:
    import io

    from python_calamine import CalamineError, CalamineWorkbook

    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(content))
        if DATA_SHEET not in book.sheet_names:
            return None
        rows = book.get_sheet_by_name(DATA_SHEET).to_python(skip_empty_area=True)
    except CalamineError:
        return None
    return "".join(str(row[0]) for row in rows if row)


def is_whole(data: Mapping[str, Any]) -> bool:
    """Whether carried data have the fingerprint that they name."""
    own = fingerprint(data["content"], data["inputs"], data["made_with"])
    return bool(own == data["fingerprint"])


def compare(data: Mapping[str, Any], again: Report, changed: Sequence[str]) -> Verified:
    """Compare what a report carries with a second making of it.

    Parameters
    ----------
    data : mapping
        As `carried_by` gives it.
    again : Report
        Made anew.
    changed : sequence of str
        Sentences on files that are not what they were.
    """
    now = carried(again)
    same = canonical(data["content"]) == canonical(now["content"])
    moved = list(_moved(data["content"], now["content"]))
    engine = []
    was, made = data["made_with"], now["made_with"]
    if was["canewright"] != made["canewright"]:
        engine.append(
            f"It was made with canewright {was['canewright']}; this is {made['canewright']}."
        )
    if was["sources_sha256"] != made["sources_sha256"]:
        engine.append("The table of sources is not the one that it was made with.")
    return Verified(
        is_whole(data), same, not moved, data["fingerprint"], list(changed), engine, moved
    )


def _moved(before: Any, after: Any) -> Iterator[Moved]:
    """Whatever reads otherwise; pictures follow from the numbers and are left out."""
    for key in ("title", "factory", "facts", "cautions"):
        if before[key] != after[key]:
            between = " " if key == "cautions" else ", "
            yield Moved(key, _said(before[key], between), _said(after[key], between))
    yield from _texts(before, after)
    was, now = _tables(before), _tables(after)
    for key in {**was, **now}:
        if key not in now or key not in was:
            yield Moved(key, "there" if key in was else "", "there" if key in now else "")
            continue
        yield from _table(key, was[key], now[key])


def _texts(before: Any, after: Any) -> Iterator[Moved]:
    was, now = _labelled(before), _labelled(after)
    for label in {**was, **now}:
        one, other = was.get(label, ""), now.get(label, "")
        if one != other:
            yield Moved(label or "text", one, other)


def _labelled(content: Any) -> dict[str, str]:
    """Label of a paragraph -> all that is said under it."""
    found: dict[str, str] = {}
    for section in content["sections"]:
        for block in section["blocks"]:
            if block["block"] == "text":
                said = [found[block["label"]]] if block["label"] in found else []
                found[block["label"]] = " ".join([*said, block["text"]])
    return found


def _said(value: Any, between: str) -> str:
    return between.join(str(v) for v in value) if isinstance(value, list) else str(value)


def _tables(content: Any) -> dict[str, Any]:
    blocks = [b for section in content["sections"] for b in section["blocks"]]
    return {b["key"]: b for b in blocks if b["block"] == "table"}


def _rows(table: Any) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    above = ["", "", ""]
    for row in table["rows"]:
        cells = [_shown(cell) for cell in row["cells"]]
        if row["style"] == "group":
            above = [cells[0], "", ""]
            continue
        level = min(row["level"], 1) + 1
        above[level:] = [cells[0]] + [""] * (len(above) - level - 1)
        name = ", ".join(part for part in above[: level + 1] if part)
        unique, count = name, 2
        while unique in found:
            unique = f"{name} ({count})"
            count += 1
        found[unique] = cells
    return found


def _shown(cell: Any) -> str:
    if cell is None:
        return ""
    return cell if isinstance(cell, str) else str(cell["text"])


def _table(key: str, before: Any, after: Any) -> Iterator[Moved]:
    was, now = _rows(before), _rows(after)
    headings = [column["heading"] or column["key"] for column in after["columns"]]
    for name in {**was, **now}:
        if name not in now or name not in was:
            one, other = was.get(name, []), now.get(name, [])
            yield Moved(f"{key}: {name}", " ".join(one[1:]), " ".join(other[1:]))
            continue
        for place, (one_, other_) in enumerate(zip(was[name], now[name], strict=False)):
            if one_ != other_:
                yield Moved(f"{key}: {name}, {headings[place]}", one_, other_)
