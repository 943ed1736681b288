"""Calibration of instruments: what a certificate says, and what an overdue one is worth.

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


@dataclass(frozen=True)
class Calibration:
    """One calibration of an instrument, as its certificate says.

    `certificate_value` is what the standard was, `found` what the instrument read of it,
    `uncertainty` the standard uncertainty of the certificate (half an expanded one of k = 2),
    all in the unit of the instrument.
    """

    instrument: str
    date: datetime.date
    due: datetime.date
    certificate_value: float | None = None
    found: float | None = None
    uncertainty: float = 0.0
    certificate: str = ""

    def __post_init__(self) -> None:
        if self.due <= self.date:
            raise ValueError(
                f"{self.instrument}: it is due {self.due}, not after its calibration on "
                f"{self.date}. Check the two dates."
            )
        if self.uncertainty < 0:
            raise ValueError(f"{self.instrument}: an uncertainty cannot be below zero.")

    @property
    def error(self) -> float | None:
        """Reading less standard at calibration, where both are known."""
        if self.certificate_value is None or self.found is None:
            return None
        return self.found - self.certificate_value

    def bias_sd(self, bias: float, on: datetime.date) -> float:
        """Standard uncertainty of the bias on a date: certificate and widened bias together."""
        widened = bias * widening(self.date, self.due, on)
        return math.hypot(widened, self.uncertainty)


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
    def words(self) -> str:
        """A sentence for a report."""
        days = "1 day" if self.days == 1 else f"{self.days} days"
        return (
            f"{self.instrument} was due for calibration on {self.due}, {days} ago: the "
            f"uncertainty of its bias is taken {self.widening:.2f} times as wide."
        )


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
