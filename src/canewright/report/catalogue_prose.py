"""What the layers below a report say in sentences, by their forms, taken from the source.

`f"purity of {name}"` is listed as "purity of {name}". A report tells such a string after names
and numbers stand in it; `canewright.account.words.told` knows it by its form.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from importlib import resources
from pathlib import Path

SPOKEN = (
    "account/instruments.py",
    "account/remarks.py",
    "engine/chain/periods.py",
    "engine/equations/points.py",
    "engine/suspects/candidates.py",
    "figures/*_figures.py",
    "figures/ledger*.py",
    "figures/steam_ledgers.py",
    "files/bench_rows.py",
    "files/cells.py",
    "files/combining.py",
    "files/layout.py",
    "files/long_file.py",
    "files/moments.py",
    "files/numerals.py",
    "files/plausible.py",
    "files/problems.py",
    "files/readings.py",
    "files/rows.py",
    "files/season_folder.py",
    "files/table_files.py",
    "files/tables.py",
    "files/wide.py",
    "files/workbooks.py",
    "laboratory/check_samples.py",
    "laboratory/control_charts.py",
    "laboratory/duplicates.py",
    "laboratory/instruments.py",
    "laboratory/method.py",
    "laboratory/plausibility.py",
    "laboratory/standing.py",
    "units/conversion.py",
    "units/numbers.py",
)
"""Modules whose sentences and labels a report may print."""
WORDS = re.compile(r"[A-Za-z]{2,}[^{}]* [^{}]*[A-Za-z]{2,}|[A-Za-z]{4,}[.:]")
FEWEST = 4
"""Letters of a form beside what stands in it, without which it would fit everything; one that
begins with a word of its own needs no more than that word."""


def prose() -> dict[str, list[str]]:
    """File -> the sentences and labels in it, with fields for names and numbers."""
    package = Path(str(resources.files("canewright")))
    found: dict[str, list[str]] = {}
    for pattern in SPOKEN:
        for path in sorted(package.glob(pattern)):
            tree = ast.parse(path.read_text(encoding="utf-8"))
            texts = list(dict.fromkeys(_strings(tree, _docstrings(tree))))
            found[path.relative_to(package).as_posix()] = texts
    return found


def is_form(text: str, files: list[str]) -> bool:
    """Whether a string of the catalogue is told with names and numbers already in it."""
    spoken = any(Path(file).match(pattern) for file in files for pattern in SPOKEN)
    return "{" in text and spoken


def _docstrings(tree: ast.AST) -> set[int]:
    """Strings that stand by themselves: docstrings, also of constants."""
    alone = [node.value for node in ast.walk(tree) if isinstance(node, ast.Expr)]
    return {id(value) for value in alone if isinstance(value, ast.Constant)}


def _strings(node: ast.AST, left_out: set[int]) -> Iterator[str]:
    for child in ast.iter_child_nodes(node):
        if id(child) in left_out:
            continue
        if isinstance(child, ast.JoinedStr):
            text = _form(child)
            if _fits_little(text):
                yield text
            for part in child.values:
                if isinstance(part, ast.FormattedValue):
                    yield from _strings(part, {*left_out, id(part.format_spec)})
        elif isinstance(child, ast.Constant):
            if isinstance(child.value, str) and _is_words(child.value):
                yield child.value.strip()
        else:
            yield from _strings(child, left_out)


def _is_words(text: str) -> bool:
    """Whether a string is said, and no pattern, code or markup."""
    return WORDS.search(text) is not None and not re.search(r"[\\<>]|\(\?", text)


def _fits_little(form: str) -> bool:
    letters = sum(map(str.isalpha, re.sub(r"\{\w+\}", "", form)))
    return " " in form and (letters >= FEWEST or re.match(r"[a-z]{2}", form) is not None)


def _form(joined: ast.JoinedStr) -> str:
    parts: list[str] = []
    fields: dict[str, str] = {}
    for part in joined.values:
        if isinstance(part, ast.FormattedValue):
            said = ast.unparse(part.value)
            name = re.sub(r"\W+", "_", said.rpartition(".")[2]).strip("_").lower()[:24] or "it"
            name = name if name.isidentifier() else f"it_{name}"
            taken = [known for known, other in fields.items() if other != said]
            while name in taken:
                name += "_"
            fields[name] = said
            parts.append(f"{{{name}}}")
        elif isinstance(part, ast.Constant):
            parts.append(str(part.value))
    return "".join(parts).strip()
