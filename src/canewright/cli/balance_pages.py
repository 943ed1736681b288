"""What `canewright balance` prints: the finding first, then the account, then the detail."""

from __future__ import annotations

from datetime import timedelta

from rich.console import Console

from canewright.account import Account, LedgerAccount, LedgerLine, ReadingLine
from canewright.account.sentences import about_sections, headline, what_would_help, why
from canewright.cli import bench_pages, printing
from canewright.cli.printing import Column, number
from canewright.engine.adjusting.explain import COVERAGE, Statement
from canewright.figures.ledgers import UNDETERMINED

WIDE = 100
"""Columns from which every number is followed by what it needs to be understood."""
LABEL = 12
SMALL_ROW = 0.05
"""Rows below this percentage (but for sucrose) are left out unless everything is asked for."""
NOTABLE = 2.0
"""Readings further off than this many standard deviations are shown unasked."""
SHOWN_READINGS = 14
NOT_DETERMINED = "not determined"
ASSUMED = "assumed"
"""Beside an amount that what is usual carries rather than readings."""


def print_account(screen: Console, account: Account, *, everything: bool) -> None:
    """Print the account of a shift, without its stations."""
    _head(screen, account)
    _verdict(screen, account)
    for name in ("sucrose", "solids", "fibre", "water", "steam", "heating"):
        if name in account.ledgers:
            _ledger(screen, account.ledgers[name], everything=everything)
    _figures(screen, account, everything=everything)
    _readings(screen, account, everything=everything)
    bench_pages.print_laboratory(screen, account, everything=everything)


def _head(screen: Console, account: Account) -> None:
    printing.paragraph(screen, account.factory.name, style="bold")
    shift = account.shift
    parts = [shift.name] if shift.name else []
    if shift.start is not None:
        end = shift.start + timedelta(hours=account.hours)
        parts.append(f"{shift.start:%d %b %Y, %H:%M} to {end:%H:%M}")
    parts.append(f"{account.hours:g} h")
    cane = account.statements.get("cane_tonnes")
    if cane is not None:
        parts.append(f"{number(cane.value, cane.sd)} t cane crushed")
    printing.paragraph(screen, ", ".join(parts))


def _labelled(screen: Console, label: str, text: str) -> None:
    """A paragraph with its label in the margin."""
    columns = [Column(narrowest=LABEL - 2, widest=LABEL - 2), Column(wrap=True)]
    printing.table(screen, columns, [(label, text)])


def _verdict(screen: Console, account: Account) -> None:
    printing.emit(screen, "")
    _labelled(screen, "Balance", account.closing)
    for finding in account.suspects.findings:
        _labelled(screen, "Doubtful", f"{headline(finding)}. {why(finding)}")
        if finding.cautions:
            cautions = ", ".join(finding.cautions)
            _labelled(
                screen,
                "",
                f"Caution: {cautions}. Follow local codes and licensed practice.",
            )
    for known in account.instruments:
        if known.notable:
            _labelled(screen, "Instrument", known.words)
    if account.sucrose:
        _labelled(screen, "Sucrose", account.sucrose[0].upper() + account.sucrose[1:])


def _ledger(screen: Console, ledger: LedgerAccount, *, everything: bool) -> None:
    titles = {"steam": "Who used the steam and vapour", "heating": "Where the vapour's heat went"}
    title = titles.get(ledger.component, f"Where the {ledger.component} went")
    printing.heading(screen, title)
    unit, factor = (ledger.unit, 1.0) if ledger.unit != "MJ" else ("GJ", 1e-3)
    sucrose = ledger.component == "sucrose"
    columns = [
        Column("", narrowest=34),
        Column(unit, "right"),
        Column("%", "right"),
        Column("+/- 95 %, %" if sucrose else f"+/- 95 %, {unit}", "right"),
        Column(""),
    ]
    rows: list[tuple[str, ...]] = []
    for lines, total in ((ledger.entering, ledger.total_in), (ledger.leaving, ledger.total_out)):
        for line in lines:
            small = abs(line.percent.value) < SMALL_ROW and not sucrose
            if everything or not small:
                rows += _ledger_rows(line, factor, sucrose, 0, everything=everything)
        percent = 100 * total / ledger.base
        rows.append(("total", f"{total * factor:,.2f}".replace(",", " "), f"{percent:.2f}", "", ""))
        if lines is ledger.entering:
            rows.append(("", "", "", "", ""))
    printing.table(screen, columns, rows)
    assumed = any(row[-1] == ASSUMED for row in rows)
    words = f" '{ASSUMED}': by what is usual more than by readings." if assumed and sucrose else ""
    printing.paragraph(screen, f"100 % is {ledger.base_name}. {ledger.covers}{words}", indent=2)
    if sucrose:
        for line in ledger.leaving:
            if line.kind == UNDETERMINED and line.parts:
                printing.paragraph(screen, about_sections(line), indent=2)


def _ledger_rows(
    line: LedgerLine, factor: float, sucrose: bool, depth: int, *, everything: bool
) -> list[tuple[str, ...]]:
    amount, percent = line.amount, line.percent
    half = COVERAGE * (percent.sd if sucrose else amount.sd * factor)
    name = line.name if depth == 0 else f"{'  ' * depth}{line.name}"
    rows: list[tuple[str, ...]] = [
        (
            name,
            _amount(amount, factor),
            f"{percent.value:.2f}",
            number(half, half / COVERAGE) if half > 0 else "",
            _standing(amount),
        )
    ]
    if everything or (sucrose and line.kind == UNDETERMINED and line.told_apart):
        for part in line.parts:
            rows += _ledger_rows(part, factor, sucrose, depth + 1, everything=everything)
    return rows


def _amount(amount: Statement, factor: float) -> str:
    text = f"{amount.value * factor:,.2f}".replace(",", " ")
    return text.replace("-", "") if not text.strip("-0. ") else text


def _standing(known: Statement) -> str:
    if known.one_sided in ("at least", "at most"):
        return known.one_sided
    return "" if known.determined else ASSUMED


def _figures(screen: Console, account: Account, *, everything: bool) -> None:
    wide = screen.width >= WIDE
    names = list(account.figures) if everything else account.shown
    columns = [
        Column("", wrap=True, narrowest=30),
        Column("", widest=24, wrap=True),
        Column("this shift", "right"),
        Column("+/- 95 %", "right"),
    ]
    if wide:
        columns.append(Column("formula", wrap=True))
    group = ""
    rows: list[tuple[str, ...]] = []
    helped: list[str] = []
    printing.heading(screen, "Figures")
    for name in names:
        figure, known = account.figures[name], account.statements[name]
        if figure.group != group:
            group = figure.group
            rows.append((group.upper(), *("" for _ in columns[1:])))
        row = [figure.label, figure.unit, *_figure_numbers(known)]
        if wide:
            row.append(figure.formula.split(".")[-1].replace("_", " "))
        rows.append(tuple(row))
        hint = account.hints.get(name)
        if hint is not None:
            helped.append(f"{figure.label}: {what_would_help(hint)}")
    printing.table(screen, columns, rows)
    if helped:
        printing.emit(screen, "")
        printing.paragraph(screen, "What would settle what is not determined", indent=2)
        for sentence in helped:
            printing.paragraph(screen, sentence, indent=4)


def _figure_numbers(known: Statement) -> tuple[str, str]:
    if not known.determined:
        return NOT_DETERMINED, ""
    half = COVERAGE * known.sd
    value = number(known.value, known.sd)
    if known.one_sided in ("at least", "at most"):
        value = f"{known.one_sided} {value}"
    return value, number(half, known.sd)


def _readings(screen: Console, account: Account, *, everything: bool) -> None:
    lines = account.readings if everything else _notable(account.readings)
    if everything:
        title = f"Readings set against their neighbours (all {len(lines)})"
    else:
        title = (
            f"Readings set against their neighbours ({len(lines)} of "
            f"{len(account.readings)} shown; --all for the rest)"
        )
    printing.heading(screen, title)
    wide = screen.width >= WIDE
    columns = [
        Column("point and analysis", wrap=True),
        Column("read", "right"),
        Column("should be", "right"),
        Column("off by", "right"),
        Column("checked", "right"),
        Column("would see", "right"),
    ]
    if wide:
        columns += [Column("unit"), Column("", wrap=True)]
    printing.table(screen, columns, [_reading_row(line, wide) for line in lines])
    unchecked = sum(1 for line in account.readings if not line.checked)
    words = (
        "'off by' in standard deviations; 'checked' is how far the others check the reading; "
        "'would see' is the smallest error that would be seen with 90 % probability, in the "
        "reading's unit."
    )
    printing.paragraph(screen, words, indent=2)
    if unchecked and not everything:
        what = "1 reading is" if unchecked == 1 else f"{unchecked} readings are"
        printing.paragraph(screen, f"{what} checked by nothing else.", indent=2)


def _notable(readings: list[ReadingLine]) -> list[ReadingLine]:
    """Set aside first, then the furthest off."""

    def size(line: ReadingLine) -> float:
        return abs(line.adjustment_in_sd) if line.adjustment_in_sd == line.adjustment_in_sd else 0.0

    ordered = sorted(readings, key=lambda line: (not line.set_aside, -size(line)))
    notable = [line for line in ordered if line.set_aside or size(line) > NOTABLE]
    return ordered[: max(SHOWN_READINGS, len(notable))]


def _reading_row(line: ReadingLine, wide: bool) -> tuple[str, ...]:
    sd = line.sd if line.sd > 0 else abs(line.value) * 1e-4
    off = f"{line.adjustment_in_sd:+.1f}" if line.checked else "-"
    smallest = line.smallest_detectable_bias
    cells = [
        line.name if wide or not line.set_aside else f"{line.name}, set aside",
        number(line.value, sd),
        number(line.estimate, sd),
        off,
        f"{100 * line.redundancy:.0f} %",
        number(smallest, smallest) if line.checked else "-",
    ]
    if wide:
        remark = "" if line.checked else "cannot be checked"
        cells += [line.unit, "<- set aside" if line.set_aside else remark]
    return tuple(cells)


def print_stations(screen: Console, account: Account) -> None:
    """Both sides of every equation of every station, as they came out."""
    model, clean = account.estimate.model, account.estimate
    sides = [s for e in model.all_equations for s in (e.equation.left, e.equation.right)]
    values, _ = clean.evaluate(sides)
    station = ""
    rows: list[tuple[str, ...]] = []
    columns = [
        Column("equation", wrap=True, narrowest=30),
        Column("left", "right"),
        Column("right", "right"),
    ]
    for k, placed in enumerate(model.all_equations):
        if placed.station != station:
            if rows:
                printing.table(screen, columns, rows)
            station, rows = placed.station, []
            printing.heading(screen, station)
        left, right = float(values[2 * k]), float(values[2 * k + 1])
        rows.append((placed.equation.name, number(left), number(right)))
    printing.table(screen, columns, rows)
    printing.paragraph(screen, "Balances in t/h (power kW, traces kg/h, heat MJ/h).", indent=2)


def print_next(
    screen: Console, account: Account, factory: str, readings: str, *, demo: bool
) -> None:
    """What to do next, and what the numbers are worth."""
    printing.emit(screen, "")
    figure = next(
        (name for name in ("undetermined_loss", "sucrose_extraction") if name in account.figures),
        next(iter(account.figures), ""),
    )
    if demo:
        printing.paragraph(screen, "Keep the files to play with:  canewright demo --write demo")
        factory, readings = "demo/factory.toml", "demo/readings.csv"
    if figure:
        printing.verbatim(
            screen, f"Explain a figure:  canewright explain {factory} {readings} {figure}"
        )
    printing.verbatim(screen, f"Everything:        canewright balance {factory} {readings} --all")
    invented = "Invented data. " if account.factory.invented else ""
    printing.paragraph(
        screen,
        f"{invented}Advice defers to local codes and licensed practice "
        f"(sulphur dioxide, lime, lead salts, steam and vacuum, machinery, confined spaces, dust).",
    )
