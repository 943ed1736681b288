"""The square factory: what is given, what follows, and how the one moves the other.

Given are settings, performance and what holds say. Stocks are either as they were found at
the opening, or settled: each component gains in the period what it gained when it was found,
so that the answer is that of the days after the change, when every tank holds what the new
settings make, and not that of the first shift, in which old stock is still boiled off. Where
a vessel is emptied when things are sent for, its mass stays and what is sent away follows.
Source: [own_derivation].
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from canewright.engine.algebra.square import SquareBlock, SquareFactor
from canewright.engine.equations.model import Model
from canewright.engine.equations.simulate import TOLERANCE, Solved, SolveFailed, usually_fixed
from canewright.streams import MASS

Vector = npt.NDArray[np.float64]
Matrix = npt.NDArray[np.float64]
Stocks = Literal["settled", "as found"]

STEPS = 30
SHORTEST = 1 / 64
"""Shortest part of a Newton step that is tried."""
PAST_A_BOUND = 1e-7
"""Excess over a bound, in typical sizes, from which the factory cannot run so."""


class CannotRun(SolveFailed):
    """The equations close, but only outside what can be: `broken` says where."""

    def __init__(self, sentence: str, broken: Sequence[str]) -> None:
        super().__init__(sentence)
        self.broken = list(broken)


@dataclass(frozen=True)
class Row:
    """A linear condition on variables, beside the factory's equations."""

    name: str
    places: tuple[int, ...]
    factors: tuple[float, ...]

    def value(self, values: Vector) -> float:
        """The condition's left side."""
        return float(sum(f * values[i] for i, f in zip(self.places, self.factors, strict=True)))


class Square:
    """A model with as many unknown quantities as equations, ready to be solved many times.

    Parameters
    ----------
    model : Model
    stocks : {"settled", "as found"}

    Attributes
    ----------
    held : array of int
        Positions of the given variables.
    free : array of int
        Positions of the others.
    rows : list of Row
        Conditions that go with settled stocks; their right sides are given too.
    names : list of str
        Of the equations and then the rows.
    offsets : array
        What each equation must equal: a loss that the balance allowed for; else 0.
    """

    def __init__(self, model: Model, stocks: Stocks = "settled") -> None:
        self.model, self.stocks = model, stocks
        held = set(usually_fixed(model))
        self.rows = _settle(model, held) if stocks == "settled" else []
        self.held = np.array(sorted(held), dtype=np.intp)
        self.free = np.setdiff1d(np.arange(len(model.variables)), self.held)
        self._evaluator = model.evaluator
        count = len(model.equations)
        if self.free.size != count + len(self.rows):
            raise SolveFailed(
                f"{self.free.size} quantities follow but there are "
                f"{count + len(self.rows)} equations."
            )
        own = [
            (count + k, place, factor)
            for k, row in enumerate(self.rows)
            for place, factor in zip(row.places, row.factors, strict=True)
        ]
        self._all_rows = np.concatenate([self._evaluator.rows, [r for r, _, _ in own]]).astype(int)
        self._all_columns = np.concatenate(
            [self._evaluator.columns, [c for _, c, _ in own]]
        ).astype(int)
        self._own = np.array([f for _, _, f in own])
        place = np.full(len(model.variables), -1)
        place[self.free] = np.arange(self.free.size)
        self._taken = np.flatnonzero(place[self._all_columns] >= 0)
        self._block = SquareBlock(
            self._all_rows[self._taken], place[self._all_columns[self._taken]], self.free.size
        )
        self.scale = model.scale
        self.names = [*(e.name for e in model.equations), *(row.name for row in self.rows)]
        self.offsets = np.zeros(len(self.names))

    def targets(self, values: Vector) -> Vector:
        """Right sides of the rows, as they are at a point."""
        return np.array([row.value(values) for row in self.rows])

    def _linearise(self, values: Vector, given: Vector, targets: Vector) -> tuple[Vector, Vector]:
        residuals, entries = self._evaluator(values, given)
        misses = self.targets(values) - targets
        return np.concatenate([residuals, misses]) - self.offsets, np.concatenate(
            [entries, self._own]
        )

    def _weights(self, entries: Vector) -> Vector:
        largest = np.zeros(len(self.model.equations) + len(self.rows))
        terms = np.abs(entries * self.scale[self._all_columns])
        np.maximum.at(largest, self._all_rows, terms)
        return np.asarray(1 / np.maximum(largest, 1e-12))

    def _factor(self, entries: Vector, weights: Vector) -> SquareFactor:
        scaled = entries * self.scale[self._all_columns] * weights[self._all_rows]
        return self._block.factor(scaled[self._taken])

    def solve(
        self, start: Vector, given: Vector | None = None, targets: Vector | None = None
    ) -> Solved:
        """Solve from a neighbour, whose held entries are the values they are held at.

        Parameters
        ----------
        start : array (n)
        given : array, optional
            Sizes and hours; the model's when left out.
        targets : array, optional
            Right sides of the rows; those at the start when left out.

        Raises
        ------
        SolveFailed
            Naming the equations that did not close.
        CannotRun
            Naming the quantities that would lie outside what can be.
        """
        begun = time.perf_counter()
        p = self.model.parameter_values if given is None else given
        goal = self.targets(start) if targets is None else targets
        values = start.copy()
        misses, entries = self._linearise(values, p, goal)
        weights = self._weights(entries)
        size = _size(weights * misses)
        for iteration in range(STEPS + 1):
            if size < TOLERANCE:
                self._within_bounds(values)
                spent = time.perf_counter() - begun
                return Solved(self.model, values, p, iteration, spent, "newton")
            try:
                step = self._factor(entries, weights).solve(-weights * misses)
            except RuntimeError:
                break
            length = 1.0
            while length >= SHORTEST:
                trial = values.copy()
                trial[self.free] += length * step * self.scale[self.free]
                misses, entries = self._linearise(trial, p, goal)
                reached = _size(weights * misses)
                if reached < (1 - 1e-4 * length) * size or reached < TOLERANCE:
                    break
                length /= 2
            else:
                break
            values, size = trial, reached
        off = np.nan_to_num(np.abs(weights * misses), nan=np.inf)
        raise SolveFailed(
            "The factory's equations do not close.",
            [f"{self.names[i]} (off by {off[i]:.2g})" for i in np.argsort(-off)[:6]],
        )

    def _within_bounds(self, values: Vector) -> None:
        model = self.model
        low = (model.lower - values) / self.scale
        high = (values - model.upper) / self.scale
        excess = np.maximum(low, high)
        excess[self.held] = 0.0
        broken = [
            _broken(model, int(i), values[i])
            for i in np.argsort(-excess)[:6]
            if excess[i] > PAST_A_BOUND
        ]
        if broken:
            raise CannotRun(f"The factory cannot run so: {broken[0]}.", broken)

    def slopes(self, values: Vector, given: Vector, gradients: Matrix) -> tuple[Matrix, Matrix]:
        """How figures follow what is given.

        Parameters
        ----------
        values, given : array
            A solved point.
        gradients : array (q, n)
            Derivatives of the figures by all variables.

        Returns
        -------
        array (q, held), array (q, rows)
            Derivatives by what is held and by the right sides of the rows, all else following.
        """
        _, entries = self._linearise(values, given, self.targets(values))
        weights = self._weights(entries)
        right = (gradients[:, self.free] * self.scale[self.free]).T
        pull = self._factor(entries, weights).solve(np.asfortranarray(right), transposed=True)
        pull = np.asarray(pull * weights[:, None])
        by_variable = np.zeros((len(self.model.variables), pull.shape[1]))
        np.add.at(by_variable, self._all_columns, entries[:, None] * pull[self._all_rows])
        direct = gradients[:, self.held] - by_variable[self.held].T
        return direct, pull[len(self.model.equations) :].T


def _size(misses: Vector) -> float:
    size = float(np.max(np.abs(misses), initial=0.0))
    return size if np.isfinite(size) else np.inf


def _broken(model: Model, place: int, value: float) -> str:
    variable = model.variables[place]
    low = value < variable.lower
    bound = variable.lower if low else variable.upper
    way = "less" if low else "more"
    return (
        f"{variable.label or variable.name} would be {value:.4g} {variable.unit}, "
        f"{way} than the {bound:.4g} it can be"
    )


def _settle(model: Model, held: set[int]) -> list[Row]:
    """Conditions of settled stocks; takes what follows from them out of what is held."""
    rows = []
    for placed in model.flowsheet.placed:
        for declaration in placed.cls.stocks.values():
            opening = f"{placed.name} opening"
            members = model.states[opening].components
            before = {c: model.position(f"{opening}.{c}") for c in members}
            for component, place in before.items():
                after = model.position(f"{placed.name} closing.{component}")
                held.discard(place)
                rows.append(Row(f"{placed.name}: gain of {component}", (after, place), (1.0, -1.0)))
            quantities: Mapping[str, object] = placed.cls.quantities
            if placed.cls.quantities[declaration.sized_by].role != "design":
                continue
            for name in quantities:
                place = model.index.get(f"{placed.name}.{name}", -1)
                if placed.cls.quantities[name].role == "setting" and place in held:
                    held.discard(place)
                    heavy = tuple(before[c] for c in members if c in MASS)
                    rows.append(
                        Row(f"{placed.name}: mass at the opening", heavy, (1.0,) * len(heavy))
                    )
                    break
    return rows
