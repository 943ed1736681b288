"""How sure advice is: the factory before and after, drawn from what the balance knows.

What determines the factory (settings, performance, the gains of its stocks, the relations
between state and pol) is drawn from the posterior with its covariance, and the slopes of the
assumed responses from theirs. A setting is moved by the same amount from wherever it truly
stood, for the operators turn the knob and read the same instrument. All draws are solved
together by a few steps with one factorisation, and each then ends with its own Newton steps.
Source: [own_derivation].
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import casadi
import numpy as np
import numpy.typing as npt
import scipy.sparse as sparse
from scipy.sparse.linalg import splu

from canewright.engine.advise import Optimiser
from canewright.engine.kkt import blocked_solve
from canewright.engine.settled import PAST_A_BOUND, CannotRun, Matrix, Vector
from canewright.engine.simulate import SolveFailed

STEPS = 4
"""Steps taken together with one factorisation; each draw then ends with its own."""
CLOSED = 1e-8
"""Largest scaled misfit of a drawn factory."""
KEEPS = 1e-9
"""Excess over a limit, relative to its size, that rounding may make."""


@dataclass(frozen=True)
class Outcome:
    """What moves do over all draws.

    Attributes
    ----------
    gains : array
        Money a day, of each draw that can run before and after.
    excess : array (draws, limits)
        By how much each limit is passed after, in its unit; a quality against what it was
        before in the same draw.
    failed : int
        Draws that cannot run, before or after; they are counted in nothing else.
    """

    gains: Vector
    excess: Matrix
    failed: int

    @property
    def gain(self) -> float:
        """Mean gain, money a day."""
        return float(self.gains.mean())

    @property
    def interval(self) -> tuple[float, float]:
        """Interval that holds 95 % of the gains."""
        low, high = np.quantile(self.gains, [0.025, 0.975])
        return float(low), float(high)

    @property
    def chance_better(self) -> float:
        """Share of the draws in which the moves earn more than doing nothing. 0 to 1."""
        return float(np.mean(self.gains > 0))

    def kept(self, sizes: Vector) -> Vector:
        """Share of the draws in which each limit is kept. 0 to 1."""
        return np.asarray(np.mean(self.excess <= KEEPS * sizes, axis=0))


class Chances:
    """Draws of one estimated factory.

    Parameters
    ----------
    optimiser : Optimiser
    count : int
        Draws.
    seed : int
    """

    def __init__(self, optimiser: Optimiser, count: int = 200, seed: int = 1) -> None:
        self.optimiser = optimiser
        self.count = count
        square, program = optimiser.square, optimiser.program
        model = optimiser.model
        rng = np.random.default_rng(seed)
        held, rows = square.held.size, len(square.rows)
        drawn = self._deviations(rng)
        lower, upper = model.lower[square.held], model.upper[square.held]
        found = optimiser.found.values
        self.held = np.clip(found[square.held] + drawn[:, :held], lower, upper)
        self.targets = optimiser.targets + drawn[:, held : held + rows]
        self.relations = optimiser.relations + drawn[:, held + rows :]
        self.slopes = program.slopes() + program.response_sd() * rng.standard_normal(
            (count, len(program.responses))
        )
        self._residuals = casadi.Function(
            "residuals", [model.symbols, model.parameters], [model.residuals], {"cse": True}
        )
        self._many: dict[int, Any] = {}

    def _deviations(self, rng: np.random.Generator) -> Matrix:
        """Of what is held, of the right sides of the rows, and of the relations."""
        optimiser = self.optimiser
        square, estimate = optimiser.square, optimiser.estimate
        held, rows, ties = square.held.size, len(square.rows), optimiser.relations.size
        directions = np.zeros((held + rows + ties, estimate.reconciler.problem.size))
        directions[np.arange(held), square.held] = 1.0
        for k, row in enumerate(square.rows):
            directions[held + k, list(row.places)] = row.factors
        count = len(optimiser.model.variables)
        directions[np.arange(held + rows, len(directions)), count + np.arange(ties)] = 1.0
        covariance = estimate.posterior.covariance(directions)
        diagonal = np.diag(covariance)
        sd = np.sqrt(np.where(np.isfinite(diagonal), np.maximum(diagonal, 0.0), 0.0))
        used = np.flatnonzero(sd > 0)
        scaled = covariance[np.ix_(used, used)] / np.outer(sd[used], sd[used])
        values, vectors = np.linalg.eigh(scaled)
        root = vectors * np.sqrt(np.maximum(values, 0.0))
        result = np.zeros((self.count, len(sd)))
        result[:, used] = (rng.standard_normal((self.count, used.size)) @ root.T) * sd[used]
        return result

    # -- many factories at once ---------------------------------------------------------------

    def after(self, move: Vector, which: npt.NDArray[np.intp]) -> Matrix:
        """What is held in some draws after settings are moved by so much."""
        optimiser = self.optimiser
        model, program = optimiser.model, optimiser.program
        order = {int(place): k for k, place in enumerate(optimiser.square.held)}
        before = self.held[which]
        held = before.copy()
        for one, step in zip(optimiser.settings, move, strict=True):
            k = order[one.place]
            held[:, k] = np.clip(before[:, k] + step, one.lower, one.upper)
        for link in program.links:
            cause, effect, response = order[link.cause], order[link.effect], link.response
            was, now = before[:, cause], held[:, cause]
            change = now - was if response.by == "difference" else np.log(now / was)
            push = self.slopes[which, program.place_of(response)] * change
            answer = held[:, effect] + push
            if response.moves == "share":
                answer = held[:, effect] * np.exp(push)
            variable = model.variables[link.effect]
            held[:, effect] = np.clip(answer, variable.lower, variable.upper)
        return held

    def states(
        self, held: Matrix, which: npt.NDArray[np.intp], start: Vector, near: Matrix | None = None
    ) -> tuple[Matrix, npt.NDArray[np.bool_]]:
        """Factories (draws, n) with this held, and which of them can run.

        `start` is a factory that runs, `near` others that are nearer to each draw.
        """
        optimiser = self.optimiser
        square, model, given = optimiser.square, optimiser.model, optimiser.given
        chord = _Chord(optimiser, start)
        values = np.tile(start, (which.size, 1)) if near is None else near.copy()
        values[:, square.held] = held
        targets = self.targets[which]
        open_ones = np.arange(which.size)
        closed = np.zeros(which.size, dtype=bool)
        for _ in range(STEPS):
            misses = self._misses(values[open_ones], targets[open_ones])
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
                near = first.copy()
                near[square.held] = held[k]
                try:
                    values[k] = square.solve(near, given.sizes, targets[k]).values
                    closed[k] = True
                except CannotRun:
                    pass  # it closes, but only outside what can be: another start tells the same
                except SolveFailed:
                    continue
                break
        excess = np.maximum(model.lower - values, values - model.upper) / model.scale
        excess[:, square.held] = 0.0
        return values, closed & (excess.max(axis=1) <= PAST_A_BOUND)

    def _misses(self, values: Matrix, targets: Matrix) -> Matrix:
        square, given = self.optimiser.square, self.optimiser.given
        count = len(values)
        if count not in self._many:
            self._many[count] = self._residuals.map(count)
        found = np.array(self._many[count](values.T, np.tile(given.sizes, (count, 1)).T)).T
        rows = (
            np.stack(
                [values[:, list(row.places)] @ np.array(row.factors) for row in square.rows], axis=1
            )
            if square.rows
            else np.zeros((count, 0))
        )
        return np.hstack([found, rows - targets]) - square.offsets

    def _told(self, values: Matrix, which: npt.NDArray[np.intp]) -> tuple[Vector, Matrix]:
        """Money and limited quantities of some draws."""
        program, given = self.optimiser.program, self.optimiser.given
        return program.many(values, given.sizes, self.relations[which])

    @cached_property
    def before(self) -> tuple[Matrix, npt.NDArray[np.bool_], Vector, Matrix]:
        """The factory as found in every draw: values, which run, money, limited quantities."""
        every = np.arange(self.count)
        values, runs = self.states(self.held, every, self.optimiser.found.values)
        money, limited = self._told(values, every)
        return values, runs, money, limited

    def outcome(
        self, settings: Vector, moved: Collection[int] | None = None, count: int | None = None
    ) -> Outcome:
        """What moving the settings does.

        Parameters
        ----------
        settings : array
            The movable settings after.
        moved : collection of int, optional
            Only these of them.
        count : int, optional
            Only so many of the draws.

        Raises
        ------
        SolveFailed
            If fewer than half of the draws can run.
        """
        optimiser = self.optimiser
        which = np.arange(self.count if count is None else min(count, self.count))
        found = optimiser.settings_found
        target = settings if moved is None else optimiser.with_moves(settings, moved)
        start = optimiser.state(target).values
        drawn, ran, earned, was = self.before
        near = drawn[which] + (start - optimiser.found.values)
        values, runs = self.states(self.after(target - found, which), which, start, near)
        money, limited = self._told(values, which)
        good = runs & ran[which]
        if good.sum() < 0.5 * which.size:
            raise SolveFailed(
                f"Only {int(good.sum())} of {which.size} draws of the factory can run: the "
                "readings do not say enough of how it runs."
            )
        excess = np.empty((int(good.sum()), len(optimiser.bounds)))
        for k, bound in enumerate(optimiser.bounds):
            allowed = was[which][good, k] if bound.kind == "quality" else optimiser.given.limits[k]
            excess[:, k] = bound.sign * (limited[good, k] - allowed)
        return Outcome(money[good] - earned[which][good], excess, int((~good).sum()))


class _Chord:
    """One factorisation of the equations at a point, for many factories near it."""

    def __init__(self, optimiser: Optimiser, point: Vector) -> None:
        square, model, given = optimiser.square, optimiser.model, optimiser.given
        evaluator = model.evaluator
        _, entries = evaluator(point, given.sizes)
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
