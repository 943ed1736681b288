"""What `canewright station` prints, and the handbook's page of stations."""

from collections.abc import Sequence
from itertools import groupby

from rich.console import Console

from canewright.cli import printing
from canewright.cli.printing import Column
from canewright.cli.station_facts import (
    ROLE_NOTES,
    ROLES,
    Facts,
    example,
    port_notes,
    takes,
)
from canewright.model import Quantity

CAUTION = "Local codes and licensed practice decide; advice here defers to them."
WIDE = 110
"""Columns from which the hard limits and the source of a range have columns of their own."""


def print_list(screen: Console, found: Sequence[Facts]) -> None:
    """Print kinds of station by section, one line each."""
    printing.paragraph(
        screen, f"{len(found)} kind{'s' if len(found) != 1 else ''} of station", style="bold"
    )
    widest = max(len(facts.kind) for facts in found)
    columns = (Column(narrowest=widest), Column(wrap=True))
    for section, members in groupby(found, key=lambda facts: facts.section):
        printing.heading(screen, section)
        printing.table(screen, columns, [[facts.kind, facts.summary] for facts in members])
    printing.emit(screen, "")
    printing.paragraph(screen, "One of them in full: canewright station KIND")


def print_page(screen: Console, facts: Facts) -> None:
    """Print everything about one kind of station."""
    printing.paragraph(screen, f"{facts.kind}   [{facts.section}]", style="bold")
    for paragraph in facts.text:
        printing.paragraph(screen, paragraph)
        printing.emit(screen, "")
    printing.paragraph(screen, facts.assumes)
    _print_ports(screen, facts)
    _print_quantities(screen, facts)
    if facts.stocks:
        printing.heading(screen, "Holds stock")
        printing.paragraph(screen, ", ".join(facts.stocks.values()), indent=2)
    if facts.balances or facts.equations:
        printing.heading(screen, "Equations, as reports name them")
        if facts.balances:
            printing.paragraph(screen, f"balances: {', '.join(facts.balances)}", indent=2)
        if facts.equations:
            printing.paragraph(screen, f"and: {', '.join(facts.equations)}", indent=2)
    if facts.sources:
        printing.heading(screen, "Sources")
        printing.paragraph(screen, facts.sources, indent=2)
    if facts.cautions:
        printing.heading(screen, "Cautions")
        printing.paragraph(screen, f"{', '.join(facts.cautions)}. {CAUTION}", indent=2)
    if not facts.train:
        printing.heading(screen, "In the factory file")
        printing.verbatim(screen, example(facts), indent=2)


def _print_ports(screen: Console, facts: Facts) -> None:
    if not facts.ports:
        return
    printing.heading(screen, "Ports")
    rows = [
        [name, port.direction, takes(port), port_notes(port)] for name, port in facts.ports.items()
    ]
    columns = (Column(), Column(), Column("stream", wrap=True), Column("", wrap=True))
    printing.table(screen, columns, rows)
    for line in draws(facts):
        printing.paragraph(screen, line, indent=2)


def draws(facts: Facts) -> list[str]:
    """Sentences on what the station takes as needed, and what it leaves to others."""
    lines = []
    if facts.demands:
        lines.append(f"It takes what it needs of: {', '.join(facts.demands)}.")
    if facts.supplies:
        lines.append(f"It leaves to those who draw: {', '.join(facts.supplies)}.")
    return lines


def _print_quantities(screen: Console, facts: Facts) -> None:
    if not facts.quantities:
        return
    printing.heading(screen, "Quantities")
    wide = screen.width >= WIDE
    columns = [Column(), Column("what", wrap=True), Column("usual"), Column("is")]
    if wide:
        columns += [Column("limits"), Column("usual by", wrap=True)]
    width = min(max(len(name) for name in facts.quantities), screen.width // 4)
    rows = []
    for name, quantity in facts.quantities.items():
        row = [
            printing.folded(name, width),
            quantity.label,
            f"{span(quantity.typical)} {unit_of(quantity)}".rstrip(),
            ROLES[quantity.role],
        ]
        rows.append([*row, span(quantity.bounds), quantity.source] if wide else row)
    printing.table(screen, columns, rows)
    printing.paragraph(screen, ROLE_NOTES, indent=2)
    for name, quantity in facts.quantities.items():
        if quantity.why:
            printing.paragraph(screen, f"{name}: {quantity.why}", indent=2)


def span(ends: tuple[float, float]) -> str:
    """A range in words."""
    return f"{ends[0]:g} to {ends[1]:g}"


def unit_of(quantity: Quantity) -> str:
    """Unit as printed: nothing for a pure number."""
    return "" if quantity.unit in {"1", "-", "ratio"} else quantity.unit


def page(found: Sequence[Facts]) -> str:
    """The handbook's page of stations, in Markdown."""
    lines = [
        "# Stations",
        "",
        "Made from the declarations by `canewright docs`; not to be edited.",
        "",
        ROLE_NOTES,
        "",
        f"Where a station names cautions: {CAUTION}",
        "",
    ]
    for section, members in groupby(found, key=lambda facts: facts.section):
        lines += [f"## {section}", ""]
        for facts in members:
            lines += _section(facts)
    return "\n".join(lines)


def _section(facts: Facts) -> list[str]:
    lines = [f"### {facts.kind}", ""]
    for paragraph in (*facts.text, facts.assumes):
        if paragraph:
            lines += [paragraph, ""]
    if facts.ports:
        lines += ["| port | | stream | |", "| --- | --- | --- | --- |"]
        lines += [
            f"| `{name}` | {port.direction} | {takes(port)} | {port_notes(port)} |"
            for name, port in facts.ports.items()
        ]
        lines.append("")
        for line in draws(facts):
            lines += [line, ""]
    if facts.quantities:
        lines += ["| quantity | what | unit | is | usual | limits | source |"]
        lines += ["| --- | --- | --- | --- | --- | --- | --- |"]
        lines += [
            f"| `{name}` | {_label(quantity)} | {quantity.unit} | {ROLES[quantity.role]} "
            f"| {span(quantity.typical)} | {span(quantity.bounds)} "
            f"| [{quantity.source}](sources.md#{quantity.source}) |"
            for name, quantity in facts.quantities.items()
        ]
        lines.append("")
    if facts.stocks:
        lines += [f"Holds: {', '.join(facts.stocks.values())}.", ""]
    if facts.balances:
        lines += [f"Balances: {', '.join(facts.balances)}.", ""]
    if facts.equations:
        lines += [f"Equations: {', '.join(facts.equations)}.", ""]
    lines += [f"Sources: {facts.sources}", ""]
    if facts.cautions:
        lines += [f"Cautions: {', '.join(facts.cautions)}.", ""]
    return lines


def _label(quantity: Quantity) -> str:
    return f"{quantity.label}. {quantity.why}" if quantity.why else quantity.label
