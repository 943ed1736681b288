"""The catalogue of words to translate, taken from the source: `languages/canewright.pot`.

    python -m canewright.report.catalogue

writes it anew. It lists the strings of reports and of the account's sentences (`_`,
`several`), and the fixed labels of the layers below that reports print: figures, their units
and definitions, ledgers, causes of stops, first checks, cautions. Labels that hold the name of a
stream or station are made as the factory is read and stay as its file writes them.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from importlib import resources
from pathlib import Path

from canewright.report.catalogue_labels import fixed_labels
from canewright.report.catalogue_prose import is_form, prose
from canewright.report.words import DOMAIN, FORM, LANGUAGES

WRITE_FIELDS = {1: "label", 2: "unit", 4: "definition"}
"""Arguments of `Book.write` that a report prints, by their place."""
HEAD = """\
# Words of the reports of canewright.
msgid ""
msgstr ""
"Content-Type: text/plain; charset=UTF-8\\n"
"Content-Transfer-Encoding: 8bit\\n"
"Plural-Forms: nplurals=2; plural=(n != 1);\\n"
"""

Entry = tuple[str, str]
"""A string and its plural, or nothing."""


def entries() -> dict[Entry, list[str]]:
    """Every string to translate -> the files it stands in."""
    found: dict[Entry, list[str]] = {}
    package = Path(str(resources.files("canewright")))
    for pattern, finder in (
        ("account/*.py", _own),
        ("report/**/*.py", _own),
        ("figures/**/*.py", _labels),
    ):
        for path in sorted(package.glob(pattern)):
            tree = ast.parse(path.read_text(encoding="utf-8"))
            place = path.relative_to(package).as_posix()
            for entry in finder(tree):
                files = found.setdefault(entry, [])
                if place not in files:
                    files.append(place)
    for place, texts in (*fixed_labels().items(), *prose().items()):
        for text in texts:
            files = found.setdefault((text, ""), [])
            if text and place not in files:
                files.append(place)
    found.pop(("", ""), None)
    return found


def _own(tree: ast.AST) -> Iterator[Entry]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            texts = [_text(argument) for argument in node.args]
            if node.func.id == "_" and texts and texts[0]:
                yield texts[0], ""
            elif node.func.id == "several" and len(texts) > 1 and texts[0] and texts[1]:
                yield texts[0], texts[1]


def _labels(tree: ast.AST) -> Iterator[Entry]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            if node.func.attr != "write":
                continue
            for place in WRITE_FIELDS:
                text = _text(node.args[place]) if place < len(node.args) else ""
                if text:
                    yield text, ""
        elif isinstance(node, ast.Assign):
            target = node.targets[0]
            if isinstance(target, ast.Attribute) and target.attr == "group":
                text = _text(node.value)
                if text:
                    yield text, ""


def _text(node: ast.AST) -> str:
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""


def template() -> str:
    """The catalogue as the tools of gettext read it."""
    parts = [HEAD]
    for (one, many), files in sorted(entries().items()):
        lines = [f"#: {' '.join(files)}"]
        if is_form(one, files):
            lines.insert(0, FORM)
        if "{" in one:
            lines.append("#, python-brace-format")
        lines.append(f"msgid {_quoted(one)}")
        if many:
            lines += [f"msgid_plural {_quoted(many)}", 'msgstr[0] ""', 'msgstr[1] ""']
        else:
            lines.append('msgstr ""')
        parts.append("\n".join(lines) + "\n")
    return "\n".join(parts)


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'


if __name__ == "__main__":
    LANGUAGES.mkdir(exist_ok=True)
    (LANGUAGES / f"{DOMAIN}.pot").write_text(template(), encoding="utf-8")
