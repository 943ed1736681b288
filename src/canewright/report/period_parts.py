"""Parts of the reports on a period: findings, figures, shifts, trends, what was left out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from canewright.account.season import UNDETERMINED, SeasonAccount
from canewright.account.season_checks import late_at_the_end
from canewright.account.season_periods import Standing
from canewright.engine.adjusting.explain import COVERAGE
from canewright.engine.chain.chain_parts import ShiftResult
from canewright.engine.chain.comparison import Change
from canewright.engine.chain.setting_aside import SetAside
from canewright.engine.chain.watch import Call
from canewright.figures.to_date import CHIEF, HOURS, PeriodFigure
from canewright.report.citations import Citations, mark
from canewright.report.content import Cell, Column, Number, Row, Table, Text
from canewright.report.words import _, dated, told
from canewright.report.writing_numbers import (
    fixed,
    half_width,
    measured,
    missing,
    moment,
    signed,
    unit_text,
    written,
)

SHIFT_FIGURES = (
    "cane_tonnes",
    "sucrose_extraction",
    "boiling_house_recovery",
    "overall_recovery",
    UNDETERMINED,
)
BASE = "sucrose: base"
FLOORS = 3
PRINT = 12
"""Digits of a shift's fingerprint that are written beside it."""


def cautions() -> tuple[str, ...]:
    """Who decides, on a report that gives no advice on one station."""
    return (
        _(
            "Sulphur dioxide, lime, lead salts, ethanol, steam and vacuum, rotating machinery, "
            "confined spaces and sugar dust: local codes and licensed practice come first. This "
            "report advises; canewright writes to no control system."
        ),
    )


def loss_text(figure: PeriodFigure | None, label: str) -> list[Text]:
    """The undetermined loss of a period, and whether that is a finding."""
    if figure is None:
        return []
    half = COVERAGE * figure.sd
    low, high = figure.value - half, figure.value + half
    if low > 0:
        finding = _("Distinguishable from zero: lost.")
    elif high < 0:
        finding = _("Less went in than came out: look at the scales first.")
    else:
        finding = _("It may be nothing: zero lies inside.")
    text = _("Undetermined {value} ± {half} {unit}. {finding}").format(
        value=measured(figure.value, figure.sd).text,
        half=half_width(figure.sd).text,
        unit=told(figure.unit),
        finding=finding,
    )
    return [Text(text, label, "finding")]


def floor_texts(account: SeasonAccount) -> list[Text]:
    """Beside the interval to date, the naive one, and the instruments that set its floor."""
    figure = account.figure(UNDETERMINED)
    if figure is None or not account.undetermined:
        return []
    naive = account.undetermined[-1].independent_sd
    found = [
        Text(
            _(
                "Added up as if each shift's errors were its own it would read ± {half}, which it "
                "is not."
            ).format(half=half_width(naive).text),
            _("Naive sum"),
        )
    ]
    floors = [floor for floor in account.floor() if floor.share > 0.01][:FLOORS]
    if floors:
        listed = ", ".join(
            f"{told(floor.instrument)} ({100 * floor.share:.0f} %)" for floor in floors
        )
        text = _(
            "Calibrations that more shifts will not average out, by their part of its variance: "
            "{listed}. Calibrating the {first} would bring it to ± {half}."
        ).format(
            listed=listed,
            first=told(floors[0].instrument),
            half=half_width(floors[0].without).text,
        )
        found.append(Text(text, _("Floor"), "finding"))
    return found


def call_texts(account: SeasonAccount) -> list[Text]:
    """Instruments that stepped or drifted, and those past their due date."""
    found = [Text(_called(account, call), _("Drift"), "finding") for call in account.calls]
    for late in late_at_the_end(account.factory, account.files.starts()):
        text = _("The {instrument} was due for calibration on {day}, {late} before the last shift.")
        words = text.format(
            instrument=told(late.instrument),
            day=dated(late.due, "%d %b %Y"),
            late=told(late.days_in_words),
        )
        found.append(Text(words, _("Overdue"), "finding"))
    return found


def _called(account: SeasonAccount, call: Call) -> str:
    words = {
        "instrument": told(call.instrument),
        "start": _start(account, call),
        "seen": account.named(call.called),
        "due": account.named(min(call.due, len(account.files.shifts) - 1)),
    }
    words["size"] = signed(call.size, 1).text
    words["half"] = fixed(COVERAGE * call.sd, 1).text
    if call.earliest < 0:
        text = _(
            "The {instrument} stepped or drifted off by {start} at the latest, by {size} ± {half} "
            "of its standard uncertainty; called at {seen}. Its bias is let go from then on. "
            "Check its zero and calibration."
        )
    elif call.shape == "step":
        text = _(
            "The {instrument} stepped in about {start}, by {size} ± {half} of its standard "
            "uncertainty; called at {seen}. On average a step of that size shows at {due}. Its "
            "bias is let go from its start on. Check its zero and calibration."
        )
    else:
        text = _(
            "The {instrument} began to drift in about {start}, by {size} ± {half} of its standard "
            "uncertainty in each shift; called at {seen}. On average a drift of that size shows at "
            "{due}. Its bias is let go from its start on. Check its zero and calibration."
        )
    said = text.format(**words)
    if call.rivals:
        said += " " + _("It could also be: {rivals}.").format(
            rivals=", ".join(map(told, call.rivals))
        )
    return said


def _start(account: SeasonAccount, call: Call) -> str:
    """The likeliest start, and the shifts between which it lies."""
    likeliest = account.named(call.start)
    if not 0 <= call.earliest < call.latest:
        return likeliest
    return _("{start} (between {first} and {last}, 95 %)").format(
        start=likeliest, first=account.named(call.earliest), last=account.named(call.latest)
    )


def figures_table(
    account: SeasonAccount,
    standing: Standing,
    cited: Citations,
    *,
    headline: bool = False,
) -> Table:
    """Figures of a period, beside those to date, with the rule by which shifts make them."""
    of_shift = account.figures_of_shift
    shown = [
        f
        for f in standing.figures
        if f.name in of_shift
        and (not headline or of_shift[f.name].headline)
        and not (f.value == 0.0 and f.sd == 0.0)
    ]
    cited.define([of_shift[f.name] for f in shown])
    last = account.last_season(standing)
    before = {} if last is None else {figure.name: figure for figure in last.figures}
    to_date = {figure.name: figure for figure in account.figures}
    columns = [
        Column("figure", "", "text", 3.0),
        Column("unit", _("unit"), "text", 1.9),
        Column("value", told(standing.period.name), "number", 1.2),
        Column("half_width", "± 95 %", "number", 0.8),
    ]
    both = standing.kind != "season"
    if both:
        columns += [
            Column("to_date", _("to date"), "number", 1.2),
            Column("to_date_half_width", "± 95 %", "number", 0.8),
        ]
    if last is not None:
        columns += [
            Column("last_season", _("last season"), "number", 1.2),
            Column("last_season_half_width", "± 95 %", "number", 0.8),
        ]
    columns += [
        Column("rule", _("rule"), "text", 0.7),
        Column("source", "", "text", 0.5),
    ]
    rows: list[Row] = []
    group = ""
    for figure in shown:
        own = of_shift[figure.name]
        if own.group != group:
            group = own.group
            rows.append(Row((told(group), *(None for _column in columns[1:])), 0, "group"))
        cells: list[Cell] = [told(figure.label), unit_text(told(figure.unit)), *pair(figure)]
        if both:
            cells += pair(to_date.get(figure.name))
        if last is not None:
            cells += pair(before.get(figure.name))
        cells += [told(figure.rule.split()[0]), mark(cited.numbers(own.sources))]
        rows.append(Row(tuple(cells)))
    notes = [
        _(
            "Rule by which shifts make a period: sum over the shifts; ratio of sums over the "
            "shifts, each flow at its mean over the hours; mean over the hours."
        ),
        _(
            "Intervals know what shifts have in common: a calibration that is off is off in all of "
            "them and does not average out. n.d.: not determined, for priors carry more of it "
            "than readings do."
        ),
    ]
    if standing.over:
        notes.append(
            _(
                "Figures and rows know of the shifts after the period too, up to the last of the "
                "season so far."
            )
        )
    if account.last is not None and last is not None:
        first = account.last.results[0].start
        notes.append(
            _(
                "Last season: the same days of the crop, which began {began}; {count} shifts."
            ).format(began="" if first is None else dated(first, "%d %b %Y"), count=last.shifts)
        )
    empty = _("No figure of this period could be made.")
    return Table("figures", _("Figures"), tuple(columns), tuple(rows), tuple(notes), empty)


def amounts_table(account: SeasonAccount, name: str) -> Table:
    """What a period made, from the totals that are carried for it with their covariance."""
    closed = next((item for item in account.closed if item.period.name == name), None)
    places = {amount: place for place, amount in enumerate(account.headline)}
    rows: list[Row] = []
    if closed is not None and {*CHIEF, HOURS, BASE} <= set(places):
        mean, covariance = closed.totals.mean, closed.totals.covariance

        def ratio(label: str, unit: str, over: str, under: str, factor: float) -> Row:
            value = factor * mean[places[over]] / mean[places[under]]
            gradient = np.zeros(len(mean))
            gradient[places[over]] += factor / mean[places[under]]
            gradient[places[under]] -= value / mean[places[under]]
            sd = float(np.sqrt(max(float(gradient @ covariance @ gradient), 0.0)))
            return Row((label, unit, measured(float(value), sd), half_width(sd)))

        cane, juice, sugar = CHIEF
        tonnes = float(mean[places[cane]])
        sd = float(np.sqrt(max(float(covariance[places[cane], places[cane]]), 0.0)))
        rows = [
            Row((_("cane crushed"), "t", measured(tonnes, sd), half_width(sd))),
            ratio(_("cane, in the hours of the shifts"), "t/h", cane, HOURS, 1.0),
            ratio(_("sucrose in cane as weighed"), _("% cane"), BASE, cane, 100.0),
            ratio(
                _("sucrose in mixed juice"), _("% of that in cane as weighed"), juice, BASE, 100.0
            ),
            ratio(
                _("sucrose in sugar, stocks not counted"), _("% of that in mixed juice"), sugar,
                juice, 100.0,
            ),
            ratio(_("sucrose in sugar, stocks not counted"), _("% cane"), sugar, cane, 100.0),
        ]  # fmt: skip
    columns = (
        Column("row", "", "text", 3.0),
        Column("unit", _("unit"), "text", 2.0),
        Column("value", told(name), "number", 1.2),
        Column("half_width", "± 95 %", "number"),
    )
    empty = _("No totals of this period are carried.")
    notes = (
        _(
            "Sucrose in cane is that of cane as weighed; the extraction of a shift is on cane as "
            "crushed, after what deteriorated in the yard, and so a little higher."
        ),
    )
    return Table("amounts", _("Cane and sucrose"), columns, tuple(rows), notes, empty)


def pair(figure: PeriodFigure | None) -> tuple[Number, Number]:
    """A figure and half its 95 % interval; nothing where there is no such figure."""
    if figure is None:
        return missing(""), missing("")
    if not figure.determined:
        return missing(_("n.d.")), missing("")
    return measured(figure.value, figure.sd), half_width(figure.sd)


def shifts_table(account: SeasonAccount, results: Sequence[ShiftResult]) -> Table:
    """The shifts of a period, with the file that each was read from."""
    names = list(account.figures_of_shift)
    chosen = [name for name in SHIFT_FIGURES if name in names]
    columns = [
        Column("shift", _("shift"), "text", 1.5),
        Column("start", _("began"), "moment", 1.8),
        Column("hours", "h", "number", 0.4),
    ]
    for name in chosen:
        figure = account.figures_of_shift[name]
        heading = f"{told(figure.label)}, {unit_text(told(figure.unit))}"
        columns.append(Column(name, heading, "number", 1.3 if name == UNDETERMINED else 1.0))
    columns += [
        Column("fit", _("chi-square per degree"), "number", 0.7),
        Column("file", _("file and fingerprint"), "text", 3.2),
    ]
    rows = []
    for result in results:
        cells: list[Cell] = [result.name, moment(result.start), fixed(result.hours, 1)]
        for name in chosen:
            place = names.index(name)
            cells.append(measured(float(result.figures[place]), float(result.figures_sd[place])))
        degrees = result.degrees_of_freedom
        cells.append(fixed(result.gamma / degrees, 2) if degrees else missing(""))
        file = account.files.shifts[result.number].file
        told_file = f"{file.rpartition('/')[2]} {account.files.fingerprints[result.number][:PRINT]}"
        rows.append(Row((*cells, told_file)))
    return Table("shifts", _("Shifts"), tuple(columns), tuple(rows), (), _("No shift."))


def change_table(change: Change, before: str, after: str, key: str = "change") -> Table:
    """What changed in sugar on cane between two periods; the parts add up."""
    columns = (
        Column("part", "", "text", 3.0),
        Column("sucrose_in_sugar", _("% cane"), "number"),
    )
    rows = [Row((_("as reported, {name}").format(name=before), fixed(change.before, 3)))]
    rows += [Row((told(name), signed(part, 3)), 1) for name, part in change.contributions.items()]
    last = _("as reported, {name}").format(name=after)
    rows.append(Row((last, fixed(change.after, 3)), 0, "total"))
    title = _("Sucrose in sugar: what changed since {name}").format(name=before)
    return Table(key, title, columns, tuple(rows))


def _read_and_expected(item: SetAside) -> tuple[Number, Number]:
    """A reading as it was written, and what was expected to the digits that this deserves."""
    sd = (item.reading - item.expected) / item.standardised if item.standardised else 0.0
    return written(item.reading), measured(item.expected, abs(sd))


def aside_table(account: SeasonAccount, results: Sequence[ShiftResult]) -> Table:
    """Readings set aside, the furthest off first."""
    found = [(result, item) for result in results for item in result.aside]
    found.sort(key=lambda pair: -abs(pair[1].standardised))
    columns = (
        Column("shift", _("shift"), "text", 1.6),
        Column("reading", _("reading"), "text", 2.4),
        Column("read", _("read"), "number"),
        Column("expected", _("expected"), "number"),
        Column("off", _("off by, sd"), "number"),
    )
    rows = tuple(
        Row(
            (
                result.name,
                account.reading(item.name),
                *_read_and_expected(item),
                signed(item.standardised, 1),
            )
        )
        for result, item in found
    )
    title = _("Readings set aside: the rest contradicts them")
    return Table("set_aside", title, columns, rows, (), _("None."))
