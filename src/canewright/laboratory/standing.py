"""How an instrument stands on a day: what is known of its bias, and from what.

Three things may tell. What the factory file states: so far off it may be, either way; wider
once it is overdue. A certificate: what it read of a standard when it was calibrated. Checks
since then: what it reads of a standard from shift to shift. The newest of them that there is
holds; the balance takes it as the prior of the instrument's bias.
"""

import datetime
import math
import statistics
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from canewright.laboratory.check_samples import (
    LEAST_FOR_SD,
    CheckRecord,
    CheckVerdict,
    bias_prior,
    chart_checks,
)
from canewright.laboratory.instruments import Overdue

COVERAGE = 1.96
"""Standard uncertainties on either side that hold 95 % [gum2008]."""


@dataclass(frozen=True)
class Standing:
    """What is known of the bias of one instrument.

    `mean` and `sd` are in `unit`, which is that of its readings or "% of value"; `origin` says
    what tells them. `verdict` holds the charts of its checks, `overdue` what is to be said of
    its due date, `certificate` the number and day of it.
    """

    instrument: str
    unit: str
    mean: float
    sd: float
    origin: Literal["stated", "certificate", "checks"] = "stated"
    overdue: Overdue | None = None
    verdict: CheckVerdict | None = None
    certificate: str = ""

    def prior(self, size: float) -> tuple[float, float]:
        """Mean and standard uncertainty in multiples of the size that the balance gives it."""
        return self.mean / size, self.sd / size

    @property
    def is_off(self) -> bool:
        """Whether it is known to read high or low: more than its 95 % interval."""
        return abs(self.mean) > COVERAGE * self.sd

    @property
    def notable(self) -> bool:
        """Whether whoever signs the balance must read of it."""
        unfit = self.verdict is not None and not self.verdict.fit
        return self.is_off or unfit or self.overdue is not None

    @property
    def words(self) -> str:
        """What is known of it and what to do, in sentences."""
        return " ".join(part for part in (self._known, self._charts, self._due) if part)

    @property
    def _known(self) -> str:
        if self.origin == "stated":
            return ""
        by = self._evidence
        half = COVERAGE * self.sd
        if not self.is_off:
            off = f"{_like(self.mean, half, sign=True)} +/- {_like(half, half)} {self.unit}"
            return f"{self.instrument} reads true within what is known of it, {off}, by {by}."
        size = f"{_like(abs(self.mean), half)} +/- {_like(half, half)} {self.unit}"
        if self.mean > 0:
            return (
                f"{self.instrument} reads {size} high by {by}: the balance takes its readings "
                f"for so much less."
            )
        return (
            f"{self.instrument} reads {size} low by {by}: the balance takes its readings for so "
            f"much more."
        )

    @property
    def _evidence(self) -> str:
        if self.verdict is None:
            return f"its certificate {self.certificate}" if self.certificate else "its certificate"
        record = self.verdict.record
        count = len(record.values)
        said = (
            f"{count} checks against its standard" if count > 1 else "1 check against its standard"
        )
        return f"{said}, the newest {record.times[-1]:%d %b %H:%M}" if record.times else said

    @property
    def _charts(self) -> str:
        if self.verdict is None or self.verdict.fit:
            return ""
        newest = self.verdict.single.plotted.size - 1
        if any(signal.at == newest for signal in self.verdict.average.signals):
            return "It has drifted: clean it, check the standard, calibrate it."
        signal = next(s for s in self.verdict.single.signals if s.at == newest)
        return f"Its newest check signals: {signal.words}; look for {signal.look_for}."

    @property
    def _due(self) -> str:
        if self.overdue is None:
            return ""
        if self.origin == "checks":
            days = self.overdue.days_in_words
            due = f"was due for calibration on {self.overdue.due}, {days} ago"
            return f"{self.instrument} {due}; until then its checks tell its bias."
        return self.overdue.words


def stated(
    instrument: str, unit: str, bias: float, overdue: Overdue | None = None
) -> Standing:  # fmt: skip
    """An instrument of which nothing is known but what the factory file states."""
    widening = overdue.widening if overdue else 1.0
    return Standing(instrument, unit, 0.0, bias * widening, "stated", overdue)


def certified(known: Standing, error: float, uncertainty: float, certificate: str) -> Standing:
    """The same with what a certificate found: an error, and how well that is known.

    The bias may have wandered since by what is stated of it; both uncertainties add as
    squares. Source: [gum2008] 5.1.2.
    """
    return replace(
        known,
        mean=error,
        sd=math.hypot(known.sd, uncertainty),
        origin="certificate",
        certificate=certificate,
    )


def checked(known: Standing, record: CheckRecord, moment: datetime.datetime | None) -> Standing:
    """The same with what checks of a standard say at a moment.

    Raises
    ------
    ValueError
        If the scatter of the checks is not known.
    """
    verdict = chart_checks(record)
    mean, sd = bias_prior(record, elapsed=_elapsed(record, moment))
    return replace(known, mean=mean, sd=sd, origin="checks", verdict=verdict)


def with_scatter(record: CheckRecord, random: float | None) -> CheckRecord:
    """The record, with the instrument's own random part where it cannot tell its scatter.

    Parameters
    ----------
    record : CheckRecord
    random : float or None
        Standard uncertainty of one reading of the instrument, in the record's unit.

    Raises
    ------
    ValueError
        If neither is known.
    """
    if record.repeatability is not None:
        return record
    if len(record.values) < LEAST_FOR_SD and random is not None:
        return replace(record, repeatability=random)
    try:
        record.sd  # noqa: B018 - asked whether it has one
    except ValueError:
        if random is None:
            raise
        return replace(record, repeatability=random)
    return record


def _elapsed(record: CheckRecord, moment: datetime.datetime | None) -> float:
    """Time since the newest check, in usual times between checks."""
    times = record.times
    if moment is None or len(times) < 2 or moment <= times[-1]:
        return 0.0
    gaps = [(b - a).total_seconds() for a, b in pairwise(times)]
    usual = statistics.median(gaps)
    return (moment - times[-1]).total_seconds() / usual if usual > 0 else 0.0


def _like(value: float, sd: float, *, sign: bool = False) -> str:
    """A number with the digits that two digits of its uncertainty show."""
    decimals = max(0, 1 - math.floor(math.log10(sd))) if sd > 0 else 3
    return f"{value:{'+' if sign else ''}.{decimals}f}"
