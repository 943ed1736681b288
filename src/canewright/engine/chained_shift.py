"""One shift of a chain, balanced against what the shifts before it say of its inputs.

The most likely inputs given a joint Gaussian of them and the readings: the same answer as the
reconciliation of the shift with that Gaussian in place of its own priors. Steps use the
derivatives of a neighbouring point, but the gradient at the point itself, so that they end
where the true gradient vanishes; what is known is then read off the derivatives there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy.linalg as linalg
import scipy.sparse as sparse

from canewright.engine.adjustment import Vector
from canewright.engine.carried import Carried
from canewright.engine.filter import Update, update
from canewright.engine.kkt import Matrix
from canewright.engine.mixing import Mixing, bridled
from canewright.engine.response import Local, Response
from canewright.engine.setting_aside import (
    SET_ASIDE_CONFIDENCE,
    SET_ASIDE_MOST,
    SetAside,
    far_off,
    standings,
)
from canewright.engine.simulate import SolveFailed
from canewright.engine.statistics import family_limit

STEP_ENDS = 1e-4
"""Largest step, in standard deviations of the inputs, at which a shift counts as balanced."""
CLOSES = 1e-9
"""Largest misfit of a scaled equation at which a shift counts as balanced."""
STEPS, QUICK = 80, 25
"""Steps allowed, and those of them taken without comparing the objective."""
SLOW, LONG = 0.6, 0.3
"""Part of the step before, and length in standard deviations, above which a step has its
derivatives taken anew."""
RENEWALS = 6
"""Times derivatives are taken anew before each step is checked."""
CLOSES_NEARLY = 1e-4
"""Misfit after a step above which the equations are closed before anything else."""
CLOSING_STEPS = 12
"""Newton steps to close the equations with given inputs."""
HALVINGS = 8
"""Times a step is halved when the equations have no value at its end."""
AT_BOUND = 1e-5
"""How well a variable is held to its bound, in typical sizes; our choice."""
OUTSIDE = 1e-7
"""How far outside its bound a variable may be, in typical sizes, before it is held there."""
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
        Of the readings used, then of the bounds held, with respect to the inputs.
    noise : array (k)
        Variance of each of them.
    update : Update
        What they say of the inputs.
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
                if pull * sides[int(i)] > 0:
                    del sides[int(i)]
                    changed = True
            beyond = np.maximum(self.problem.lower - local.point, local.point - self.problem.upper)
            beyond[held] = 0.0
            worst = int(np.argmax(beyond / scale))
            if beyond[worst] > OUTSIDE * scale[worst]:
                sides[worst] = -1.0 if local.point[worst] < self.problem.lower[worst] else 1.0
                changed = True
            if not changed:
                break
        else:
            raise SolveFailed("No set of bounds was found that the shift rests on.")
        sensitivity, said = self._weighed(mean, spread, readings, local)
        return Balanced(
            local.point, local, used, sensitivity, readings.variance, said, held, (), steps
        )

    def _bound(self, place: int, side: float) -> float:
        return float(self.problem.lower[place] if side < 0 else self.problem.upper[place])

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
        inputs = self.response.inputs
        rows = self.problem.row_scale(start.point, self._parameters)
        _, said = self._weighed(mean, spread, readings, start)
        change = mean + said.gain(spread) @ said.innovation - start.point[inputs]
        try:
            local = self._closed(start.moved(bridled(change, size)), rows)
        except SolveFailed:
            return self._carefully(mean, spread, readings, start, rows, 0)
        before, fresh = np.inf, False
        sensitivity, gain = self._own(mean, spread, readings, local)
        memory = Mixing(size)
        renewals = 0
        for step in range(1, QUICK + 1):
            away, _ = self._away(mean, spread, readings, local, size)
            change = -(away - gain @ (sensitivity @ away))
            length = float(np.max(np.abs(change) / size))
            if length < STEP_ENDS and np.max(np.abs(local.misfit)) < CLOSES:
                return local, step
            if not fresh and (length > SLOW * before or length > LONG) and step > 1:
                renewals += 1
                if renewals > RENEWALS:
                    break
                sensitivity, gain = self._own(mean, spread, readings, local)
                memory = Mixing(size)
                change = -(away - gain @ (sensitivity @ away))
                before, fresh = np.inf, True
            else:
                before, fresh = length, False
            change = memory.mixed(local.point[inputs], change)
            point = local.point + local.follow(bridled(change, size))
            try:
                local = self.response.at(point, self._parameters, rows)
                if np.max(np.abs(local.misfit)) > CLOSES_NEARLY:
                    local = self._closed(point, rows)
            except SolveFailed:
                break
        return self._carefully(mean, spread, readings, start, rows, step)

    def _own(
        self, mean: Vector, spread: Matrix, readings: _Readings, local: Local
    ) -> tuple[Matrix, Matrix]:
        """Sensitivity and gain with the derivatives of a point."""
        sensitivity, said = self._weighed(mean, spread, readings, local)
        return sensitivity, self._gain(spread, said)

    def _away(
        self, mean: Vector, spread: Matrix, readings: _Readings, local: Local, size: Vector
    ) -> tuple[Vector, float]:
        """Gradient at a point times the covariance before: where it vanishes is the answer."""
        residual = (readings.values - self._predicted(readings, local)) / readings.variance
        weights = self._rows(readings, local).T @ residual
        away = local.point[self.response.inputs] - mean - spread @ local.gradient(weights)
        return away, float(np.max(np.abs(away) / size))

    def _carefully(
        self,
        mean: Vector,
        spread: Matrix,
        readings: _Readings,
        start: Local,
        rows: Vector,
        steps: int,
    ) -> tuple[Local, int]:
        """Full steps, halved until they do better, on points that close the equations."""
        inputs = self.response.inputs
        size = np.sqrt(np.maximum(np.diag(spread), 1e-300))
        inverse = np.linalg.pinv(spread / np.outer(size, size), rcond=1e-13, hermitian=True)

        def objective(local: Local) -> float:
            off = (local.point[inputs] - mean) / size
            residual = readings.values - self._predicted(readings, local)
            return 0.5 * float(off @ inverse @ off + residual @ (residual / readings.variance))

        local = self._closed(start.point, rows)
        now = objective(local)
        for step in range(steps + 1, STEPS + 1):
            sensitivity, said = self._weighed(mean, spread, readings, local)
            change = mean + said.gain(spread) @ said.innovation - local.point[inputs]
            part, better = 1.0, None
            for _ in range(HALVINGS):
                try:
                    tried = self._closed(local.point + local.follow(part * change), rows)
                except SolveFailed:
                    part *= 0.5
                    continue
                value = objective(tried)
                if value <= now + 1e-9 * (1 + abs(now)):
                    better = tried
                    now = value
                    break
                part *= 0.5
            if better is None:
                break
            local = better
            away, _ = self._away(mean, spread, readings, local, size)
            shift = away - self._gain(spread, said) @ (sensitivity @ away)
            if np.max(np.abs(shift) / size) < STEP_ENDS:
                return local, step
        raise SolveFailed(f"The shift was not balanced in {STEPS} steps.")

    def _closed(self, point: Vector, rows: Vector) -> Local:
        """The equations closed by Newton steps, the inputs as they are at the point."""
        still = np.zeros(self.response.inputs.size)
        for _ in range(CLOSING_STEPS):
            local = self.response.at(point, self._parameters, rows)
            if np.max(np.abs(local.misfit)) < CLOSES:
                return local
            point = point + local.follow(still)
        raise SolveFailed("The equations do not close at this point.")

    @staticmethod
    def _gain(spread: Matrix, said: Update) -> Matrix:
        """Kalman gain on the inputs, for readings in their own units."""
        return np.asarray(
            linalg.solve_triangular(
                said.lower, said.gain(spread).T, lower=True, trans=1, check_finite=False
            ).T
        )
