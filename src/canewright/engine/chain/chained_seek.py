"""The steps to the most likely inputs of a shift.

Quick steps move the inputs down the gradient and close the equations at once, with one
factorisation each. They have no safeguard: where they do not settle, guarded steps are taken,
which close the equations at each point and hold every step to a fall of the objective.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from canewright.engine.adjusting.solution import Vector
from canewright.engine.algebra.kkt import Matrix
from canewright.engine.algebra.square import SquareFactor
from canewright.engine.chain.descent import Curvature, bridle
from canewright.engine.chain.filter import Update, update
from canewright.engine.chain.response import Local, Response
from canewright.engine.equations.simulate import SolveFailed

STEP_ENDS = 1e-4
"""Largest step, in standard deviations of the inputs, at which a shift counts as balanced."""
CLOSES = 1e-9
"""Largest misfit of a scaled equation at which a shift counts as balanced."""
QUICK, PATIENCE, FAR = 24, 4, 0.5
"""Quick steps taken before the guarded ones, and how many of them may be longer than so many
standard deviations of the inputs; our choice."""
GAPE, CLOSINGS = 1e-2, 3
"""Misfit of a scaled equation above which it is closed before a quick step, and how often that is
tried; our choice."""
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


@dataclass
class Compared:
    """What is compared with the point: readings used, then bounds held.

    `beside`, where it is known, is the sensitivity of the readings used at the start times the
    covariance of the inputs.
    """

    used: np.ndarray
    held: np.ndarray
    values: Vector
    variance: Vector
    beside: Matrix | None = None


class Unsettled(ArithmeticError):
    """Quick steps did not settle."""


class Seek:
    """Seeks the most likely inputs of one shift.

    Parameters
    ----------
    response : Response
    mean, spread : array (n), (n, n)
        Of the inputs before the readings, scatter included.
    rows : array (m)
        Sizes of the equations.
    parameters : array
        Of the reconciler, for this shift.
    """

    def __init__(
        self, response: Response, mean: Vector, spread: Matrix, rows: Vector, parameters: Vector
    ) -> None:
        self.response, self.mean, self.spread = response, mean, spread
        self.rows, self.parameters = rows, parameters
        self._size = np.sqrt(np.maximum(np.diag(spread), 1e-300))

    def __call__(self, compared: Compared, start: Local) -> tuple[Local, int]:
        """The point where the gradient vanishes and the equations close, and the steps taken.

        Raises
        ------
        SolveFailed
            If none is found.
        """
        first = self.weighed(compared, start, compared.beside)
        try:
            return self._quick(compared, start, first)
        except (Unsettled, SolveFailed):
            return self._guarded(compared, start, first)

    def weighed(
        self, compared: Compared, local: Local, beside: Matrix | None = None
    ) -> tuple[Matrix, Update]:
        """Sensitivity of what is compared, and what it says, linearised at the point."""
        inputs = local.point[self.response.inputs]
        sensitivity = local.sensitivity[compared.used]
        if compared.held.size:
            sensitivity, beside = np.vstack([sensitivity, local.places(compared.held)]), None
        predicted = self._predicted(compared, local)
        innovation = compared.values - predicted + sensitivity @ (inputs - self.mean)
        return sensitivity, update(sensitivity, compared.variance, self.spread, innovation, beside)

    @staticmethod
    def _predicted(compared: Compared, local: Local) -> Vector:
        return np.concatenate([local.predictions[compared.used], local.point[compared.held]])

    # -- quick steps ------------------------------------------------------------------------

    def _quick(
        self, compared: Compared, start: Local, first: tuple[Matrix, Update]
    ) -> tuple[Local, int]:
        """Steps of the inputs and of all that follows at once.

        One step with the derivatives of the neighbour, then steps with derivatives of their
        own while they are long, then steps that keep them.
        """
        curvature = Curvature(self.spread, *first)
        weights = first[1].whitened.T @ first[1].innovation
        inputs = self.mean + self.spread @ weights
        point = start.point + start.follow(inputs - start.point[self.response.inputs])
        learnt: tuple[Vector, Vector, Vector] | None = None
        before, renewals, fresh = np.inf, 0, False
        for step in range(1, QUICK + 1):
            local = self._nearly_closed(point)
            gradient = weights - self._pull(compared, local)
            if learnt is not None:
                curvature.learn(learnt[0], learnt[1], gradient - learnt[2])
            change, of_weights = curvature.down(gradient)
            length = float(np.max(np.abs(change) / self._size))
            if length < STEP_ENDS and np.abs(local.misfit).max() < CLOSES:
                return local, step
            if step > PATIENCE and not length < FAR:
                break
            slow = length > SLOW * before and step > 2
            if not fresh and (length > LONG or slow) and renewals < RENEWALS:
                renewals += 1
                curvature = Curvature(self.spread, *self.weighed(compared, local))
                change, of_weights = curvature.down(gradient)
                fresh, before = True, np.inf
            else:
                fresh, before = False, length
            part = bridle(change, self._size)
            change, of_weights = part * change, part * of_weights
            point = local.point + local.follow(change)
            weights = weights + of_weights
            learnt = change, of_weights, gradient
        raise Unsettled

    def _nearly_closed(self, point: Vector) -> Local:
        """Derivatives at a point, or at one with the same inputs where the equations gape less."""
        local = self.response.at(point, self.parameters, self.rows)
        for _ in range(CLOSINGS):
            if np.abs(local.misfit).max() < GAPE:
                break
            point = local.point.copy()
            point[self.response.free] += local.closing()
            local = self.response.at(point, self.parameters, self.rows)
        return local

    def _pull(self, compared: Compared, local: Local) -> Vector:
        """Pull of the readings on the inputs, the misfit closed to first order."""
        closing = local.closing()
        count, response = compared.used.size, self.response
        predictions = local.predictions + local.lead[0].matrix @ closing
        of_readings = np.zeros(predictions.size)
        used = compared.used
        of_readings[used] = (compared.values[:count] - predictions[used]) / compared.variance[
            :count
        ]
        on_held = np.zeros(0)
        if compared.held.size:
            there = local.point[compared.held]
            follows = ~response.is_input[compared.held]
            there[follows] += closing[response.place[compared.held[follows]]]
            on_held = (compared.values[count:] - there) / compared.variance[count:]
        return local.pull(of_readings, compared.held, on_held)

    # -- guarded steps ----------------------------------------------------------------------

    def _guarded(
        self, compared: Compared, start: Local, first: tuple[Matrix, Update]
    ) -> tuple[Local, int]:
        """Steps that close the equations each time and must lower the objective."""
        curvature = Curvature(self.spread, *first)
        weights, local = self._first(first[1], start)
        objective = self._objective(weights, compared, local)
        gradient = weights - self._pull(compared, local)
        before, fresh, renewals = np.inf, False, 0
        for step in range(1, STEPS + 1):
            change, of_weights = curvature.down(gradient)
            length = float(np.max(np.abs(change) / self._size))
            if length < STEP_ENDS:
                return local, step
            uphill = float(gradient @ change) >= 0
            if not fresh and (uphill or length > LONG or (length > SLOW * before and step > 2)):
                if renewals < RENEWALS or uphill:
                    renewals += 1
                    curvature = Curvature(self.spread, *self.weighed(compared, local))
                    change, of_weights = curvature.down(gradient)
                    fresh, before = True, np.inf
            else:
                fresh, before = False, length
            slope = float(gradient @ change)
            part, better = bridle(change, self._size), None
            for _ in range(HALVINGS):
                try:
                    there = local.point + local.follow(part * change)
                    tried = self._closed(there, local.factor)
                except SolveFailed:
                    part *= 0.5
                    continue
                value = self._objective(weights + part * of_weights, compared, tried)
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
            renewed = weights - self._pull(compared, local)
            curvature.learn(part * change, part * of_weights, renewed - gradient)
            gradient = renewed
        raise SolveFailed(f"The shift was not balanced in {STEPS} steps.")

    def _first(self, said: Update, start: Local) -> tuple[Vector, Local]:
        """Where the derivatives of the neighbour lead, or a part of the way from the mean."""
        weights = said.whitened.T @ said.innovation
        inputs = start.point[self.response.inputs]
        for _ in range(HALVINGS):
            change = self.mean + self.spread @ weights - inputs
            try:
                return weights, self._closed(start.point + start.follow(change))
            except SolveFailed:
                weights = 0.5 * weights
        change = self.mean + self.spread @ weights - inputs
        return weights, self._closed(start.point + start.follow(change))

    def _objective(self, weights: Vector, compared: Compared, local: Local) -> float:
        away = local.point[self.response.inputs] - self.mean
        residual = compared.values - self._predicted(compared, local)
        return 0.5 * float(weights @ away + residual @ (residual / compared.variance))

    def _closed(self, point: Vector, factor: SquareFactor | None = None) -> Local:
        """The equations closed by Newton steps, the inputs as they are at the point.

        Steps with the `factor` of a neighbour, or the last one made, as long as each closes
        most of the rest.
        """
        still = np.zeros(self.response.inputs.size)
        local = self.response.at(point, self.parameters, self.rows, factor)
        own, before = factor is None, np.inf
        for _ in range(CLOSING_STEPS):
            misfit = float(np.max(np.abs(local.misfit)))
            if misfit < CLOSES:
                return local if own else self.response.at(point, self.parameters, self.rows)
            if not own and not misfit < CLOSING * before and before < np.inf:
                local = self.response.at(point, self.parameters, self.rows)
            point = point + local.follow(still)
            own, before = False, misfit
            local = self.response.at(point, self.parameters, self.rows, local.factor)
        raise SolveFailed("The equations do not close at this point.")
