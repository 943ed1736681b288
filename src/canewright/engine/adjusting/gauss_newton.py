"""Gauss-Newton steps in the independent quantities, with bounds, for good starting points.

Each step restores the constraints and moves the independent quantities against the gradient
of the reduced problem, by the inverse of its Gauss-Newton Hessian (see `elimination`). That
inverse is renewed while steps bend the constraints. Later it is kept and improved by what each
step teaches (BFGS), which also brings in the curvature that Gauss-Newton neglects: measured, 6
to 9 cheap steps instead of 10 to 20 dear ones. There is no safeguard for poor starting points:
whatever does not converge is left to the caller.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from canewright.engine.adjusting.elimination import (
    Elimination,
    Linear,
    Matrix,
    NotReducible,
    Reduced,
    Vector,
    held_slopes,
)

STEP = 1e-8
"""Distance still to go, in typical sizes, at which the point counts as found."""
NEARLY, STEADY = 1e-6, 0.3
"""Last step at most, and part of the one before that it must be to tell what is still to go."""
CLOSED = 1e-9
"""Largest scaled misfit of a constraint at that point."""
BENT = 2e-4
"""A step that opens a constraint by more than this (scaled) has the Hessian renewed."""
FRESH, NEAR = 4, 1e-3
"""Steps after which the Hessian is renewed, unless they have become shorter than this."""
FAR = 1e3
"""Steps longer than this run away."""
STEPS = 30
SMALLEST_PART = 1e-3
"""Least part of a step that is tried where the model has no value at its end."""
SHORT_OF_BOUND = 0.9
"""Part of the way to the nearest bound that is gone where the ones that hold cannot be told."""
SMALLEST_CUT = 0.02
"""Least part of a step that is still worth going then."""
EXCHANGES = 20
"""Rounds of taking up and letting go of bounds within one step before giving up."""
OVERSTEPPED = 1e-10
"""Distance beyond a bound, in typical sizes, that takes it up."""
PULLS = 1e-9
"""Pull away from its bound with which a variable is let go."""
MEMORY = 12
"""Steps remembered to improve the Hessian."""


Bound = tuple[int, int]
"""Position of a variable and the side of its bound: -1 lower, 1 upper."""


@dataclass(frozen=True)
class Answer:
    """A point that satisfies the conditions of a minimum, in scaled variables.

    `multipliers` are those of the scaled constraints, `pull` those of the bounds.
    """

    point: Vector
    multipliers: Vector
    pull: Vector
    iterations: int


class _Curvature:
    """Inverse Hessian of the reduced problem: Gauss-Newton's, improved by steps taken."""

    def __init__(self, reduced: Reduced) -> None:
        self._reduced = reduced
        self._pairs: deque[tuple[Vector, Vector]] = deque(maxlen=MEMORY)
        self.steps = 0

    def learn(self, step: Vector, change: Vector) -> None:
        """A step and the change of the gradient along it."""
        self.steps += 1
        if step @ change > 1e-8 * np.linalg.norm(step) * np.linalg.norm(change):
            self._pairs.append((step, change))

    def inverse_times(self, gradient: Vector) -> Vector:
        """Two loops over the steps remembered, as in limited-memory BFGS."""
        value = gradient.copy()
        parts = []
        for step, change in reversed(self._pairs):
            part = (step @ value) / (step @ change)
            value -= part * change
            parts.append(part)
        value = self._reduced.covariance_times(value)
        for (step, change), part in zip(self._pairs, reversed(parts), strict=True):
            value += step * (part - (change @ value) / (step @ change))
        return value


@dataclass
class _Held:
    """Variables held on a bound, in the reduced problem.

    `back` are the misses of constraints that would move each, `slopes` its derivatives by the
    independent variables.
    """

    bounds: list[Bound]
    back: Matrix
    slopes: Matrix


@dataclass
class _State:
    """A point, and what the last step there was made of."""

    point: Vector
    linear: Linear
    gradient: Vector
    multipliers: Vector
    restore: Vector
    held: _Held
    pulls: Vector


class GaussNewton:
    """Solver of one adjustment: its data and bounds.

    Parameters
    ----------
    layout : Elimination
    linearise : callable
        Scaled point -> blocks of the linearised problem there.
    lower, upper : array (n)
        Scaled bounds.
    """

    def __init__(
        self,
        layout: Elimination,
        linearise: Callable[[Vector], Linear],
        lower: Vector,
        upper: Vector,
    ) -> None:
        self._layout, self._linearise = layout, linearise
        self._lower, self._upper = lower, upper
        self._fixed = lower == upper

    def solve(self, start: Vector) -> Answer:
        """Find the adjusted point.

        Raises
        ------
        NotReducible
            If the steps do not settle: the problem needs a solver with safeguards.
        """
        point = np.clip(start, self._lower, self._upper)
        linear = self._linearise(point)
        curvature = self._curvature(linear)
        state = self._state(point, linear, [], np.zeros(0))
        length = np.inf
        for count in range(1, STEPS + 1):
            moved = self._step(state, curvature)
            before, length = length, float(np.abs(moved).max())
            if not length < FAR:
                raise NotReducible("The steps run away.")
            point, linear, part = self._move(state.point, moved)
            # Steps still to come, if they shrink on as the last one did, with something to spare.
            left = 3 * length * length / before if length < STEADY * before else length
            opened = np.abs(linear.constraints).max(initial=0.0)
            if left < STEP and length < NEARLY and opened < CLOSED:
                return self._answer(point, state, count)
            new = self._state(point, linear, state.held.bounds, state.pulls)
            stale = curvature.steps >= FRESH and length > NEAR
            if opened > BENT or part < 1.0 or stale:
                curvature = self._curvature(linear)
            else:
                bent = (new.held.slopes - state.held.slopes).T @ state.pulls
                step = moved[self._layout.free]
                curvature.learn(step, new.gradient - state.gradient + bent)
            state = new
        raise NotReducible(f"{STEPS} steps did not settle.")

    def _curvature(self, linear: Linear) -> _Curvature:
        return _Curvature(Reduced(linear, self._layout.spread(linear.own)))

    def _move(self, point: Vector, moved: Vector) -> tuple[Vector, Linear, float]:
        """Go along a step, less far where the model has no value."""
        part = 1.0
        while True:
            there = point + part * moved
            try:
                return there, self._linearise(there), part
            except NotReducible:
                part /= 4
                if part < SMALLEST_PART:
                    raise

    def _state(self, point: Vector, linear: Linear, bounds: list[Bound], pulls: Vector) -> _State:
        """Gradient of the reduced problem at a point, its constraints restored to first order."""
        restore = -linear.square.solve(linear.constraints)
        far = linear.misfits[self._layout.far] + linear.far_square.matrix @ restore
        multipliers = -linear.square.solve(linear.far_square.transposed @ far, transposed=True)
        gradient = (
            linear.own.transposed @ linear.misfits[self._layout.own]
            + linear.far_free.transposed @ far
            + linear.constraints_free.transposed @ multipliers
        )
        held = self._hold(linear, bounds)
        return _State(point, linear, gradient, multipliers, restore, held, pulls)

    def _hold(self, linear: Linear, bounds: list[Bound]) -> _Held:
        places = [place for place, _ in bounds]
        back, slopes = held_slopes(self._layout, linear, places)
        return _Held(bounds, back, slopes)

    def _step(self, state: _State, curvature: _Curvature) -> Vector:
        """Step to the minimum of the quadratic model within the bounds; notes what is held."""
        down = curvature.inverse_times(state.gradient)
        for _ in range(EXCHANGES):
            held = state.held
            free, pulls = -down, np.zeros(0)
            if held.bounds:
                across = np.stack([curvature.inverse_times(row) for row in held.slopes], axis=1)
                try:
                    pulls = self._pulls(state, down, across)
                except np.linalg.LinAlgError:
                    break
                free = free - across @ pulls
            moved = self._whole(state, free)
            state.pulls = pulls
            bounds = self._exchange(state.point + moved, held.bounds, pulls)
            if bounds == held.bounds:
                return moved
            state.held = self._hold(state.linear, bounds)
        return self._cut(state, down)

    def _cut(self, state: _State, down: Vector) -> Vector:
        """Where the bounds that hold cannot be told: part of the way, short of the next one."""
        state.held, state.pulls = self._hold(state.linear, []), np.zeros(0)
        moved = self._whole(state, -down)
        room = np.where(moved > 0, self._upper - state.point, self._lower - state.point)
        moving = np.abs(moved) > OVERSTEPPED
        part = min(1.0, SHORT_OF_BOUND * float((room[moving] / moved[moving]).min(initial=np.inf)))
        if part < SMALLEST_CUT:
            raise NotReducible("The bounds that hold cannot be told.")
        return part * moved

    def _whole(self, state: _State, free: Vector) -> Vector:
        """Step of all variables from that of the independent ones."""
        moved = np.empty(state.point.size)
        moved[self._layout.free] = free
        moved[self._layout.other] = state.restore - state.linear.square.solve(
            state.linear.constraints_free.matrix @ free
        )
        return moved

    def _pulls(self, state: _State, down: Vector, across: Matrix) -> Vector:
        """Pull of each bound held, such that the step ends on it."""
        held = state.held
        gaps = np.empty(len(held.bounds))
        for k, (place, side) in enumerate(held.bounds):
            bound = self._lower[place] if side < 0 else self._upper[place]
            gaps[k] = bound - state.point[place]
            if not self._layout.is_free[place]:
                gaps[k] -= state.restore[self._layout.place[place]]
        return np.asarray(-np.linalg.solve(held.slopes @ across, gaps + held.slopes @ down))

    def _exchange(self, there: Vector, bounds: list[Bound], pulls: Vector) -> list[Bound]:
        """Bounds to hold: the one most overstepped is added, else those that pull are let go.

        One at a time: bounds overstepped together often depend on each other.
        """
        over = np.maximum(self._lower - there, there - self._upper)
        over[[place for place, _ in bounds]] = 0.0
        worst = int(np.argmax(over))
        if over[worst] > OVERSTEPPED:
            return [*bounds, (worst, -1 if there[worst] < self._lower[worst] else 1)]
        return [
            bound
            for bound, pull in zip(bounds, pulls, strict=True)
            if pull * bound[1] > -PULLS or self._fixed[bound[0]]
        ]

    def _answer(self, point: Vector, state: _State, count: int) -> Answer:
        multipliers = state.multipliers - state.held.back @ state.pulls
        pull = np.zeros(point.size)
        for (place, side), size in zip(state.held.bounds, state.pulls, strict=True):
            pull[place] = size
            point[place] = self._lower[place] if side < 0 else self._upper[place]
        return Answer(np.clip(point, self._lower, self._upper), multipliers, pull, count)
