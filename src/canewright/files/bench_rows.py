"""Raw readings of the bench in a readings file: worked up to the analyses they stand for."""

from collections.abc import Mapping, Sequence
from typing import Protocol, runtime_checkable

from canewright.files.problems import InputRefused, Problem
from canewright.files.rows import CombinedReading, ReadingRow
from canewright.laboratory.bench import BenchProblem, BenchResult, Known, work_up
from canewright.laboratory.method import Method

OF_THE_METHOD = "laboratory's bias in "
"""A source that begins so is, in a balance, the bias of the analysis's instrument."""


@runtime_checkable
class KnowsClasses(Protocol):
    """A catalogue that knows what is sampled at a point."""

    def stream_class(self, point: str) -> str:
        """Class of the point's stream, as the methods of the laboratory name them."""

    own_methods: Mapping[str, Method]
    """Methods with the laboratory's own tables, by name."""

    rule: str
    """For repeats of a sample."""


def worked_up(
    rows: Sequence[ReadingRow], combined: Sequence[CombinedReading], catalogue: object
) -> list[CombinedReading]:
    """Analyses from raw readings, beside those given as results.

    Parameters
    ----------
    rows : sequence of ReadingRow
        Raw readings only; their analysis has a dot.
    combined : sequence of CombinedReading
        Analyses given as results, which a method may take.
    catalogue : object
        Knows classes of streams where there are raw readings.

    Raises
    ------
    InputRefused
        With everything that is wrong with the raw readings.
    """
    if not rows:
        return []
    assert isinstance(catalogue, KnowsClasses), "This catalogue cannot have raw readings."
    points = dict.fromkeys(row.point for row in rows)
    classes = {point: catalogue.stream_class(point) for point in points}
    ready = {(one.point, one.analysis): Known(one.value) for one in combined}
    results, wrong = work_up(
        rows, classes, ready=ready, own=catalogue.own_methods, rule=catalogue.rule
    )
    problems = [_problem(one) for one in wrong]
    given = {(one.point, one.analysis): one for one in combined}
    problems += [
        _twice(given[key], result)
        for result in results
        if (key := (result.point, result.analysis)) in given
    ]
    if problems:
        raise InputRefused(sorted(problems, key=lambda problem: problem.row or 0))
    return [_combined(result) for result in results]


def _problem(one: BenchProblem) -> Problem:
    row = one.row
    assert isinstance(row, ReadingRow)
    what = f"{row.analysis.partition('.')[0]} of {row.point}: {one.what}"
    return Problem(row.file, row.row, row.column, what, one.remedy)


def _twice(given: CombinedReading, result: BenchResult) -> Problem:
    row = given.rows[0]
    return Problem(
        row.file,
        row.row,
        row.column,
        f"{given.analysis} of {given.point} is given as a result, {given.value:.6g} {given.unit}, "
        f"and by raw readings, which make {result.value:.6g}.",
        "Keep the raw readings, or the result.",
    )


def _combined(result: BenchResult) -> CombinedReading:
    rows = [row for one in result.determinations for row in one.rows]
    shared = {
        source: part
        for source, part in result.shared.items()
        if not source.startswith(OF_THE_METHOD)
    }
    return CombinedReading(
        result.point,
        result.analysis,
        result.value,
        result.method.unit,
        len(result.determinations),
        tuple(row for row in dict.fromkeys(rows) if isinstance(row, ReadingRow)),
        result.own,
        shared,
        result,
        result.repeats,
    )
