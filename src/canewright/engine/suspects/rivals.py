"""Rival explanations of one gross error, and how much less likely each is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canewright.engine.suspects.compensation import Verdict
from canewright.engine.suspects.gross_errors import (
    EQUIVALENT_ABOVE,
    Directions,
    Finding,
    Possible,
    score,
)


@dataclass(frozen=True)
class Rival:
    """How well one candidate would explain what another one was found to explain."""

    name: str
    statistic: float
    possible: bool
    equivalent: bool


class Rivals:
    """Candidates against each other, on the shift as it is once all findings are allowed for.

    There the equations are linearised near the truth: what a finding explains is put back,
    and every candidate is asked how much of it it would explain alone.
    """

    def __init__(
        self, verdict: Verdict, directions: Directions, values: np.ndarray, possible: Possible
    ) -> None:
        self._verdict, self._directions = verdict, directions
        self._values, self._possible = values, possible
        self._places = {c.name: i for i, c in enumerate(directions.candidates)}

    def ranked(self, finding: Finding) -> list[Rival]:
        """Candidates by how much they explain of a finding, itself among them."""
        own = self._places[finding.candidate.name]
        others = [
            self._places[f.candidate.name] for f in self._verdict.findings if f is not finding
        ]
        scores = score(self._verdict.posterior, self._directions, others)
        correlation = scores.correlation[own]
        explained = np.where(
            scores.testable,
            np.nan_to_num(scores.size) / scores.sd + correlation * finding.size / scores.sd[own],
            0.0,
        )
        rivals = []
        for place in np.argsort(-(explained**2), kind="stable"):
            if not scores.testable[place] or place in others:
                continue
            candidate = self._directions.candidates[place]
            size = float(explained[place] * scores.sd[place])
            corrected = self._directions.corrected(int(place), size, self._values)
            rivals.append(
                Rival(
                    candidate.name,
                    float(explained[place] ** 2),
                    self._possible(candidate, size, corrected),
                    bool(abs(correlation[place]) > EQUIVALENT_ABOVE),
                )
            )
        return rivals


def times_less_likely(own: Rival, other: Rival | None) -> float:
    """How many times less likely another explanation is: exp of half the fall it lacks."""
    if other is None:
        return float("inf")
    return float(np.exp(np.clip((own.statistic - other.statistic) / 2, 0.0, 50.0)))
