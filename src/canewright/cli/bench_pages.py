"""The laboratory's part of a balance, and of `explain` down to rotation and thermometer."""

from __future__ import annotations

from typing import Any

from rich.console import Console

from canewright.account import Account
from canewright.account.explanation import Explanation
from canewright.cli import printing
from canewright.cli.printing import Column, number
from canewright.laboratory.bench import BenchResult, Determination

SHOWN = 6
"""Analyses whose raw readings are printed unless everything is asked for."""


REMARKED = 8
"""Remarks printed unless everything is asked for."""


def print_remarks(screen: Console, account: Account, *, everything: bool) -> None:
    """Print what is to be looked at in the analyses, and instruments that are in control."""
    true = [known for known in account.instruments if not known.notable]
    if not account.remarks and not (everything and true):
        return
    printing.heading(screen, "From the laboratory")
    shown = account.remarks if everything else account.remarks[:REMARKED]
    for remark in shown:
        printing.paragraph(screen, remark.words, indent=2)
    if len(shown) < len(account.remarks):
        left = len(account.remarks) - len(shown)
        printing.paragraph(screen, f"{left} more (--all).", indent=2)
    for known in true if everything else ():
        printing.paragraph(screen, known.words, indent=2)


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
        result = found.bench[name]
        unit = result.method.unit
        value = number(result.value, result.uncertainty)
        text = f"{name}: {value} {unit}, u {result.uncertainty:.2g}, by {result.method.name}"
        printing.paragraph(screen, text, indent=2)
        for one in result.determinations:
            printing.paragraph(screen, _readings(one), indent=4)
            if name == found.name or everything:
                _working(screen, one)
        for source, part in result.shared.items():
            printing.paragraph(screen, f"shares {source}: {part:+.2g} {unit}", 4, style="dim")
        for text in result.warnings:
            printing.paragraph(screen, f"Warning: {text}", indent=4)
    left = len(found.bench) - len(shown)
    if left:
        printing.paragraph(screen, f"{left} more were worked from raw readings (--all).", indent=2)


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
    return [_analysis(name, result) for name, result in found.bench.items()]


def _analysis(name: str, result: BenchResult) -> dict[str, Any]:
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
