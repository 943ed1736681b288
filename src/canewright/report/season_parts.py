"""Tables that only the report on a whole season has, and what was left out of it."""

from __future__ import annotations

from canewright.account.held import held_in
from canewright.account.season import UNDETERMINED, SeasonAccount, gamma_per_degree
from canewright.account.season_periods import Standing
from canewright.engine.adjusting.explain import COVERAGE
from canewright.engine.chain.periods import Kind
from canewright.report.content import Column, Row, Table
from canewright.report.parts import ledger_title
from canewright.report.period_parts import SHIFT_FIGURES, pair
from canewright.report.words import _, told
from canewright.report.writing_numbers import (
    fixed,
    half_width,
    measured,
    missing,
    signed,
    unit_text,
)

CURVE = (1, 3, 9, 21, 45, 90, 180, 450, 900, 1800)
FURTHEST = 8
PERFORMANCE = 8
"""Parameters shown at least, the furthest from their history."""


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
        amount = measured(row.amount, row.sd), half_width(row.sd)
        rows.append(Row((label, *amount, fixed(row.share, 2))))
    base = _("100 % is {base}.").format(base=told(ledger.base_name))
    notes = [f"{base} {told(ledger.covers)}"]
    if any(not row.determined for row in standing.ledgers[name]):
        notes.append(_("n.d.: not determined, for priors carry more of it than readings do."))
    period = _("to date") if standing.kind == "season" else told(standing.period.name)
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
                told(carried.names[i]),
                signed(float(last.carried[i]), 1),
                fixed(COVERAGE * float(last.carried_sd[i]), 1),
            )
        )
        for i in far
    )
    title = _("Instruments furthest from their calibration")
    return Table("biases", title, columns, rows, (), _("The factory file names no instruments."))


def performance_table(account: SeasonAccount, standing: Standing) -> Table:
    """Each station's performance against its own history: what moved, and the next furthest."""
    found = account.histories(standing)
    moved = [history for history in found if history.moved]
    shown = found[: max(len(moved), PERFORMANCE)]
    columns = (
        Column("parameter", _("station and parameter"), "text", 3.4),
        Column("unit", _("unit"), "text", 1.2),
        Column("before", _("before"), "number"),
        Column("low", _("limits, from"), "number"),
        Column("high", _("to"), "number"),
        Column("now", _("now"), "number"),
        Column("remark", "", "text", 1.9),
    )
    rows = []
    for history in shown:
        sd = abs(history.high - history.mean) / COVERAGE
        numbers = (history.mean, history.low, history.high, history.now)
        remark = _("outside; this side since {shift}").format(shift=history.since)
        rows.append(
            Row(
                (
                    _parameter(history.label),
                    unit_text(told(history.unit)),
                    *(measured(value, sd) for value in numbers),
                    remark if history.moved else "",
                )
            )
        )
    notes = []
    if found:
        notes.append(
            _(
                "{moved} of {all} parameters that readings determine left the limits of their "
                "history: the mean of the shifts before, with limits for the mean of the period "
                "that allow for the spread of shifts, their memory, and the number looked at."
            ).format(moved=len(moved), all=len(found))
        )
    title = _("Performance against its own history")
    empty = _("Too few shifts before the period for a history.")
    return Table("performance", title, columns, tuple(rows), tuple(notes), empty)


def _parameter(label: str) -> str:
    """A parameter after the station whose it is, which keeps its name."""
    station, parted, name = label.partition(", ")
    return f"{station}{parted}{told(name)}" if name else told(label)


def periods_table(account: SeasonAccount, kind: Kind) -> Table:
    """The chief figures of each day, week, fortnight or month."""
    of_shift = account.figures_of_shift
    chosen = [name for name in SHIFT_FIGURES if name in of_shift]
    heads = {
        "day": _("day"), "week": _("week"), "fortnight": _("fortnight"), "month": _("month"),
    }  # fmt: skip
    columns = [Column("period", heads[kind], "text", 1.8), Column("shifts", _("shifts"), "number")]
    for name in chosen:
        figure = of_shift[name]
        heading = f"{told(figure.label)}, {unit_text(told(figure.unit))}"
        columns.append(Column(name, heading, "number", 1.3))
    columns += [
        Column("half_width", "± 95 %", "number", 0.9),
        Column("fit", _("chi-square per degree"), "number", 0.9),
    ]
    rows = []
    for standing in account.standings(kind):
        results = account.within(standing.period)
        cells = [pair(standing.figure(name)) for name in chosen]
        half = cells[-1][1] if UNDETERMINED in chosen else missing("")
        fit = fixed(gamma_per_degree(results), 2)
        numbers = (fixed(len(results), 0), *(value for value, _half in cells), half, fit)
        rows.append(Row((told(standing.period.name), *numbers)))
    titles = {
        "day": _("By day"), "week": _("By week"), "fortnight": _("By fortnight"),
        "month": _("By month"),
    }  # fmt: skip
    notes = (_("± 95 % is that of the undetermined loss."),)
    return Table(f"{kind}s", titles[kind], tuple(columns), tuple(rows), notes, _("None."))


def left_table(account: SeasonAccount) -> Table:
    """Files and shifts that were left out, and why."""
    told_files = [
        (item.file.rpartition("/")[2], told(" ".join(item.sentences)))
        for item in account.files.left
    ]
    told_files += [
        (name, _("It could not be balanced: {why}").format(why=told(why)))
        for name, why in account.skipped
    ]
    columns = (
        Column("file", _("file or shift"), "text", 1.4),
        Column("why", _("why"), "text", 4.0),
    )
    held = held_in(account.chain.reconciler, account.results)
    notes = (
        *map(told, account.files.notes),
        *(jump.sentence for jump in account.jumps),
        *(one.sentence for one in held),
    )
    rows = tuple(Row(pair) for pair in told_files)
    return Table("left_out", _("Left out"), columns, rows, notes, _("Nothing."))
