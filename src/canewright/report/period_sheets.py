"""The reports on a period of a season: day, week, fortnight, month, season, time account."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta

from canewright.account.season import SEASON, UNDETERMINED, SeasonAccount
from canewright.engine.chain_parts import Period, ShiftResult
from canewright.figures.to_date import PeriodFigure
from canewright.report import period_parts as parts
from canewright.report import season_parts
from canewright.report.citations import Citations
from canewright.report.content import Block, Input, Letterhead, Report, Section, Text
from canewright.report.pictures.trend import shift_chart, to_date_picture
from canewright.report.same_again import made_with
from canewright.report.standing import standing_words
from canewright.report.time_sheet import time_sections
from canewright.report.words import _
from canewright.report.writing_numbers import measured

CALENDAR_KINDS = ("day", "week", "fortnight", "month")
PERIOD_KINDS = (*CALENDAR_KINDS, "season", "time")


class PeriodRefused(ValueError):
    """There is no such period in the season, or nothing to report on it."""


def period_report(
    kind: str,
    account: SeasonAccount,
    inputs: tuple[Input, ...],
    letterhead: Letterhead,
    options: Mapping[str, str],
) -> Report:
    """The report of a kind on a season that is balanced.

    Raises
    ------
    PeriodRefused
        If there is no period of the name asked for.
    """
    cited = Citations()
    options = dict(options)
    if kind in CALENDAR_KINDS:
        period, figures, before = _asked(kind, account, options.get("of", ""))
        options["of"] = period.name
        title = _titles()[kind].format(name=period.name)
        sections = _period(account, period, figures, before, cited)
        results = _within(account, period)
    else:
        results = account.results
        title = _("Season to date") if kind == "season" else _("Time account")
        made = _season if kind == "season" else time_sections
        sections = made(account, cited)
    return Report(
        kind=kind,
        title=title,
        factory=account.factory.name,
        invented=account.factory.invented,
        facts=_facts(results, account, whole=kind in ("season", "time")),
        sections=tuple(sections),
        definitions=tuple(cited.definitions),
        sources=cited.sources,
        cautions=parts.cautions(),
        inputs=inputs,
        made_with=made_with(),
        words=standing_words(),
        options=options,
        letterhead=letterhead,
        dated=results[-1].start,
    )


def _titles() -> dict[str, str]:
    return {
        "day": _("Daily report, {name}"),
        "week": _("Weekly report, {name}"),
        "fortnight": _("Fortnightly report, {name}"),
        "month": _("Monthly report, {name}"),
    }


def _asked(
    kind: str, account: SeasonAccount, name: str
) -> tuple[Period, list[PeriodFigure], Period | None]:
    """The period of a name, or the last of its kind, its figures, and the period before."""
    periods = account.periods(kind)
    names = [period.name for period, _figures in periods]
    if not periods:
        raise PeriodRefused(f"The season has no {kind} with a shift that was balanced.")
    if name and name not in names:
        shown = ", ".join(names[-12:])
        raise PeriodRefused(f"The season has no {kind} called '{name}'. Known: {shown}.")
    place = names.index(name) if name else len(names) - 1
    period, figures = periods[place]
    if not _within(account, period):
        raise PeriodRefused(f"No shift of {period.name} could be balanced; nothing to report.")
    return period, figures, periods[place - 1][0] if place else None


def _within(account: SeasonAccount, period: Period) -> list[ShiftResult]:
    return [r for r in account.results if period.first <= r.number <= period.last]


def _facts(results: list[ShiftResult], account: SeasonAccount, *, whole: bool) -> tuple[str, ...]:
    found = [_("{count} shifts").format(count=len(results))]
    first, last = results[0], results[-1]
    if first.start is not None and last.start is not None:
        end = last.start + timedelta(hours=last.hours)
        found.append(
            _("{start} to {end}").format(
                start=f"{first.start:%d %b %Y, %H:%M}", end=f"{end:%d %b %Y, %H:%M}"
            )
        )
    found.append(_("{hours} h").format(hours=f"{sum(r.hours for r in results):g}"))
    cane = account.figure("cane_tonnes") if whole else None
    if cane is not None:
        tonnes = measured(cane.value, cane.sd).text
        found.append(_("{tonnes} t cane crushed").format(tonnes=tonnes))
    return tuple(found)


def _period(
    account: SeasonAccount,
    period: Period,
    figures: list[PeriodFigure],
    before: Period | None,
    cited: Citations,
) -> list[Section]:
    results = _within(account, period)
    named = {figure.name: figure for figure in figures}
    finding: list[Block] = [*parts.loss_text(named.get(UNDETERMINED), _("Sucrose"))]
    finding += parts.loss_text(account.figure(UNDETERMINED), _("To date"))
    finding += parts.call_texts(account)
    sections = [
        Section(_("Finding"), tuple(finding)),
        Section("", (parts.amounts_table(account, period.name),)),
        Section("", (parts.figures_table(account, figures, period.name, cited),)),
        Section("", (parts.shifts_table(account, results),)),
    ]
    if before is not None:
        change = account.compare(before, period)
        if change is not None:
            sections.append(Section("", (parts.change_table(change, before.name, period.name),)))
    sections.append(Section("", (parts.aside_table(results),)))
    return [*sections, _trends(account), *_left_out(account)]


def _season(account: SeasonAccount, cited: Citations) -> list[Section]:
    finding: list[Block] = [*parts.loss_text(account.figure(UNDETERMINED), _("Sucrose"))]
    finding += parts.floor_texts(account)
    finding += parts.call_texts(account)
    sections = [Section(_("Finding"), tuple(finding))]
    if "sucrose" in account.ledgers:
        sections.append(Section("", (season_parts.ledger_table(account, "sucrose"),)))
    table = parts.figures_table(account, account.figures, SEASON, cited, headline=True)
    sections += [
        Section("", (table,)),
        Section("", (season_parts.to_date_table(account), season_parts.instruments_table(account))),
        _trends(account),
        Section("", (season_parts.periods_table(account, "week"),)),
        Section("", (parts.shifts_table(account, account.results),)),
        Section("", (parts.aside_table(account.results),)),
    ]
    return [*sections, *_left_out(account)]


def _trends(account: SeasonAccount) -> Section:
    pictures = [to_date_picture(account), shift_chart(account)]
    found: tuple[Block, ...] = tuple(p for p in pictures if p is not None)
    if not found:
        found = (Text(_("Too few shifts for a trend or a control chart."), weight="small"),)
    return Section("", found)


def _left_out(account: SeasonAccount) -> list[Section]:
    table = season_parts.left_table(account)
    return [Section("", (table,))] if table.rows else []
