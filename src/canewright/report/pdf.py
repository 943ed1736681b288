"""A report as PDF, typeset by Typst from the form beside this file."""

from __future__ import annotations

import json
from importlib import resources
from typing import Any

import typst

from canewright.report.content import Report
from canewright.report.same_again import SHORT, canonical, carried

PART_WORDS = ("factory", "readings", "stops")


class NotTypeset(RuntimeError):
    """The form could not be typeset; the sentence says why."""


def for_page(report: Report, data: dict[str, Any]) -> dict[str, Any]:
    """What the forms for paper and page need besides the data."""
    words = dict(report.words)
    files = [
        f"{words.get(entry['part'], entry['part'])}: {entry['path']}, SHA-256 {entry['sha256']}"
        for entry in data["inputs"]
    ]
    made = data["made_with"]
    engine = (
        f"{words['engine']} {made['canewright']}, {words['sources_table']} SHA-256 "
        f"{made['sources_sha256']}"
    )
    return {
        **data,
        "words": words,
        "short": data["fingerprint"][:SHORT],
        "files": files,
        "engine": engine,
        "lang": report.letterhead.language[:2] or "en",
    }


def as_pdf(report: Report) -> bytes:
    """The report as PDF; its data are attached to it as `report.json`.

    Raises
    ------
    NotTypeset
        If the typesetter refuses it.
    """
    data = carried(report)
    form = resources.files("canewright.report").joinpath("template.typ").read_bytes()
    inputs = {
        "report": json.dumps(for_page(report, data), ensure_ascii=False),
        "carried": canonical(data),
    }
    try:
        made = typst.compile(
            form, format="pdf", sys_inputs=inputs, ignore_system_fonts=True, timestamp=0
        )
    except typst.TypstError as error:
        raise NotTypeset(f"The report could not be typeset: {error}") from error
    return bytes(made)
