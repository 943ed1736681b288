"""Plan against actual: cane, sugar, recovery, hours of crushing, and when it will be done."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from canewright.files.plan import PlannedSpan

LINES = (
    ("cane crushed", "t", "cane_tonnes"),
    ("sugar made", "t", "sugar_tonnes"),
    ("overall recovery", "%", "overall_recovery"),
)
"""What is planned, its unit, and the figure that it came to."""
HOURS = "hours of crushing"


@dataclass(frozen=True)
class Planned:
    """What a plan asks for between two moments; None where a span in it does not say.

    Cane and sugar in t, recovery in %, crushing in h.
    """

    cane: float
    sugar: float | None
    recovery: float | None
    hours: float | None


@dataclass(frozen=True)
class PlanLine:
    """One thing planned against what it came to; `sd` is nan where it has no interval."""

    name: str
    unit: str
    planned: float
    actual: float
    sd: float

    @property
    def difference(self) -> float:
        """Actual less planned, in the unit."""
        return self.actual - self.planned


@dataclass(frozen=True)
class Pace:
    """When the cane of the whole plan will be crushed, if the pace to date holds."""

    planned_cane: float
    planned_end: datetime
    end: datetime

    @property
    def late(self) -> float:
        """Days after the plan's end; negative if before."""
        return (self.end - self.planned_end) / timedelta(days=1)


def planned(spans: Sequence[PlannedSpan], first: datetime, last: datetime) -> Planned:
    """What is planned between two moments: a span that is part of it counts in part.

    Recovery is weighted by the cane planned.
    """
    parts = []
    for span in spans:
        inside = min(span.ends, last) - max(span.begins, first)
        part = inside / (span.ends - span.begins)
        if part > 0:
            parts.append((part, span))

    def total(of: Callable[[PlannedSpan], float | None]) -> float | None:
        amounts = [(part, of(span)) for part, span in parts]
        if any(amount is None for _, amount in amounts) or not amounts:
            return None
        return sum(part * amount for part, amount in amounts if amount is not None)

    cane = total(lambda span: span.cane) or 0.0
    recovered = total(lambda s: None if s.recovery is None else s.cane * s.recovery)
    return Planned(
        cane,
        total(lambda span: span.sugar),
        recovered / cane if recovered is not None and cane else None,
        total(lambda span: span.hours),
    )


def against_plan(
    spans: Sequence[PlannedSpan],
    first: datetime,
    last: datetime,
    actual: Callable[[str], tuple[float, float] | None],
    crushing: float | None,
) -> list[PlanLine]:
    """Lines of plan against actual between two moments.

    Parameters
    ----------
    spans : sequence of PlannedSpan
    first, last : datetime
    actual : callable
        Name of a figure -> its value and standard uncertainty, or None.
    crushing : float, optional
        Hours of crushing, where a log of stops tells them. [h]
    """
    asked = planned(spans, first, last)
    found = []
    wanted_of = (asked.cane, asked.sugar, asked.recovery)
    for (name, unit, figure), wanted in zip(LINES, wanted_of, strict=True):
        known = actual(figure)
        if wanted is not None and known is not None:
            found.append(PlanLine(name, unit, wanted, *known))
    if asked.hours is not None and crushing is not None:
        found.append(PlanLine(HOURS, "h", asked.hours, crushing, float("nan")))
    return found


def pace(spans: Sequence[PlannedSpan], first: datetime, last: datetime, cane: float) -> Pace | None:
    """When the planned cane will be crushed at the pace from the first moment to the last."""
    if not spans or not cane > 0 or last <= first:
        return None
    whole = sum(span.cane for span in spans)
    left = max(whole - cane, 0.0) / cane * (last - first)
    return Pace(whole, max(span.ends for span in spans), last + left)
