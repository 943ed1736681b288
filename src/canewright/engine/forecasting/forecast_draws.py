"""Intervals of a forecast by draws: the factory drawn from what the balance knows, then changed.

First order does not see far tails: the return of cush-cush, a stock that nearly runs out.
Here every draw is solved in full before and after, and the interval of a difference is that
which holds 95 % of the draws that can run. Source: [own_derivation].
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from canewright.engine.adjusting.reconcile import Estimate
from canewright.engine.equations.changes import Change
from canewright.engine.equations.responses import responses
from canewright.engine.equations.settled import Matrix, Vector
from canewright.engine.equations.simulate import Solved
from canewright.engine.forecasting.draws import Drawn, Many, answered, drawn, spread
from canewright.engine.forecasting.forecast_case import Asked, Case, Found

DRAWS = 200
"""Draws of an interval, unless said otherwise; our choice."""
FEWEST = 50
"""Draws of an interval at least; our choice, so that some may fail."""
ENOUGH = 39
"""Draws that must count: with fewer, 2.5 % at each end hold none of them."""


@dataclass(frozen=True)
class Drawing:
    """How intervals were drawn.

    Attributes
    ----------
    count : int
        Draws in all.
    failed_before, failed_after : int
        Draws of a factory that cannot run as found; those that run as found, but not after
        the change. Neither is counted in an interval.
    moved : int
        Draws of which something was moved to its bound.
    seconds : float
        All told.
    """

    count: int
    failed_before: int
    failed_after: int
    moved: int
    seconds: float

    @property
    def counted(self) -> int:
        """Draws behind an interval."""
        return self.count - self.failed_before - self.failed_after

    @property
    def enough(self) -> bool:
        """Whether an interval can stand on them."""
        return self.counted >= max(self.count / 2, ENOUGH)


class ForecastDraws:
    """Draws of a factory as found, to be changed.

    Parameters
    ----------
    estimate : Estimate
    base : Case
        The factory as found.
    found : Found
    before : Solved
        Its state.
    relations : array
        Between state and pol, as found.
    count : int
        Draws, `FEWEST` or more.
    seed : int
    """

    def __init__(
        self,
        estimate: Estimate,
        base: Case,
        found: Found,
        before: Solved,
        relations: Vector,
        count: int = DRAWS,
        seed: int = 1,
    ) -> None:
        if count < FEWEST:
            raise ValueError(f"An interval of 95 % needs {FEWEST} draws or more, not {count}.")
        self.base, self.found, self.start, self.count = base, found, before, count
        self.estimate, self.relations, self.seed = estimate, relations, seed
        self._solvers: dict[int, Many] = {}

    @cached_property
    def _drawn(self) -> Drawn:
        rng = np.random.default_rng(self.seed)
        return drawn(
            self.estimate, self.base.square, self.start.values, self.relations, self.count, rng
        )

    @cached_property
    def before(self) -> tuple[Matrix, npt.NDArray[np.bool_], Matrix]:
        """Every draw as found: values, which run, figures (draws, figures)."""
        held, targets = self._drawn.held, self._drawn.targets
        sizes = self.start.parameters
        values, runs = self._many(self.base).states(held, targets, sizes, self.start.values)
        return values, runs, self.base.many(values, sizes, self._drawn.relations)

    def _many(self, case: Case) -> Many:
        return self._solvers.setdefault(id(case), Many(case.square))

    def spans(
        self, case: Case, asked: Asked, changes: Sequence[Change], after: Solved
    ) -> tuple[dict[str, tuple[float, float]], Drawing]:
        """Interval of every figure's difference, and how it was drawn.

        There is none where fewer than half of the draws can run before and after.

        Parameters
        ----------
        case : Case
            The factory after, which may have been rebuilt.
        asked : Asked
            What is given there.
        changes : sequence of Change
        after : Solved
            Its state, all as found.
        """
        begun = time.perf_counter()
        values, runs, figures = self.before
        held, targets = self._after(case, asked, changes, values)
        near = np.tile(after.values, (self.count, 1))
        if case is self.base:
            near += values - self.start.values
        then, going = self._many(case).states(held, targets, asked.sizes, after.values, near)
        good = runs & going
        told = Drawing(
            self.count,
            int((~runs).sum()),
            int((runs & ~going).sum()),
            self._drawn.moved,
            time.perf_counter() - begun,
        )
        if not told.enough:
            return {}, told
        second = case.many(then, asked.sizes, self._drawn.relations)[good]
        place = {name: i for i, name in enumerate(self.base.names)}
        both = [(name, place[name], k) for k, name in enumerate(case.names) if name in place]
        change = second[:, [k for _, _, k in both]] - figures[good][:, [i for _, i, _ in both]]
        ends = spread(change)
        return {
            name: (float(ends[0, k]), float(ends[1, k]))
            for k, (name, _, _) in enumerate(both)
            if np.isfinite(ends[:, k]).all()
        }, told

    def _after(
        self, case: Case, asked: Asked, changes: Sequence[Change], values: Matrix
    ) -> tuple[Matrix, Matrix]:
        """What is held (draws, held) and the right sides of the rows (draws, rows) after."""
        model, square = case.model, case.square
        before = np.tile(self.found.carried(model)[square.held], (self.count, 1))
        for k, place in enumerate(square.held):
            there = self.found.place(model, int(place))
            if there is not None:
                before[:, k] = values[:, there]
        held = before.copy()
        order = {int(i): k for k, i in enumerate(square.held)}
        changed = set()
        for change in changes:
            if not change.size:
                place = model.position(change.name)
                changed.add(place)
                variable = model.variables[place]
                new = [change.applied(float(value)) for value in before[:, order[place]]]
                held[:, order[place]] = np.clip(new, variable.lower, variable.upper)
        links = [
            link
            for link in case.links
            if link.cause in changed and link.effect not in changed and link.effect in order
        ]
        rng = np.random.default_rng([self.seed, 1])
        slopes = {r: r.slope + r.sd * rng.standard_normal(self.count) for r in responses()}
        answered(model, square, links, slopes, before, held)
        targets = np.tile(asked.targets, (self.count, 1))
        own = {row.name: self._drawn.targets[:, k] for k, row in enumerate(self.base.square.rows)}
        for k, row in enumerate(square.rows):
            if row.name in own:
                targets[:, k] = own[row.name]
        return held, targets
