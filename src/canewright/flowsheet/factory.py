"""The factory file's content, checked and in internal units."""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from canewright.laboratory.together import USUAL_RULE

CONTROL_PARTS = (
    "cane",
    "mixed_juice",
    "bagasse",
    "filter_cake",
    "final_molasses",
    "clear_juice",
    "syrup",
    "first_juice",
    "last_juice",
    "imbibition",
)
"""Parts that streams play in the control figures."""


class FactoryRefused(ValueError):
    """The factory file does not describe a factory; `problems` holds one sentence each."""

    def __init__(self, problems: Sequence[str]) -> None:
        super().__init__("\n".join(problems))
        self.problems = list(problems)


@dataclass(frozen=True)
class StationEntry:
    """One station of the factory file.

    `connections` maps a port to the name of a stream (several ports: a list). `values`
    overrides the middle of a quantity's typical range, `ranges` the range itself, both in
    internal units. `parts` holds the entries of a train (mills, bodies) as written.
    """

    name: str
    kind: str
    connections: Mapping[str, str | list[str]]
    values: Mapping[str, float] = field(default_factory=dict)
    ranges: Mapping[str, tuple[float, float]] = field(default_factory=dict)


@dataclass(frozen=True)
class Spread:
    """An uncertainty: a standard uncertainty, absolute or % of the value."""

    value: float
    relative: bool

    def at(self, reading: float) -> float:
        """Standard uncertainty of a reading of this size, in its unit."""
        return abs(reading) * self.value / 100 if self.relative else self.value


@dataclass(frozen=True)
class Certificate:
    """What the certificate of an instrument's last calibration says.

    `value` is that of the standard, `found` what the instrument read of it when it was put
    back to work, `uncertainty` the standard uncertainty of the certificate, all in `unit`;
    `number` is how the certificate is found again.
    """

    unit: str
    value: float | None = None
    found: float | None = None
    uncertainty: float = 0.0
    number: str = ""


@dataclass(frozen=True)
class CheckStandard:
    """A record of what an instrument read of a check standard, as a file beside the factory's.

    `uncertainty` is the standard uncertainty of the standard's own value, `repeatability` that
    of one reading of it where it is stated.
    """

    file: str
    uncertainty: Spread | None = None
    repeatability: Spread | None = None


@dataclass(frozen=True)
class Instrument:
    """An instrument and the readings that it moves together.

    `reads` lists "stream.analysis"; `random` is the standard uncertainty of one reading,
    `bias` that of the instrument's common error, which lasts from shift to shift; both in
    `unit`. `certificate` and `checks` tell what that error is.
    """

    name: str
    reads: tuple[str, ...]
    random: Spread | None = None
    bias: Spread | None = None
    calibrated: datetime.date | None = None
    due: datetime.date | None = None
    certificate: Certificate | None = None
    checks: CheckStandard | None = None
    unit: str = ""


@dataclass(frozen=True)
class Limit:
    """A limit on a variable or a figure, in its internal unit."""

    what: str
    at_least: float | None = None
    at_most: float | None = None
    why: str = ""


@dataclass(frozen=True)
class Hold:
    """A result that is held at a value by moving a setting: `what` at `at` by moving `by`."""

    what: str
    at: float
    by: str


@dataclass(frozen=True)
class Factory:
    """A factory, as data."""

    name: str
    shift_hours: float
    stations: tuple[StationEntry, ...]
    instruments: tuple[Instrument, ...] = ()
    points: Mapping[str, str] = field(default_factory=dict)
    """Name of a sampling point -> name of the stream, where they are not the same word."""
    holds: tuple[Hold, ...] = ()
    limits: tuple[Limit, ...] = ()
    prices: Mapping[str, float] = field(default_factory=dict)
    control: Mapping[str, str] = field(default_factory=dict)
    """Part in the control figures -> stream, where the stream has another name than usual."""
    invented: bool = False
    products: tuple[str, ...] = ()
    tables: tuple[str, ...] = ()
    """Files of the laboratory's own tables, which count from the factory file's folder."""
    repeats: str = USUAL_RULE
    """Rule for repeats of a sample."""
