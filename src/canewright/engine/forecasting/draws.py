"""Many factories at once, drawn from what the balance knows.

What determines the factory (settings, performance, the gains of its stocks, the relations
between state and pol) is drawn from the posterior with its covariance. All draws are solved
together by a few steps with one factorisation, and each then ends with its own Newton steps.
Source: [own_derivation].
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import casadi
import numpy as np
import numpy.typing as npt
import scipy.sparse as sparse
from scipy.sparse.linalg import splu

from canewright.engine.adjusting.reconcile import Estimate
from canewright.engine.algebra.kkt import blocked_solve
from canewright.engine.equations.model import Model
from canewright.engine.equations.responses import Link, Response
from canewright.engine.equations.settled import PAST_A_BOUND, CannotRun, Matrix, Square, Vector
from canewright.engine.equations.simulate import SolveFailed

Places = npt.NDArray[np.intp]

STEPS = 3
"""Steps taken together with one factorisation; each draw then ends with its own."""
CLOSED = 1e-8
"""Largest scaled misfit of a drawn factory."""
TRIES = 20
"""Draws tried for each that is wanted, before what cannot be is moved to its bound instead."""
ENDS = (0.025, 0.975)


@dataclass(frozen=True)
class Drawn:
    """What determines the factory, a row a draw.

    Attributes
    ----------
    held : array (draws, held)
        Settings and performance.
    targets : array (draws, rows)
        Gains of stock: right sides of the square's rows.
    relations : array (draws, relations)
        Between state and pol.
    moved : int
        Draws of which something had to be moved to its bound.
    """

    held: Matrix
    targets: Matrix
    relations: Matrix
    moved: int


def drawn(
    estimate: Estimate,
    square: Square,
    values: Vector,
    relations: Vector,
    count: int,
    rng: np.random.Generator,
) -> Drawn:
    """Draw what determines the factory from the posterior.

    A draw that asks for what cannot be, such as a heat loss below nothing, is drawn again: a
    Gaussian around a small quantity reaches past its bound, no factory does. Where hardly any
    draw can be, the offending quantities are moved to their bounds instead.

    Parameters
    ----------
    values : array (n)
        The factory as found.
    relations : array
        As found.
    """
    held, rows = square.held.size, len(square.rows)
    root = _root(estimate, square, relations.size)
    model = square.model
    lower, upper = model.lower[square.held], model.upper[square.held]
    centre = values[square.held]
    good: list[Matrix] = []
    spare: list[Matrix] = []
    wanted = count
    for _ in range(TRIES):
        if wanted <= 0:
            break
        trial = rng.standard_normal((count, root.shape[1])) @ root.T
        there = centre + trial[:, :held]
        can_be = ((there >= lower) & (there <= upper)).all(axis=1)
        good.append(trial[can_be][:wanted])
        spare.append(trial[~can_be])
        wanted -= len(good[-1])
    rest = np.concatenate(spare)[: max(wanted, 0)] if spare else np.zeros((0, root.shape[0]))
    found = np.concatenate([*good, rest])
    return Drawn(
        np.clip(centre + found[:, :held], lower, upper),
        square.targets(values) + found[:, held : held + rows],
        relations + found[:, held + rows :],
        len(rest),
    )


def _root(estimate: Estimate, square: Square, ties: int) -> Matrix:
    """A root of the covariance of what is held, of the rows and of the relations."""
    held, rows = square.held.size, len(square.rows)
    directions = np.zeros((held + rows + ties, estimate.reconciler.problem.size))
    directions[np.arange(held), square.held] = 1.0
    for k, row in enumerate(square.rows):
        directions[held + k, list(row.places)] = row.factors
    count = len(square.model.variables)
    directions[np.arange(held + rows, len(directions)), count + np.arange(ties)] = 1.0
    covariance = estimate.posterior.covariance(directions)
    diagonal = np.diag(covariance)
    sd = np.sqrt(np.where(np.isfinite(diagonal), np.maximum(diagonal, 0.0), 0.0))
    used = np.flatnonzero(sd > 0)
    scaled = covariance[np.ix_(used, used)] / np.outer(sd[used], sd[used])
    values, vectors = np.linalg.eigh(scaled)
    root = np.zeros((len(sd), used.size))
    root[used] = sd[used, None] * vectors * np.sqrt(np.maximum(values, 0.0))
    return root


def spread(draws: Matrix | Vector) -> Matrix:
    """Ends (2, q) of the intervals that hold 95 % of draws (count, q), or of one (count).

    By the order statistics whose share of the whole is right on average.
    """
    return np.asarray(np.quantile(draws, ENDS, axis=0, method="weibull"))


def answered(
    model: Model,
    square: Square,
    links: Sequence[Link],
    slopes: Mapping[Response, Vector],
    before: Matrix,
    after: Matrix,
) -> None:
    """Let performance answer settings in many factories, in place.

    Parameters
    ----------
    slopes : mapping
        Response -> its slope in each draw.
    before, after : array (draws, held)
        What is held before and after the settings are moved.
    """
    order = {int(place): k for k, place in enumerate(square.held)}
    for link in links:
        cause, effect, response = order[link.cause], order[link.effect], link.response
        was, now = before[:, cause], after[:, cause]
        possible = np.ones(len(was), dtype=bool)
        if response.by == "ratio":
            possible = np.minimum(was, now) > 0
            was, now = np.where(possible, was, 1.0), np.where(possible, now, 1.0)
        change = now - was if response.by == "difference" else np.log(now / was)
        push = slopes[response] * change
        answer = after[:, effect] + push
        if response.moves == "share":
            answer = after[:, effect] * np.exp(push)
        variable = model.variables[link.effect]
        answer = np.clip(answer, variable.lower, variable.upper)
        after[:, effect] = np.where(possible, answer, after[:, effect])


class Many:
    """Solves many factories of one square.

    Parameters
    ----------
    square : Square
    """

    def __init__(self, square: Square) -> None:
        self.square = square
        model = square.model
        self._residuals = casadi.Function(
            "residuals", [model.symbols, model.parameters], [model.residuals], {"cse": True}
        )
        self._maps: dict[int, Any] = {}

    def states(
        self,
        held: Matrix,
        targets: Matrix,
        given: Vector,
        start: Vector,
        near: Matrix | None = None,
    ) -> tuple[Matrix, npt.NDArray[np.bool_]]:
        """Factories (draws, n) with this held, and which of them can run.

        Parameters
        ----------
        held : array (draws, held)
        targets : array (draws, rows)
        given : array
            Sizes and hours.
        start : array (n)
            A factory that runs.
        near : array (draws, n), optional
            Others that are nearer to each draw.
        """
        square, model = self.square, self.square.model
        chord = _Chord(square, start, given)
        values = np.tile(start, (len(held), 1)) if near is None else near.copy()
        values[:, square.held] = held
        open_ones = np.arange(len(held))
        closed = np.zeros(len(held), dtype=bool)
        for _ in range(STEPS):
            misses = self._misses(values[open_ones], targets[open_ones], given)
            sizes = np.abs(misses * chord.weights).max(axis=1)
            done = sizes < CLOSED
            closed[open_ones[done]] = True
            alive = np.isfinite(sizes) & ~done
            open_ones, misses = open_ones[alive], misses[alive]
            if not open_ones.size:
                break
            step = chord.solve(-(misses * chord.weights).T).T
            values[np.ix_(open_ones, square.free)] += step * square.scale[square.free]
        for k in np.flatnonzero(~closed):
            for first in (values[k], start):
                if not np.isfinite(first).all():
                    continue
                trial = first.copy()
                trial[square.held] = held[k]
                try:
                    values[k] = square.solve(trial, given, targets[k]).values
                    closed[k] = True
                except CannotRun:
                    pass  # it closes, but only outside what can be: another start tells the same
                except SolveFailed:
                    continue
                break
        excess = np.maximum(model.lower - values, values - model.upper) / model.scale
        excess[:, square.held] = 0.0
        return values, closed & (excess.max(axis=1) <= PAST_A_BOUND)

    def _misses(self, values: Matrix, targets: Matrix, given: Vector) -> Matrix:
        square, count = self.square, len(values)
        if count not in self._maps:
            self._maps[count] = self._residuals.map(count)
        found = np.array(self._maps[count](values.T, np.tile(given, (count, 1)).T)).T
        rows = (
            np.stack(
                [values[:, list(row.places)] @ np.array(row.factors) for row in square.rows], axis=1
            )
            if square.rows
            else np.zeros((count, 0))
        )
        return np.hstack([found, rows - targets]) - square.offsets


class _Chord:
    """One factorisation of the equations at a point, for many factories near it."""

    def __init__(self, square: Square, point: Vector, sizes: Vector) -> None:
        model = square.model
        evaluator = model.evaluator
        _, entries = evaluator(point, sizes)
        count, size = len(model.equations), len(model.variables)
        rows = [(k, p, f) for k, row in enumerate(square.rows) for p, f in _terms(row)]
        matrix = sparse.csc_array(
            (
                np.concatenate([entries, [f for _, _, f in rows]]),
                (
                    np.concatenate([evaluator.rows, [count + k for k, _, _ in rows]]).astype(int),
                    np.concatenate([evaluator.columns, [p for _, p, _ in rows]]).astype(int),
                ),
            ),
            shape=(count + len(square.rows), size),
        )
        scaled = matrix @ sparse.diags_array(model.scale)
        largest = np.asarray(abs(scaled).max(axis=1).todense()).ravel()
        self.weights = 1 / np.maximum(largest, 1e-12)
        part = (sparse.diags_array(self.weights) @ scaled).tocsc()[:, square.free]
        self._factor = splu(part)

    def solve(self, right: Matrix) -> Matrix:
        """Solve for columns."""
        return blocked_solve(self._factor, np.asfortranarray(right))


def _terms(row: Any) -> list[tuple[int, float]]:
    return list(zip(row.places, row.factors, strict=True))
