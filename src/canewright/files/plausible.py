"""What no reading can be, alone or beside another: the limits of physics, not of good work.

A reading that is wildly wrong but possible is not refused here; the balance finds it.
"""

from collections.abc import Iterable

from canewright.files.problems import Problem
from canewright.files.rows import Analysis, ReadingRow

NOT_ABOVE = (("pol", "brix"),)
"""Pairs of analyses of one sample of which the first cannot exceed the second."""

_SLIPS = ((0.1, "the decimal point"), (10.0, "the decimal point"), (-1.0, "the sign"))


def outside_limits(
    point: str, analysis: str, known: Analysis, value: float, as_read: float, unit: str
) -> tuple[str, str] | None:
    """A sentence and a remedy for a value outside its physical limits; None if inside.

    Parameters
    ----------
    point, analysis : str
        What was read.
    known : Analysis
        Its unit and limits.
    value : float
        In the internal unit.
    as_read, unit : float, str
        As it was written.
    """
    if known.low <= value <= known.high:
        return None
    written = f"{as_read:.12g} {unit}"
    if unit != known.unit:
        written += f" ({value:.6g} {known.unit})"
    if value < 0 <= known.low:
        what = f"{analysis} of {point} is negative: {written}."
    else:
        what = f"{analysis} of {point} reads {written}, {_limits(known)}."
    for factor, slip in _SLIPS:
        if known.low <= value * factor <= known.high and value != 0:
            likely = f"{as_read * factor:.12g}"
            return what, f"If {likely} was meant, correct {slip}; else check the reading."
    return what, f"Check the reading and its unit; it is kept in {known.unit}."


def _limits(known: Analysis) -> str:
    if known.low == float("-inf"):
        return f"above the highest that is possible, {known.high:g} {known.unit}"
    if known.high == float("inf"):
        return f"below the lowest that is possible, {known.low:g} {known.unit}"
    return f"outside what is possible, {known.low:g} to {known.high:g} {known.unit}"


def problems_between(rows: Iterable[ReadingRow]) -> list[Problem]:
    """Readings given twice, and pairs of readings that cannot both be true."""
    problems: list[Problem] = []
    first: dict[tuple[str, str, object, str], ReadingRow] = {}
    groups: dict[tuple[str, str], list[ReadingRow]] = {}
    for row in rows:
        if row.excluded:
            continue
        before = first.setdefault((row.point, row.analysis, row.time, row.repeat), row)
        if before is not row:
            problems.append(_duplicate(before, row))
            continue
        groups.setdefault((row.point, row.analysis), []).append(row)
    for smaller, larger in NOT_ABOVE:
        for (point, analysis), lower in groups.items():
            upper = groups.get((point, larger), [])
            if analysis == smaller and upper:
                problems += _above(lower, upper)
    return problems


def _duplicate(before: ReadingRow, row: ReadingRow) -> Problem:
    at = "without a time" if row.time is None else f"at {row.time:%Y-%m-%d %H:%M}"
    values = "the same value"
    if row.value != before.value:
        values = f"{row.value:.12g} against {before.value:.12g} {row.unit}"
    return Problem(
        row.file,
        row.row,
        row.column,
        f"{row.analysis} of {row.point} {at} was already given in row {before.row} ({values}).",
        "Keep the one that holds, or give each reading its own time; repeats of one sample "
        "are numbered in a column 'repeat'.",
    )


def _above(lower: list[ReadingRow], upper: list[ReadingRow]) -> list[Problem]:
    """Compare readings of the same time; where no times match, the means."""
    by_time = {row.time: row for row in upper}
    pairs = [(row, by_time[row.time]) for row in lower if row.time in by_time]
    if not pairs:
        mean_lower = sum(row.value for row in lower) / len(lower)
        mean_upper = sum(row.value for row in upper) / len(upper)
        pairs = [(lower[0], upper[0])] if mean_lower > mean_upper else []
        if pairs and (len(lower) > 1 or len(upper) > 1):
            return [_too_high(*pairs[0], mean_lower, mean_upper, "on average ")]
    return [
        _too_high(row, other, row.value, other.value, "")
        for row, other in pairs
        if row.value > other.value
    ]


def _too_high(
    row: ReadingRow, other: ReadingRow, value: float, highest: float, how: str
) -> Problem:
    return Problem(
        row.file,
        row.row,
        row.column,
        f"{row.analysis} of {row.point} is {how}{value:.6g} {row.unit}, above its "
        f"{other.analysis} of {highest:.6g} {other.unit} (row {other.row}), which cannot be.",
        "Check both readings, and whether they were exchanged.",
    )
