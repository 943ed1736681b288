"""The laboratory's part of a balance, and of `explain` down to rotation and thermometer."""

from __future__ import annotations

from typing import Any

from rich.console import Console

from canewright.account import Account
from canewright.account.explanation import Explanation
from canewright.cli import printing
from canewright.cli.printing import Column, number
from canewright.engine.adjusting.explain import COVERAGE
from canewright.laboratory.bench import BenchResult, Determination

SHOWN = 6
"""Analyses whose raw readings are printed unless everything is asked for."""


REMARKED = 8
"""Remarks printed unless everything is asked for."""


def print_laboratory(screen: Console, account: Account, *, everything: bool) -> None:
    """Print what is to be looked at in the analyses, and those that stand beside the balance."""
    true = [known.words for known in account.instruments if not known.notable]
    said = [remark.words for remark in account.remarks] + (true if everything else [])
    if not said and not account.beside:
        return
    printing.heading(screen, "From the laboratory")
    shown = said if everything else said[:REMARKED]
    for words in shown:
        printing.paragraph(screen, words, indent=2)
    if len(shown) < len(said):
        printing.paragraph(screen, f"{len(said) - len(shown)} more (--all).", indent=2)
    if account.beside:
        if said:
            printing.emit(screen, "")
        columns = (
            Column("worked at the bench, beside the balance", wrap=True),
            Column(align="right"),
            Column("+/- 95 %", align="right"),
            Column("unit"),
        )
        printing.table(screen, columns, [_beside(*item) for item in account.beside.items()])


def _beside(name: str, result: BenchResult) -> tuple[str, ...]:
    half = COVERAGE * result.uncertainty
    value = number(result.value, result.uncertainty)
    return name, value, number(half, result.uncertainty), result.method.unit


def print_analysis(screen: Console, account: Account, name: str) -> None:
    """Print the whole working of an analysis that stands beside the balance."""
    printing.paragraph(screen, f"{account.bench[name].method.title} ({name})", style="bold")
    printing.paragraph(screen, "Worked from the raw readings; no balance takes it.", indent=2)
    _result(screen, name, account.bench[name], whole=True)


def print_instruments(screen: Console, found: Explanation) -> None:
    """Print what is known of the instruments behind a figure, where something is."""
    if not found.instruments:
        return
    printing.heading(screen, "Instruments behind it")
    for known in found.instruments:
        printing.paragraph(screen, known.words, indent=2)


def print_bench(screen: Console, found: Explanation, *, everything: bool) -> None:
    """Print the raw readings behind a figure; the whole working of a reading asked for."""
    if not found.bench:
        return
    printing.heading(screen, "From the bench")
    shown = list(found.bench) if everything else list(found.bench)[:SHOWN]
    for name in shown:
        _result(screen, name, found.bench[name], whole=name == found.name or everything)
    left = len(found.bench) - len(shown)
    if left:
        printing.paragraph(screen, f"{left} more were worked from raw readings (--all).", indent=2)


def _result(screen: Console, name: str, result: BenchResult, *, whole: bool) -> None:
    unit = result.method.unit
    value = number(result.value, result.uncertainty)
    text = f"{name}: {value} {unit}, u {result.uncertainty:.2g}, by {result.method.name}"
    printing.paragraph(screen, text, indent=2)
    for one in result.determinations:
        printing.paragraph(screen, _readings(one), indent=4)
        if whole:
            _working(screen, one)
    for source, part in result.shared.items():
        printing.paragraph(screen, f"shares {source}: {part:+.2g} {unit}", 4, style="dim")
    for text in (*result.repeats, *result.warnings):
        printing.paragraph(screen, f"Warning: {text}", indent=4)


def _readings(one: Determination) -> str:
    at = "" if one.time is None else f"{one.time:%H:%M} "
    parts = [
        f"{name} {reading:g} {one.worked.method.input(name).unit}"
        + (f" (from {one.worked.method.input(name).takes})" if name in one.taken else "")
        for name, reading in one.worked.inputs.items()
        if name not in one.worked.defaults
    ]
    return f"{at}{', '.join(parts)}"


def _working(screen: Console, one: Determination) -> None:
    rows = [
        [line.name, number(float(line.value), None, grouped=False), line.unit, line.source]
        for line in one.worked.steps
    ]
    columns = (Column(wrap=True), Column(align="right"), Column(wrap=True), Column(style="dim"))
    printing.table(screen, columns, rows, indent=6)


def for_json(found: Explanation) -> list[dict[str, Any]]:
    """The same for another program: analyses with their raw readings and working."""
    return [analysis_for_json(name, result) for name, result in found.bench.items()]


def analysis_for_json(name: str, result: BenchResult) -> dict[str, Any]:
    """One analysis with its raw readings and working."""
    return {
        "reading": name,
        "method": result.method.name,
        "value": result.value,
        "unit": result.method.unit,
        "own_uncertainty": result.own,
        "shared": dict(result.shared),
        "warnings": list(result.warnings),
        "determinations": [
            {
                "time": None if one.time is None else one.time.isoformat(),
                "inputs": dict(one.worked.inputs),
                "taken": list(one.taken),
                "usual": list(one.worked.defaults),
                "steps": [
                    {
                        "name": line.name,
                        "value": float(line.value),
                        "unit": line.unit,
                        "source": line.source,
                    }
                    for line in one.worked.steps
                ],
            }
            for one in result.determinations
        ],
    }
