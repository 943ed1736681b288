"""Readings of a shift combined: one for each point and analysis."""

from collections.abc import Iterable
from math import fsum

from canewright.files.bench_rows import worked_up
from canewright.files.problems import InputRefused, Problem
from canewright.files.rows import Analysis, Catalogue, CombinedReading, ReadingRow
from canewright.laboratory.together import CannotBeWeighed, together


def combine(rows: Iterable[ReadingRow], catalogue: Catalogue) -> list[CombinedReading]:
    """Readings that a balance takes: see `combine_all`."""
    return combine_all(rows, catalogue)[0]


def combine_all(
    rows: Iterable[ReadingRow], catalogue: Catalogue
) -> tuple[list[CombinedReading], list[CombinedReading]]:
    """One reading for each point and analysis, in the order of first appearance.

    Several readings make their mean or their sum, as the catalogue says of the analysis; raw
    readings of the bench are worked up to theirs, and come last.

    Returns
    -------
    readings, beside : list of CombinedReading
        What a balance takes, and analyses of the bench that stand beside it.

    Raises
    ------
    InputRefused
        If an analysis that can exist only once a shift was read several times, or raw readings
        cannot be.
    """
    groups: dict[tuple[str, str], list[ReadingRow]] = {}
    raw: list[ReadingRow] = []
    for row in rows:
        if row.excluded:
            continue
        if catalogue.analyses(row.point)[row.analysis].raw:
            raw.append(row)
        else:
            groups.setdefault((row.point, row.analysis), []).append(row)
    problems = [
        problem
        for (point, analysis), group in groups.items()
        for problem in only_once(catalogue.analyses(point)[analysis], group)
    ]
    combined: list[CombinedReading] = []
    for (point, analysis), group in groups.items():
        try:
            combined.append(_combined(catalogue.analyses(point)[analysis], group))
        except CannotBeWeighed as error:
            row = group[0]
            what = f"{analysis} of {point}: {error.what}"
            problems.append(Problem(row.file, row.row, row.column, what, error.remedy))
    if problems:
        raise InputRefused(problems)
    worked = worked_up(raw, combined, catalogue)
    taken = [one for one in worked if one.analysis in catalogue.analyses(one.point)]
    return [*combined, *taken], [one for one in worked if one not in taken]


def _combined(analysis: Analysis, group: list[ReadingRow]) -> CombinedReading:
    """What the readings of one analysis of a point make together."""
    first, values = group[0], [row.value for row in group]
    if analysis.several == "sum":
        if any(row.repeat or row.amount is not None for row in group):
            raise CannotBeWeighed(
                "A total weighed in parts has no repeats and no amounts.",
                "Leave these columns empty for it.",
            )
        return CombinedReading(
            first.point, first.analysis, fsum(values), first.unit, len(group), tuple(group)
        )
    mean = fsum(values) / len(values)
    random = analysis.random_at(mean)
    # Without a mark, readings are of one sample each, even where none has a time.
    samples = [(row.time, "" if row.repeat else place) for place, row in enumerate(group)]
    made = together(values, samples, random, [row.amount for row in group], analysis.rule)
    plain = made.samples == len(group) and len(set(made.weights)) == 1
    return CombinedReading(
        first.point,
        first.analysis,
        made.value(values),
        first.unit,
        made.samples,
        tuple(group),
        None if plain or not random > 0 else made.own([random] * len(values)),
        repeats=tuple(f"{first.analysis} of {first.point}: {words}" for words in made.words),
    )


def only_once(analysis: Analysis, group: list[ReadingRow]) -> list[Problem]:
    """The problem of a thing that exists once a shift and was read several times."""
    if analysis.several != "refuse" or len(group) == 1:
        return []
    first, second = group[0], group[1]
    places = ", ".join(str(row.row) for row in group)
    return [
        Problem(
            second.file,
            second.row,
            second.column,
            f"{first.analysis} of {first.point} is read {len(group)} times (rows {places}).",
            "It can be read only once a shift: keep the one that holds.",
        )
    ]
