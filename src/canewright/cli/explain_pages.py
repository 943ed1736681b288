"""What `canewright explain` prints."""

from __future__ import annotations

from typing import Any

from rich.console import Console

from canewright.account import Account
from canewright.account.explanation import Explanation
from canewright.account.sentences import what_would_help
from canewright.cli import bench_pages, printing
from canewright.cli.printing import Column, number
from canewright.engine.adjusting.explain import Contribution

SHOWN = 16
"""Contributions printed unless everything is asked for."""
SHOWN_NAMES = 24
"""Variables and equations listed before the rest is only counted."""


def print_explanation(
    screen: Console, account: Account, found: Explanation, *, everything: bool
) -> None:
    """Print where a figure comes from."""
    known = found.statement
    printing.paragraph(screen, f"{found.label} ({found.name})", style="bold")
    low, high = known.interval
    value = f"{number(known.value, known.sd)} {found.unit}"
    side = f"{known.one_sided} " if known.one_sided in ("at least", "at most") else ""
    printing.paragraph(
        screen,
        f"{side}{value}, 95 % interval {number(low, known.sd)} to {number(high, known.sd)}",
        indent=2,
    )
    if not known.determined:
        share = f"{100 * known.prior_share:.0f} %"
        text = f"Not determined: {share} of its variance comes from what is usual, not readings."
        if found.hint is not None:
            text += f" {what_would_help(found.hint)}"
        printing.paragraph(screen, text, indent=2)
    printing.paragraph(screen, found.definition, indent=2)
    _contributions(screen, found, everything=everything)
    bench_pages.print_instruments(screen, found)
    bench_pages.print_bench(screen, found, everything=everything)
    _origin(screen, found)
    invented = "Invented data. " if account.factory.invented else ""
    printing.emit(screen, "")
    printing.paragraph(screen, f"{invented}Advice defers to local codes and licensed practice.")


def _contributions(screen: Console, found: Explanation, *, everything: bool) -> None:
    parts = found.contributions if everything else found.contributions[:SHOWN]
    printing.heading(screen, "What it rests on")
    columns = [
        Column("", wrap=True, narrowest=30),
        Column("read", "right"),
        Column("unit", wrap=True),
        Column("per unit", "right"),
        Column("moves it", "right"),
        Column("share", "right"),
    ]
    printing.table(screen, columns, [_row(part) for part in parts])
    left = len(found.contributions) - len(parts)
    words = (
        "'per unit' is the change of the figure per unit of the reading, 'moves it' per standard "
        "uncertainty, 'share' that of the figure's variance."
    )
    if left:
        words += f" {left} smaller ones are left out (--all)."
    printing.paragraph(screen, words, indent=2)


def _row(part: Contribution) -> tuple[str, ...]:
    read = "-" if part.kind == "calibration" else f"{part.value:.5g}"
    unit = "" if part.kind == "calibration" else part.unit
    return (
        part.name,
        read,
        unit,
        "" if part.kind == "calibration" else f"{part.sensitivity:+.3g}",
        f"{part.moves:+.2g}",
        f"{100 * part.share:.1f} %",
    )


def _origin(screen: Console, found: Explanation) -> None:
    printing.heading(screen, "Where it comes from")
    if found.formula is not None:
        printing.paragraph(screen, f"Formula {found.formula.name}:", indent=2)
        printing.verbatim(screen, found.formula.equation, indent=4)
    for source in found.sources:
        known = "" if source.known == "read" else f" ({source.known})"
        printing.paragraph(screen, f"Source [{source.key}]{known}: {source.text}", indent=2)
    for title, names in (("Made of", found.made_of), ("Equations", found.equations)):
        if names:
            listed = ", ".join(names[:SHOWN_NAMES])
            more = f" and {len(names) - SHOWN_NAMES} more" if len(names) > SHOWN_NAMES else ""
            printing.paragraph(screen, f"{title}: {listed}{more}.", indent=2)


def for_json(found: Explanation) -> dict[str, Any]:
    """The explanation with stable keys."""
    known = found.statement
    return {
        "figure": found.name,
        "label": found.label,
        "value": known.value,
        "unit": found.unit,
        "interval": list(known.interval),
        "determined": known.determined,
        "prior_share": known.prior_share,
        "definition": found.definition,
        "formula": found.formula.name if found.formula else "",
        "equation": found.formula.equation if found.formula else "",
        "sources": [source.key for source in found.sources],
        "contributions": [
            {
                "name": part.name,
                "kind": part.kind,
                "value": part.value,
                "unit": part.unit,
                "sensitivity": part.sensitivity,
                "share": part.share,
                "moves": part.moves,
            }
            for part in found.contributions
        ],
        "made_of": found.made_of,
        "equations": found.equations,
        "instruments": [
            {"instrument": known.instrument, "words": known.words} for known in found.instruments
        ],
        "raw_readings": bench_pages.for_json(found),
        "what_to_measure": None
        if found.hint is None
        else {"point": found.hint.point, "analysis": found.hint.analysis, "sd": found.hint.sd},
    }
