"""Numbers that changed since a season was last balanced, and the readings that changed them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

WORTH_TELLING = 0.05
"""Part of its half width by which a figure must move to be told; our choice."""


@dataclass(frozen=True)
class Moved:
    """A figure that moved: its name, label, unit, values, and the half width it had.

    `period` is the day it is of; empty for the season to date.
    """

    name: str
    label: str
    unit: str
    before: float
    after: float
    half_width_95: float
    period: str = ""

    @property
    def by(self) -> float:
        """How far it moved."""
        return self.after - self.before

    @property
    def in_half_widths(self) -> float:
        """How far it moved against its interval."""
        return abs(self.by) / self.half_width_95 if self.half_width_95 else 0.0


@dataclass(frozen=True)
class Reread:
    """A reading that reads otherwise: values before and after, empty where there was none."""

    shift: str
    reading: str
    before: tuple[float, ...]
    after: tuple[float, ...]
    set_aside: bool = False


@dataclass(frozen=True)
class Corrections:
    """What moved and why.

    Attributes
    ----------
    moved : tuple of Moved
        Furthest first, in half widths: first those to date, then those of days whose shifts
        read otherwise.
    changed, added, gone : tuple of str
        Files of shifts that read otherwise, are new, or are no longer there.
    first : str
        Name of the first shift that reads otherwise, is new or follows one that is gone; empty
        if none.
    readings : tuple of Reread
        Readings of the shifts that read otherwise.
    versions : tuple of str
        Version of canewright before and after, where they differ.
    """

    moved: tuple[Moved, ...]
    changed: tuple[str, ...]
    added: tuple[str, ...]
    gone: tuple[str, ...]
    first: str = ""
    readings: tuple[Reread, ...] = ()
    versions: tuple[str, ...] = ()

    @property
    def same_files(self) -> bool:
        """Whether all shifts are there and read as before."""
        return not (self.changed or self.added or self.gone)


def corrections(before: Mapping[str, Any], after: Mapping[str, Any]) -> Corrections:
    """Compare two outputs of `canewright season --json`.

    Shifts are known by when they began.
    """
    was = {shift["start"]: shift for shift in before["shifts"]}
    now = {shift["start"]: shift for shift in after["shifts"]}
    changed = [
        start
        for start, shift in now.items()
        if start in was and was[start].get("fingerprint") != shift["fingerprint"]
    ]
    added = [start for start in now if start not in was]
    gone = [start for start in was if start not in now]
    moved = _moved(before["to_date"], after["to_date"], "")
    for day in dict.fromkeys(start[:10] for start in changed):
        sides = [told.get("periods", {}).get("day", {}).get(day, {}) for told in (before, after)]
        moved += _moved(sides[0], sides[1], day)
    versions = (str(before.get("canewright", "")), str(after.get("canewright", "")))
    touched = min([*changed, *added, *gone], default="")
    return Corrections(
        tuple(moved),
        tuple(now[start]["file"] for start in changed),
        tuple(now[start]["file"] for start in added),
        tuple(was[start].get("file", start) for start in gone),
        next((shift["name"] for start, shift in now.items() if touched and start >= touched), ""),
        tuple(item for start in changed for item in _reread(was[start], now[start])),
        versions if versions[0] != versions[1] else (),
    )


def _moved(before: Mapping[str, Any], after: Mapping[str, Any], period: str) -> list[Moved]:
    """Figures that moved, furthest first in half widths."""
    found = []
    for name, figure in after.items():
        old = before.get(name)
        if old is None or old["value"] is None or figure["value"] is None:
            continue
        half = max(old["half_width_95"] or 0.0, figure["half_width_95"] or 0.0)
        item = Moved(
            name, figure["label"], figure["unit"], old["value"], figure["value"], half, period
        )
        if abs(item.by) > WORTH_TELLING * half:
            found.append(item)
    return sorted(found, key=lambda item: -item.in_half_widths)


def _reread(before: Mapping[str, Any], after: Mapping[str, Any]) -> Iterator[Reread]:
    """Readings of a shift that differ, where both runs tell them."""
    was, now = before.get("readings"), after.get("readings")
    if was is None or now is None:
        return
    aside = {item["name"] for item in after["set_aside"]}
    for name in {**was, **now}:
        values = tuple(was.get(name, ())), tuple(now.get(name, ()))
        if values[0] != values[1]:
            yield Reread(after["name"], name, *values, set_aside=name in aside)
