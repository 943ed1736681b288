"""What next: the settings within their limits that earn most, from one estimate.

The clean estimate of the balance is the start; performance stays as found but for what the
assumed responses link to a setting; stocks stand as in `settled`. From a notebook, money and
products being those of `canewright.figures`:

    from canewright.account.advice import Adviser
    advice = Adviser(balance("factory.toml", "readings.csv")).advise()
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from canewright.engine.adjusting.reconcile import Estimate
from canewright.engine.advising.conflict import LimitsConflict, conflict
from canewright.engine.advising.limits import Bound, bounds_of, quality_of
from canewright.engine.advising.movable import movable
from canewright.engine.advising.optimum import Best, Given
from canewright.engine.advising.program import Program
from canewright.engine.equations.settled import Stocks, Vector
from canewright.engine.equations.simulate import Solved, SolveFailed
from canewright.engine.forecasting.forecast_case import Case

MONEY = "money"
Money = Callable[[Any, Mapping[str, Any]], Any]
"""From a model and the relations between state and pol to money a day."""

STANDS = 1e-6
"""Distance from an end, in its range, within which a setting stands at it."""
LEAST = 1.0
"""Moves that earn less than this share of all of them together are not worth making. [%]"""
ROUNDS = 4
"""Times that small moves are looked for, the others having answered their absence."""
KEPT_STATES = 1000
"""Solved states kept, by their settings: the same ones are asked for again and again."""
BINDS_NOTHING = 1e-12
"""Relative change of a limited quantity over all moves below which no move touches it."""


@dataclass
class Chosen:
    """Settings chosen, with the optimum they belong to.

    `moved` lists the places (among the movable settings) that are moved; `dropped` those that
    were not worth it, with the money a day they would have brought together with the others.
    """

    best: Best
    moved: list[int]
    dropped: list[tuple[int, float]] = field(default_factory=list)
    given: Given | None = None


class Optimiser:
    """The best settings of one estimated factory.

    Parameters
    ----------
    estimate : Estimate
        As the balance found it.
    money : callable
        Money a day.
    products : mapping
        Product -> streams whose quality is to be no worse than found.
    stocks, assumed
        See `Forecaster`.
    reach : float, optional
        Moves accepted in a shift. [% of the typical range]
    accepted : mapping, optional
        Setting -> move accepted in a shift, in its unit.
    """

    def __init__(
        self,
        estimate: Estimate,
        money: Money,
        products: Mapping[str, Sequence[str]],
        *,
        stocks: Stocks = "settled",
        assumed: bool = True,
        reach: float | None = None,
        accepted: Mapping[str, float] | None = None,
    ) -> None:
        self.estimate = estimate
        model = self.model = estimate.model
        relations = estimate.reconciler.relations
        sizes = estimate.solution.parameters[: len(model.parameter_values)]
        point = estimate.solution.z
        written = [
            *bounds_of(model, relations, point, sizes),
            *quality_of(model, relations, products, point, sizes),
        ]
        names = [f"{MONEY}", *(f"{k} {bound.words}" for k, bound in enumerate(written))]
        figures = [money(model, relations), *(bound.expression for bound in written)]

        def expressions(_: Any, __: Any) -> dict[str, Any]:
            return dict(zip(names, figures, strict=True))

        self.case = Case(model, expressions, relations, stocks, assumed)
        square = self.square = self.case.square
        if estimate.solution.offsets is not None:
            square.offsets[: len(model.equations)] = estimate.solution.offsets
        self.targets = square.targets(estimate.values)
        self.found = square.solve(estimate.values, sizes, self.targets)
        self.relations = point[len(model.variables) : len(model.variables) + len(relations)]
        self.settings = movable(
            model, [int(i) for i in square.held], self.case.links, reach=reach, accepted=accepted
        )
        if not self.settings:
            raise SolveFailed(
                "Nothing can be moved: the factory has no setting whose good and bad sides are in "
                "the equations. Write a [[limit]] for a setting that may be moved."
            )
        self.bounds = self._touched(written)
        self.program = Program(
            model,
            square,
            self.case.links,
            self.settings,
            figures[0],
            self.bounds,
            relations,
        )
        self.given = self._given(sizes)
        self._states: dict[bytes, Solved] = {}

    def _touched(self, written: Sequence[Bound]) -> list[Bound]:
        """Limits that a move touches, and those of the file in any case."""
        slopes = self.case.slopes(self.found, self.relations).by_held[1:]
        order = {int(place): k for k, place in enumerate(self.square.held)}
        touch = np.zeros((len(written), len(self.settings)))
        for k, one in enumerate(self.settings):
            touch[:, k] = np.abs(slopes[:, order[one.place]]) * one.reach
            for link in self.case.links:
                if link.cause == one.place and link.effect in order:
                    scale = self.model.variables[link.effect].scale
                    touch[:, k] += np.abs(slopes[:, order[link.effect]]) * scale
        sizes = np.array([bound.scale for bound in written])
        touches = np.asarray(touch > BINDS_NOTHING * sizes[:, None])
        rows = [k for k, bound in enumerate(written) if bound.kind == "limit" or touches[k].any()]
        self._rows = [0, *(1 + k for k in rows)]
        self._touches = touches[rows]
        return [written[k] for k in rows]

    def _given(self, sizes: Vector) -> Given:
        ends = [one.ends(float(self.found.values[one.place])) for one in self.settings]
        return Given(
            values=self.found.values,
            sizes=sizes,
            relations=self.relations,
            targets=self.targets,
            offsets=self.square.offsets[: len(self.model.equations)],
            slopes=self.program.slopes(),
            low=np.array([low for low, _ in ends]),
            high=np.array([high for _, high in ends]),
            limits=np.array([bound.value for bound in self.bounds]),
            absent=self._untouched(range(len(self.settings))),
        )

    def _untouched(self, moved: Collection[int]) -> tuple[int, ...]:
        """Qualities that none of these settings moves."""
        touched = np.atleast_1d(np.any(self._touches[:, list(moved)], axis=1))
        return tuple(
            k for k, bound in enumerate(self.bounds) if bound.kind == "quality" and not touched[k]
        )

    # -- the factory with settings moved ------------------------------------------------------

    @property
    def settings_found(self) -> Vector:
        """The movable settings as found."""
        return np.array([self.found.values[one.place] for one in self.settings])

    @property
    def money_found(self) -> float:
        """Money a day as found."""
        return self.program.money(self.found.values, self.given)

    def held_after(self, settings: Vector) -> Vector:
        """What is given once settings are moved and the assumed responses have answered."""
        values = self.found.values.copy()
        for one, value in zip(self.settings, settings, strict=True):
            values[one.place] = value
        for link in self.program.links:
            was, now = float(self.found.values[link.cause]), float(values[link.cause])
            if now == was:
                continue
            variable = self.model.variables[link.effect]
            new = link.response.moved(values[link.effect], link.response.change(was, now))
            values[link.effect] = min(max(new, variable.lower), variable.upper)
        return np.asarray(values[self.square.held])

    def state(self, settings: Vector, start: Vector | None = None) -> Solved:
        """The factory with settings moved.

        Raises
        ------
        SolveFailed, CannotRun
            If it cannot run so.
        """
        key = settings.tobytes()
        if start is None and key in self._states:
            return self._states[key]
        values = self.found.values.copy() if start is None else start.copy()
        values[self.square.held] = self.held_after(settings)
        solved = self.square.solve(values, self.given.sizes, self.targets)
        if start is None:
            if len(self._states) >= KEPT_STATES:
                self._states.clear()
            self._states[key] = solved
        return solved

    def forget(self) -> None:
        """Drop the states that were solved; only a measurement of speed needs it."""
        self._states.clear()

    def money_at(self, settings: Vector) -> float:
        """Money a day with settings moved."""
        return self.program.money(self.state(settings).values, self.given)

    def with_moves(self, settings: Vector, moved: Collection[int]) -> Vector:
        """Some of the moves made, the others left as found."""
        result = self.settings_found
        for k in moved:
            result[k] = settings[k]
        return result

    # -- the best of them -----------------------------------------------------------------------

    def best(self, given: Given | None = None, **how: Any) -> Best:
        """The optimum. See `Program.solve`.

        Raises
        ------
        LimitsConflict
            If the limits cannot be kept together.
        SolveFailed
            If no optimum is found.
        """
        asked = self.given if given is None else given
        try:
            return self.program.solve(asked, **how)
        except SolveFailed:
            limits = conflict(self.program, asked)
            if limits:
                raise LimitsConflict(limits) from None
            raise

    def choose(self, given: Given | None = None, least: float | None = None, **how: Any) -> Chosen:
        """The optimum without the moves that are not worth making.

        Parameters
        ----------
        least : float, optional
            Money a day below which a move is not worth making; `LEAST` % of the whole gain
            when left out.
        """
        asked = self.given if given is None else given
        first = best = self.best(asked, **how)
        threshold = LEAST / 100 * abs(first.money - self.money_found) if least is None else least
        dropped: list[int] = []
        final = asked
        for _ in range(ROUNDS):
            moved = self.moves(best.settings)
            small = [k for k in moved if self._small(best.settings, moved, k, threshold)]
            small = self._spared(final, best, moved, small, threshold, how)
            if not small:
                break
            dropped += small
            moved = [k for k in range(len(self.settings)) if k not in dropped]
            final = self.kept(asked, moved)
            best = self.program.solve(final, warm=best, **how)
        moved = self.moves(first.settings)
        values = [(k, self._together(first.settings, moved, k)) for k in dropped]
        return Chosen(best, self.moves(best.settings), values, final)

    def _spared(
        self,
        given: Given,
        best: Best,
        moved: Sequence[int],
        small: Sequence[int],
        least: float,
        how: Mapping[str, Any],
    ) -> list[int]:
        """Of the small moves, those that can be left out without losing more than they earn.

        A move that earns nothing may be what keeps a limit for another one.
        """
        spared: list[int] = []
        for k in small:
            fewer = [j for j in range(len(self.settings)) if j not in {*spared, k}]
            fixed = {j for j in range(len(self.settings)) if given.low[j] == given.high[j]}
            try:
                without = self.program.solve(
                    self.kept(given, [j for j in fewer if j not in fixed]), warm=best, **how
                )
            except SolveFailed:
                continue
            if best.money - without.money < least * (1 + len(spared)):
                spared.append(k)
        return spared

    def kept(self, given: Given, moved: Collection[int]) -> Given:
        """The same with only some settings movable."""
        low, high, found = given.low.copy(), given.high.copy(), self.settings_found
        for k in range(len(self.settings)):
            if k not in moved:
                low[k] = high[k] = found[k]
        absent = self._untouched(moved)
        return Given(**{**vars(given), "low": low, "high": high, "absent": absent})

    def moves(self, settings: Vector) -> list[int]:
        """Places of the settings that are moved."""
        change = np.abs(settings - self.settings_found)
        return [k for k, one in enumerate(self.settings) if change[k] > STANDS * max(one.reach, 0)]

    def _together(self, settings: Vector, moved: Sequence[int], k: int) -> float:
        """What a move brings when the others are made."""
        rest = [other for other in moved if other != k]
        whole = self.money_at(self.with_moves(settings, moved))
        return whole - self.money_at(self.with_moves(settings, rest))

    def _small(self, settings: Vector, moved: Sequence[int], k: int, least: float) -> bool:
        if abs(self._together(settings, moved, k)) >= least:
            return False
        return abs(self.alone(settings, k)) < least

    def alone(self, settings: Vector, k: int) -> float:
        """What a move brings by itself."""
        return self.money_at(self.with_moves(settings, [k])) - self.money_found

    def gains(self, chosen: Chosen) -> list[tuple[int, float, float]]:
        """Of each move made: its place, what it earns alone, what together with the others."""
        settings = chosen.best.settings
        return [
            (k, self.alone(settings, k), self._together(settings, chosen.moved, k))
            for k in chosen.moved
        ]
