"""What the readings of a shift are made of, and what the reader asks of a factory."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Literal, Protocol

from canewright.laboratory.bench import BenchResult
from canewright.laboratory.together import USUAL_RULE

Several = Literal["mean", "sum", "refuse"]


@dataclass(frozen=True)
class Analysis:
    """What can be read at a point: its unit, its physical limits, how readings combine.

    Parameters
    ----------
    unit : str
        Internal unit.
    low, high : float
        Limits outside which a value is physically impossible, in `unit`; infinite if none.
    several : {"mean", "sum", "refuse"}
        What several readings of one shift make: their mean (a concentration), their sum (a
        total weighed in parts), or a refusal (a thing that exists once a shift).
    text : str
        What the analysis is, in the trade's words.
    raw : bool
        A raw reading of the bench, from which an analysis is worked; its limits are the
        method's to say.
    random, random_relative : float, bool
        Standard uncertainty of one reading, in `unit` or % of the value; nought if not known.
    unit_required : bool
        Whether a value without a unit is refused, because instruments differ in it.
    rule : str
        For repeats of a sample, one of `canewright.laboratory.duplicates.RULES`.
    """

    unit: str
    low: float = float("-inf")
    high: float = float("inf")
    several: Several = "mean"
    text: str = ""
    raw: bool = False
    random: float = 0.0
    random_relative: bool = False
    unit_required: bool = False
    rule: str = USUAL_RULE

    def random_at(self, value: float) -> float:
        """Standard uncertainty of one reading of this size, in `unit`; nought if not known."""
        return abs(value) * self.random / 100 if self.random_relative else self.random


class Catalogue(Protocol):
    """The points of a factory and what can be read at each.

    An analysis that is given by raw readings of the bench carries their names after a dot
    (`pol.rotation`), as analyses of the same point.
    """

    def points(self) -> Collection[str]:
        """Names of all points."""

    def analyses(self, point: str) -> Mapping[str, Analysis]:
        """What can be read at a point, by name."""


@dataclass(frozen=True)
class ReadingRow:
    """One reading, in the internal unit and as it was written, with its place in the file.

    `repeat` tells determinations of one sample apart, `amount` is the flow or mass that the
    sample stands for, `received` when its result was known; one with a reason in `excluded`
    is kept and does not count.
    """

    point: str
    analysis: str
    value: float
    unit: str
    value_as_read: float
    unit_as_read: str
    method: str = ""
    time: datetime | None = None
    note: str = ""
    file: str = ""
    row: int = 0
    column: str = ""
    repeat: str = ""
    amount: float | None = None
    received: datetime | None = None
    excluded: str = ""

    @classmethod
    def of(
        cls,
        point: str,
        analysis: str,
        value: float,
        unit: str,
        *,
        method: str = "",
        time: datetime | None = None,
        note: str = "",
    ) -> "ReadingRow":
        """A reading that comes from no file, already in the internal unit."""
        return cls(point, analysis, value, unit, value, unit, method, time, note)


@dataclass(frozen=True)
class ShiftFacts:
    """When the shift began, how many hours it lasted and what it is called, where told."""

    start: datetime | None = None
    hours: float | None = None
    name: str = ""

    @property
    def end(self) -> datetime | None:
        """When the shift ended; None unless both start and hours are known."""
        if self.start is None or self.hours is None:
            return None
        return self.start + timedelta(hours=self.hours)


@dataclass(frozen=True)
class ReadingsFile:
    """All readings of a file, taken whole.

    `fingerprint` is the SHA-256 of the file's bytes in hexadecimal.
    """

    rows: tuple[ReadingRow, ...]
    shift: ShiftFacts
    fingerprint: str
    file: str = ""


@dataclass(frozen=True)
class CombinedReading:
    """What several readings of the same thing in one shift make together.

    One worked from raw readings of the bench has its own standard uncertainty `sd`, what it
    shares with others (`BenchResult.shared`), and its working. `count` is the number of
    samples; `repeats` what is to be said of determinations of one that disagree.
    """

    point: str
    analysis: str
    value: float
    unit: str
    count: int
    rows: tuple[ReadingRow, ...]
    sd: float | None = None
    shared: Mapping[str, float] = field(default_factory=dict)
    bench: BenchResult | None = None
    repeats: tuple[str, ...] = ()
