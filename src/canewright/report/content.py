"""What a report says, independent of the paper: sections of texts, tables and pictures.

All writers take their numbers and words from here, so that PDF, workbook, page and separated
values cannot disagree. `as_data` gives the same as plain data, which every report carries.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Literal

Kind = Literal["text", "number", "moment"]
Style = Literal["plain", "group", "total"]
Weight = Literal["plain", "finding", "caution", "small"]

DIGITS = 9
"""Significant digits kept: more than any reading has, fewer than machines differ in."""
MINUS = "−"
BLANK = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True)
class Number:
    """A number and how it is printed; without a finite value, why there is none."""

    value: float | None
    text: str

    @property
    def decimals(self) -> int:
        """Digits printed after the point."""
        return len(self.text.partition(".")[2]) if self.value is not None else 0


@dataclass(frozen=True)
class Moment:
    """A moment and how it is printed."""

    value: datetime
    text: str


Cell = str | Number | Moment | None


@dataclass(frozen=True)
class Column:
    """A column: its stable key, heading, kind of content and share of the width."""

    key: str
    heading: str
    kind: Kind = "text"
    width: float = 1.0


@dataclass(frozen=True)
class Row:
    """A row: `level` says how far in it stands, `style` whether it heads or sums up others."""

    cells: tuple[Cell, ...]
    level: int = 0
    style: Style = "plain"


@dataclass(frozen=True)
class Table:
    """A table; `empty` is said in place of rows where there are none."""

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    notes: tuple[str, ...] = ()
    empty: str = ""


@dataclass(frozen=True)
class Text:
    """A paragraph, with a label in the margin or none."""

    text: str
    label: str = ""
    weight: Weight = "plain"


@dataclass(frozen=True)
class Picture:
    """A picture as SVG; `words` say what it shows to who does not see it."""

    key: str
    title: str
    svg: str
    words: str
    note: str = ""
    whole_page: bool = False


Block = Table | Text | Picture


@dataclass(frozen=True)
class Section:
    """A part of a report under a heading."""

    title: str
    blocks: tuple[Block, ...]
    new_page: bool = False


@dataclass(frozen=True)
class Definition:
    """How a printed figure is computed, and the numbers of its sources."""

    label: str
    unit: str
    text: str
    formula: str
    sources: tuple[int, ...]


@dataclass(frozen=True)
class Cited:
    """An entry of the list of sources."""

    number: int
    text: str
    known: str


@dataclass(frozen=True)
class Input:
    """A file that a report was made from: its part, its name as given, its SHA-256."""

    part: str
    path: str
    sha256: str


@dataclass(frozen=True)
class Letterhead:
    """Whose paper it is.

    Attributes
    ----------
    name : str
    lines : tuple of str
        Address, telephone and what else stands below the name.
    document : str
        Number of the form in the user's own system.
    signatures : tuple of str
        Who signs.
    language, translation : str
        Language of the report, and a compiled catalogue for it.
    """

    name: str = ""
    lines: tuple[str, ...] = ()
    document: str = ""
    signatures: tuple[str, ...] = ()
    language: str = ""
    translation: str = ""


@dataclass(frozen=True)
class Report:
    """One report.

    Attributes
    ----------
    kind : str
        "shift", "balance", "laboratory", "day", "week", "season" or "time".
    options : mapping
        What else was asked for, such as which day.
    title, factory, facts
        What stands at its head: `facts` are the shift, its hours, its cane.
    words : mapping
        The words that every writer needs, in the report's language.
    made_with : mapping
        Version of the engine and fingerprint of the table of sources.
    """

    kind: str
    title: str
    factory: str
    invented: bool
    facts: tuple[str, ...]
    sections: tuple[Section, ...]
    definitions: tuple[Definition, ...]
    sources: tuple[Cited, ...]
    cautions: tuple[str, ...]
    inputs: tuple[Input, ...]
    made_with: Mapping[str, str]
    words: Mapping[str, str]
    options: Mapping[str, str] = field(default_factory=dict)
    letterhead: Letterhead = field(default_factory=Letterhead)
    dated: datetime | None = None

    @property
    def tables(self) -> list[Table]:
        """All tables, in the order of the report."""
        return [b for section in self.sections for b in section.blocks if isinstance(b, Table)]

    @property
    def pictures(self) -> list[Picture]:
        """All pictures, in the order of the report."""
        return [b for section in self.sections for b in section.blocks if isinstance(b, Picture)]


def kept(value: float) -> float | None:
    """A number to the digits that are kept; nothing where it is not finite."""
    return float(f"{value:.{DIGITS - 1}e}") + 0.0 if math.isfinite(value) else None


def cell_text(cell: Cell) -> str:
    """A cell as it is printed."""
    if cell is None:
        return ""
    return cell if isinstance(cell, str) else cell.text


def _cell(cell: Cell) -> Any:
    if isinstance(cell, Number):
        return {"value": cell.value, "text": cell.text}
    if isinstance(cell, Moment):
        return {"moment": cell.value.isoformat(timespec="minutes"), "text": cell.text}
    return cell


def _block(block: Block) -> dict[str, Any]:
    if isinstance(block, Text):
        return {"block": "text", "label": block.label, "text": block.text, "weight": block.weight}
    if isinstance(block, Picture):
        return {
            "block": "picture",
            "key": block.key,
            "title": block.title,
            "svg": block.svg,
            "words": block.words,
            "note": block.note,
            "whole_page": block.whole_page,
        }
    return {
        "block": "table",
        "key": block.key,
        "title": block.title,
        "columns": [
            {"key": c.key, "heading": c.heading, "kind": c.kind, "width": c.width}
            for c in block.columns
        ],
        "rows": [
            {"cells": [_cell(c) for c in r.cells], "level": r.level, "style": r.style}
            for r in block.rows
        ],
        "notes": list(block.notes),
        "empty": block.empty,
    }


def as_data(report: Report) -> dict[str, Any]:
    """Everything that a report says, as plain data in a fixed order."""
    return {
        "kind": report.kind,
        "options": dict(report.options),
        "title": report.title,
        "factory": report.factory,
        "invented": report.invented,
        "facts": list(report.facts),
        "sections": [
            {"title": s.title, "new_page": s.new_page, "blocks": [_block(b) for b in s.blocks]}
            for s in report.sections
        ],
        "definitions": [
            {
                "label": d.label,
                "unit": d.unit,
                "text": d.text,
                "formula": d.formula,
                "sources": list(d.sources),
            }
            for d in report.definitions
        ],
        "sources": [{"number": s.number, "text": s.text, "known": s.known} for s in report.sources],
        "cautions": list(report.cautions),
    }
