"""The time account: where the hours of the season went."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from canewright import registry
from canewright.account.season import SeasonAccount
from canewright.figures.time_formulas import (
    crushing_rate,
    lost_time_percent_available,
    mechanical_efficiency,
    overall_time_efficiency,
)
from canewright.files.stops import CAUSES
from canewright.report.citations import Citations, mark
from canewright.report.content import Column, Row, Section, Table, Text
from canewright.report.words import _, told
from canewright.report.writing_numbers import fixed

FORMULAS: dict[str, Callable[..., Any]] = {
    "rate": crushing_rate,
    "lost": lost_time_percent_available,
    "mechanical": mechanical_efficiency,
    "overall": overall_time_efficiency,
}


def time_sections(account: SeasonAccount, cited: Citations) -> list[Section]:
    """Sections of the time account."""
    time = account.time
    if time is None:
        text = _("The log holds no stop: the time between the first and the last shift is unknown.")
        return [Section(_("Finding"), (Text(text, _("Time")),))]
    lost = sorted(time.by_cause.items(), key=lambda item: -item[1])
    finding = _("Crushing {crushing} of {hours} h; stopped {stopped} h.").format(
        crushing=fixed(time.crushing, 2).text,
        hours=fixed(time.hours, 2).text,
        stopped=fixed(sum(time.by_cause.values()), 2).text,
    )
    if lost:
        finding += " " + _("Most was stopped by: {cause}, {hours} h.").format(
            cause=told(lost[0][0]), hours=fixed(lost[0][1], 2).text
        )
    columns = (
        Column("row", "", "text", 3.0),
        Column("kind", _("kind"), "text", 1.4),
        Column("hours", "h", "number"),
        Column("percent", _("% of the period"), "number"),
    )

    def row(name: str, hours: float, kind: str = "", level: int = 0) -> Row:
        return Row((name, kind, fixed(hours, 2), fixed(100 * hours / time.hours, 1)), level)

    rows = [row(_("from the first shift to the last"), time.hours)]
    rows += [
        row(_("stopped: {cause}").format(cause=told(cause)), hours, told(CAUSES[cause]), 1)
        for cause, hours in lost
    ]
    rows.append(row(_("crushing"), time.crushing))
    rows.append(
        row(_("gross available: less what is outside the factory's power"), time.gross_available)
    )
    rows.append(row(_("lost by the factory itself"), time.lost))
    rows.append(row(_("of shifts that were read"), time.read))
    rates = (
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
    if time.planned_cane is not None:
        found.append(rate(_("cane planned by now"), "t", time.planned_cane, 0, ""))
    log = Table(
        "stops",
        _("Log of stops"),
        (
            Column("start", _("began"), "moment", 1.4),
            Column("hours", "h", "number", 0.6),
            Column("cause", _("cause"), "text", 1.4),
            Column("note", _("note"), "text", 3.0),
        ),
        tuple(Row((s.start, fixed(s.hours, 2), told(s.cause), s.note)) for s in account.stops),
        (),
        _("No stop."),
    )
    return [
        Section(_("Finding"), (Text(finding, _("Time"), "finding"),)),
        Section("", (Table("hours", _("Hours"), columns, tuple(rows)),)),
        Section("", (Table("rates", _("Rates"), rates, tuple(found)),)),
        Section("", (log,)),
    ]
