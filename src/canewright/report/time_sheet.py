"""The time account: where the hours of the season went."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from canewright import registry
from canewright.account.season import SeasonAccount
from canewright.account.season_periods import Standing
from canewright.account.time_account import TimeAccount
from canewright.figures.time_formulas import (
    crushing_rate,
    lost_time_percent_available,
    mechanical_efficiency,
    overall_time_efficiency,
)
from canewright.files.stops import CAUSES
from canewright.laboratory.instruments import days_in_words
from canewright.report.citations import Citations, mark
from canewright.report.content import Column, Row, Section, Table, Text
from canewright.report.words import _, dated, told
from canewright.report.writing_numbers import fixed, half_width, measured, missing, moment, signed

FORMULAS: dict[str, Callable[..., Any]] = {
    "rate": crushing_rate,
    "lost": lost_time_percent_available,
    "mechanical": mechanical_efficiency,
    "overall": overall_time_efficiency,
}


def time_sections(account: SeasonAccount, cited: Citations) -> list[Section]:
    """Sections of the time account of the season."""
    time = account.time
    if time is None:
        text = _("The log holds no stop: the time between the first and the last shift is unknown.")
        return [Section(_("Finding"), (Text(text, _("Time")),)), *plan_sections(account)]
    return [
        Section(_("Finding"), (Text(finding(time), _("Time"), "finding"),)),
        Section("", (hours_table(time),)),
        Section("", (rates_table(time, cited),)),
        *plan_sections(account),
        Section("", (weeks_table(account),)),
        Section("", (log_table(account),)),
    ]


def finding(time: TimeAccount) -> str:
    """How many hours were crushed and what stopped the rest."""
    text = _("Crushing {crushing} of {hours} h; stopped {stopped} h.").format(
        crushing=fixed(time.crushing, 2).text,
        hours=fixed(time.hours, 2).text,
        stopped=fixed(sum(time.by_cause.values()), 2).text,
    )
    lost = sorted(time.by_cause.items(), key=lambda item: -item[1])
    if not lost:
        return text
    most = _("Most was stopped by: {cause}, {hours} h.").format(
        cause=told(lost[0][0]), hours=fixed(lost[0][1], 2).text
    )
    return f"{text} {most}"


def hours_table(time: TimeAccount) -> Table:
    """Hours of a period by what became of them."""
    lost = sorted(time.by_cause.items(), key=lambda item: -item[1])
    columns = (
        Column("row", "", "text", 3.6),
        Column("kind", _("kind"), "text", 1.0),
        Column("hours", "h", "number"),
        Column("percent", _("% of the period"), "number"),
        Column("not_crushed", _("cane not crushed, t"), "number", 1.2),
    )

    def row(name: str, hours: float, kind: str = "", level: int = 0, cause: str = "") -> Row:
        missed = time.not_crushed.get(cause)
        cane = missing("") if missed is None else fixed(missed, 0)
        cells = (name, kind, fixed(hours, 2), fixed(100 * hours / time.hours, 1), cane)
        return Row(cells, level)

    rows = [row(_("from the first shift to the last"), time.hours)]
    rows += [
        row(_("stopped: {cause}").format(cause=told(cause)), hours, told(CAUSES[cause]), 1, cause)
        for cause, hours in lost
    ]
    rows.append(row(_("crushing"), time.crushing))
    rows.append(
        row(_("gross available: less what is outside the factory's power"), time.gross_available)
    )
    rows.append(row(_("lost by the factory itself"), time.lost))
    rows.append(row(_("of shifts that were read"), time.read))
    notes = (
        _("Cane not crushed: the hours stopped at the rate while crushing. An hour counts once."),
    )
    return Table("hours", _("Hours"), columns, tuple(rows), notes)


def rates_table(time: TimeAccount, cited: Citations) -> Table:
    """Rates and efficiencies of a period."""
    columns = (
        Column("figure", "", "text", 3.0),
        Column("unit", _("unit"), "text"),
        Column("value", "", "number"),
        Column("source", _("source"), "text", 0.6),
    )

    def rate(name: str, unit: str, value: float, decimals: int, key: str) -> Row:
        registered = registry.registered(FORMULAS[key]) if key else None
        numbers = mark(cited.numbers((registered.source,))) if registered else ""
        return Row((name, unit, fixed(value, decimals), numbers))

    found = [
        rate(_("cane crushed"), "t", time.cane, 0, ""),
        rate(_("rate while crushing"), "t/h", time.crushing_rate, 1, "rate"),
        rate(_("overall time efficiency"), "%", time.overall_time_efficiency, 1, "overall"),
        rate(_("lost time, % of available"), "%", time.lost_time, 1, "lost"),
        rate(_("mechanical efficiency"), "%", time.mechanical_efficiency, 1, "mechanical"),
    ]
    return Table("rates", _("Rates"), columns, tuple(found))


def weeks_table(account: SeasonAccount) -> Table:
    """The time of each week."""
    columns = (
        Column("week", _("week"), "text", 1.6),
        Column("hours", "h", "number"),
        Column("stopped", _("stopped, h"), "number"),
        Column("lost", _("lost, h"), "number"),
        Column("crushing", _("crushing, h"), "number"),
        Column("rate", _("rate while crushing, t/h"), "number", 1.3),
        Column("efficiency", _("overall time efficiency, %"), "number", 1.3),
    )
    rows = []
    for standing in account.standings("week"):
        time = account.time_of(standing)
        if time is not None:
            numbers = (
                fixed(time.hours, 1),
                fixed(sum(time.by_cause.values()), 2),
                fixed(time.lost, 2),
                fixed(time.crushing, 2),
                fixed(time.crushing_rate, 1),
                fixed(time.overall_time_efficiency, 1),
            )
            rows.append(Row((told(standing.period.name), *numbers)))
    return Table("weeks", _("By week"), columns, tuple(rows), (), _("No week."))


def log_table(account: SeasonAccount) -> Table:
    """The log of stops."""
    columns = (
        Column("start", _("began"), "moment", 1.4),
        Column("hours", "h", "number", 0.6),
        Column("cause", _("cause"), "text", 1.4),
        Column("note", _("note"), "text", 3.0),
    )
    rows = [Row((moment(s.start), fixed(s.hours, 2), told(s.cause), s.note)) for s in account.stops]
    return Table("stops", _("Log of stops"), columns, tuple(rows), (), _("No stop."))


def plan_sections(account: SeasonAccount, standing: Standing | None = None) -> list[Section]:
    """Plan against actual, of a period or of the season to date; nothing without a plan."""
    lines = account.plan_of(standing or account.season)
    if not lines:
        return []
    columns = (
        Column("what", "", "text", 2.4),
        Column("unit", _("unit"), "text", 0.8),
        Column("planned", _("planned"), "number"),
        Column("actual", _("actual"), "number"),
        Column("half_width", "± 95 %", "number"),
        Column("difference", _("actual less planned"), "number", 1.2),
    )
    rows = []
    for line in lines:
        known = math.isfinite(line.sd)
        decimals = 1 if line.unit == "h" else 2 if line.unit == "%" else 0
        rows.append(
            Row(
                (
                    told(line.name),
                    told(line.unit),
                    fixed(line.planned, decimals),
                    measured(line.actual, line.sd) if known else fixed(line.actual, decimals),
                    half_width(line.sd) if known else missing(""),
                    signed(line.difference, decimals),
                )
            )
        )
    notes = [_("A span of the plan that has begun counts by its days.")]
    pace = account.pace
    if standing is None and pace is not None:
        late = told(days_in_words(round(abs(pace.late))))
        says = (
            _(
                "If the pace to date holds, the {cane} t planned are crushed by {end}, {late} "
                "after the plan's end."
            )
            if pace.late > 0
            else _(
                "If the pace to date holds, the {cane} t planned are crushed by {end}, {late} "
                "before the plan's end."
            )
        )
        notes.append(
            says.format(
                cane=fixed(pace.planned_cane, 0).text, end=dated(pace.end, "%d %b %Y"), late=late
            )
        )
    table = Table("plan", _("Plan and actual"), columns, tuple(rows), tuple(notes))
    return [Section("", (table,))]
