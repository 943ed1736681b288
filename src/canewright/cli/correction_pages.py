"""What `canewright season --against` prints: what reads otherwise, and what moved by it."""

from __future__ import annotations

from itertools import groupby

from rich.console import Console

from canewright.account.corrections import Corrections, Moved
from canewright.account.numbers import rounded
from canewright.account.sentences import spoken
from canewright.cli import printing
from canewright.cli.printing import Column
from canewright.engine.adjusting.explain import COVERAGE

FILES = 8
READINGS = 20
FIGURES = 15
DAYS = 3


def print_corrections(screen: Console, found: Corrections) -> None:
    """Print the numbers that changed since an earlier run, and why."""
    printing.heading(screen, "Numbers that changed")
    _why(screen, found)
    by_period = {
        period: list(items) for period, items in groupby(found.moved, lambda item: item.period)
    }
    to_date = by_period.pop("", [])
    if to_date:
        _table(screen, "to date", to_date)
    elif found.same_files and not found.versions:
        printing.paragraph(screen, "No figure moved.", indent=2)
    else:
        days = " nor of the day of the correction" if found.changed and not by_period else ""
        words = f"No figure to date{days} moved by more than a twentieth of its half width (+/-)."
        printing.paragraph(screen, words, indent=2)
    for day, items in list(by_period.items())[:DAYS]:
        _table(screen, day, items)
    if len(by_period) > DAYS:
        words = f"and {len(by_period) - DAYS} more days; --json tells all."
        printing.paragraph(screen, words, indent=2)


def _why(screen: Console, found: Corrections) -> None:
    for what, files in (
        ("Read otherwise", found.changed),
        ("New", found.added),
        ("No longer there", found.gone),
    ):
        if files:
            more = f" and {len(files) - FILES} more" if len(files) > FILES else ""
            printing.paragraph(screen, f"{what}: {', '.join(files[:FILES])}{more}.", indent=2)
    if found.first:
        printing.paragraph(screen, f"Everything from {found.first} on was balanced anew.", indent=2)
    if found.versions:
        words = "The earlier run was made with canewright {}, this one with {}."
        printing.paragraph(screen, words.format(*found.versions), indent=2)
    if found.same_files:
        words = "All shifts are there and read as before."
        if found.moved:
            words += " What moved was moved by the factory file, its tables or the version."
        printing.paragraph(screen, words, indent=2)
    if not found.readings:
        return
    rows = [
        (
            item.shift,
            spoken(item.reading),
            _values(item.before),
            _values(item.after),
            "set aside" if item.set_aside else "",
        )
        for item in found.readings[:READINGS]
    ]
    columns = [Column("shift"), Column("reading", wrap=True), Column("was", "right")]
    columns += [Column("is", "right"), Column("")]
    printing.table(screen, columns, rows)
    if len(found.readings) > READINGS:
        words = f"and {len(found.readings) - READINGS} more; --json tells all."
        printing.paragraph(screen, words, indent=2)


def _values(values: tuple[float, ...]) -> str:
    if not values:
        return "none"
    shown = f"{values[0]:.7g}"
    return shown if len(values) == 1 else f"{shown} and {len(values) - 1} more"


def _table(screen: Console, period: str, moved: list[Moved]) -> None:
    rows = []
    for item in moved[:FIGURES]:
        sd = item.half_width_95 / COVERAGE
        by = rounded(item.by, sd)
        numbers = (rounded(item.before, sd), rounded(item.after, sd))
        rows.append((item.label, *numbers, by if by.startswith("-") else f"+{by}",
                     rounded(item.half_width_95, sd), item.unit))  # fmt: skip
    columns = [Column(period, wrap=True), Column("was", "right"), Column("is", "right")]
    columns += [Column("moved", "right"), Column("+/-", "right"), Column("unit")]
    printing.table(screen, columns, rows)
    if len(moved) > FIGURES:
        words = f"and {len(moved) - FIGURES} more, which moved less against their +/-; --json tells"
        printing.paragraph(screen, f"{words} all.", indent=2)
