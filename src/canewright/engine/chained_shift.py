"""One shift of a chain, balanced against what the shifts before it say of its inputs.

The most likely inputs given a joint Gaussian of them and the readings: the same answer as the
reconciliation of the shift with that Gaussian in place of its own priors. Steps use the
derivatives of a neighbouring point, but the gradient at the point itself, so that they end
where the true gradient vanishes; what is known is then read off the derivatives there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import scipy.sparse as sparse

from canewright.engine.carried import Carried
from canewright.engine.descent import Curvature, bridle
from canewright.engine.filter import Update, update
from canewright.engine.kkt import Matrix
from canewright.engine.response import Local, Response
from canewright.engine.setting_aside import (
    SET_ASIDE_CONFIDENCE,
    SET_ASIDE_MOST,
    SetAside,
    far_off,
    standings,
)
from canewright.engine.simulate import SolveFailed
from canewright.engine.solution import Vector
from canewright.engine.statistics import family_limit

STEP_ENDS = 1e-4
"""Largest step, in standard deviations of the inputs, at which a shift counts as balanced."""
CLOSES = 1e-9
"""Largest misfit of a scaled equation at which a shift counts as balanced."""
STEPS = 60
"""Steps allowed."""
SLOW, LONG = 0.9, 0.3
"""Part of the step before, and length in standard deviations, above which a step has its
derivatives taken anew."""
RENEWALS = 6
"""Times that derivatives are taken anew."""
DESCENT, ROUNDING = 1e-4, 1e-10
"""Part of the expected fall of the objective that a step must bring; rounding of the
objective."""
CLOSING = 0.1
"""Part of the misfit left by a step above which the factor is made anew; our choice."""
CLOSING_STEPS = 20
"""Newton steps to close the equations with given inputs."""
HALVINGS = 8
"""Times a step is halved when the equations have no value at its end."""
AT_BOUND = 1e-5
"""How well a variable is held to its bound, in typical sizes; our choice."""
OUTSIDE = 1e-7
"""How far outside its bound a variable may be, in typical sizes, before it is held there."""
EMPTY = 0.01
"""Part of its usual content that a vessel holds at least; our choice."""
TAKEN_UP = 3
"""Times a bound is taken up before it is no longer let go; our choice."""
ROUNDS = 24
"""Times that bounds held are reconsidered, one taken up at a time."""


@dataclass(frozen=True)
class Balanced:
    """One shift of a chain at its most likely point.

    Attributes
    ----------
    point : array
        Every variable of the reconciler.
    local : Local
        Derivatives there.
    used : array of int
        Channels whose readings were used.
    sensitivity : array (k, n)
        Of the readings used, with respect to the inputs.
    noise : array (k)
        Variance of each of them.
    update : Update
        What they say of the inputs.
    weights : array (n)
        Movement of the inputs over their covariance before, bounds held included.
    held : array of int
        Variables held at a bound.
    aside : tuple of SetAside
    steps : int
    """

    point: Vector
    local: Local
    used: np.ndarray
    sensitivity: Matrix
    noise: Vector
    update: Update
    weights: Vector
    held: np.ndarray
    aside: tuple[SetAside, ...]
    steps: int

    @property
    def gamma(self) -> float:
        """Global statistic of the readings: sum of squared innovations."""
        return self.update.gamma

    @property
    def degrees_of_freedom(self) -> int:
        """One for each reading used."""
        return int(self.used.size)


@dataclass
class _Readings:
    """What is compared with the point: readings used, then bounds held."""

    used: np.ndarray
    held: np.ndarray
    values: Vector
    variance: Vector
    sensitivity: Matrix | None = None
    gain: Matrix | None = None


class ShiftBalancer:
    """Balances shifts of one factory against a Gaussian of their inputs.

    Parameters
    ----------
    carried : Carried
    """

    def __init__(self, carried: Carried) -> None:
        self.carried = carried
        self.response = Response(carried)
        self.problem = carried.reconciler.problem
        # An empty vessel keeps a trace: what leaves it in an hour is a share of its content.
        self._lower = self.problem.lower.copy()
        stock = np.concatenate([carried.positions[carried.is_stock], carried.closings])
        bounded = stock[np.isfinite(self._lower[stock])]
        self._lower[bounded] += EMPTY * self.problem.scale[bounded]
        variables = carried.reconciler.model.variables
        self._result = np.zeros(self.problem.size, dtype=bool)
        self._result[: len(variables)] = [variable.role == "result" for variable in variables]

    def balance(
        self,
        mean: Vector,
        spread: Matrix,
        values: Vector,
        sd: Vector,
        start: Local,
        parameters: Vector,
        *,
        set_aside: bool = True,
    ) -> Balanced:
        """The most likely point of a shift.

        Parameters
        ----------
        mean, spread : array (n), (n, n)
            Of the inputs before the readings, scatter included.
        values, sd : array (k)
            Of the readings in the order of the channels; sd is inf where there is none.
        start : Local
            Derivatives at a neighbouring point.
        parameters : array
            Of the reconciler, for this shift.
        set_aside : bool
            Whether readings that the rest contradicts are set aside one by one.

        Raises
        ------
        SolveFailed
            If no point is found that closes the equations.
        """
        self._parameters = parameters
        present = np.flatnonzero(np.isfinite(sd))
        aside: dict[int, float] = {}
        allowed = int(SET_ASIDE_MOST * present.size)
        limit = family_limit(present.size, SET_ASIDE_CONFIDENCE) if present.size else np.inf
        if set_aside:
            aside = far_off(start, mean, spread, values, sd, present, allowed)
        gross, steps = dict(aside), 0
        while True:
            used = np.array([i for i in present if int(i) not in aside], dtype=int)
            found = self._with_bounds(mean, spread, values, sd, used, start)
            start = found.local
            steps += found.steps
            score = found.update.standardised[: used.size]
            worst = int(np.argmax(np.abs(score))) if used.size else 0
            if set_aside and used.size and abs(score[worst]) > limit and len(aside) < allowed:
                aside[int(used[worst])] = float(score[worst])
                continue
            gross = standings(found.local, found.update, spread, values, sd, gross)
            back = [channel for channel, standing in gross.items() if abs(standing) < limit]
            aside.update(gross)
            if not back:
                break
            for channel in back:
                del aside[channel], gross[channel]
        names = [channel.name for channel in self.carried.reconciler.channels]
        told = tuple(
            SetAside(names[i], float(values[i]), float(found.local.predictions[i]), standing)
            for i, standing in aside.items()
        )
        return replace(found, aside=told, steps=steps)

    def _with_bounds(
        self,
        mean: Vector,
        spread: Matrix,
        values: Vector,
        sd: Vector,
        used: np.ndarray,
        start: Local,
    ) -> Balanced:
        """Balance, holding variables at bounds that they would cross."""
        scale = self.problem.scale
        sides: dict[int, float] = {}
        taken_up: dict[int, int] = {}
        steps = 0
        for _ in range(ROUNDS):
            held = np.array(sorted(sides), dtype=int)
            bounds = np.array([self._bound(i, sides[i]) for i in held])
            readings = _Readings(
                used,
                held,
                np.concatenate([values[used], bounds]),
                np.concatenate([sd[used] ** 2, (AT_BOUND * scale[held]) ** 2]),
            )
            local, taken = self._seek(mean, spread, readings, start)
            steps += taken
            start = local
            changed = False
            for i, pull in zip(held, bounds - local.point[held], strict=True):
                if pull * sides[int(i)] > 0 and taken_up[int(i)] < TAKEN_UP:
                    del sides[int(i)]
                    changed = True
            worst = self._worst(local.point, held)
            if worst is not None:
                taken_up[worst] = taken_up.get(worst, 0) + 1
                sides[worst] = -1.0 if local.point[worst] < self._lower[worst] else 1.0
                changed = True
            if not changed:
                break
        else:
            raise SolveFailed("No set of bounds was found that the shift rests on.")
        sensitivity, said = self._weighed(mean, spread, readings, local)
        weights = said.whitened.T @ said.innovation
        if held.size:
            # A bound says on which side the answer lies, not how well it is known.
            free = _Readings(used, held[:0], values[used], sd[used] ** 2)
            sensitivity, said = self._weighed(mean, spread, free, local)
        return Balanced(
            local.point, local, used, sensitivity, sd[used] ** 2, said, weights, held, (), steps
        )

    def _bound(self, place: int, side: float) -> float:
        return float(self._lower[place] if side < 0 else self.problem.upper[place])

    def _worst(self, point: Vector, held: np.ndarray) -> int | None:
        """The variable furthest outside its bounds; what only follows from others comes last."""
        beyond = np.maximum(self._lower - point, point - self.problem.upper) / self.problem.scale
        beyond[held] = 0.0
        outside = beyond > OUTSIDE
        if not outside.any():
            return None
        first = outside & ~self._result
        return int(np.argmax(np.where(first if first.any() else outside, beyond, 0.0)))

    def _weighed(
        self, mean: Vector, spread: Matrix, readings: _Readings, local: Local
    ) -> tuple[Matrix, Update]:
        """Sensitivity of what is compared, and what it says, linearised at the point."""
        inputs = local.point[self.response.inputs]
        rows = self._rows(readings, local)
        sensitivity = local.through(rows)
        predicted = self._predicted(readings, local)
        innovation = readings.values - predicted + sensitivity @ (inputs - mean)
        return sensitivity, update(sensitivity, readings.variance, spread, innovation)

    @staticmethod
    def _rows(readings: _Readings, local: Local) -> sparse.csr_array:
        return local.rows(readings.used, readings.held)

    def _predicted(self, readings: _Readings, local: Local) -> Vector:
        return np.concatenate([local.predictions[readings.used], local.point[readings.held]])

    def _seek(
        self, mean: Vector, spread: Matrix, readings: _Readings, start: Local
    ) -> tuple[Local, int]:
        """The point where the gradient vanishes and the equations close.

        One step with the derivatives of the neighbour, then steps with derivatives of their
        own while they are long, then steps that keep them.
        """
        size = np.sqrt(np.maximum(np.diag(spread), 1e-300))
        rows = self.problem.row_scale(start.point, self._parameters)
        curvature = self._curvature(mean, spread, readings, start)
        weights, local = self._first(mean, spread, curvature.update, start, rows)
        objective = self._objective(mean, weights, readings, local)
        gradient = weights - self._pull(readings, local)
        before, fresh, renewals = np.inf, False, 0
        for step in range(1, STEPS + 1):
            change, of_weights = curvature.down(gradient)
            length = float(np.max(np.abs(change) / size))
            if length < STEP_ENDS:
                return local, step
            uphill = float(gradient @ change) >= 0
            if not fresh and (uphill or length > LONG or (length > SLOW * before and step > 2)):
                if renewals < RENEWALS or uphill:
                    renewals += 1
                    curvature = self._curvature(mean, spread, readings, local)
                    change, of_weights = curvature.down(gradient)
                    fresh, before = True, np.inf
            else:
                fresh, before = False, length
            slope = float(gradient @ change)
            part, better = bridle(change, size), None
            for _ in range(HALVINGS):
                try:
                    there = local.point + local.follow(part * change)
                    tried = self._closed(there, rows, local.factor)
                except SolveFailed:
                    part *= 0.5
                    continue
                value = self._objective(mean, weights + part * of_weights, readings, tried)
                if value <= objective + DESCENT * part * slope + ROUNDING * (1 + abs(objective)):
                    better = tried
                    break
                part *= 0.5
            if better is None:
                if fresh or not curvature.learnt:
                    break
                curvature.forget()
                continue
            weights = weights + part * of_weights
            local, objective = better, value
            renewed = weights - self._pull(readings, local)
            curvature.learn(part * change, part * of_weights, renewed - gradient)
            gradient = renewed
        raise SolveFailed(f"The shift was not balanced in {STEPS} steps.")

    def _first(
        self, mean: Vector, spread: Matrix, said: Update, start: Local, rows: Vector
    ) -> tuple[Vector, Local]:
        """Where the derivatives of the neighbour lead, or a part of the way from the mean."""
        weights = said.whitened.T @ said.innovation
        inputs = self.response.inputs
        for _ in range(HALVINGS):
            change = mean + spread @ weights - start.point[inputs]
            try:
                return weights, self._closed(start.moved(change), rows)
            except SolveFailed:
                weights = 0.5 * weights
        change = mean + spread @ weights - start.point[inputs]
        return weights, self._closed(start.moved(change), rows)

    def _curvature(
        self, mean: Vector, spread: Matrix, readings: _Readings, local: Local
    ) -> Curvature:
        sensitivity, said = self._weighed(mean, spread, readings, local)
        return Curvature(spread, sensitivity, said)

    def _pull(self, readings: _Readings, local: Local) -> Vector:
        """Pull of the readings on the inputs, with the derivatives of the point."""
        residual = (readings.values - self._predicted(readings, local)) / readings.variance
        count = readings.used.size
        of_readings = np.zeros(local.predictions.size)
        of_readings[readings.used] = residual[:count]
        weights = local.readings.T @ of_readings
        weights[readings.held] += residual[count:]
        return local.gradient(weights)

    def _objective(self, mean: Vector, weights: Vector, readings: _Readings, local: Local) -> float:
        away = local.point[self.response.inputs] - mean
        residual = readings.values - self._predicted(readings, local)
        return 0.5 * float(weights @ away + residual @ (residual / readings.variance))

    def _closed(self, point: Vector, rows: Vector, factor: Any = None) -> Local:
        """The equations closed by Newton steps, the inputs as they are at the point.

        Steps with the `factor` of a neighbour, or the last one made, as long as each closes
        most of the rest.
        """
        still = np.zeros(self.response.inputs.size)
        local = self.response.at(point, self._parameters, rows, factor)
        own, before = factor is None, np.inf
        for _ in range(CLOSING_STEPS):
            misfit = float(np.max(np.abs(local.misfit)))
            if misfit < CLOSES:
                return local if own else self.response.at(point, self._parameters, rows)
            if not own and not misfit < CLOSING * before and before < np.inf:
                local = self.response.at(point, self._parameters, rows)
            point = point + local.follow(still)
            own, before = False, misfit
            local = self.response.at(point, self._parameters, rows, local.factor)
        raise SolveFailed("The equations do not close at this point.")
