"""The reports on a period of a season: day, week, fortnight, month, season, time account."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta

from canewright.account.season import UNDETERMINED, SeasonAccount
from canewright.account.season_periods import CALENDAR, Standing
from canewright.engine.chain.chain_parts import Period, ShiftResult
from canewright.engine.chain.periods import Kind
from canewright.report import period_parts as parts
from canewright.report import season_parts
from canewright.report.citations import Citations
from canewright.report.content import Block, Input, Letterhead, Report, Section, Text
from canewright.report.pictures.bias import bias_pictures
from canewright.report.pictures.trend import shift_chart, to_date_picture
from canewright.report.same_again import made_with
from canewright.report.standing import standing_words
from canewright.report.time_sheet import (
    hours_table,
    plan_sections,
    rates_table,
    time_sections,
)
from canewright.report.words import _, dated, several, told
from canewright.report.writing_numbers import measured

PERIOD_KINDS = (*CALENDAR, "season", "time")


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
    asked = next((known for known in CALENDAR if known == kind), None)
    if asked is not None:
        standing, before = _asked(asked, account, options.get("of", ""))
        options["of"] = standing.period.name
        title = _titles()[kind].format(name=told(standing.period.name))
        sections = _period(account, standing, before, cited)
        results = _within(account, standing.period)
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


def _asked(kind: Kind, account: SeasonAccount, name: str) -> tuple[Standing, Standing | None]:
    """The period of a name, or the last of its kind, and the one before."""
    periods = account.standings(kind)
    names = [standing.period.name for standing in periods]
    if not periods:
        raise PeriodRefused(f"The season has no {kind} with a shift that was balanced.")
    if name and name not in names:
        shown = ", ".join(names[-12:])
        raise PeriodRefused(f"The season has no {kind} called '{name}'. Known: {shown}.")
    place = names.index(name) if name else len(names) - 1
    if not _within(account, periods[place].period):
        raise PeriodRefused(f"No shift of {names[place]} could be balanced; nothing to report.")
    return periods[place], periods[place - 1] if place else None


def _within(account: SeasonAccount, period: Period) -> list[ShiftResult]:
    return [r for r in account.results if period.first <= r.number <= period.last]


def _facts(results: list[ShiftResult], account: SeasonAccount, *, whole: bool) -> tuple[str, ...]:
    found = [several("{count} shift", "{count} shifts", len(results)).format(count=len(results))]
    first, last = results[0], results[-1]
    if first.start is not None and last.start is not None:
        end = last.start + timedelta(hours=last.hours)
        found.append(
            _("{start} to {end}").format(
                start=dated(first.start, "%d %b %Y, %H:%M"), end=dated(end, "%d %b %Y, %H:%M")
            )
        )
    found.append(_("{hours} h").format(hours=f"{sum(r.hours for r in results):g}"))
    cane = account.figure("cane_tonnes") if whole else None
    if cane is not None:
        tonnes = measured(cane.value, cane.sd).text
        found.append(_("{tonnes} t cane crushed").format(tonnes=tonnes))
    return tuple(found)


def _period(
    account: SeasonAccount, standing: Standing, before: Standing | None, cited: Citations
) -> list[Section]:
    period = standing.period
    results = _within(account, period)
    finding: list[Block] = [*parts.loss_text(standing.figure(UNDETERMINED), _("Sucrose"))]
    finding += parts.loss_text(account.figure(UNDETERMINED), _("To date"))
    finding += parts.call_texts(account)
    sections = [Section(_("Finding"), tuple(finding))]
    if "sucrose" in standing.ledgers:
        sections.append(Section("", (season_parts.ledger_table(account, "sucrose", standing),)))
    sections += [
        Section("", (parts.amounts_table(account, period.name),)),
        Section("", (parts.figures_table(account, standing, cited, headline=True),)),
        *_time_and_plan(account, standing, cited),
        Section("", (parts.shifts_table(account, results),)),
    ]
    changes = _changes(account, standing, before)
    if changes:
        sections.append(Section("", changes))
    sections.append(Section("", (season_parts.performance_table(account, standing),)))
    sections.append(Section("", (parts.aside_table(account, results),)))
    return [*sections, _trends(account), *_left_out(account)]


def _season(account: SeasonAccount, cited: Citations) -> list[Section]:
    finding: list[Block] = [*parts.loss_text(account.figure(UNDETERMINED), _("Sucrose"))]
    finding += parts.floor_texts(account)
    finding += parts.call_texts(account)
    sections = [Section(_("Finding"), tuple(finding))]
    if "sucrose" in account.ledgers:
        sections.append(
            Section("", (season_parts.ledger_table(account, "sucrose", account.season),))
        )
    table = parts.figures_table(account, account.season, cited, headline=True)
    sections += [
        Section("", (table,)),
        Section("", (season_parts.to_date_table(account), season_parts.instruments_table(account))),
        *_time_and_plan(account, account.season, cited),
        *[Section("", (table,)) for table in _changes(account, account.season, None)],
        Section("", (season_parts.performance_table(account, account.season),)),
        _trends(account),
        Section("", (season_parts.periods_table(account, "week"),)),
        Section("", (season_parts.periods_table(account, "day"),)),
        Section("", (parts.aside_table(account, account.results),)),
    ]
    return [*sections, *_left_out(account)]


def _changes(
    account: SeasonAccount, standing: Standing, before: Standing | None
) -> tuple[Block, ...]:
    """What changed since the period before, and since the same of last season."""
    found: list[Block] = []
    name = told(standing.period.name)
    if before is not None:
        change = account.compare(before.period, standing.period)
        if change is not None:
            found.append(parts.change_table(change, told(before.period.name), name))
    change = account.compare_with_last_season(standing)
    if change is not None:
        title = _("last season")
        found.append(parts.change_table(change, title, name, "change_from_last_season"))
    return tuple(found)


def _time_and_plan(account: SeasonAccount, standing: Standing, cited: Citations) -> list[Section]:
    """The time of a period where there is a log of stops, and its plan where there is one."""
    time = account.time_of(standing)
    found = []
    if time is not None:
        found.append(Section("", (hours_table(time), rates_table(time, cited))))
    return found + plan_sections(account, None if standing.kind == "season" else standing)


def _trends(account: SeasonAccount) -> Section:
    pictures = [to_date_picture(account), shift_chart(account), *bias_pictures(account)]
    found: tuple[Block, ...] = tuple(p for p in pictures if p is not None)
    if not found:
        found = (Text(_("Too few shifts for a trend or a control chart."), weight="small"),)
    return Section("", found)


def _left_out(account: SeasonAccount) -> list[Section]:
    table = season_parts.left_table(account)
    return [Section("", (table,))] if table.rows else []
