"""The laboratory sheet: every reading, what checks it, and the instruments behind it."""

from __future__ import annotations

from canewright.account import Account
from canewright.flowsheet import Instrument, Spread
from canewright.report import parts
from canewright.report.content import Column, Row, Section, Table
from canewright.report.words import _
from canewright.report.writing_numbers import significant, unit_text

DATE = "%d %b %Y"


def laboratory_sections(account: Account) -> list[Section]:
    """Sections of the laboratory sheet."""
    title = _("Readings, point by point ({count})").format(count=len(account.readings))
    readings = parts.readings_table(account, account.readings, title, by_point=True)
    sections = [
        Section(_("Finding"), tuple(parts.verdict(account))),
        Section("", (readings, parts.unchecked(account))),
    ]
    bench = _bench(account)
    if bench is not None:
        sections.append(Section("", (bench,)))
    sections.append(Section("", (_instruments(account),)))
    return sections


def _bench(account: Account) -> Table | None:
    """Readings that were worked from raw readings of the bench."""
    if not account.bench:
        return None
    rows = tuple(
        Row((name.replace("_", " "), significant(line.value, 5), unit_text(line.unit)))
        for name in account.bench
        for line in account.readings
        if line.name == name
    )
    columns = (
        Column("reading", _("point and analysis"), "text", 3.0),
        Column("value", _("worked out"), "number"),
        Column("unit", _("unit"), "text"),
    )
    notes = (_("`canewright explain FACTORY READINGS 'POINT ANALYSIS'` prints each working."),)
    return Table("bench", _("Worked from raw readings of the bench"), columns, rows, notes)


def _instruments(account: Account) -> Table:
    columns = (
        Column("instrument", _("instrument"), "text", 1.8),
        Column("reads", _("reads"), "text", 2.5),
        Column("random", _("one reading, ± sd"), "text", 1.4),
        Column("bias", _("common error, ± sd"), "text", 1.4),
        Column("calibrated", _("calibrated"), "text", 1.1),
        Column("due", _("due"), "text", 1.1),
        Column("remark", "", "text", 0.8),
    )
    day = account.shift.start.date() if account.shift.start else None
    rows = []
    for instrument in account.factory.instruments:
        overdue = day is not None and instrument.due is not None and instrument.due < day
        rows.append(
            Row(
                (
                    instrument.name,
                    _reads(instrument),
                    _spread(instrument.random),
                    _spread(instrument.bias),
                    f"{instrument.calibrated:{DATE}}" if instrument.calibrated else "",
                    f"{instrument.due:{DATE}}" if instrument.due else "",
                    _("overdue") if overdue else "",
                )
            )
        )
    empty = _("The factory file names no instruments; usual uncertainties are assumed.")
    return Table("instruments", _("Instruments"), columns, tuple(rows), (), empty)


def _reads(instrument: Instrument) -> str:
    return ", ".join(read.replace(".", " ").replace("_", " ") for read in instrument.reads)


def _spread(spread: Spread | None) -> str:
    if spread is None:
        return _("as usual")
    number = f"{spread.value:g}"
    return _("{number} % of value").format(number=number) if spread.relative else number
