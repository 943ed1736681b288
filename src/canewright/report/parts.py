"""Parts that several reports have in common: heads, verdicts, ledgers, figures, readings."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from canewright.account import Account, LedgerAccount, LedgerLine, ReadingLine
from canewright.account.cautions import sentences_of
from canewright.account.sentences import about_sections, headline, what_would_help, why
from canewright.engine.equations.points import Points
from canewright.figures.ledgers import UNDETERMINED
from canewright.report.citations import Citations, mark
from canewright.report.content import Cell, Column, Number, Row, Table, Text
from canewright.report.words import _, dated, several, told
from canewright.report.writing_numbers import (
    fixed,
    half_width,
    measured,
    missing,
    signed,
    significant,
    stated,
    unit_text,
)

SMALL_ROW = 0.005
"""Percentage of the base below which a row prints as nothing; such parts are left out."""
NOTABLE = 2.0
"""Standard deviations beyond which a reading is shown unasked."""
SHOWN_READINGS = 12
WEAKLY = 0.1
"""Share to which others check a reading, below which they hardly do."""


def facts(account: Account) -> tuple[str, ...]:
    """Shift, time, hours and cane, for the head of a report."""
    shift = account.shift
    found = [shift.name] if shift.name else []
    if shift.start is not None:
        end = shift.start + timedelta(hours=account.hours)
        until = (
            f"{end:%H:%M}"
            if end - shift.start < timedelta(days=1)
            else dated(end, "%d %b %Y, %H:%M")
        )
        found.append(
            _("{start} to {end}").format(start=dated(shift.start, "%d %b %Y, %H:%M"), end=until)
        )
    found.append(_("{hours} h").format(hours=f"{account.hours:g}"))
    cane = account.statements.get("cane_tonnes")
    if cane is not None:
        tonnes = measured(cane.value, cane.sd).text
        found.append(_("{tonnes} t cane crushed").format(tonnes=tonnes))
    return tuple(found)


def verdict(account: Account) -> list[Text]:
    """Does it close, what is doubtful and why, what is missing."""
    found = [Text(account.closing, _("Balance"), "finding")]
    for finding in account.suspects.findings:
        said = f"{headline(finding)}. {why(finding)}"
        found.append(Text(sentence(said), _("Doubtful"), "finding"))
    found += [
        Text(sentence(told(known.words)), _("Instrument"), "finding")
        for known in account.instruments
        if known.notable
    ]
    if account.sucrose:
        found.append(Text(sentence(account.sucrose), _("Sucrose"), "finding"))
    found += [Text(told(note), _("Note")) for note in account.notes]
    return found


def sentence(text: str) -> str:
    """A sentence of the account as it stands on paper."""
    return (text[0].upper() + text[1:]).replace("+/-", "±")


def cautions(account: Account) -> tuple[str, ...]:
    """Cautions of what the suspects ask to look at, or else who decides."""
    keys = [key for finding in account.suspects.findings for key in finding.cautions]
    general = _(
        "Sulphur dioxide, lime, lead salts, ethanol, steam and vacuum, rotating machinery, "
        "confined spaces and sugar dust: local codes and licensed practice come first. This "
        "report advises; canewright writes to no control system."
    )
    found = [told(sentence) for sentence in sentences_of(keys)[:-1]]
    return (*found, general)


def ledger_title(component: str) -> str:
    """Title of a ledger."""
    titles = {
        "sucrose": _("Where the sucrose went"),
        "solids": _("Where the solids went"),
        "fibre": _("Where the fibre went"),
        "water": _("Where the water went"),
        "steam": _("Who used the steam and vapour"),
        "heating": _("Where the vapour's heat went"),
    }
    return titles.get(component, told(component))


def ledger_table(ledger: LedgerAccount, *, parts: bool) -> Table:
    """A ledger: rows with their percentage and interval; totals of both sides."""
    unit, factor = (ledger.unit, 1.0) if ledger.unit != "MJ" else ("GJ", 1e-3)
    sucrose = ledger.component == "sucrose"
    columns = (
        Column("row", "", "text", 3.2),
        Column("amount", unit, "number"),
        Column("percent", "%", "number"),
        Column("half_width", "± 95 %, %" if sucrose else f"± 95 %, {unit}", "number"),
        Column("standing", "", "text", 1.1),
    )
    rows: list[Row] = []
    sides = (
        (_("in"), ledger.entering, ledger.total_in),
        (_("out"), ledger.leaving, ledger.total_out),
    )
    for side, lines, total in sides:
        rows.append(Row((side, *_nothing(4)), 0, "group"))
        for line in lines:
            rows += _ledger_rows(line, factor, sucrose=sucrose, level=0, parts=parts)
        percent = 100 * total / ledger.base
        cells = (_("total"), fixed(total * factor, 2), fixed(percent, 2), *_nothing(2))
        rows.append(Row(cells, 0, "total"))
    notes = [
        _("100 % is {base}.").format(base=told(ledger.base_name)) + " " + told(ledger.covers),
        _(
            "Where nothing else is said, readings carry the amount; 'assumed': the usual carries "
            "it."
        ),
    ]
    notes += [
        about_sections(line, told)
        for line in ledger.leaving
        if sucrose and line.kind == UNDETERMINED and line.parts
    ]
    return Table(
        ledger.component, ledger_title(ledger.component), columns, tuple(rows), tuple(notes)
    )


def _nothing(count: int) -> tuple[Cell, ...]:
    return (None,) * count


def _ledger_rows(
    line: LedgerLine, factor: float, *, sucrose: bool, level: int, parts: bool
) -> list[Row]:
    amount, percent = line.amount, line.percent
    half = half_width(percent.sd if sucrose else amount.sd * factor)
    standing = "" if amount.determined else _("assumed")
    if amount.one_sided in ("at least", "at most"):
        standing = _("at least") if amount.one_sided == "at least" else _("at most")
    cells: tuple[Cell, ...] = (
        told(line.name),
        fixed(amount.value * factor, 2),
        fixed(percent.value, 2),
        half,
        standing,
    )
    rows = [Row(cells, level)]
    if parts or (sucrose and line.kind == UNDETERMINED and line.told_apart):
        for part in line.parts:
            if abs(part.percent.value) >= SMALL_ROW or part.kind == UNDETERMINED:
                rows += _ledger_rows(part, factor, sucrose=sucrose, level=level + 1, parts=parts)
    return rows


def figures_table(account: Account, names: Sequence[str], cited: Citations) -> Table:
    """Figures under the headings of their groups, with the numbers of their sources."""
    figures = [account.figures[name] for name in names]
    cited.define(figures)
    columns = (
        Column("figure", "", "text", 3.4),
        Column("unit", _("unit"), "text", 1.5),
        Column("value", _("this shift"), "number", 1.2),
        Column("half_width", "± 95 %", "number", 0.9),
        Column("source", _("source"), "text", 0.7),
    )
    rows: list[Row] = []
    group = ""
    for figure in figures:
        if figure.group != group:
            group = figure.group
            rows.append(Row((told(group), *_nothing(4)), 0, "group"))
        value, half = stated(account.statements[figure.name])
        sources = mark(cited.numbers(figure.sources))
        rows.append(Row((told(figure.label), unit_text(told(figure.unit)), value, half, sources)))
    return Table(
        "figures", _("Figures"), columns, tuple(rows), empty=_("This factory gives no figures.")
    )


def helped(account: Account, names: Sequence[str]) -> list[Text]:
    """What to measure for the figures that are not determined."""
    found = []
    for name in names:
        hint = account.hints.get(name)
        if hint is not None:
            found.append(Text(sentence(what_would_help(hint)), told(account.figures[name].label)))
    return found


def notable(readings: Sequence[ReadingLine]) -> list[ReadingLine]:
    """Readings set aside first, then the furthest off."""

    def size(line: ReadingLine) -> float:
        return abs(line.adjustment_in_sd) if line.adjustment_in_sd == line.adjustment_in_sd else 0.0

    ordered = sorted(readings, key=lambda line: (not line.set_aside, -size(line)))
    far = [line for line in ordered if line.set_aside or size(line) > NOTABLE]
    return ordered[: max(SHOWN_READINGS, len(far))]


def readings_table(
    account: Account, lines: Sequence[ReadingLine], title: str, *, by_point: bool
) -> Table:
    """Readings set against what the balance makes of them."""
    owners = Points(account.estimate.model).owners
    columns = (
        Column("reading", _("point and analysis"), "text", 2.8),
        Column("unit", _("unit"), "text", 0.9),
        Column("read", _("read"), "number"),
        Column("balanced", _("balanced"), "number"),
        Column("half_width", "± 95 %", "number", 0.9),
        Column("off", _("off by, sd"), "number", 0.8),
        Column("checked", _("checked, %"), "number", 1.0),
        Column("detectable", _("would see"), "number", 0.9),
        Column("remark", "", "text", 1.4),
    )
    rows: list[Row] = []
    point = ""
    for line in lines:
        if by_point and line.point != point:
            point = line.point
            rows.append(Row((owners.get(point, point), *_nothing(8)), 0, "group"))
        place = "" if by_point else f"{owners.get(line.point, line.point)}, "
        rows.append(_reading_row(line, place + told(line.analysis.replace("_", " "))))
    notes = (
        _(
            "'off by': distance from what the other readings make it, in standard uncertainties of "
            "that distance. 'checked': how far the others check it. 'would see': the smallest bias "
            "that would be seen with 90 % probability."
        ),
    )
    return Table("readings", title, columns, tuple(rows), notes, _("There are no readings."))


def _reading_row(line: ReadingLine, name: str) -> Row:
    remark = ""
    if line.set_aside:
        remark = _("set aside")
    elif not line.checked:
        remark = _("cannot be checked")
    elif line.redundancy < WEAKLY:
        remark = _("weakly checked")
    off: Number = signed(line.adjustment_in_sd, 1) if line.checked else missing("")
    least = line.smallest_detectable_bias
    sd = line.sd if line.sd > 0 else abs(line.value) * 1e-4
    return Row(
        (
            name,
            unit_text(line.unit),
            measured(line.value, sd),
            measured(line.estimate, sd),
            half_width(line.sd),
            off,
            fixed(100 * line.redundancy, 0),
            significant(least, 2) if line.checked else missing(""),
            remark,
        ),
        0,
        "plain",
    )


def unchecked(account: Account) -> Text:
    """How many readings nothing else checks."""
    count = sum(1 for line in account.readings if not line.checked)
    if not count:
        return Text(_("Every reading is checked by others, if only weakly."), weight="small")
    return Text(
        several(
            "{count} reading of {all} is checked by nothing else.",
            "{count} readings of {all} are checked by nothing else.",
            count,
        ).format(count=count, all=len(account.readings)),
        weight="small",
    )
