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

from canewright.laboratory.determinations import (
    Determination,
    Found,
    Known,
    RawRow,
    by_sample,
    mean_of_repeats,
    uncertainties,
    weighed,
)
from canewright.laboratory.method import (
    Method,
    RawInput,
    methods_for,
)
from canewright.laboratory.plausibility import unusual
from canewright.laboratory.together import USUAL_RULE, CannotBeWeighed
from canewright.laboratory.working import examine

__all__ = [
    "BenchProblem",
    "BenchResult",
    "Determination",
    "Known",
    "RawRow",
    "limits",
    "raw_readings",
    "work_up",
]


@dataclass(frozen=True)
class BenchResult:
    """An analysis of a point over the period, from its raw readings.

    `own` is the standard uncertainty of `value` that nothing else has, `shared` what one
    standard uncertainty of each source in common moves it; `repeats` what is to be said of
    determinations of one sample that disagree.
    """

    point: str
    analysis: str
    method: Method
    value: float
    own: float
    shared: Mapping[str, float]
    determinations: tuple[Determination, ...]
    warnings: tuple[str, ...]
    repeats: tuple[str, ...] = ()

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
    own: Mapping[str, Method] | None = None,
    rule: str = USUAL_RULE,
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
    own : mapping, optional
        Methods with the laboratory's own tables, in place of those of the same name.
    rule : str
        For repeats of a sample.

    Returns
    -------
    results : list of BenchResult
        One for each point and analysis, in the order of first appearance.
    problems : list of BenchProblem
        Everything that is wrong, all at once; those analyses are not among the results.
    """
    sheet = _Sheet(dict(classes), dict(streams or {}), dict(ready or {}), dict(own or {}), rule)
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


@dataclass
class _Sheet:
    """The sheet as it is worked through."""

    classes: dict[str, str]
    streams: dict[str, str]
    ready: dict[tuple[str, str], Known]
    own: dict[str, Method] = field(default_factory=dict)
    rule: str = USUAL_RULE
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
        suited = [
            self.own.get(method.name, method)
            for method in methods_for(analysis, self.classes.get(point, ""))
        ]
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
        found: list[Found] = []
        wrong = False
        for moment, repeat, rows in by_sample(group):
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
            found.append(Found(worked, moment, repeat, rows, taken))
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
        found: list[Found],
    ) -> None:
        point, analysis = key
        determinations = [
            Determination(one.worked, one.time, one.rows, tuple(one.taken), own, shared)
            for one, (own, shared) in zip(found, uncertainties(method, found), strict=True)
        ]
        try:
            made = weighed(method, found, determinations, self.rule)
        except CannotBeWeighed as error:
            self.problems.append(BenchProblem(found[0].rows[0], error.what, error.remedy))
            self.failed.add(key)
            return
        value = made.value([one.worked.value for one in determinations])
        own = made.own([one.own for one in determinations])
        sources = dict.fromkeys(source for one in determinations for source in one.shared)
        shared = {
            source: made.value([one.shared.get(source, 0.0) for one in determinations])
            for source in sources
        }
        moments = dict.fromkeys(one.time for one in determinations if one.time is not None)
        for moment in moments:
            of_sample = [one for one in determinations if one.time == moment]
            self.at_time[(*key, moment)] = mean_of_repeats(of_sample)
        warnings = [f"{analysis} of {point}: {text}" for text in _warned(determinations)]
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
            tuple(f"{analysis} of {point}: {text}" for text in made.words),
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


def _warned(determinations: Sequence[Determination]) -> list[str]:
    """What is remarked of the determinations, once for each raw reading and kind of remark."""
    alike: dict[tuple[str, str], list[str]] = {}
    for one in determinations:
        for remark in one.worked.warnings:
            kind = remark.text.partition("=")[0]
            told = alike.setdefault((remark.reading, kind), [])
            if remark.text not in told:
                told.append(remark.text)
    return [
        texts[0] + (f" ({len(texts) - 1} more like it.)" if len(texts) > 1 else "")
        for texts in alike.values()
    ]
