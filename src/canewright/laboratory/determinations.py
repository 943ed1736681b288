"""Determinations of a bench sheet: which rows make one, how sure it is, what several make."""

import datetime
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from canewright.laboratory.method import Method
from canewright.laboratory.propagation import propagate
from canewright.laboratory.together import Together, together
from canewright.laboratory.working import Worked


class RawRow(Protocol):
    """A row of a readings file, as far as the bench asks: its `analysis` has a dot."""

    @property
    def point(self) -> str:
        """Where it was read."""

    @property
    def analysis(self) -> str:
        """Analysis and raw reading, such as `pol.rotation`."""

    @property
    def value(self) -> float:
        """In the raw reading's unit."""

    @property
    def method(self) -> str:
        """Name of the method; empty for the usual one."""

    @property
    def time(self) -> datetime.datetime | None:
        """When; None if it holds for the whole period."""

    @property
    def repeat(self) -> str:
        """Which of several determinations of one sample; empty if it holds for all of them."""

    @property
    def amount(self) -> float | None:
        """Flow or mass that the sample stands for, where a composite is wanted."""


@dataclass(frozen=True)
class Known:
    """An analysis that a method may take instead of reading it: value and its uncertainty.

    Without `own`, the method's own uncertainty of that input counts.
    """

    value: float
    own: float | None = None
    shared: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Determination:
    """One determination: its working, and its uncertainty in parts.

    `own` is the standard uncertainty of its own, `shared` what one standard uncertainty of
    each source in common moves it, with its sign; both in the unit of the result. `taken`
    names the readings that came from another analysis of the same sample.
    """

    worked: Worked
    time: datetime.datetime | None
    rows: tuple[RawRow, ...]
    taken: tuple[str, ...]
    own: float
    shared: Mapping[str, float]


@dataclass(frozen=True)
class Found:
    """One determination before its uncertainty is known."""

    worked: Worked
    time: datetime.datetime | None
    repeat: str
    rows: tuple[RawRow, ...]
    taken: dict[str, Known]


def by_sample(
    group: Sequence[RawRow],
) -> list[tuple[datetime.datetime | None, str, tuple[RawRow, ...]]]:
    """Rows of each time and each repeat, with those that hold for all times and repeats."""
    times = dict.fromkeys(row.time for row in group if row.time is not None)
    found = []
    for moment in times or (None,):
        rows = [row for row in group if row.time in (moment, None)]
        repeats = dict.fromkeys(row.repeat for row in rows if row.repeat)
        for repeat in repeats or ("",):
            mine = tuple(row for row in rows if row.repeat in (repeat, ""))
            found.append((moment, repeat, mine))
    return found


def mean_of_repeats(repeats: Sequence[Determination]) -> Known:
    """What repeats of one sample say of it to another analysis: their mean, no surer than one."""
    count = len(repeats)
    sources = dict.fromkeys(source for one in repeats for source in one.shared)
    return Known(
        math.fsum(one.worked.value for one in repeats) / count,
        math.sqrt(math.fsum(one.own**2 for one in repeats) / count),
        {
            source: math.fsum(one.shared.get(source, 0.0) for one in repeats) / count
            for source in sources
        },
    )


def weighed(
    method: Method, found: Sequence[Found], made: Sequence[Determination], rule: str
) -> Together:
    """Judge repeats of a sample by the method's repeatability, and weigh the samples.

    The published repeatability, or else what the determination has of its own but sampling.
    """
    mean = math.fsum(one.worked.value for one in made) / len(made)
    level = method.precision.at_value(mean) if method.precision is not None else None
    own = math.fsum(one.own**2 for one in made) / len(made)
    repeatability = level.s_r if level else math.sqrt(max(own - method.sampling**2, 0.0))
    amounts = [
        next((row.amount for row in one.rows if row.amount is not None), None) for one in found
    ]
    values = [one.worked.value for one in made]
    return together(values, [one.time for one in made], repeatability, amounts, rule)


def uncertainties(method: Method, found: Sequence[Found]) -> list[tuple[float, dict[str, float]]]:
    """Own and shared parts of each determination, many at once where the inputs are the same."""
    alike: dict[tuple[str, ...], list[int]] = {}
    for place, one in enumerate(found):
        worked_too = [name for name, known in one.taken.items() if known.own is not None]
        alike.setdefault((*one.worked.inputs, "", *worked_too), []).append(place)
    parts: dict[int, tuple[float, dict[str, float]]] = {}
    for places in alike.values():
        group = [found[place] for place in places]
        values = {
            name: np.array([one.worked.inputs[name] for one in group])
            for name in group[0].worked.inputs
        }
        # what was worked on the sheet too brings its own uncertainty, in its own parts
        taken = [name for name, known in group[0].taken.items() if known.own is not None]
        none = {name: np.zeros(len(group)) for name in taken}
        uncertain = propagate(method, values, uncertainties=none)
        slopes = method.sensitivities(values, taken)[1] if taken else {}
        for k, (place, one) in enumerate(zip(places, group, strict=True)):
            square = float(uncertain.own[k]) ** 2
            shared = {source: float(part[k]) for source, part in uncertain.shared.items()}
            for name in taken:
                known, slope = one.taken[name], float(slopes[name][k])
                square += (slope * (known.own or 0.0)) ** 2
                for source, part in known.shared.items():
                    shared[source] = shared.get(source, 0.0) + slope * part
            parts[place] = (math.sqrt(square), shared)
    return [parts[place] for place in range(len(found))]
