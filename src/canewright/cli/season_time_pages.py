"""What `canewright season` prints of the time, of the plan, and of stations' performance."""

from __future__ import annotations

import math

from rich.console import Console

from canewright.account.season import SeasonAccount
from canewright.account.season_history import RECENT
from canewright.cli import printing
from canewright.cli.printing import Column, number
from canewright.engine.adjusting.explain import COVERAGE
from canewright.laboratory.instruments import days_in_words


def print_time(screen: Console, account: SeasonAccount) -> None:
    """Print where the hours of the season went, where there is a log of stops."""
    time = account.time
    if time is None:
        return
    printing.heading(screen, "Time")
    rows = [("from first to last shift", f"{time.hours:.1f}", "h", "")]
    rows += [
        (f"stopped, {cause}", f"{hours:.1f}", "h", _fixed(time.not_crushed.get(cause)))
        for cause, hours in sorted(time.by_cause.items(), key=lambda item: -item[1])
    ]
    rows += [
        ("gross available", f"{time.gross_available:.1f}", "h", ""),
        ("crushing", f"{time.crushing:.1f}", "h", ""),
        ("rate while crushing", _fixed(time.crushing_rate, 1), "t/h", ""),
        ("overall time efficiency", f"{time.overall_time_efficiency:.1f}", "%", ""),
        ("lost time", f"{time.lost_time:.1f}", "% of available", ""),
    ]
    columns = [
        Column("", wrap=True),
        Column("", "right"),
        Column(""),
        Column("t cane not crushed", "right"),
    ]
    printing.table(screen, columns, rows)


def print_performance(screen: Console, account: SeasonAccount, *, everything: bool) -> None:
    """Print performance parameters whose last week lies outside the limits of their history."""
    found = account.histories()
    if not found:
        return
    printing.heading(screen, f"Performance: the last {RECENT} shifts against those before")
    moved = [history for history in found if history.moved]
    shown = found if everything else moved
    if not moved:
        printing.paragraph(
            screen, f"None of {len(found)} parameters left the limits of its history.", indent=2
        )
    if not shown:
        return
    rows = [
        (
            f"{history.label} [{history.unit}]",
            *(number(value, abs(history.high - history.mean) / COVERAGE) for value in (
                history.mean, history.low, history.high, history.now
            )),
            history.since if history.moved else "",
        )
        for history in shown
    ]  # fmt: skip
    columns = [
        Column("", wrap=True),
        Column("before", "right"),
        Column("from", "right"),
        Column("to", "right"),
        Column("now", "right"),
        Column("on this side since", wrap=True),
    ]
    printing.table(screen, columns, rows)
    if not everything:
        still = len(found) - len(moved)
        printing.paragraph(
            screen, f"The other {still} stay within their limits; --all shows them.", indent=2
        )


def print_plan(screen: Console, account: SeasonAccount) -> None:
    """Print plan against actual, where there is a plan."""
    lines = account.plan_of(account.season)
    if not lines:
        return
    printing.heading(screen, "Plan and actual, to date")
    rows = []
    for line in lines:
        decimals = {"h": 1, "%": 2}.get(line.unit, 0)
        half = f"{COVERAGE * line.sd:.{decimals}f}" if math.isfinite(line.sd) else ""
        planned, actual, more = (
            _fixed(value, decimals) for value in (line.planned, line.actual, line.difference)
        )
        rows.append((line.name, planned, actual, half, more, line.unit))
    columns = [
        Column("", wrap=True),
        Column("planned", "right"),
        Column("actual", "right"),
        Column("+/-", "right"),
        Column("more", "right"),
        Column("unit"),
    ]
    printing.table(screen, columns, rows)
    pace = account.pace
    if pace is not None:
        cane = _fixed(pace.planned_cane)
        days = days_in_words(round(abs(pace.late)))
        late = f"{days} {'after' if pace.late > 0 else 'before'} the plan's end"
        printing.paragraph(
            screen,
            f"If the pace to date holds, the {cane} t planned are crushed by "
            f"{pace.end:%d %b %Y}, {late}.",
            indent=2,
        )


def _fixed(amount: float | None, decimals: int = 0) -> str:
    """A number to so many decimals, thousands parted; empty for none."""
    return "" if amount is None else f"{amount:,.{decimals}f}".replace(",", " ")
