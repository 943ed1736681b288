"""Readings of a shift that what was known before, and the other readings, contradict."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from canewright.engine.adjusting.solution import Vector
from canewright.engine.algebra.kkt import Matrix
from canewright.engine.chain.filter import Update
from canewright.engine.chain.response import Local

SET_ASIDE_CONFIDENCE = 0.99
"""Confidence, for all readings of a shift together, at which one is set aside; our choice."""
GROSS = 6.0
"""Standard deviations from what was expected of it beyond which a reading is put aside before
the shift is balanced, and looked at again after; our choice."""
SET_ASIDE_MOST = 0.1
"""Part of the readings of a shift that may be set aside; our choice."""


@dataclass(frozen=True)
class SetAside:
    """A reading that the rest of the chain contradicts: its value and what it should be."""

    name: str
    reading: float
    expected: float
    standardised: float


def far_off(
    start: Local,
    mean: Vector,
    beside: Matrix,
    values: Vector,
    sd: Vector,
    present: np.ndarray,
    allowed: int,
) -> dict[int, float]:
    """Readings so far from what was expected of them that they would lead astray.

    Parameters
    ----------
    start : Local
        Derivatives at a neighbouring point.
    mean : array (n)
        Of the inputs before the readings.
    beside : array (k, n)
        Sensitivity of all channels times the covariance of the inputs.
    values, sd : array (k)
        Of all channels.
    present : array of int
        Channels that were read.
    allowed : int
        How many may be named; those furthest off are.

    Returns
    -------
    dict
        Channel -> standard deviations off.
    """
    rows = start.sensitivity[present]
    inputs = start.point[start.response.inputs]
    expected = start.predictions[present] + rows @ (mean - inputs)
    width = np.sqrt(np.einsum("ij,ij->i", beside[present], rows) + sd[present] ** 2)
    score = (values[present] - expected) / width
    order = np.argsort(-np.abs(score))[:allowed]
    return {int(present[i]): float(score[i]) for i in order if abs(score[i]) > GROSS}


def standings(
    local: Local,
    update: Update,
    spread: Matrix,
    values: Vector,
    sd: Vector,
    channels: Iterable[int],
) -> dict[int, float]:
    """How far readings that were not used are from the balanced shift, in standard deviations."""
    places = np.array(sorted(channels), dtype=int)
    if not places.size:
        return {}
    rows = local.sensitivity[places]
    left = np.einsum("ij,ij->i", rows @ spread, rows) - ((rows @ update.moved) ** 2).sum(axis=1)
    width = np.sqrt(np.maximum(left, 0.0) + sd[places] ** 2)
    score = (values[places] - local.predictions[places]) / width
    return {int(place): float(standing) for place, standing in zip(places, score, strict=True)}
