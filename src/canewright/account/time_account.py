"""The time account of a period: stops by cause, available time, rates, plan and actual."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from canewright.figures.time_formulas import (
    crushing_rate,
    lost_time_percent_available,
    mechanical_efficiency,
    overall_time_efficiency,
)
from canewright.files.stops import Stop


@dataclass(frozen=True)
class TimeAccount:
    """Where the hours of a period went. [h].

    Attributes
    ----------
    hours : float
        From the first start to the last end.
    read : float
        Of the shifts that were read.
    by_cause : dict
        Cause -> hours.
    gross_available, crushing, lost : float
        Hours less those outside the factory's power; hours less all stops; stops by the
        factory itself.
    cane, crushing_rate : float
        Cane crushed [t], and its rate while crushing [t/h].
    overall_time_efficiency, lost_time, mechanical_efficiency : float
        [%]
    planned_cane : float or None
        What the plan asks for by the end of the period. [t]
    """

    hours: float
    read: float
    by_cause: dict[str, float]
    gross_available: float
    crushing: float
    lost: float
    cane: float
    crushing_rate: float
    overall_time_efficiency: float
    lost_time: float
    mechanical_efficiency: float
    planned_cane: float | None = None


def time_account(
    stops: Sequence[Stop],
    first: datetime,
    last: datetime,
    read_hours: float,
    cane: float,
    planned_rate: float | None = None,
) -> TimeAccount:
    """Account for the hours between two moments.

    Only the part of a stop inside the period counts; where stops overlap the hour is counted
    once, for the one that began first.

    Parameters
    ----------
    stops : sequence of Stop
    first, last : datetime
    read_hours : float
        Hours of the shifts that were read. [h]
    cane : float
        Cane crushed. [t]
    planned_rate : float, optional
        Cane planned per hour of the period. [t/h]
    """
    hours = (last - first) / timedelta(hours=1)
    by_cause: dict[str, float] = {}
    by_kind: dict[str, float] = {}
    reached = first
    for stop in sorted(stops, key=lambda item: item.start):
        begins = max(stop.start, reached)
        ends = min(stop.start + timedelta(hours=stop.hours), last)
        if ends <= begins:
            continue
        length = (ends - begins) / timedelta(hours=1)
        by_cause[stop.cause] = by_cause.get(stop.cause, 0.0) + length
        by_kind[stop.kind] = by_kind.get(stop.kind, 0.0) + length
        reached = ends
    gross = hours - by_kind.get("outside", 0.0)
    crushing = hours - sum(by_cause.values())
    lost = by_kind.get("factory", 0.0)
    if not crushing > 0:
        nothing = float("nan")
        return TimeAccount(
            hours, read_hours, by_cause, gross, crushing, lost, cane, nothing, 0.0, nothing,
            nothing, None if planned_rate is None else planned_rate * hours,
        )  # fmt: skip
    efficiency = float(overall_time_efficiency(crushing, gross))
    lost_percent = float(lost_time_percent_available(100 * lost / gross, efficiency))
    return TimeAccount(
        hours,
        read_hours,
        by_cause,
        gross,
        crushing,
        lost,
        cane,
        float(crushing_rate(cane, crushing)),
        efficiency,
        lost_percent,
        float(mechanical_efficiency(lost_percent)),
        None if planned_rate is None else planned_rate * hours,
    )
