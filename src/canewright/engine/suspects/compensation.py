"""What to do about gross errors: allow for the worst, solve again, look further.

Serial compensation keeps the reading, corrected by a size that is fitted along; on bilinear
problems it gave better final values than removing it ([renganathan_narasimhan1999]). For one
reading at a time the two are the same: the deletion identity ([crowe1992]).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from canewright.engine.adjusting.adjustment import Problem
from canewright.engine.adjusting.posterior import Posterior
from canewright.engine.adjusting.solution import Solution, Vector
from canewright.engine.adjusting.statistics import (
    CONFIDENCE,
    GlobalTest,
    family_limit,
    global_test,
    global_test_of,
    measurement_test,
)
from canewright.engine.suspects.gross_errors import (
    EQUIVALENT_ABOVE,
    Candidate,
    Directions,
    Finding,
    Possible,
    always_possible,
    findings_of,
    score,
)

SIZES_SETTLE = 1e-4
"""Change of every size, in its own standard uncertainties, at which refitting stops."""
REFITS = 25
"""Refits of the sizes of one set of gross errors before giving up."""


@dataclass(frozen=True)
class Verdict:
    """What remains when gross errors have been allowed for.

    Attributes
    ----------
    findings : tuple of Finding
        Errors allowed for together, in the order found; statistic, size and standard
        uncertainty are those beside all the others.
    overall : GlobalTest
        Global test after them.
    solution, posterior
        The adjustment after them. The values in the solution are the compensated ones.
    rejected : tuple of Finding
        Stronger or equal candidates passed over because they could not be.
    explained : bool
        Whether the global test passes and no candidate left over is significant.
    """

    findings: tuple[Finding, ...]
    overall: GlobalTest
    solution: Solution
    posterior: Posterior
    rejected: tuple[Finding, ...]
    explained: bool


class _Fit:
    """Adjustment with a set of gross errors whose sizes are fitted along."""

    def __init__(
        self, problem: Problem, solution: Solution, directions: Directions, confidence: float
    ) -> None:
        self._problem, self._first, self._directions = problem, solution, directions
        self._confidence = confidence
        self.taken: list[int] = []
        self.sizes = np.zeros(0)
        self.sd = np.zeros(0)
        self.solution, self.posterior = solution, Posterior.at(problem, solution)
        self.settled = True

    @property
    def overall(self) -> GlobalTest:
        freedom = self.posterior.degrees_of_freedom - len(self.taken)
        return global_test(self.posterior.gamma, max(freedom, 0), self._confidence)

    def choose(self, taken: Sequence[int], sizes: npt.ArrayLike) -> bool:
        """Fit with these errors, starting from these sizes; whether the sizes settled."""
        self.taken, self.sizes = list(taken), np.array(sizes, dtype=float)
        first, data = self._first, self._directions.data[self.taken]
        rows = self._directions.constraints[self.taken]
        offsets = np.zeros(rows.shape[1]) if first.offsets is None else first.offsets
        self.settled = False
        for _ in range(REFITS):
            solution = self._problem.solve(
                first.values - self.sizes @ data,
                first.sd,
                self.solution.z,
                warm=self.solution,
                parameters=first.parameters,
                offsets=offsets + self.sizes @ rows,
            )
            if not solution.ok:
                return False
            self.solution, self.posterior = solution, Posterior.at(self._problem, solution)
            if not self.taken:
                self.settled = True
                break
            scores, gram = self.posterior.test_directions(data, rows)
            change = np.linalg.solve(gram, scores)
            self.sd = np.sqrt(np.diag(np.linalg.inv(gram)))
            if np.all(np.abs(change) <= SIZES_SETTLE * self.sd):
                self.settled = True
                break
            self.sizes = self.sizes + change
        return self.settled


def compensate(
    problem: Problem,
    solution: Solution,
    candidates: Iterable[Candidate],
    *,
    possible: Possible = always_possible,
    confidence: float = CONFIDENCE,
    most: int = 10,
) -> Verdict:
    """Serial compensation: allow for the strongest candidate, solve again, look further.

    Goes on until the global test passes and no candidate exceeds the limit of the family, or
    nothing possible is left. The sizes of all errors are fitted together at each step. At the
    end each is taken back, weakest first, if the tests pass without it. Where one reading is
    the candidate this is the same as eliminating it (deletion identity, [crowe1992]).

    Parameters
    ----------
    problem, solution
        The plain adjustment.
    candidates : iterable of Candidate
    possible : callable, optional
        Says whether a correction could physically be.
    confidence : float
    most : int
        Largest number of gross errors to allow for.

    Raises
    ------
    ValueError
        If the solution failed or a candidate names what does not exist.
    """
    directions = Directions(candidates, problem.data_names, problem.constraint_names)
    fit = _Fit(problem, solution, directions, confidence)
    values = solution.values
    rejected: dict[int, Finding] = {}
    closed = False
    while True:
        ranked = findings_of(fit.posterior, directions, values, possible, confidence, fit.taken)
        significant = [(i, f) for i, f in ranked if f.significant]
        closed = fit.overall.passes and not [f for _, f in significant if f.possible]
        if closed or len(fit.taken) >= most:
            break
        rejected |= {i: f for i, f in significant if not f.possible}
        if not _take_next(fit, directions, significant, values, possible):
            break
    _add_back(fit, directions, values, possible, confidence)
    findings = tuple(_joint(fit, directions, values, possible, confidence))
    weakest = min((f.statistic for f in findings), default=0.0)
    passed_over = tuple(
        f for i, f in rejected.items() if i not in fit.taken and f.statistic >= weakest
    )
    return Verdict(
        findings, fit.overall, fit.solution, fit.posterior, passed_over, closed and fit.settled
    )


def _take_next(
    fit: _Fit,
    directions: Directions,
    significant: Sequence[tuple[int, Finding]],
    values: Vector,
    possible: Possible,
) -> bool:
    """Allow for the strongest possible candidate whose refit settles and stays possible."""
    before, sizes = list(fit.taken), fit.sizes.copy()
    for i, finding in significant:
        if not finding.possible:
            continue
        settled = fit.choose([*before, i], [*sizes, finding.size])
        if settled and all(
            possible(directions.candidates[j], float(b), directions.corrected(j, b, values))
            for j, b in zip(fit.taken, fit.sizes, strict=True)
        ):
            return True
        fit.choose(before, sizes)
    return False


def _add_back(
    fit: _Fit,
    directions: Directions,
    values: Vector,
    possible: Possible,
    confidence: float,
) -> None:
    """Take errors back, weakest first, as long as the tests pass without them."""
    for index in sorted(fit.taken, key=lambda i: _strength(fit, i)):
        if len(fit.taken) < 2:
            return
        before, sizes = list(fit.taken), fit.sizes.copy()
        kept = [k for k, i in enumerate(before) if i != index]
        settled = fit.choose([before[k] for k in kept], sizes[kept])
        left = findings_of(fit.posterior, directions, values, possible, confidence, fit.taken)
        if not (settled and fit.overall.passes and not any(f.significant for _, f in left)):
            fit.choose(before, sizes)


def _strength(fit: _Fit, index: int) -> float:
    place = fit.taken.index(index)
    return float((fit.sizes[place] / fit.sd[place]) ** 2)


def _joint(
    fit: _Fit,
    directions: Directions,
    values: Vector,
    possible: Possible,
    confidence: float,
) -> Iterable[Finding]:
    """Findings for the errors allowed for, each beside all the others."""
    for place, i in enumerate(fit.taken):
        others = [j for j in fit.taken if j != i]
        scores = score(fit.posterior, directions, others)
        alike = np.abs(scores.correlation[i]) > EQUIVALENT_ABOVE
        alike[i] = False
        size = float(fit.sizes[place])
        statistic = _strength(fit, i)
        corrected = directions.corrected(i, size, values)
        candidate = directions.candidates[i]
        limit = family_limit(max(int(scores.testable.sum()), 1), confidence) ** 2
        yield Finding(
            candidate,
            statistic,
            size,
            float(fit.sd[place]),
            tuple(directions.candidates[j].name for j in np.flatnonzero(alike)),
            possible(candidate, size, corrected),
            corrected,
            statistic > limit,
        )


@dataclass(frozen=True)
class Elimination:
    """What remains when suspect readings have been left out, in the order they went."""

    removed: tuple[str, ...]
    overall: GlobalTest
    solution: Solution
    posterior: Posterior


def eliminate(
    problem: Problem, solution: Solution, *, confidence: float = CONFIDENCE, most: int = 10
) -> Elimination:
    """Serial elimination: leave out the most suspect reading until nothing is suspect.

    Goes on until the global test passes and no reading exceeds the limit of the family. The
    reading whose removal lowers the global statistic most is the one with the largest
    standardised adjustment. At the end each is added back if both tests pass with it. Priors
    are never removed.

    Raises
    ------
    ValueError
        If an adjustment fails.
    """
    reading = np.array([kind == "reading" for kind in problem.kinds], dtype=bool)
    start, removed = solution, list[int]()
    posterior = Posterior.at(problem, solution)

    def without(gone: Sequence[int]) -> Solution:
        sd = start.sd.copy()
        sd[list(gone)] = np.inf
        return problem.solve(
            start.values,
            sd,
            solution.z,
            warm=solution,
            parameters=start.parameters,
            offsets=start.offsets,
        )

    def clean(posterior: Posterior) -> bool:
        suspects = [i for i in measurement_test(posterior, confidence).suspects if reading[i]]
        return global_test_of(posterior, confidence).passes and not suspects

    while not clean(posterior) and len(removed) < most:
        size = np.where(reading, np.abs(np.nan_to_num(posterior.standardised_adjustments)), 0.0)
        if not size.any():
            break
        removed.append(int(np.argmax(size)))
        solution = without(removed)
        posterior = Posterior.at(problem, solution)
    for index in list(removed[:-1]):
        trial = without([i for i in removed if i != index])
        tested = Posterior.at(problem, trial)
        if clean(tested):
            removed.remove(index)
            solution, posterior = trial, tested
    return Elimination(
        tuple(problem.data_names[i] for i in removed),
        global_test_of(posterior, confidence),
        solution,
        posterior,
    )
