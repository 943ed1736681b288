"""Calibration of instruments: what an overdue one is worth.

An instrument that is past its due date is not wrong, but less is known of it. The rule here:
the variance of its bias grows by its own size for each calibration interval that it is
overdue, in proportion to the days, as that of a bias that walks at random. One interval late
it is sqrt(2) times as wide. Source: [common_practice].
"""

import datetime
import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Protocol

USUAL_INTERVAL = 365
"""Days; taken where an instrument's date of calibration is not known [common_practice]."""

ONE_DAY = "1 day"


class Instrument(Protocol):
    """What is asked of an instrument: its name and its dates."""

    @property
    def name(self) -> str:
        """As the factory file names it."""

    @property
    def calibrated(self) -> datetime.date | None:
        """When it was last calibrated."""

    @property
    def due(self) -> datetime.date | None:
        """When it is to be calibrated again."""


class HasInstruments(Protocol):
    """A factory, as far as its instruments go."""

    @property
    def instruments(self) -> Iterable[Any]:
        """All its instruments."""


def intervals_overdue(
    calibrated: datetime.date | None, due: datetime.date | None, on: datetime.date
) -> float:
    """Calibration intervals past the due date, as a number with its fraction; 0 before it.

    An instrument without a due date is never overdue; one without a date of calibration has
    an interval of a year.
    """
    if due is None or on <= due:
        return 0.0
    interval = (due - calibrated).days if calibrated is not None else USUAL_INTERVAL
    return (on - due).days / max(1, interval)


def widening(
    calibrated: datetime.date | None, due: datetime.date | None, on: datetime.date
) -> float:
    """Factor on the standard uncertainty of an instrument's bias: sqrt(1 + intervals overdue).

    Source: [common_practice].
    """
    return math.sqrt(1 + intervals_overdue(calibrated, due, on))


@dataclass(frozen=True)
class Overdue:
    """An instrument past its due date, and what that does to its bias."""

    instrument: str
    due: datetime.date
    days: int
    widening: float

    @property
    def days_in_words(self) -> str:
        """How many days it is overdue."""
        return days_in_words(self.days)

    @property
    def words(self) -> str:
        """A sentence for a report."""
        return (
            f"{self.instrument} was due for calibration on {self.due}, {self.days_in_words} ago: "
            f"the uncertainty of its bias is taken {self.widening:.2f} times as wide."
        )


def days_in_words(days: int) -> str:
    """A number of days: 1 day, 12 days."""
    return ONE_DAY if days == 1 else f"{days} days"


def overdue(factory: HasInstruments, date: datetime.date) -> list[Overdue]:
    """Instruments of a factory past their due date, the longest overdue first.

    Parameters
    ----------
    factory : Factory
    date : date
        Of the shift.
    """
    late = [
        Overdue(
            instrument.name,
            instrument.due,
            (date - instrument.due).days,
            widening(instrument.calibrated, instrument.due, date),
        )
        for instrument in factory.instruments
        if instrument.due is not None and instrument.due < date
    ]
    return sorted(late, key=lambda entry: -entry.days)
