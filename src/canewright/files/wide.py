"""The wide form of a readings sheet: one column a reading, one row a time.

A header cell is `point analysis [unit]` or `point.analysis [unit]`; the unit may be left
out. The first column is `time`; a column `note` holds for the row. Columns `shift start`,
`shift hours` and `shift name` tell the facts of the shift.
"""

from dataclasses import dataclass

from canewright.files.layout import Entry, heading, repeated_header
from canewright.files.problems import Problem, nearest, normal
from canewright.files.rows import Catalogue
from canewright.files.tables import Row, Sheet

SHIFT = "shift"
SHIFT_FACTS = ("start", "hours", "name")


@dataclass(frozen=True)
class _Column:
    place: int
    label: str
    point: str
    analysis: str
    unit: str


def wide_entries(
    file: str, sheet: Sheet, at: int, catalogue: Catalogue
) -> tuple[list[Entry], list[Problem]]:
    """The readings of a sheet with one column a reading, and what is wrong with its form."""
    header = sheet.rows[at]
    columns, note, problems = _columns(file, header, catalogue)
    width = len(header.cells)
    entries: list[Entry] = []
    for row in sheet.rows[at + 1 :]:
        again = repeated_header(file, header, row)
        if again:
            problems.append(again)
            continue
        if any(cell is not None for cell in row.cells[width:]):
            problems.append(
                Problem(
                    file,
                    row.number,
                    "",
                    f"The row has {len(row.cells)} cells where the header names {width} columns.",
                    "Give every column a name, and write numbers with a decimal point.",
                )
            )
            continue
        entries += [
            Entry(
                row=row.number,
                columns={
                    "time": str(header.cells[0]),
                    **dict.fromkeys(("point", "analysis", "value", "unit"), column.label),
                },
                point=column.point,
                analysis=column.analysis,
                value=row.cell(column.place),
                unit=column.unit or None,
                time=None if column.point == SHIFT else row.cell(0),
                note=None if note is None else row.cell(note),
            )
            for column in columns
            if row.cell(column.place) is not None
        ]
    return entries, problems


def _columns(
    file: str, header: Row, catalogue: Catalogue
) -> tuple[list[_Column], int | None, list[Problem]]:
    columns: list[_Column] = []
    problems: list[Problem] = []
    note: int | None = None
    seen: dict[tuple[str, str], str] = {}
    for place, cell in enumerate(header.cells):
        name = heading(cell)
        if place == 0 or not name or name.startswith("#"):
            continue
        if name == "note" and note is None:
            note = place
            continue
        label = str(cell)
        body, unit = split_unit(label)
        names = split_names(body, catalogue)
        if isinstance(names, tuple):
            if names in seen:
                problems.append(
                    Problem(
                        file,
                        header.number,
                        label,
                        f"The column repeats '{seen[names]}'.",
                        "Several readings of one thing go below each other, each at its time.",
                    )
                )
                continue
            seen[names] = label
            columns.append(_Column(place, label, *names, unit))
        else:
            problems.append(Problem(file, header.number, label, *names))
    return columns, note, problems


def split_unit(label: str) -> tuple[str, str]:
    """A header cell's text without its unit, and the unit in its brackets."""
    label = label.strip()
    if label.endswith("]") and "[" in label:
        at = label.rindex("[")
    elif label.endswith(")"):
        at = _opening(label)
    else:
        at = -1
    if at < 0:
        return label, ""
    return label[:at].strip(), label[at + 1 : -1].strip()


def _opening(label: str) -> int:
    """Where the bracket opens that the last sign closes; -1 if nowhere."""
    depth = 0
    for at in range(len(label) - 1, -1, -1):
        depth += {")": 1, "(": -1}.get(label[at], 0)
        if depth == 0:
            return at
    return -1


def split_names(body: str, catalogue: Catalogue) -> tuple[str, str] | list[str]:
    """Point and analysis that a header cell names, or a sentence and a remedy."""
    wanted = normal(body.replace(".", " "))
    by_normal = {normal(point.replace(".", " ")): point for point in catalogue.points()}
    inside = [key for key in by_normal if wanted.startswith(f"{key}_")]
    for key in sorted(inside, key=len, reverse=True):
        point = by_normal[key]
        for analysis in catalogue.analyses(point):
            if normal(analysis.replace(".", " ")) == wanted[len(key) + 1 :]:
                return point, analysis
    if wanted.startswith(f"{SHIFT}_"):
        return SHIFT, wanted[len(SHIFT) + 1 :]
    if inside:
        point = by_normal[max(inside, key=len)]
        close = nearest(wanted[len(max(inside, key=len)) + 1 :], catalogue.analyses(point))
        offered = close or sorted(catalogue.analyses(point))
        return [
            f"'{body}' names the point {point}, but no analysis known there.",
            f"Analyses at {point}: {', '.join(offered[:8])}.",
        ]
    close = nearest(wanted.rsplit("_", 1)[0], catalogue.points()) or nearest(
        wanted, catalogue.points()
    )
    offered = close or sorted(catalogue.points())
    return [
        f"'{body}' begins with no point of the factory.",
        f"Write point, analysis and unit, such as {offered[0] if offered else 'mixed_juice'} "
        f"brix [%]. Nearest known points: {', '.join(offered[:5]) or 'none'}.",
    ]
