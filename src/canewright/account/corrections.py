"""Numbers that changed since a season was last balanced, and the readings that changed them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

WORTH_TELLING = 0.05
"""Part of its half width by which a figure must move to be told; our choice."""


@dataclass(frozen=True)
class Moved:
    """A figure that moved: its name, label, unit, values, and the half width it had."""

    name: str
    label: str
    unit: str
    before: float
    after: float
    half_width_95: float

    @property
    def by(self) -> float:
        """How far it moved."""
        return self.after - self.before


@dataclass(frozen=True)
class Corrections:
    """What moved and why.

    Attributes
    ----------
    moved : tuple of Moved
        Furthest first, in half widths.
    changed, added, gone : tuple of str
        Files of shifts that read otherwise, are new, or are no longer there.
    first : str
        Name of the first shift that reads otherwise; empty if none.
    """

    moved: tuple[Moved, ...]
    changed: tuple[str, ...]
    added: tuple[str, ...]
    gone: tuple[str, ...]
    first: str = ""


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
    moved = []
    for name, figure in after["to_date"].items():
        old = before["to_date"].get(name)
        if old is None or old["value"] is None or figure["value"] is None:
            continue
        by = abs(figure["value"] - old["value"])
        half = max(old["half_width_95"] or 0.0, figure["half_width_95"] or 0.0)
        if by > WORTH_TELLING * half and by > 0:
            moved.append(
                Moved(name, figure["label"], figure["unit"], old["value"], figure["value"], half)
            )
    moved.sort(key=lambda item: -abs(item.by) / item.half_width_95 if item.half_width_95 else 0.0)
    return Corrections(
        tuple(moved),
        tuple(now[start]["file"] for start in changed),
        tuple(shift["file"] for start, shift in now.items() if start not in was),
        tuple(shift.get("file", start) for start, shift in was.items() if start not in now),
        now[changed[0]]["name"] if changed else "",
    )
