"""The time account of a period: stops by cause, available time, rates, plan and actual."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from canewright.figures.time_formulas import (
    crushing_rate,
    lost_time_percent_available,
    mechanical_efficiency,
    overall_time_efficiency,
)
from canewright.files.stops import Stop

Span = tuple[datetime, datetime]


@dataclass(frozen=True)
class TimeAccount:
    """Where the hours of a period went. [h].

    Attributes
    ----------
    hours : float
        From the first start to the last end.
    read, crushing_read : float
        Of the shifts that were read, and of crushing in them.
    by_cause : dict
        Cause -> hours.
    gross_available, crushing, lost : float
        Hours less those outside the factory's power; hours less all stops; stops by the
        factory itself.
    cane, crushing_rate : float
        Cane crushed in the shifts that were read [t], and its rate while crushing [t/h].
    not_crushed : dict
        Cause -> cane that its hours would have crushed at that rate. [t]
    overall_time_efficiency, lost_time, mechanical_efficiency : float
        [%]
    planned_cane : float or None
        What the plan asks for in the period. [t]
    """

    hours: float
    read: float
    crushing_read: float
    by_cause: dict[str, float]
    gross_available: float
    crushing: float
    lost: float
    cane: float
    crushing_rate: float
    overall_time_efficiency: float
    lost_time: float
    mechanical_efficiency: float
    not_crushed: dict[str, float] = field(default_factory=dict)
    planned_cane: float | None = None


def time_account(
    stops: Sequence[Stop],
    first: datetime,
    last: datetime,
    read: Sequence[Span],
    cane: float,
    planned_cane: float | None = None,
) -> TimeAccount:
    """Account for the hours between two moments.

    Only the part of a stop inside the period counts; where stops overlap the hour is counted
    once, for the one that began first.

    Parameters
    ----------
    stops : sequence of Stop
    first, last : datetime
    read : sequence of (datetime, datetime)
        Begin and end of each shift that was read.
    cane : float
        Cane crushed in them. [t]
    planned_cane : float, optional
        Cane planned in the period. [t]
    """
    hours = _hours(first, last)
    counted = _once(stops, first, last)
    by_cause: dict[str, float] = {}
    by_kind: dict[str, float] = {}
    for stop, span in counted:
        length = _hours(*span)
        by_cause[stop.cause] = by_cause.get(stop.cause, 0.0) + length
        by_kind[stop.kind] = by_kind.get(stop.kind, 0.0) + length
    gross = hours - by_kind.get("outside", 0.0)
    crushing = hours - sum(by_cause.values())
    lost = by_kind.get("factory", 0.0)
    of_read = sum(_hours(*span) for span in read)
    stood = sum(
        max(_hours(max(span[0], shift[0]), min(span[1], shift[1])), 0.0)
        for _, span in counted
        for shift in read
    )
    found = TimeAccount(
        hours=hours,
        read=of_read,
        crushing_read=of_read - stood,
        by_cause=by_cause,
        gross_available=gross,
        crushing=crushing,
        lost=lost,
        cane=cane,
        crushing_rate=float("nan"),
        overall_time_efficiency=0.0,
        lost_time=float("nan"),
        mechanical_efficiency=float("nan"),
        planned_cane=planned_cane,
    )
    if not crushing > 0:
        return found
    efficiency = float(overall_time_efficiency(crushing, gross))
    lost_percent = float(lost_time_percent_available(100 * lost / gross, efficiency))
    found = replace(
        found,
        overall_time_efficiency=efficiency,
        lost_time=lost_percent,
        mechanical_efficiency=float(mechanical_efficiency(lost_percent)),
    )
    if not found.crushing_read > 0:
        return found
    rate = float(crushing_rate(cane, found.crushing_read))
    return replace(
        found,
        crushing_rate=rate,
        not_crushed={cause: rate * stood for cause, stood in by_cause.items()},
    )


def _hours(first: datetime, last: datetime) -> float:
    return (last - first) / timedelta(hours=1)


def _once(stops: Sequence[Stop], first: datetime, last: datetime) -> list[tuple[Stop, Span]]:
    """The part of each stop inside the period that no earlier one has."""
    found, reached = [], first
    for stop in sorted(stops, key=lambda item: item.start):
        begins = max(stop.start, reached)
        ends = min(stop.start + timedelta(hours=stop.hours), last)
        if ends > begins:
            found.append((stop, (begins, ends)))
            reached = ends
    return found
