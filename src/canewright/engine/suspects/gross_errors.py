"""Gross errors: which reading is biased, or where is something lost, and what else could it be.

A candidate is a direction over the data (a bias of one reading, or of all readings of one
instrument) or over the constraints (a loss). Its generalised likelihood ratio, size and
standard uncertainty come from the factor of the adjustment without solving again
([narasimhan_mah1987]). What to do about them is in `compensation`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

from canewright.engine.adjusting.posterior import CHECKED, Posterior
from canewright.engine.adjusting.solution import Vector
from canewright.engine.adjusting.statistics import CONFIDENCE, family_limit
from canewright.engine.algebra.kkt import Matrix

EQUIVALENT_ABOVE = 0.95
"""Correlation of test directions above which two candidates cannot be told apart; our choice."""


@dataclass(frozen=True)
class Candidate:
    """A gross error that might be.

    Parameters
    ----------
    name : str
        Name for the finding.
    kind : {"bias", "shared bias", "loss"}
    data : mapping of data name to float
        How much each reading shows of an error of size 1.
    constraints : mapping of constraint name to float
        What each constraint equals for an error of size 1.
    """

    name: str
    kind: Literal["bias", "shared bias", "loss"]
    data: Mapping[str, float] = field(default_factory=dict)
    constraints: Mapping[str, float] = field(default_factory=dict)


def bias(datum: str) -> Candidate:
    """Candidate: one reading is too high by the size."""
    return Candidate(f"bias of {datum}", "bias", data={datum: 1.0})


def shared_bias(instrument: str, readings: Mapping[str, float] | Sequence[str]) -> Candidate:
    """Candidate: an instrument shifts all its readings, each by its factor times the size."""
    factors = readings if isinstance(readings, Mapping) else dict.fromkeys(readings, 1.0)
    return Candidate(f"bias of {instrument}", "shared bias", data=dict(factors))


def loss(place: str, constraints: Mapping[str, float] | Sequence[str]) -> Candidate:
    """Candidate: balances do not close; each equals its factor times the size."""
    factors = constraints if isinstance(constraints, Mapping) else dict.fromkeys(constraints, 1.0)
    return Candidate(f"loss at {place}", "loss", constraints=dict(factors))


@dataclass(frozen=True)
class Finding:
    """One candidate against the adjustment.

    Attributes
    ----------
    statistic : float
        Generalised likelihood ratio: fall of the global statistic when it is allowed for.
    size, sd : float
        Estimated size and its standard uncertainty, in the candidate's unit.
    equivalents : tuple of str
        Other candidates that this adjustment cannot tell from it.
    possible : bool
        Whether the corrected values could physically be.
    corrected : mapping of data name to float
        Readings less their part of the error.
    significant : bool
        Whether the statistic exceeds the limit of the family.
    """

    candidate: Candidate
    statistic: float
    size: float
    sd: float
    equivalents: tuple[str, ...]
    possible: bool
    corrected: Mapping[str, float]
    significant: bool


Possible = Callable[[Candidate, float, Mapping[str, float]], bool]
"""Asked with a candidate, its size and the corrected readings: could that be?"""


def always_possible(candidate: Candidate, size: float, corrected: Mapping[str, float]) -> bool:
    """Nothing is known against any correction."""
    return True


class Directions:
    """Candidates as directions over the data and constraints of one problem."""

    def __init__(
        self,
        candidates: Iterable[Candidate],
        data_names: Sequence[str],
        constraint_names: Sequence[str],
    ) -> None:
        self.candidates = list(candidates)
        self.data = self._fill([c.data for c in self.candidates], data_names, "datum")
        self.constraints = self._fill(
            [c.constraints for c in self.candidates], constraint_names, "constraint"
        )
        self._place = {name: i for i, name in enumerate(data_names)}

    @staticmethod
    def _fill(parts: list[Mapping[str, float]], names: Sequence[str], what: str) -> Matrix:
        place = {name: i for i, name in enumerate(names)}
        table = np.zeros((len(parts), len(names)))
        for row, part in enumerate(parts):
            for name, factor in part.items():
                if name not in place:
                    raise ValueError(f"A candidate names the {what} {name!r}; there is none.")
                table[row, place[name]] = factor
        return table

    def corrected(self, row: int, size: float, values: Vector) -> dict[str, float]:
        """Readings of a candidate less their part of an error of this size."""
        factors = self.candidates[row].data
        return {
            name: float(values[self._place[name]] - size * factor)
            for name, factor in factors.items()
        }


@dataclass(frozen=True)
class Scores:
    """Scores and Gram matrix of all candidates, those in `taken` already allowed for."""

    statistic: Vector
    size: Vector
    sd: Vector
    testable: npt.NDArray[np.bool_]
    correlation: Matrix


def score(posterior: Posterior, directions: Directions, taken: Sequence[int] = ()) -> Scores:
    """Test every candidate beside those in `taken`."""
    scores, gram = posterior.test_directions(directions.data, directions.constraints)
    on_data = directions.data[:, posterior.present] / posterior.sd[posterior.present]
    on_rows = directions.constraints / posterior.row_scale
    whole = (on_data**2).sum(axis=1) + (on_rows**2).sum(axis=1)
    if taken:
        chosen = list(taken)
        lead = np.linalg.solve(gram[np.ix_(chosen, chosen)], gram[chosen])
        scores = scores - lead.T @ scores[chosen]
        gram = gram - gram[:, chosen] @ lead
    own = np.diag(gram).copy()
    testable = own > CHECKED * np.maximum(whole, 1e-300)
    testable[list(taken)] = False
    safe = np.where(testable, own, 1.0)
    size = np.where(testable, scores / safe, np.nan)
    spread = np.sqrt(np.outer(safe, safe))
    correlation = np.where(np.outer(testable, testable), gram / spread, 0.0)
    return Scores(
        statistic=np.where(testable, scores**2 / safe, 0.0),
        size=size,
        sd=np.where(testable, safe**-0.5, np.inf),
        testable=testable,
        correlation=correlation,
    )


def findings_of(
    posterior: Posterior,
    directions: Directions,
    values: Vector,
    possible: Possible,
    confidence: float,
    taken: Sequence[int] = (),
) -> list[tuple[int, Finding]]:
    """Place and finding of every candidate that can be tested, the strongest first."""
    scores = score(posterior, directions, taken)
    if not scores.testable.any():
        return []
    limit = family_limit(int(scores.testable.sum()), confidence) ** 2
    order = [i for i in np.argsort(-scores.statistic, kind="stable") if scores.testable[i]]
    found = []
    for i in order:
        alike = np.abs(scores.correlation[i]) > EQUIVALENT_ABOVE
        alike[i] = False
        size = float(scores.size[i])
        corrected = directions.corrected(i, size, values)
        candidate = directions.candidates[i]
        finding = Finding(
            candidate=candidate,
            statistic=float(scores.statistic[i]),
            size=size,
            sd=float(scores.sd[i]),
            equivalents=tuple(directions.candidates[j].name for j in np.flatnonzero(alike)),
            possible=possible(candidate, size, corrected),
            corrected=corrected,
            significant=bool(scores.statistic[i] > limit),
        )
        found.append((int(i), finding))
    return found


def search(
    posterior: Posterior,
    candidates: Iterable[Candidate],
    values: npt.ArrayLike,
    *,
    possible: Possible = always_possible,
    confidence: float = CONFIDENCE,
) -> list[Finding]:
    """Test all candidates on one adjustment, the strongest first.

    Candidates that the adjustment cannot see (nobody checks the reading) are left out.

    Parameters
    ----------
    posterior : Posterior
    candidates : iterable of Candidate
    values : array_like (k)
        The data as read, for the corrected values.
    possible : callable, optional
        Says whether a correction could physically be.
    confidence : float
        Of the whole family of candidates.

    Raises
    ------
    ValueError
        If a candidate names a datum or constraint that does not exist.
    """
    directions = Directions(candidates, posterior.data_names, posterior.constraint_names)
    read = np.asarray(values, dtype=float)
    return [f for _, f in findings_of(posterior, directions, read, possible, confidence)]
