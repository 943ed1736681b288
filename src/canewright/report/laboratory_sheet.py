"""The laboratory sheet: every reading, what checks it, and the instruments behind it."""

from __future__ import annotations

from canewright.account import Account
from canewright.account.sentences import spoken
from canewright.flowsheet import Instrument, Spread
from canewright.laboratory import chart_drawing
from canewright.report import parts
from canewright.report.content import Column, Picture, Row, Section, Table
from canewright.report.words import _, dated, told
from canewright.report.writing_numbers import half_width, measured, unit_text

DATE = "%d %b %Y"


def laboratory_sections(account: Account) -> list[Section]:
    """Sections of the laboratory sheet."""
    title = _("Readings, point by point ({count})").format(count=len(account.readings))
    readings = parts.readings_table(account, account.readings, title, by_point=True)
    sections = [
        Section(_("Finding"), tuple(parts.verdict(account))),
        Section("", (readings, parts.unchecked(account))),
    ]
    if account.remarks:
        sections.append(Section("", (_remarks(account),)))
    bench = _bench(account)
    if bench is not None:
        sections.append(Section("", (bench,)))
    sections.append(Section("", (_instruments(account), *_charts(account))))
    return sections


def _remarks(account: Account) -> Table:
    """What is to be looked at in the analyses themselves."""
    kinds = {
        "alarm": _("do not fit each other"),
        "repeats": _("repeats disagree"),
        "late": _("came late"),
        "excluded": _("does not count"),
        "near a limit": _("near a limit"),
    }
    columns = (Column("kind", "", "text", 1.0), Column("words", _("what was found"), "text", 4.0))
    rows = tuple(Row((kinds[one.kind], told(one.words))) for one in account.remarks)
    return Table("remarks", _("To be looked at in the laboratory"), columns, rows)


def _bench(account: Account) -> Table | None:
    """Analyses that were worked from raw readings of the bench."""
    if not account.bench:
        return None
    rows = []
    for name, result in account.bench.items():
        beside = _("beside the balance") if name in account.beside else ""
        rows.append(
            Row(
                (
                    name.replace("_", " "),
                    measured(result.value, result.uncertainty),
                    half_width(result.uncertainty),
                    unit_text(result.method.unit),
                    result.method.name.replace("_", " "),
                    beside,
                )
            )
        )
    columns = (
        Column("reading", _("point and analysis"), "text", 2.4),
        Column("value", _("worked out"), "number"),
        Column("half", _("± 95 %"), "number"),
        Column("unit", _("unit"), "text"),
        Column("method", _("method"), "text", 2.0),
        Column("beside", "", "text", 1.4),
    )
    notes = (_("`canewright explain FACTORY READINGS 'POINT ANALYSIS'` prints each working."),)
    return Table("bench", _("Worked from raw readings of the bench"), columns, tuple(rows), notes)


def _charts(account: Account) -> list[Picture]:
    """The moving average of each instrument's checks, which shows how it drifts."""
    pictures = []
    for known in account.instruments:
        if known.verdict is None or known.verdict.average.plotted.size < 2:
            continue
        record, chart = known.verdict.record, known.verdict.average
        labels = [f"{moment:%Y-%m-%d %H:%M}" for moment in record.times]
        title = _("Checks of {instrument} against its standard").format(instrument=known.instrument)
        drawn = chart_drawing.svg(
            chart, title=title, unit=record.unit, labels=labels, headed=False, told=told
        )
        words = _("{chart} {finding}").format(
            chart=chart_drawing.in_words(chart, record.unit, told), finding=told(known.words)
        )
        pictures.append(Picture(f"checks {known.instrument}", title, drawn, words))
    return pictures


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
                    dated(instrument.calibrated, DATE) if instrument.calibrated else "",
                    dated(instrument.due, DATE) if instrument.due else "",
                    _("overdue") if overdue else "",
                )
            )
        )
    notes = tuple(parts.sentence(told(known.words)) for known in account.instruments if known.words)
    empty = _("The factory file names no instruments; usual uncertainties are assumed.")
    return Table("instruments", _("Instruments"), columns, tuple(rows), notes, empty)


def _reads(instrument: Instrument) -> str:
    parts = [read.rpartition(".") for read in instrument.reads]
    named = [f"{spoken(point)} {told(spoken(analysis))}" for point, _dot, analysis in parts]
    return ", ".join(name.strip() for name in named)


def _spread(spread: Spread | None) -> str:
    if spread is None:
        return _("as usual")
    number = f"{spread.value:g}"
    return _("{number} % of value").format(number=number) if spread.relative else number
