"""Tables that only the report on a whole season has, and what was left out of it."""

from __future__ import annotations

from canewright.account.season import UNDETERMINED, SeasonAccount
from canewright.account.season_periods import Standing
from canewright.engine.explain import COVERAGE
from canewright.engine.periods import Kind
from canewright.report.content import Column, Row, Table
from canewright.report.parts import ledger_title
from canewright.report.period_parts import pair
from canewright.report.words import _, told
from canewright.report.writing_numbers import fixed, half_width, measured, missing, signed

CURVE = (1, 3, 9, 21, 45, 90, 180, 450, 900, 1800)
FURTHEST = 8


def ledger_table(account: SeasonAccount, name: str, standing: Standing) -> Table:
    """A ledger of a period or of the season to date."""
    ledger = account.ledgers[name]
    columns = (
        Column("row", "", "text", 3.2),
        Column("amount", ledger.unit, "number"),
        Column("half_width", f"± 95 %, {ledger.unit}", "number"),
        Column("percent", "%", "number"),
    )
    rows: list[Row] = []
    sides = {"in": _("in"), "out": _("out")}
    last = ""
    for row in standing.ledgers[name]:
        if row.side != last:
            rows.append(Row((sides[row.side], None, None, None), 0, "group"))
            last = row.side
        if row.amount == 0.0 and row.sd == 0.0:
            continue
        label = told(row.name)
        if not row.determined:
            rows.append(Row((label, missing(_("n.d.")), missing(""), missing(""))))
            continue
        rows.append(Row((label, fixed(row.amount, 1), half_width(row.sd), fixed(row.share, 2))))
    base = _("100 % is {base}.").format(base=told(ledger.base_name))
    notes = [f"{base} {told(ledger.covers)}"]
    if any(not row.determined for row in standing.ledgers[name]):
        notes.append(_("n.d.: not determined, for priors carry more of it than readings do."))
    period = _("to date") if standing.kind == "season" else standing.period.name
    title = _("{title}, {period}").format(title=ledger_title(name), period=period)
    return Table(name, title, columns, tuple(rows), tuple(notes))


def to_date_table(account: SeasonAccount) -> Table:
    """How the interval of the undetermined loss to date has shrunk."""
    points = account.undetermined
    columns = (
        Column("shifts", _("shifts"), "number", 0.6),
        Column("to_date", _("to date"), "number"),
        Column("half_width", "± 95 %", "number"),
        Column("independent", _("± 95 % if each shift's errors were its own"), "number", 1.8),
    )
    shown = [n for n in CURVE if n < len(points)] + ([len(points)] if points else [])
    rows = []
    for number in shown:
        point = points[number - 1]
        rows.append(
            Row(
                (
                    fixed(number, 0),
                    measured(point.value, point.sd),
                    half_width(point.sd),
                    half_width(point.independent_sd),
                )
            )
        )
    title = _("Undetermined loss to date, % of sucrose in cane")
    empty = _("The factory's readings give no undetermined loss.")
    return Table("undetermined_to_date", title, columns, tuple(rows), (), empty)


def instruments_table(account: SeasonAccount) -> Table:
    """Instruments furthest from their calibration."""
    carried, last = account.chain.carried, account.results[-1]
    biases = [i for i, kind in enumerate(carried.kinds) if kind == "bias"]
    far = sorted(biases, key=lambda i: -abs(last.carried[i]))[:FURTHEST]
    columns = (
        Column("instrument", _("instrument"), "text", 2.4),
        Column("bias", _("off by, standard uncertainties"), "number"),
        Column("half_width", "± 95 %", "number"),
    )
    rows = tuple(
        Row(
            (
                carried.names[i],
                signed(float(last.carried[i]), 1),
                fixed(COVERAGE * float(last.carried_sd[i]), 1),
            )
        )
        for i in far
    )
    title = _("Instruments furthest from their calibration")
    return Table("biases", title, columns, rows, (), _("The factory file names no instruments."))


def periods_table(account: SeasonAccount, kind: Kind) -> Table:
    """The undetermined loss by week."""
    rows = []
    for period, figures in account.periods(kind):
        loss = next((figure for figure in figures if figure.name == UNDETERMINED), None)
        count = sum(period.first <= r.number <= period.last for r in account.results)
        rows.append(Row((period.name, fixed(count, 0), *pair(loss))))
    columns = (
        Column("period", _("week"), "text", 2.0),
        Column("shifts", _("shifts"), "number"),
        Column("undetermined", _("undetermined, % of sucrose in cane"), "number", 2.0),
        Column("half_width", "± 95 %", "number"),
    )
    return Table("weeks", _("By week"), columns, tuple(rows), (), _("No week."))


def left_table(account: SeasonAccount) -> Table:
    """Files and shifts that were left out, and why."""
    told_files = [
        (item.file.rpartition("/")[2], " ".join(item.sentences)) for item in account.files.left
    ]
    told_files += [
        (name, _("It could not be balanced: {why}").format(why=why))
        for name, why in account.skipped
    ]
    columns = (
        Column("file", _("file or shift"), "text", 1.4),
        Column("why", _("why"), "text", 4.0),
    )
    notes = (*account.files.notes, *account.notes)
    rows = tuple(Row(pair) for pair in told_files)
    return Table("left_out", _("Left out"), columns, rows, notes, _("Nothing."))
