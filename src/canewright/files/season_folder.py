"""The readings of a season: files of one shift or several, taken in the order of their starts.

A shift that cannot be taken is reported and left out; the others are taken all the same.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

from canewright.files import plan, stops
from canewright.files.long_file import read_shifts
from canewright.files.problems import InputRefused, Problem
from canewright.files.rows import Catalogue, ReadingsFile

SUFFIXES = (".csv", ".xlsx", ".xls", ".ods")
"""Files that hold readings; others in the folder are left alone."""
NOT_READINGS = (stops.NAME, plan.NAME)
"""Names of files in the folder that hold something else."""
OVERLAP = timedelta(minutes=30)
"""Longest overlap of two shifts that is still a matter of rounding; our choice."""
SENTENCES = 3
"""Problems told of one file; its own command tells them all."""


@dataclass(frozen=True)
class Left:
    """A file that was left out, and why, in sentences."""

    file: str
    sentences: tuple[str, ...]


@dataclass(frozen=True)
class SeasonFiles:
    """Files of a season in the order of their shifts.

    Attributes
    ----------
    shifts : tuple of ReadingsFile
        Each with start and hours.
    left : tuple of Left
    notes : tuple of str
        What was taken all the same.
    fingerprint : str
        SHA-256 of the fingerprints of the shifts in order.
    """

    shifts: tuple[ReadingsFile, ...]
    left: tuple[Left, ...]
    notes: tuple[str, ...] = ()
    fingerprint: str = ""
    fingerprints: tuple[str, ...] = field(default=())

    @classmethod
    def of(
        cls,
        shifts: Sequence[ReadingsFile],
        left: Sequence[Left] = (),
        notes: Sequence[str] = (),
    ) -> SeasonFiles:
        """With the fingerprints of the shifts."""
        prints = tuple(found.fingerprint for found in shifts)
        whole = hashlib.sha256("\n".join(prints).encode()).hexdigest()
        return cls(tuple(shifts), tuple(left), tuple(notes), whole, prints)

    def starts(self, shifted: timedelta = timedelta(0)) -> list[datetime | None]:
        """When the shifts began, moved by a time."""
        return [
            None if found.shift.start is None else found.shift.start + shifted
            for found in self.shifts
        ]

    def before(self, moment: datetime) -> SeasonFiles:
        """Without the shifts that began at a moment or after it."""
        kept = [
            found
            for found in self.shifts
            if found.shift.start is not None and found.shift.start < moment
        ]
        return SeasonFiles.of(kept, self.left, self.notes)


def season_paths(folder: Path) -> list[Path]:
    """Files of readings in a folder, by name.

    Raises
    ------
    InputRefused
        If the folder holds none.
    """
    if folder.is_file():
        return [folder]
    found = sorted(
        path
        for path in folder.iterdir()
        if path.suffix.lower() in SUFFIXES
        and not path.name.startswith(("~", "."))
        and path.stem.lower() not in NOT_READINGS
    )
    if not found:
        raise InputRefused(
            [
                Problem(
                    str(folder),
                    None,
                    "",
                    "The folder holds no file of readings.",
                    f"Name a folder with one {', '.join(SUFFIXES)} file for each shift.",
                )
            ]
        )
    return found


def read_season(
    paths: Sequence[Path],
    catalogue: Catalogue,
    usual_hours: float,
    each: Callable[[], None] = lambda: None,
) -> SeasonFiles:
    """Read the files of a season.

    Parameters
    ----------
    paths : sequence of Path
    catalogue : Catalogue
        What can be read in the factory.
    usual_hours : float
        Length of a shift that does not tell its own. [h]
    each : callable
        Called after each file, for progress.
    """
    taken: list[tuple[str, ReadingsFile]] = []
    left: list[Left] = []
    for path in paths:
        try:
            for name, found in read_shifts(path, catalogue):
                if isinstance(found, InputRefused):
                    left.append(Left(name, _told(found)))
                elif found.shift.start is None:
                    left.append(
                        Left(
                            name,
                            (
                                "The file does not tell when its shift began.",
                                "Add the row: shift, start, 2026-08-14T14:00.",
                            ),
                        )
                    )
                else:
                    taken.append((name, found))
        except InputRefused as refused:
            left.append(Left(path.name, _told(refused)))
        except OSError as error:
            left.append(Left(path.name, (f"The file cannot be read: {error.strerror or error}.",)))
        each()
    in_order = sorted(taken, key=lambda pair: (pair[1].shift.start, pair[0]))
    notes = []
    if [name for name, _ in in_order] != [name for name, _ in taken]:
        notes.append(
            "The names of the files, or the shifts in one, are not in the order of their starts: "
            "starts decide."
        )
    kept, overlapping = _one_at_a_time(in_order, usual_hours)
    return SeasonFiles.of([found for _, found in kept], (*left, *overlapping), notes)


def _told(refused: InputRefused) -> tuple[str, ...]:
    problems = refused.problems
    told = [f"{problem.what} {problem.remedy}".strip() for problem in problems[:SENTENCES]]
    unknown = [problem for problem in problems if problem.what.startswith("The point '")]
    if len(unknown) > max(SENTENCES, len(problems) // 2):
        told = [
            f"{len(unknown)} points of the file are not known here: it may be of another factory.",
            "Compare the points with those of `canewright points`.",
        ]
    elif len(problems) > SENTENCES:
        told.append(f"There are {len(problems) - SENTENCES} more problems in it.")
    return tuple(told)


def _one_at_a_time(
    in_order: Sequence[tuple[str, ReadingsFile]], usual_hours: float
) -> tuple[list[tuple[str, ReadingsFile]], list[Left]]:
    """Shifts of which none begins before the one before it has ended."""
    kept: list[tuple[str, ReadingsFile]] = []
    left = []
    for name, found in in_order:
        start = found.shift.start
        assert start is not None
        if kept:
            other, before = kept[-1]
            began = before.shift.start
            assert began is not None
            ended = began + timedelta(hours=before.shift.hours or usual_hours)
            if start == began:
                what = f"{other} is the same shift, {start:%Y-%m-%d %H:%M}."
                if found.fingerprint == before.fingerprint:
                    what = f"{other} is the same shift with the same readings."
                left.append(Left(name, (what, "Keep the file that holds.")))
                continue
            if start < ended - OVERLAP:
                left.append(
                    Left(
                        name,
                        (
                            f"It begins {start:%Y-%m-%d %H:%M}, before the shift of {other} "
                            f"ends ({ended:%Y-%m-%d %H:%M}).",
                            "Correct the start or the hours of one of them.",
                        ),
                    )
                )
                continue
        kept.append((name, found))
    return kept, left
