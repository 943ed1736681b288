"""The bench sheet: raw readings of a shift to analyses, with what they share.

A raw reading is named after its analysis, with a dot: `pol.rotation`, `brix.temperature`.
Readings of one time make one determination; a reading without a time holds for all of its
analysis. Several determinations make their mean: what each has of its own shrinks with
their number, what they share does not. Where a method needs another analysis of the same
sample (the Brix for Schmitz's table), that is taken from the sheet, and its uncertainty too.
"""

import datetime
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cache
from typing import Protocol

import numpy as np

from canewright.laboratory.method import (
    Method,
    RawInput,
    methods_for,
)
from canewright.laboratory.plausibility import unusual
from canewright.laboratory.propagation import propagate
from canewright.laboratory.working import Worked, examine


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
class BenchResult:
    """An analysis of a point over the period, from its raw readings.

    `own` is the standard uncertainty of `value` that nothing else has, `shared` what one
    standard uncertainty of each source in common moves it.
    """

    point: str
    analysis: str
    method: Method
    value: float
    own: float
    shared: Mapping[str, float]
    determinations: tuple[Determination, ...]
    warnings: tuple[str, ...]

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty of the value, all parts together."""
        return math.sqrt(self.own**2 + sum(part**2 for part in self.shared.values()))

    @property
    def known(self) -> Known:
        """For another analysis that takes it."""
        return Known(self.value, self.own, self.shared)


@dataclass(frozen=True)
class BenchProblem:
    """What is wrong with a raw reading: its row, a sentence, and what to do."""

    row: RawRow
    what: str
    remedy: str = ""


@cache
def raw_readings(analysis: str, stream_class: str) -> dict[str, RawInput]:
    """What may be read for an analysis of a class of stream, by name, over all its methods."""
    found: dict[str, RawInput] = {}
    for method in methods_for(analysis, stream_class):
        for raw in method.inputs:
            known = found.setdefault(raw.name, raw)
            if known.unit != raw.unit:
                raise TypeError(f"{method.name}: {raw.name} is in {raw.unit}, not {known.unit}.")
    return found


def limits(analysis: str, name: str, stream_class: str) -> tuple[float, float]:
    """The widest hard limits of a raw reading over the methods that use it."""
    inputs = [
        raw
        for method in methods_for(analysis, stream_class)
        for raw in method.inputs
        if raw.name == name
    ]
    return min(raw.low for raw in inputs), max(raw.high for raw in inputs)


def work_up(
    rows: Iterable[RawRow],
    classes: Mapping[str, str],
    streams: Mapping[str, str] | None = None,
    ready: Mapping[tuple[str, str], Known] | None = None,
) -> tuple[list[BenchResult], list[BenchProblem]]:
    """Work the raw readings of a period up to analyses.

    Parameters
    ----------
    rows : iterable of RawRow
    classes : mapping
        Point -> class of its stream (`stream_class`).
    streams : mapping, optional
        Point -> what is sampled there, for the usual ranges.
    ready : mapping, optional
        (point, analysis) -> an analysis given as a result, which a method may take.

    Returns
    -------
    results : list of BenchResult
        One for each point and analysis, in the order of first appearance.
    problems : list of BenchProblem
        Everything that is wrong, all at once; those analyses are not among the results.
    """
    sheet = _Sheet(dict(classes), dict(streams or {}), dict(ready or {}))
    groups: dict[tuple[str, str], list[RawRow]] = {}
    for row in rows:
        groups.setdefault((row.point, row.analysis.partition(".")[0]), []).append(row)
    waiting = dict(groups)
    while waiting:
        free = [key for key, group in waiting.items() if not sheet.needs(key, group) & set(waiting)]
        for key in free or list(waiting):
            sheet.work(key, waiting.pop(key))
    found = {(result.point, result.analysis): result for result in sheet.results}
    return [found[key] for key in groups if key in found], sheet.problems


@dataclass(frozen=True)
class _Found:
    """One determination before its uncertainty is known."""

    worked: Worked
    time: datetime.datetime | None
    rows: tuple[RawRow, ...]
    taken: dict[str, Known]


@dataclass
class _Sheet:
    """The sheet as it is worked through."""

    classes: dict[str, str]
    streams: dict[str, str]
    ready: dict[tuple[str, str], Known]
    results: list[BenchResult] = field(default_factory=list)
    problems: list[BenchProblem] = field(default_factory=list)
    at_time: dict[tuple[str, str, datetime.datetime | None], Known] = field(default_factory=dict)
    failed: set[tuple[str, str]] = field(default_factory=set)

    def needs(self, key: tuple[str, str], group: Sequence[RawRow]) -> set[tuple[str, str]]:
        """Other analyses of the sample that this one would take."""
        method = self._method(key, group)
        if not isinstance(method, Method):
            return set()
        given = {row.analysis.partition(".")[2] for row in group}
        taken = {raw.takes for raw in method.inputs if raw.takes and raw.name not in given}
        return {(key[0], analysis) for analysis in taken - {key[1]}}

    def _method(self, key: tuple[str, str], group: Sequence[RawRow]) -> "Method | BenchProblem":
        point, analysis = key
        suited = methods_for(analysis, self.classes.get(point, ""))
        names = {method.name: method for method in suited}
        asked = list(dict.fromkeys(row.method.strip() for row in group if row.method.strip()))
        if not suited:
            what = f"No method makes {analysis} of {point} from raw readings."
            return BenchProblem(group[0], what, "Give the result itself.")
        if len(asked) > 1:
            what = f"{analysis} of {point} names two methods: {', '.join(asked)}."
            return BenchProblem(group[0], what, "Name the one that was used.")
        if asked:
            name = asked[0].casefold().replace(" ", "_").replace("-", "_")
            if name in names:
                return names[name]
            row = next(row for row in group if row.method.strip())
            close = get_close_matches(name, names, n=1, cutoff=0.6)
            hint = f"Did you mean {close[0]}? " if close else ""
            what = f"'{asked[0]}' is no method for {analysis} of {point}."
            return BenchProblem(row, what, f"{hint}Methods: {', '.join(names)}.")
        given = {row.analysis.partition(".")[2] for row in group}
        fits = [method for method in suited if given <= {raw.name for raw in method.inputs}]
        whole = [
            method
            for method in fits
            if all(raw.name in given or raw.takes or not raw.required for raw in method.inputs)
        ]
        return (whole or fits or suited)[0]

    def work(self, key: tuple[str, str], group: list[RawRow]) -> None:
        """Work one analysis of one point; what is wrong goes to the problems."""
        method = self._method(key, group)
        if isinstance(method, BenchProblem):
            self.problems.append(method)
            self.failed.add(key)
            return
        found: list[_Found] = []
        wrong = False
        for moment, rows in _by_time(group):
            given = {row.analysis.partition(".")[2]: row.value for row in rows}
            taken = self._taken(key[0], method, given, moment)
            values = {**given, **{name: known.value for name, known in taken.items()}}
            worked = examine(method, values)
            for remark in worked.refusals:
                wrong = True
                if self._follows(key[0], method, remark.reading):
                    continue  # said already, where it is wrong
                where = next(
                    (row for row in rows if row.analysis.partition(".")[2] == remark.reading),
                    rows[0],
                )
                self.problems.append(BenchProblem(where, remark.text))
            found.append(_Found(worked, moment, rows, taken))
        if wrong:
            self.failed.add(key)
        else:
            self._keep(key, method, found)

    def _follows(self, point: str, method: Method, reading: str) -> bool:
        """Whether a reading is only missing because the analysis it is taken from failed."""
        takes = [raw.takes for raw in method.inputs if raw.name == reading and raw.takes]
        return any((point, analysis) in self.failed for analysis in takes)

    def _taken(
        self,
        point: str,
        method: Method,
        given: Mapping[str, float],
        moment: datetime.datetime | None,
    ) -> dict[str, Known]:
        taken = {}
        for raw in method.inputs:
            if not raw.takes or raw.name in given:
                continue
            known = self.at_time.get((point, raw.takes, moment)) or self.ready.get(
                (point, raw.takes)
            )
            if known is not None:
                taken[raw.name] = known
        return taken

    def _keep(
        self,
        key: tuple[str, str],
        method: Method,
        found: list[_Found],
    ) -> None:
        point, analysis = key
        determinations = [
            Determination(one.worked, one.time, one.rows, tuple(one.taken), own, shared)
            for one, (own, shared) in zip(found, _uncertainties(method, found), strict=True)
        ]
        count = len(determinations)
        value = math.fsum(one.worked.value for one in determinations) / count
        own = math.sqrt(math.fsum(one.own**2 for one in determinations)) / count
        sources = dict.fromkeys(source for one in determinations for source in one.shared)
        shared = {
            source: math.fsum(one.shared.get(source, 0.0) for one in determinations) / count
            for source in sources
        }
        for one in determinations:
            if one.time is not None:
                self.at_time[(*key, one.time)] = Known(one.worked.value, one.own, one.shared)
        warnings = [
            f"{analysis} of {point}: {text}"
            for text in dict.fromkeys(
                remark.text for one in determinations for remark in one.worked.warnings
            )
        ]
        said = self._unusual(point, analysis, method, determinations)
        result = BenchResult(
            point,
            analysis,
            method,
            value,
            own,
            {source: part for source, part in shared.items() if part},
            tuple(determinations),
            (*warnings, *said),
        )
        self.results.append(result)
        self.ready[key] = result.known

    def _unusual(
        self, point: str, analysis: str, method: Method, found: Sequence[Determination]
    ) -> list[str]:
        stream = self.streams.get(point, point)
        said = []
        usual = dict(method.usual) or {analysis: found[0].worked.steps[-1].name}
        for quantity, name in usual.items():
            lines = [line for one in found for line in one.worked.steps if line.name == name]
            mean = math.fsum(float(line.value) for line in lines) / len(lines)
            said.append(unusual(quantity, stream, mean, lines[0].unit))
        return [text for text in said if text]


def _by_time(
    group: Sequence[RawRow],
) -> list[tuple[datetime.datetime | None, tuple[RawRow, ...]]]:
    """Rows of each time, with those that hold for all times."""
    always = tuple(row for row in group if row.time is None)
    moments = list(dict.fromkeys(row.time for row in group if row.time is not None))
    if not moments:
        return [(None, always)]
    return [
        (moment, (*(row for row in group if row.time == moment), *always)) for moment in moments
    ]


def _uncertainties(method: Method, found: Sequence[_Found]) -> list[tuple[float, dict[str, float]]]:
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
