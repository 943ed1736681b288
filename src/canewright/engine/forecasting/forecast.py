"""What if: the factory as it was found, with something changed, and how sure the difference is.

The balance found settings, performance and stocks, with their covariance. Before is the
factory as found: what was found determines it, since the equations hold. After is the same
factory with the changes made. Both rest on the same settings and performance, so what is
uncertain in both mostly cancels in their difference: with x what was found and F, G a figure
before and after, var(G - F) = (G_x - F_x) V (G_x - F_x)', to first order, V being the
posterior covariance. Responses that are only assumed add their own variance. Where draws are
asked for, each interval is that of the draws instead: see `forecast_draws`.
Source: [own_derivation].
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from canewright.engine.adjusting.posterior import Influences
from canewright.engine.adjusting.reconcile import Estimate
from canewright.engine.equations.bypass import without
from canewright.engine.equations.changes import Change, ChangeRefused, parse
from canewright.engine.equations.model import Model, compile
from canewright.engine.equations.settled import CannotRun, Matrix, Square, Stocks, Vector
from canewright.engine.equations.simulate import Simulator, Solved, SolveFailed, usually_fixed
from canewright.engine.forecasting.difference import Difference as Difference
from canewright.engine.forecasting.difference import Forecast as Forecast
from canewright.engine.forecasting.difference import difference_of
from canewright.engine.forecasting.forecast_case import Asked, Case, Expressions, Found, Slopes, ask
from canewright.engine.forecasting.forecast_draws import Drawing, ForecastDraws

HALVINGS = 12
_NOT_ASKED = Influences(np.zeros(0), float("nan"), np.zeros(0), float("nan"))


@dataclass
class Forecaster:
    """Forecasts from one estimate.

    Parameters
    ----------
    estimate : Estimate
        As the balance found it.
    expressions : callable
        The figures.
    stocks : {"settled", "as found"}
        Whether tanks have come to hold what the new settings make, or still hold what they
        did. See `settled`.
    assumed : bool
        Whether performance answers settings by the assumed responses.
    draws : int
        Factories drawn for the intervals; 0 for intervals of first order.
    seed : int
        Of the draws.
    """

    estimate: Estimate
    expressions: Expressions
    stocks: Stocks = "settled"
    assumed: bool = True
    draws: int = 0
    seed: int = 1
    before: Solved = field(init=False)

    def __post_init__(self) -> None:
        estimate = self.estimate
        self._base = self._case(estimate.model)
        if estimate.solution.offsets is not None:
            self._base.square.offsets[: len(estimate.model.equations)] = estimate.solution.offsets
        sizes = estimate.solution.parameters[: len(estimate.model.parameter_values)]
        self.before = self._base.square.solve(estimate.values, sizes)
        square = self._base.square
        rows = zip(square.rows, square.targets(estimate.values), strict=True)
        self._found = Found(
            estimate.model, estimate.values, sizes, {row.name: value for row, value in rows}
        )
        count = len(estimate.model.variables)
        self.relations = estimate.solution.z[count : count + len(estimate.reconciler.relations)]
        self._others: dict[tuple[str, ...], Case] = {}

    def _case(self, model: Model) -> Case:
        symbols = self.estimate.reconciler.relations
        return Case(model, self.expressions, symbols, self.stocks, self.assumed)

    def changes(self, texts: Sequence[str]) -> list[Change]:
        """Changes as typed. See `parse`."""
        return parse(self._base.model, texts)

    def forecast(
        self, changes: Sequence[Change], out: Sequence[str] = (), *, intervals: bool = True
    ) -> Forecast:
        """The factory after changes, with some stations out of the way.

        Without `intervals` no figure's uncertainty is worked out: it is not a number.

        Raises
        ------
        ChangeRefused
            If a change may not be.
        CannotRun
            If the factory cannot run so; it says what would be and how far it can go.
        SolveFailed
            If no answer is found.
        """
        case = self._with(tuple(out))
        asked = ask(case, self._found, changes)
        begun = time.perf_counter()
        after = self._solve(case, asked, changes)
        spent = time.perf_counter() - begun
        differences, drawing = self._differences(case, asked, changes, after, intervals)
        return Forecast(
            self.before, after, tuple(changes), tuple(out), differences, asked.moved, spent, drawing
        )

    def sweep(
        self, sweep: Sequence[Sequence[Change]], out: Sequence[str] = ()
    ) -> list[dict[str, Difference] | str]:
        """Every figure's difference for each of several sets of changes.

        Where the factory cannot run so, the sentence stands instead.
        """
        case = self._with(tuple(out))
        found: list[dict[str, Difference] | str] = []
        start: Vector | None = None
        for changes in sweep:
            try:
                asked = ask(case, self._found, changes)
                after = self._solve(case, asked, changes, start)
            except (SolveFailed, ChangeRefused) as failure:
                found.append(str(failure))
                continue
            start = after.values
            found.append(self._differences(case, asked, changes, after)[0])
        return found

    @property
    def square(self) -> Square:
        """The factory as found, ready to be solved."""
        return self._base.square

    @property
    def names(self) -> list[str]:
        """Names of the figures."""
        return self._base.names

    # -- the factory after -----------------------------------------------------------------

    def _with(self, out: tuple[str, ...]) -> Case:
        if not out:
            return self._base
        if out not in self._others:
            found = self._found
            model = compile(without(found.model.factory, list(out)))
            values = found.carried(model)
            for i, variable in enumerate(model.variables):
                variable.guess = float(values[i])
                place = found.place(model, i)
                if place is not None:
                    variable.scale = found.model.variables[place].scale
            case = self._case(model)
            base = self._base.square
            known = dict(zip(base.names, base.offsets, strict=True))
            case.square.offsets[:] = [known.get(name, 0.0) for name in case.square.names]
            self._others[out] = case
        return self._others[out]

    def _solve(
        self,
        case: Case,
        asked: Asked,
        changes: Sequence[Change],
        start: Vector | None = None,
    ) -> Solved:
        square = case.square
        values = self._found.carried(case.model) if start is None else start.copy()
        values[square.held] = asked.held
        try:
            return square.solve(values, asked.sizes, asked.targets)
        except CannotRun as failure:
            raise self._how_far(case, asked, changes, failure) from failure
        except SolveFailed:
            return self._slowly(case, asked, changes)

    def _part(self, case: Case, asked: Asked, part: float, start: Vector) -> Solved:
        """The factory with a part of the changes made, 0 to 1."""
        square = case.square
        found = self._found.carried(case.model)[square.held]
        own = self._found.sizes_of(case.model)
        values = start.copy()
        values[square.held] = found + part * (asked.held - found)
        return square.solve(values, own + part * (asked.sizes - own), asked.targets)

    def _slowly(self, case: Case, asked: Asked, changes: Sequence[Change]) -> Solved:
        """Go there in steps, halved where one fails."""
        here, length = 0.0, 0.5
        reached = self._first(case, asked)
        for _ in range(4 * HALVINGS):
            step = min(length, 1.0 - here)
            try:
                reached = self._part(case, asked, here + step, reached.values)
            except CannotRun as failure:
                raise self._how_far(case, asked, changes, failure) from failure
            except SolveFailed as failure:
                length = step / 2
                if length < 0.5**HALVINGS:
                    raise SolveFailed(
                        f"No state of the factory is found beyond {100 * here:.0f} % of the "
                        "change.",
                        failure.open_equations,
                    ) from failure
                continue
            here += step
            length *= 2
            if here >= 1.0:
                return reached
        raise SolveFailed(f"No state of the factory is found beyond {100 * here:.0f} %.")

    def _first(self, case: Case, asked: Asked) -> Solved:
        """The factory before the changes of settings; rebuilt, where stations are out."""
        if case is self._base:
            return self.before
        try:
            return self._part(case, asked, 0.0, self._found.carried(case.model))
        except SolveFailed:
            model = case.model
            simulator = Simulator(model, usually_fixed(model))
            rough = simulator.solve(
                self._found.carried(model), self._found.sizes_of(model), cold=True
            )
            return self._part(case, asked, 0.0, rough.values)

    def _how_far(
        self, case: Case, asked: Asked, changes: Sequence[Change], failure: CannotRun
    ) -> CannotRun:
        """The same refusal, with how far the factory can go."""
        if len(changes) != 1 or changes[0].size or case is not self._base:
            return failure
        low, high, reached = 0.0, 1.0, self.before
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            try:
                reached = self._part(case, asked, middle, reached.values)
            except SolveFailed:
                high = middle
            else:
                low = middle
        place = case.model.position(changes[0].name)
        found = self.before.values[place]
        wanted = changes[0].applied(found)
        unit = case.model.variables[place].unit
        furthest = found + low * (wanted - found)
        return CannotRun(
            f"{failure.sentence} It can go as far as {changes[0].name} = {furthest:.4g} {unit}.",
            failure.broken,
        )

    # -- how sure ----------------------------------------------------------------------------

    def _direction(self, case: Case, slopes: Slopes, by_held: Matrix | None) -> Matrix:
        """Derivatives of figures by everything that the balance estimated."""
        held = slopes.by_held if by_held is None else slopes.by_held @ by_held
        count = len(self._found.model.variables)
        result = np.zeros((slopes.values.size, self.estimate.reconciler.problem.size))
        for k, place in enumerate(case.square.held):
            there = self._found.place(case.model, int(place))
            if there is not None:
                result[:, there] += held[:, k]
        known = {row.name: row for row in self._base.square.rows}
        for k, row in enumerate(case.square.rows):
            if row.name in known:
                own = known[row.name]
                for there, factor in zip(own.places, own.factors, strict=True):
                    result[:, there] += factor * slopes.by_row[:, k]
        result[:, count : count + slopes.by_relation.shape[1]] = slopes.by_relation
        return result

    @cached_property
    def _before(self) -> tuple[Slopes, Matrix, list[Influences]]:
        """Figures before, their derivatives by what was found, and how sure they are."""
        slopes = self._base.slopes(self.before, self.relations)
        direction = self._direction(self._base, slopes, None)
        good = np.asarray(np.isfinite(direction).all(axis=1))
        usable = np.where(good[:, None], direction, 0.0)
        return slopes, direction, self.estimate.posterior.influences_of(usable)

    @cached_property
    def _draws(self) -> ForecastDraws:
        return ForecastDraws(
            self.estimate,
            self._base,
            self._found,
            self.before,
            self.relations,
            self.draws,
            self.seed,
        )

    def _differences(
        self,
        case: Case,
        asked: Asked,
        changes: Sequence[Change],
        after: Solved,
        intervals: bool = True,
    ) -> tuple[dict[str, Difference], Drawing | None]:
        first, ours, sure = self._before
        second = case.slopes(after, self.relations)
        theirs = self._direction(case, second, asked.by_held)
        place = {name: i for i, name in enumerate(self._base.names)}
        good, fine = ([bool(np.isfinite(row).all()) for row in each] for each in (ours, theirs))
        usable = [
            (name, place[name], k)
            for k, name in enumerate(case.names)
            if name in place and good[place[name]] and fine[k]
        ]
        before = np.array([i for _, i, _ in usable])
        then = np.array([k for _, _, k in usable])
        directions = np.vstack([theirs[then] - ours[before], theirs[then]])
        known = (
            self.estimate.posterior.influences_of(directions)
            if intervals
            else [_NOT_ASKED] * len(directions)
        )
        spans, drawing = (
            self._draws.spans(case, asked, changes, after)
            if self.draws and intervals
            else ({}, None)
        )
        found = {}
        for number, (name, i, k) in enumerate(usable):
            moves = {r: float(second.by_held[k] @ own) for r, own in asked.by_slope.items()}
            found[name] = difference_of(
                name,
                float(first.values[i]),
                float(second.values[k]),
                known[number],
                (sure[i].sd, known[number + len(usable)].variance),
                moves,
                spans.get(name),
            )
        return found, drawing
