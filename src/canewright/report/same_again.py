"""What a report carries so that it can be made again: inputs, versions, its own data."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import Any

from canewright import __version__
from canewright.account import Account
from canewright.report.content import Input, Letterhead, Report, as_data

FORM = "canewright report 1"
SHORT = 16
"""Digits of the fingerprint that are printed on the page."""


def made_with() -> dict[str, str]:
    """Version of the engine, and SHA-256 of the table of sources."""
    table = resources.files("canewright").joinpath("sources.toml").read_bytes()
    return {"canewright": __version__, "sources_sha256": hashlib.sha256(table).hexdigest()}


def input_file(part: str, path: Path) -> Input:
    """A file that a report is made from."""
    return Input(part, path.as_posix(), hashlib.sha256(path.read_bytes()).hexdigest())


def checks_used(account: Account, folder: Path) -> list[Input]:
    """Records of checks that told an instrument's bias: those checks alone, not later ones.

    A record grows from shift to shift, and what is added later is no change.
    """
    named = {one.name: one.checks for one in account.factory.instruments}
    found = []
    for known in account.instruments:
        checks = named.get(known.instrument)
        if known.verdict is None or checks is None:
            continue
        record = known.verdict.record
        times = [moment.isoformat() for moment in record.times]
        said = canonical([times, list(record.values), list(record.expected)])
        part = f"checks of {known.instrument}"
        path = (folder / checks.file).as_posix()
        found.append(Input(part, path, hashlib.sha256(said.encode()).hexdigest()))
    return found


def canonical(content: Any) -> str:
    """The one way of writing plain data down: same data, same bytes."""
    return json.dumps(content, ensure_ascii=True, separators=(",", ":"), allow_nan=False)


def fingerprint(
    content: Mapping[str, Any], inputs: list[dict[str, str]], made: Mapping[str, str]
) -> str:
    """SHA-256 of what a report says, from which files and with which engine.

    Where the files lie, and whose paper it is, does not enter.
    """
    files = [[entry["part"], Path(entry["path"]).name, entry["sha256"]] for entry in inputs]
    return hashlib.sha256(canonical([content, files, dict(made)]).encode()).hexdigest()


def carried(report: Report) -> dict[str, Any]:
    """All that a report carries with it."""
    content = as_data(report)
    inputs = [{"part": i.part, "path": i.path, "sha256": i.sha256} for i in report.inputs]
    head = report.letterhead
    return {
        "form": FORM,
        "fingerprint": fingerprint(content, inputs, report.made_with),
        "made_with": dict(report.made_with),
        "inputs": inputs,
        "letterhead": {
            "name": head.name,
            "lines": list(head.lines),
            "document": head.document,
            "signatures": list(head.signatures),
            "language": head.language,
            "translation": head.translation,
        },
        "content": content,
    }


def letterhead_of(entry: Mapping[str, Any]) -> Letterhead:
    """The letterhead that a report carries."""
    return Letterhead(
        name=entry["name"],
        lines=tuple(entry["lines"]),
        document=entry["document"],
        signatures=tuple(entry["signatures"]),
        language=entry["language"],
        translation=entry["translation"],
    )
