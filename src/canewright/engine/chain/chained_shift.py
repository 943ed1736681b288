"""One shift of a chain, balanced against what the shifts before it say of its inputs.

The most likely inputs given a joint Gaussian of them and the readings: the same answer as the
reconciliation of the shift with that Gaussian in place of its own priors. Steps use the
derivatives of a neighbouring point, but the gradient at the point itself, so that they end
where the true gradient vanishes; what is known is then read off the derivatives there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from canewright.engine.adjusting.solution import Vector
from canewright.engine.adjusting.statistics import family_limit
from canewright.engine.algebra.kkt import Matrix
from canewright.engine.chain.carried import Carried
from canewright.engine.chain.chained_seek import Compared, Seek
from canewright.engine.chain.filter import Update
from canewright.engine.chain.response import Local, Response
from canewright.engine.chain.setting_aside import (
    SET_ASIDE_CONFIDENCE,
    SET_ASIDE_MOST,
    SetAside,
    far_off,
    standings,
)
from canewright.engine.equations.simulate import SolveFailed

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
        rows = self.problem.row_scale(start.point, parameters)
        seek = Seek(self.response, mean, spread, rows, parameters)
        present = np.flatnonzero(np.isfinite(sd))
        beside: Matrix | None = start.sensitivity @ spread
        aside: dict[int, float] = {}
        allowed = int(SET_ASIDE_MOST * present.size)
        limit = family_limit(present.size, SET_ASIDE_CONFIDENCE) if present.size else np.inf
        if set_aside and beside is not None:
            aside = far_off(start, mean, beside, values, sd, present, allowed)
        gross, steps = dict(aside), 0
        while True:
            used = np.array([i for i in present if int(i) not in aside], dtype=int)
            found = self._with_bounds(seek, values, sd, used, start, beside)
            start, beside = found.local, None
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
        channels = self.carried.reconciler.channels
        told = tuple(
            SetAside(
                channels[i].name, float(values[i]), float(found.local.predictions[i]), standing
            )
            for i, standing in aside.items()
        )
        return replace(found, aside=told, steps=steps)

    def _with_bounds(
        self,
        seek: Seek,
        values: Vector,
        sd: Vector,
        used: np.ndarray,
        start: Local,
        beside: Matrix | None,
    ) -> Balanced:
        """Balance, holding variables at bounds that they would cross."""
        scale = self.problem.scale
        sides: dict[int, float] = {}
        taken_up: dict[int, int] = {}
        steps = 0
        at_start = None if beside is None else beside[used]
        for _ in range(ROUNDS):
            held = np.array(sorted(sides), dtype=int)
            bounds = np.array([self._bound(i, sides[i]) for i in held])
            compared = Compared(
                used,
                held,
                np.concatenate([values[used], bounds]),
                np.concatenate([sd[used] ** 2, (AT_BOUND * scale[held]) ** 2]),
                at_start,
            )
            local, taken = seek(compared, start)
            steps += taken
            start, at_start = local, None
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
        # All derivatives at the end at once: stocks, amounts and the next shift want them too.
        _ = local.following
        sensitivity, said = seek.weighed(compared, local)
        weights = said.whitened.T @ said.innovation
        if held.size:
            # A bound says on which side the answer lies, not how well it is known.
            free = Compared(used, held[:0], values[used], sd[used] ** 2)
            sensitivity, said = seek.weighed(free, local)
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
