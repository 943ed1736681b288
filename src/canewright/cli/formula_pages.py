"""What `canewright formula` prints, for a person and for another program."""

import math
from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any

from rich.console import Console

from canewright import registry
from canewright.cli import printing
from canewright.cli.printing import Column
from canewright.registry import Check, Formula

HOW_KNOWN = {
    "read": "read in the source",
    "memory": "from memory, not seen again",
    "derived": "derived in this project",
    "assumed": "assumed",
}
POINTS_SHOWN = 8
WIDE = 100
"""Columns from which the unit has a column of its own in the list."""


def print_list(screen: Console, found: Sequence[Formula], words: Sequence[str]) -> None:
    """Print formulas grouped by the module they live in."""
    about = f" about {' '.join(words)}" if words else ""
    printing.paragraph(screen, f"{len(found)} formula{'s' if len(found) != 1 else ''}{about}")
    wide = screen.width >= WIDE
    longest = max(len(short_name(formula)) for formula in found)
    width = min(longest, screen.width * 2 // 5)
    columns = [Column(narrowest=width, widest=width), Column(), Column(wrap=True)]
    if wide:
        columns.append(Column(style="dim", wrap=True, widest=22))
    for module, members in groupby(found, key=module_of):
        printing.heading(screen, module)
        rows = []
        for formula in members:
            text = summary_of(formula)
            if not wide and in_words(formula.unit):
                text = f"{text} [{formula.unit}]"
            row = [
                printing.folded(short_name(formula), width),
                "*" if formula.default else "",
                text,
            ]
            rows.append([*row, in_words(formula.unit)] if wide else row)
        printing.table(screen, columns, rows)
    printing.emit(screen, "")
    if any(formula.default for formula in found):
        printing.paragraph(screen, "* the default among several that answer the same question.")
    printing.paragraph(screen, "One of them in full: canewright formula NAME")


def print_page(
    screen: Console,
    formula: Formula,
    family: Sequence[Formula],
    points: Sequence[tuple[Check, float]],
    also: Sequence[Formula] = (),
) -> None:
    """Print everything about one formula, and which others the same word would find."""
    printing.paragraph(screen, formula.name, style="bold")
    printing.paragraph(screen, summary_of(formula))
    printing.emit(screen, "")
    printing.verbatim(screen, formula.equation, indent=4)

    printing.heading(screen, "Symbols")
    rows = [
        [symbol, in_words(unit), _range(formula, symbol)] for symbol, unit in formula.given.items()
    ]
    rows.append([f"= {short_name(formula)}", in_words(formula.unit), "the result"])
    columns = (Column(), Column("unit", wrap=True), Column("stated for"))
    printing.table(screen, columns, rows)

    if formula.uncertainty:
        printing.heading(screen, "Standard uncertainty")
        printing.paragraph(screen, formula.uncertainty, indent=2)
    if formula.note:
        printing.heading(screen, "Why this one" if formula.default and family else "Note")
        printing.paragraph(screen, " ".join(formula.note.split()), indent=2)
    if family:
        printing.heading(screen, f"Others that give the {formula.family}")
        if formula.default:
            printing.paragraph(screen, "The formula above is the default.", indent=2)
        rows = [
            [_folded(screen, other.name), "default" if other.default else "", summary_of(other)]
            for other in family
        ]
        columns = (Column(), Column(), Column(wrap=True))
        printing.table(screen, columns, rows)

    printing.heading(screen, "Source")
    printing.paragraph(screen, f"{_place(formula)}: {HOW_KNOWN[formula.known]}.", indent=2)
    reference = registry.sources().get(formula.source)
    if reference:
        printing.paragraph(screen, reference.text, indent=2)
        if reference.note:
            printing.paragraph(screen, reference.note, indent=2)

    _print_points(screen, formula, points)
    if formula.given:
        printing.emit(screen, "")
        printing.paragraph(screen, f"Try: {_example(formula, points)}")
    if also:
        names = ", ".join(other.name for other in also)
        printing.paragraph(screen, f"The same word is also in: {names}")


def _print_points(screen: Console, formula: Formula, points: Sequence[tuple[Check, float]]) -> None:
    if not points:
        return
    printing.heading(screen, "Values it is tested against")
    rows = [
        [
            printing.packed(
                [f"{symbol}={value:g}" for symbol, value in check.given.items()],
                screen.width // 3,
            ),
            f"{check.expect:.10g}",
            printing.number(value, check.within, grouped=False),
            f"{check.within:.2g}",
            f"{_origin(check, formula)} ({check.known})",
        ]
        for check, value in points[:POINTS_SHOWN]
    ]
    columns = (
        Column("given"),
        Column("published", "right"),
        Column("here", "right"),
        Column("within", "right"),
        Column("where (how known)", wrap=True),
    )
    printing.table(screen, columns, rows)
    if len(points) > POINTS_SHOWN:
        printing.paragraph(
            screen, f"and {len(points) - POINTS_SHOWN} more, all with --json.", indent=2
        )


def print_value(
    screen: Console,
    formula: Formula,
    values: Mapping[str, float],
    value: float,
    others: Sequence[tuple[Formula, float]],
) -> None:
    """Print the value of a formula, with what it was given and whether that is allowed."""
    name = short_name(formula)
    if math.isfinite(value):
        printing.paragraph(
            screen, f"{name} = {printing.number(value)} {in_words(formula.unit)}", style="bold"
        )
    else:
        printing.paragraph(screen, f"{name} has no value for these numbers.", style="bold")
    printing.paragraph(screen, summary_of(formula))
    printing.emit(screen, "")
    rows = [
        [symbol, f"{printing.number(number)} {in_words(formula.given[symbol])}"]
        for symbol, number in values.items()
    ]
    if formula.uncertainty:
        rows.append(["standard uncertainty", formula.uncertainty])
    rows.append(["source", f"{_place(formula)} ({HOW_KNOWN[formula.known]})"])
    rows.extend(
        [_folded(screen, other.name), f"gives {printing.number(result)} {in_words(other.unit)}"]
        for other, result in others
    )
    printing.table(screen, (Column(), Column(wrap=True)), rows)
    for sentence in formula.outside(values):
        printing.emit(screen, "")
        printing.paragraph(screen, f"Outside its range: {sentence}")


def list_for_json(found: Sequence[Formula], words: Sequence[str]) -> dict[str, Any]:
    """Answer of a list or search."""
    return {
        "search": list(words),
        "formulas": [
            {
                "name": formula.name,
                "summary": formula.summary,
                "unit": formula.unit,
                "family": formula.family,
                "default": formula.default,
                "source": formula.source,
                "known": formula.known,
            }
            for formula in found
        ],
    }


def page_for_json(
    formula: Formula, family: Sequence[Formula], points: Sequence[tuple[Check, float]]
) -> dict[str, Any]:
    """Everything about one formula."""
    reference = registry.sources().get(formula.source)
    return {
        "name": formula.name,
        "summary": formula.summary,
        "equation": formula.equation,
        "unit": formula.unit,
        "symbols": [
            {"symbol": symbol, "unit": unit, "valid": list(formula.valid.get(symbol, ())) or None}
            for symbol, unit in formula.given.items()
        ],
        "uncertainty": formula.uncertainty,
        "family": formula.family,
        "default": formula.default,
        "note": formula.note,
        "alternatives": [
            {"name": other.name, "summary": other.summary, "default": other.default}
            for other in family
        ],
        "source": {
            "key": formula.source,
            "at": formula.at,
            "known": formula.known,
            "text": reference.text if reference else "",
            "note": reference.note if reference else "",
        },
        "checks": [
            {
                "given": dict(check.given),
                "expect": check.expect,
                "value": value,
                "within": check.within,
                "source": check.source,
                "at": check.at,
                "known": check.known,
                "note": check.note,
            }
            for check, value in points
        ],
    }


def value_for_json(
    formula: Formula,
    values: Mapping[str, float],
    value: float,
    others: Sequence[tuple[Formula, float]],
) -> dict[str, Any]:
    """Value of a formula, and of those that answer the same question."""
    return {
        "name": formula.name,
        "value": value,
        "unit": formula.unit,
        "given": {
            symbol: {"value": number, "unit": formula.given[symbol]}
            for symbol, number in values.items()
        },
        "outside": formula.outside(values),
        "uncertainty": formula.uncertainty,
        "source": {"key": formula.source, "at": formula.at, "known": formula.known},
        "alternatives": {other.name: result for other, result in others},
    }


def in_words(unit: str) -> str:
    """Return a unit as printed: nothing for a pure number."""
    return "" if unit in {"1", "-"} else unit


def _folded(screen: Console, name: str) -> str:
    return printing.folded(name, screen.width * 2 // 5)


def module_of(formula: Formula) -> str:
    """Return the first part of a formula's name."""
    return formula.name.split(".", 1)[0]


def short_name(formula: Formula) -> str:
    """Return the last part of a formula's name."""
    return formula.name.rsplit(".", 1)[-1]


def summary_of(formula: Formula) -> str:
    """Return the summary without the units that many docstrings put at its end."""
    return formula.summary.split(" [", 1)[0] or formula.summary


def _range(formula: Formula, symbol: str) -> str:
    if symbol not in formula.valid:
        return "not stated"
    low, high = formula.valid[symbol]
    if math.isinf(low) or math.isinf(high):
        return f"up to {high:g}" if math.isinf(low) else f"{low:g} and above"
    return f"{low:g} to {high:g}"


def _place(formula: Formula) -> str:
    return f"{formula.source}, {formula.at}" if formula.at else formula.source


def _origin(check: Check, formula: Formula) -> str:
    return check.at if check.source == formula.source else f"{check.source}, {check.at}"


def _example(formula: Formula, points: Sequence[tuple[Check, float]]) -> str:
    given = points[0][0].given if points else {}
    values = (f"{symbol}={given[symbol]:g}" for symbol in formula.given if symbol in given)
    return " ".join(["canewright formula", formula.name, *values])
