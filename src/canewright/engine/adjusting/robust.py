"""Robust weights: readings that disagree with all others count for less.

They soften a gross error, they do not cure it: use them to rank suspects and to start from.
Chi-square and covariance of a robust fit mean nothing. Tuning constants give 95 % efficiency
for Gaussian errors (memory of [ozyurt_pike2004]; confirmed by the efficiency integral).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from canewright.engine.adjusting.adjustment import Problem
from canewright.engine.adjusting.solution import Solution, Vector

Weight = Callable[[npt.ArrayLike], Vector]
"""From standardised misfits to weights between 0 and 1."""

HUBER = 1.345
FAIR = 1.3998
CAUCHY = 2.3849
WELSCH = 2.9846
LOGISTIC = 0.602
HAMPEL = (1.35, 2.70, 5.40)
CONTAMINATION = (0.1, 10.0)
"""Share of gross errors and how many times wider they are; authors differ (0.05 to 0.235)."""

SETTLED = 1e-7
"""Change of every weight below which the weights have settled."""
LEAST_WEIGHT = 1e-12
"""Weights below this are taken as this, so that a standard uncertainty stays finite."""


def _size(misfit: npt.ArrayLike) -> Vector:
    return np.asarray(np.abs(np.asarray(misfit, dtype=float)))


def huber(misfit: npt.ArrayLike, limit: float = HUBER) -> Vector:
    """1 up to the limit, then limit / size."""
    size = _size(misfit)
    return np.where(size <= limit, 1.0, limit / np.maximum(size, limit))


def fair(misfit: npt.ArrayLike, width: float = FAIR) -> Vector:
    """1 / (1 + size / width)."""
    return 1 / (1 + _size(misfit) / width)


def cauchy(misfit: npt.ArrayLike, width: float = CAUCHY) -> Vector:
    """1 / (1 + (size / width)^2)."""
    return 1 / (1 + (_size(misfit) / width) ** 2)


def welsch(misfit: npt.ArrayLike, width: float = WELSCH) -> Vector:
    """exp(-(size / width)^2)."""
    return np.exp(-((_size(misfit) / width) ** 2))


def logistic(misfit: npt.ArrayLike, width: float = LOGISTIC) -> Vector:
    """tanh(size / 2 width) / (size / 2 width): 1 for small misfits, 2 width / size for large.

    Only ratios of weights between data matter to the efficiency, but against soft priors the
    height does: it is normed to 1 at no misfit.
    """
    half = np.maximum(_size(misfit) / (2 * width), 1e-12)
    return np.tanh(half) / half


def hampel(misfit: npt.ArrayLike, corners: tuple[float, float, float] = HAMPEL) -> Vector:
    """1, then falling as 1 / size, then straight to nothing at the last corner."""
    first, second, last = corners
    size = np.maximum(_size(misfit), 1e-12)
    fading = first * (last - size) / ((last - second) * size)
    return np.select(
        [size <= first, size <= second, size < last],
        [np.ones_like(size), first / size, fading],
        0.0,
    )


def contaminated_normal(
    misfit: npt.ArrayLike, share: float = CONTAMINATION[0], wider: float = CONTAMINATION[1]
) -> Vector:
    """Weight when a share of the errors is drawn from a wider normal.

    Source: [tjoa_biegler1991].
    """
    square = _size(misfit) ** 2
    # Both densities are divided by the wider one, so that far misfits do not give 0 / 0.
    near = (1 - share) * np.exp(-0.5 * square * (1 - wider**-2))
    return (near + share / wider**3) / (near + share / wider)


WEIGHTS: dict[str, Weight] = {
    "Huber": huber,
    "Fair": fair,
    "Cauchy": cauchy,
    "Welsch": welsch,
    "logistic": logistic,
    "Hampel": hampel,
    "contaminated normal": contaminated_normal,
}
REDESCENDING = frozenset({"Cauchy", "Welsch", "Hampel", "contaminated normal"})
"""Weights with several local solutions; they start from Huber's."""


@dataclass(frozen=True)
class RobustFit:
    """A robust fit: its point, the weight of each datum, and whether the weights settled."""

    solution: Solution
    weights: Vector
    rounds: int
    settled: bool


def fit(
    problem: Problem,
    solution: Solution,
    weight: str = "Huber",
    most_rounds: int = 200,
    priors_too: bool = False,
) -> RobustFit:
    """Reweight the readings of a solved problem until the weights settle.

    Parameters
    ----------
    problem, solution
        The plain fit to start from.
    weight : str
        One of `WEIGHTS`. Those with several local solutions begin at Huber's.
    most_rounds : int
        Give up (and say so) after this many solves.
    priors_too : bool
        Whether priors may lose weight as well; by default only readings do.

    Raises
    ------
    ValueError
        If the weight is unknown.
    """
    if weight not in WEIGHTS:
        raise ValueError(f"There is no weight {weight!r}; choose one of {', '.join(WEIGHTS)}.")
    current = solution
    if weight in REDESCENDING:
        current = fit(problem, solution, "Huber", most_rounds, priors_too).solution
    values, sd = solution.values, solution.sd
    movable = np.isfinite(sd)
    if not priors_too:
        movable = movable & np.array([kind == "reading" for kind in problem.kinds], dtype=bool)
    weights = np.ones(values.size)
    for rounds in range(1, most_rounds + 1):
        misfit = np.where(movable, values - current.fitted, 0.0) / np.where(movable, sd, 1.0)
        fresh = np.maximum(WEIGHTS[weight](misfit), LEAST_WEIGHT)
        fresh[~movable] = 1.0
        change = float(np.abs(fresh - weights).max())
        weights = fresh
        if change < SETTLED:
            return RobustFit(current, weights, rounds, True)
        current = problem.solve(
            values,
            sd / np.sqrt(weights),
            current.z,
            warm=current,
            parameters=solution.parameters,
            offsets=solution.offsets,
        )
        if not current.ok:
            return RobustFit(current, weights, rounds, False)
    return RobustFit(current, weights, most_rounds, False)
