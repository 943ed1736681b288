"""Tables of a laboratory's own as files: TOML, one table a file."""

import hashlib
import tomllib
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from canewright.files.factory_reader import plain
from canewright.files.problems import InputRefused, KeyProblem, Problem, known_names
from canewright.laboratory.look_up import TABULATED, OwnTable, TableRefused, with_table
from canewright.laboratory.method import Method

LARGEST_FILE = 200_000
"""Bytes; a printed table is a page."""

TEXTS = ("title", "source", "method")


def own_methods(paths: Iterable[str | Path], folder: str | Path = ".") -> dict[str, Method]:
    """Methods with tables of one's own in place of theirs, by name.

    Parameters
    ----------
    paths : iterable of path
        One file a table.
    folder : path
        From which they count.

    Raises
    ------
    InputRefused
        With everything that is wrong with any of them.
    """
    found: dict[str, Method] = {}
    problems: list[Problem] = []
    for path in paths:
        try:
            table = read_table(Path(folder) / path)
        except InputRefused as refusal:
            problems += refusal.problems
            continue
        if table.method in found:
            what = f"Two tables are for {table.method}."
            problems.append(KeyProblem(str(path), None, "method", what, "Name the one in use."))
        found[table.method] = with_table(table)
    if problems:
        raise InputRefused(problems)
    return found


def fingerprints(paths: Iterable[str | Path], factory_path: str | Path) -> list[str]:
    """SHA-256 of each table, named from the folder of a factory file."""
    folder = Path(factory_path).parent
    return [hashlib.sha256((folder / path).read_bytes()).hexdigest() for path in paths]


def read_table(path: Path | str) -> OwnTable:
    """Read one table.

    Raises
    ------
    InputRefused
        With everything that is wrong with the file.
    """
    place = Path(path)

    def refuse(what: str, remedy: str = "", key: str = "") -> Problem:
        return KeyProblem(place.name, None, key, what, remedy)

    try:
        if place.stat().st_size > LARGEST_FILE:
            raise InputRefused([refuse("The file is larger than a table is.", "Is it another?")])
        document = tomllib.loads(place.read_bytes().decode("utf-8-sig"))
    except OSError as error:
        what = f"The file cannot be read: {error.strerror}."
        raise InputRefused([refuse(what, "Check its name and folder.")]) from error
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, RecursionError) as error:
        what = f"The file is not TOML: {error}."
        raise InputRefused([refuse(what, "`canewright lab --help` names an example.")]) from error
    return _table(document, refuse)


def _table(document: Mapping[str, Any], refuse: Any) -> OwnTable:
    problems: list[Problem] = []
    texts = {key: document.get(key) for key in TEXTS}
    for key, value in texts.items():
        if not isinstance(value, str) or not value.strip():
            example = {"source": "certificate 812 of the maker, 2026"}.get(key, key)
            problems.append(refuse(f"'{key}' is missing.", f'Write {key} = "{example}".', key))
    method = str(texts["method"])
    if texts["method"] and method not in TABULATED:
        what = f"'{method}' takes no table of one's own."
        problems.append(refuse(what, known_names(method, list(TABULATED), "methods"), "method"))
    if problems:
        raise InputRefused(problems)
    _, by, along = TABULATED[method]
    known = (*TEXTS, by, along, "table", "uncertainty")
    problems += [
        refuse(f"'{key}' is not a key known here.", known_names(key, known, "keys"), key)
        for key in document
        if key not in known
    ]
    lists = {key: _numbers(document.get(key)) for key in (by, along)}
    written = document.get("table")
    rows = [_numbers(row) for row in written] if isinstance(written, list) else [None]
    for key, value in (*lists.items(), *(("table", row) for row in rows)):
        if value is None:
            example = f"Write {by} = [15, 20, 25], {along} = [0, 10, 20], table = [[...], ...]."
            problems.append(refuse(f"'{key}' is no list of numbers.", example, key))
    uncertainty = plain(document.get("uncertainty", 0.0))
    if uncertainty is None:
        problems.append(refuse("'uncertainty' is no number.", "Write 0.01.", "uncertainty"))
    if problems:
        raise InputRefused(problems)
    try:
        return OwnTable(
            str(texts["title"]).strip(),
            str(texts["source"]).strip(),
            method,
            lists[by] or (),
            lists[along] or (),
            tuple(row or () for row in rows),
            uncertainty or 0.0,
        )
    except TableRefused as error:
        raise InputRefused([refuse(sentence) for sentence in error.problems]) from error


def _numbers(value: Any) -> tuple[float, ...] | None:
    if not isinstance(value, list) or not value:
        return None
    found = [plain(item) for item in value]
    return None if any(item is None for item in found) else tuple(item or 0.0 for item in found)
