"""Days, weeks, fortnights, months and the season of a run of shifts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from typing import Literal

from canewright.engine.chain.chain_parts import Period

Kind = Literal["day", "week", "fortnight", "month", "season"]
KINDS: tuple[Kind, ...] = ("day", "week", "fortnight", "month", "season")


def _week(start: datetime) -> tuple[int, int]:
    year, week, _ = start.isocalendar()
    return year, week


def _monday(start: datetime) -> datetime:
    return (start - timedelta(days=start.weekday())).replace(hour=0, minute=0, second=0)


_KEYS: dict[Kind, Callable[[datetime], object]] = {
    "day": lambda start: start.date(),
    "week": _week,
    "fortnight": lambda start: _monday(start).toordinal() // 14,
    "month": lambda start: (start.year, start.month),
    "season": lambda start: 0,
}
_NAMES: dict[Kind, Callable[[datetime], str]] = {
    "day": lambda start: f"{start:%Y-%m-%d}",
    "week": lambda start: "week {1:02d} of {0}".format(*_week(start)),
    "fortnight": lambda start: f"fortnight with {start:%Y-%m-%d}",
    "month": lambda start: f"{start:%Y-%m}",
    "season": lambda start: "season to date",
}


def calendar(starts: Sequence[datetime], kind: Kind) -> list[Period]:
    """Periods of a kind, as runs of shifts; a shift belongs to the day on which it begins.

    Weeks begin on Monday; fortnights are pairs of weeks counted from a fixed Monday.

    Parameters
    ----------
    starts : sequence of datetime
        When the shifts began, in order.
    """
    found: list[Period] = []
    first = 0
    for place, start in enumerate(starts):
        ends = place + 1 == len(starts) or _KEYS[kind](starts[place + 1]) != _KEYS[kind](start)
        if ends:
            found.append(Period(_NAMES[kind](starts[first]), first, place, headline=True))
            first = place + 1
    return found
