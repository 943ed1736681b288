"""Samples of a period: composites by flow, late ones, and ones taken at the wrong point.

A sample is never deleted. One that does not count keeps its result and says why, so that
whoever reads the balance sees what was left out and by whom.
"""

import datetime
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np


@dataclass(frozen=True)
class Sample:
    """One sample and its result.

    `taken` decides the period it speaks of, `received` when its result was known. A sample
    with a reason in `excluded` is kept but not counted.
    """

    point: str
    analysis: str
    value: float
    taken: datetime.datetime
    received: datetime.datetime | None = None
    excluded: str = ""
    excluded_by: str = ""

    @property
    def counts(self) -> bool:
        """Whether the balance uses it."""
        return not self.excluded

    def within(self, start: datetime.datetime, end: datetime.datetime) -> bool:
        """Whether it was taken in a period: after its start, up to and with its end."""
        return start < self.taken <= end


def exclude(sample: Sample, reason: str, by: str = "") -> Sample:
    """The sample, kept but no longer counted.

    Parameters
    ----------
    sample : Sample
    reason : str
        Such as "taken at the scale tank, not at the screen".
    by : str
        Who decided it.

    Raises
    ------
    ValueError
        If no reason is given: a result does not vanish without one.
    """
    if not reason.strip():
        raise ValueError(
            f"Say why the sample of {sample.point}, {sample.analysis}, does not count: "
            "it is kept with its reason."
        )
    return replace(sample, excluded=reason.strip(), excluded_by=by.strip())


def count_again(sample: Sample) -> Sample:
    """The sample, counted again."""
    return replace(sample, excluded="", excluded_by="")


@dataclass(frozen=True)
class PeriodSamples:
    """Samples of one period, as they stand at a moment.

    `late` were taken in the period but known only after it was closed: the balance of the
    period is to be run again with them. `excluded` are kept with their reasons.
    """

    counted: tuple[Sample, ...]
    late: tuple[Sample, ...]
    excluded: tuple[Sample, ...]

    @property
    def sentences(self) -> list[str]:
        """What a report says of the samples that need a word."""
        told = [
            f"{sample.point} {sample.analysis} {sample.value:g}, taken {sample.taken:%d %b %H:%M}, "
            "came after the period was closed: balance it again."
            for sample in self.late
        ]
        told += [
            f"{sample.point} {sample.analysis} {sample.value:g}, taken {sample.taken:%d %b %H:%M}, "
            f"is kept and not counted: {sample.excluded}"
            + (f" ({sample.excluded_by})." if sample.excluded_by else ".")
            for sample in self.excluded
        ]
        return told


def of_period(
    samples: Iterable[Sample],
    start: datetime.datetime,
    end: datetime.datetime,
    closed: datetime.datetime | None = None,
) -> PeriodSamples:
    """Sort samples by what they mean for one period.

    Parameters
    ----------
    samples : iterable of Sample
        Of any period.
    start, end : datetime
        The period: samples count by when they were taken, not by when they arrived.
    closed : datetime, optional
        When the period's balance was made; left out while it is still open.
    """
    counted, late, excluded = [], [], []
    for sample in samples:
        if not sample.within(start, end):
            continue
        if not sample.counts:
            excluded.append(sample)
        else:
            counted.append(sample)
            if closed and sample.received and sample.received > closed:
                late.append(sample)
    return PeriodSamples(tuple(counted), tuple(late), tuple(excluded))


@dataclass(frozen=True)
class Increment:
    """One part of a composite: its value and the amount it stands for.

    `random` is the standard uncertainty of the value, `amount_random` that of the amount,
    each drawn anew for every part.
    """

    value: float
    amount: float
    random: float = 0.0
    amount_random: float = 0.0


@dataclass(frozen=True)
class Composite:
    """A flow-weighted composite: one value for its period.

    `uncertainty` combines `random`, `from_amounts` and `bias`, all standard uncertainties in
    the unit of the value.
    """

    value: float
    random: float
    from_amounts: float
    bias: float
    shares: tuple[float, ...]

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty of the composite."""
        return math.sqrt(self.random**2 + self.from_amounts**2 + self.bias**2)


def composite(increments: Sequence[Increment], bias: float = 0.0) -> Composite:
    """Flow-weighted composite of analyses: sum(amount value) / sum(amount).

    The random parts fall with the number of parts; the bias of the instrument is common to
    all and does not. An error in an amount counts by how far its value lies from the mean:
    derivative (x_i - x) / total. Source: [gum2008] 5.1.2; [own_derivation].

    Parameters
    ----------
    increments : sequence of Increment
    bias : float
        Standard uncertainty of what is common to all the analyses.

    Raises
    ------
    ValueError
        If there is nothing to weight, or an amount is below zero.
    """
    amounts = np.array([part.amount for part in increments], dtype=float)
    if (amounts < 0).any():
        raise ValueError("An amount is below zero: check the flow or the weight of each part.")
    total = float(amounts.sum())
    if not total > 0:
        raise ValueError("The parts of the composite weigh nothing: give the flow of each.")
    shares = amounts / total
    values = np.array([part.value for part in increments], dtype=float)
    mean = float(shares @ values)
    random = shares * [part.random for part in increments]
    from_amounts = (values - mean) / total * [part.amount_random for part in increments]
    return Composite(
        mean,
        float(np.sqrt((random**2).sum())),
        float(np.sqrt((from_amounts**2).sum())),
        float(bias),
        tuple(shares.tolist()),
    )
