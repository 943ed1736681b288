"""Steps of an iteration: no longer than is safe, and improved by what the last few taught."""

from __future__ import annotations

import numpy as np

from canewright.engine.adjustment import Vector

LONGEST = 8.0
"""Longest step taken at once, in standard deviations of the inputs; our choice."""
MIXED = 4
"""Steps remembered; our choice."""


class Mixing:
    """Steps improved by what the last few taught (Anderson mixing): [anderson1965]."""

    def __init__(self, size: Vector) -> None:
        self._size = size
        self._points: list[Vector] = []
        self._changes: list[Vector] = []

    def mixed(self, point: Vector, change: Vector) -> Vector:
        """The step to take from a point, given the one that the derivatives say."""
        self._points = [*self._points[-MIXED:], point / self._size]
        self._changes = [*self._changes[-MIXED:], change / self._size]
        if len(self._points) < 2:
            return change
        points = np.diff(np.array(self._points), axis=0)
        changes = np.diff(np.array(self._changes), axis=0)
        share, *_ = np.linalg.lstsq(changes.T, self._changes[-1], rcond=1e-8)
        return np.asarray(change - self._size * ((points + changes).T @ share))


def bridled(change: Vector, size: Vector) -> Vector:
    """A step no longer than the longest allowed, in the same direction."""
    longest = float(np.max(np.abs(change) / size))
    return change if longest <= LONGEST else change * (LONGEST / longest)
