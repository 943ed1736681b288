"""Adjustment of readings to equations that must hold: weighted least squares, solved.

Numbers only: variables, constraints that must vanish, and data (readings and soft priors), each
a prediction from the variables with a value and a standard uncertainty.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Mapping, Sequence
from functools import cached_property, partial
from typing import Any

import casadi
import numpy as np
import numpy.typing as npt

from canewright.engine.adjusting.elimination import Elimination, Linear, NotReducible
from canewright.engine.adjusting.gauss_newton import GaussNewton
from canewright.engine.adjusting.interior_point import InteriorPoint, Reached
from canewright.engine.adjusting.solution import (
    Datum,
    Kind,
    Linearisation,
    Solution,
    Vector,
    checked_names,
    checked_vector,
)
from canewright.engine.algebra.evaluate import Evaluator

CONSTRAINT_CLOSES = 1e-6
"""Largest misfit of a scaled constraint that still counts as closed; our choice."""
BOUND_TOUCHED = 1e-5
"""A variable nearer to its bound than this part of its typical size may rest on it; our choice."""
BOUND_PRESSED = 1e-4
"""Pull of a bound, in units of the objective per typical size, that counts as a press."""

SETTLED = "Gauss-Newton steps settled"
"""How an adjustment ends that did not need IPOPT."""


class Problem:
    """A weighted least squares problem with equations and bounds, built once and reused.

    Minimise over z: 1/2 sum(((h(z) - y) / sd)^2) with g(z) = offsets, lower <= z <= upper.
    Values y and sd are parameters of the compiled functions: one problem serves all readings.

    Parameters
    ----------
    variables, constraints, predictions : casadi.SX (n), (m), (k)
        Symbols of the unknowns z, expressions g that must vanish, and h: what each datum would
        be at z.
    lower, upper, scale : array_like (n)
        Bounds, infinite where there is none; typical size of each variable, above 0.
    variable_names, constraint_names, data_names, kinds : sequence of str, optional
        Names for messages and findings; kind of each datum, readings when not given.
    parameters : casadi.SX, optional
        Symbols whose values are given at each solve.
    constraint_scale : array_like (m), optional
        Typical size of the terms; else the largest scaled derivative at the start.
    independent : sequence of int, optional
        Positions of variables that give all others through the constraints, and that soft
        priors know: lets good starts be solved by `gauss_newton`, others go to IPOPT.
    compiled : Evaluator, optional
        Of the constraints by the first variables and parameters (the rest do not enter).

    Raises
    ------
    ValueError
        If sizes do not agree, a scale is not positive, or bounds cross.
    """

    def __init__(
        self,
        variables: Any,
        constraints: Any,
        predictions: Any,
        lower: npt.ArrayLike,
        upper: npt.ArrayLike,
        scale: npt.ArrayLike,
        *,
        variable_names: Sequence[str] | None = None,
        constraint_names: Sequence[str] | None = None,
        data_names: Sequence[str] | None = None,
        kinds: Sequence[Kind] | None = None,
        parameters: Any | None = None,
        constraint_scale: npt.ArrayLike | None = None,
        independent: Sequence[int] | None = None,
        compiled: Evaluator | None = None,
    ) -> None:
        self.size = int(variables.numel())
        self.constraint_count = int(constraints.numel())
        self.data_count = int(predictions.numel())
        self.lower = checked_vector(lower, self.size, "lower bounds")
        self.upper = checked_vector(upper, self.size, "upper bounds")
        self.scale = checked_vector(scale, self.size, "scale")
        self.variable_names = checked_names(variable_names, self.size, "variable")
        self.constraint_names = checked_names(constraint_names, self.constraint_count, "constraint")
        self.data_names = checked_names(data_names, self.data_count, "datum")
        reading: Kind = "reading"
        self.kinds = tuple(kinds) if kinds is not None else (reading,) * self.data_count
        if len(self.kinds) != self.data_count:
            raise ValueError(f"{len(self.kinds)} kinds were given for {self.data_count} data.")
        if not np.all(self.scale > 0):
            worst = self.variable_names[int(np.argmin(self.scale))]
            raise ValueError(f"The typical size of {worst} must be above zero.")
        if not np.all(self.lower <= self.upper):
            worst = self.variable_names[int(np.argmin(self.lower <= self.upper))]
            raise ValueError(f"The bounds of {worst} cross: the lower one is above the upper one.")
        self.constraint_scale = (
            None
            if constraint_scale is None
            else checked_vector(constraint_scale, self.constraint_count, "constraint scale")
        )
        self.parameter_count = 0 if parameters is None else int(parameters.numel())
        self._index = {name: i for i, name in enumerate(self.data_names)}
        given = casadi.SX(0, 1) if parameters is None else parameters
        self.symbols = (variables, given, constraints, predictions)
        self._constraints = compiled or Evaluator(variables, given, constraints)
        self._predictions = Evaluator(variables, given, predictions)
        self.elimination: Elimination | None = None
        if independent is not None:
            with contextlib.suppress(NotReducible):
                self.elimination = Elimination(
                    self._constraints, self._predictions, independent, self.size
                )

    @property
    def evaluators(self) -> tuple[Evaluator, Evaluator]:
        """Of the constraints and of the predictions, unscaled."""
        return self._constraints, self._predictions

    @cached_property
    def _interior(self) -> InteriorPoint:
        """IPOPT on the same problem; built when first needed."""
        variables, given, constraints, predictions = self.symbols
        return InteriorPoint(variables, given, constraints, predictions, self.scale)

    def arrange(self, data: Sequence[Datum] | Mapping[str, Datum]) -> tuple[Vector, Vector]:
        """Values and sd in the order of the predictions; data not given are absent.

        Raises ValueError if a name is unknown or given twice.
        """
        values, sd = np.zeros(self.data_count), np.full(self.data_count, np.inf)
        seen: set[str] = set()
        for datum in data.values() if isinstance(data, Mapping) else data:
            if datum.name not in self._index:
                raise ValueError(f"The model has no prediction for the datum {datum.name!r}.")
            if datum.name in seen:
                raise ValueError(f"The datum {datum.name!r} is given twice; keep one.")
            seen.add(datum.name)
            place = self._index[datum.name]
            values[place], sd[place] = datum.value, datum.sd
        return values, sd

    def linearise(self, z: npt.ArrayLike, parameters: npt.ArrayLike | None = None) -> Linearisation:
        """Predictions, constraints and sparse derivatives at `z`, unscaled."""
        point, given = checked_vector(z, self.size, "point"), self._parameters(parameters)
        constraints, constraint_entries = self._constraints(point, given)
        predictions, data_entries = self._predictions(point, given)
        return Linearisation(
            predictions.copy(),
            constraints.copy(),
            self._predictions.matrix(data_entries.copy(), self.size),
            self._constraints.matrix(constraint_entries.copy(), self.size),
        )

    def _parameters(self, parameters: npt.ArrayLike | None) -> Vector:
        if parameters is None and self.parameter_count:
            raise ValueError(f"Values are needed for {self.parameter_count} parameters.")
        return checked_vector(
            [] if parameters is None else parameters, self.parameter_count, "parameters"
        )

    def row_scale(self, z: npt.ArrayLike, parameters: npt.ArrayLike | None = None) -> Vector:
        """Size of each constraint: its largest derivative times typical size, at `z`."""
        if self.constraint_scale is not None:
            return self.constraint_scale
        at = self._constraints
        _, entries = at(checked_vector(z, self.size, "point"), self._parameters(parameters))
        largest = np.zeros(self.constraint_count)
        np.maximum.at(largest, at.rows, np.abs(entries * self.scale[at.columns]))
        return np.where((largest > 0) & np.isfinite(largest), largest, 1.0)

    def solve(
        self,
        values: npt.ArrayLike,
        sd: npt.ArrayLike,
        start: npt.ArrayLike,
        warm: Solution | None = None,
        parameters: npt.ArrayLike | None = None,
        offsets: npt.ArrayLike | None = None,
    ) -> Solution:
        """Adjust the variables to the data.

        Parameters
        ----------
        values, sd : array_like (k)
            What was read or expected, and its standard uncertainty; inf where absent.
        start : array_like (n)
            Where to begin when there is no `warm` solution, a neighbouring one of this problem.
        parameters : array_like, optional
        offsets : array_like (m), optional
            What each constraint must equal instead of 0: known or supposed losses.

        Raises
        ------
        ValueError
            If sizes do not agree or a standard uncertainty is not above zero.
        """
        began = time.perf_counter()
        u = checked_vector(sd, self.data_count, "standard uncertainties", finite=False)
        y = checked_vector(values, self.data_count, "values", finite=False)
        y = checked_vector(np.where(np.isfinite(u), y, 0.0), self.data_count, "values")
        if not np.all(u > 0):
            worst = self.data_names[int(np.argmin(np.where(np.isnan(u), -np.inf, u)))]
            raise ValueError(f"The standard uncertainty of {worst} must be above zero.")
        given = self._parameters(parameters)
        goal = (
            None if offsets is None else checked_vector(offsets, self.constraint_count, "offsets")
        )
        origin = checked_vector(start, self.size, "start") if warm is None else warm.z
        rows = self.row_scale(origin, given)
        target = np.zeros(self.constraint_count) if goal is None else goal / rows
        quick = self._quick(y, u, origin / self.scale, given, rows, target)
        if quick is not None:
            return self._finished(quick, y, u, given, goal, rows, began)
        near = None
        if warm is not None:
            near = (warm.bound_multipliers, warm.multipliers * rows)
        reached = self._interior.solve(
            origin / self.scale,
            np.concatenate([given, y, 1 / u, 1 / rows]),
            (self.lower / self.scale, self.upper / self.scale),
            target,
            near,
        )
        return self._finished(reached, y, u, given, goal, rows, began)

    def _quick(
        self, y: Vector, u: Vector, start: Vector, given: Vector, rows: Vector, target: Vector
    ) -> Reached | None:
        """The answer of `gauss_newton`; None where only IPOPT can tell."""
        layout = self.elimination
        if layout is None:
            return None
        linearise = partial(self._blocks, layout, y=y, u=u, given=given, rows=rows, target=target)
        lower, upper = self.lower / self.scale, self.upper / self.scale
        try:
            answer = GaussNewton(layout, linearise, lower, upper).solve(start)
        except NotReducible:
            return None
        return Reached(
            answer.point, answer.multipliers, answer.pull, answer.iterations, SETTLED, True
        )

    def _blocks(
        self,
        layout: Elimination,
        point: Vector,
        *,
        y: Vector,
        u: Vector,
        given: Vector,
        rows: Vector,
        target: Vector,
    ) -> Linear:
        """The linearised problem at a scaled point, in the blocks of the elimination."""
        z, weights = point * self.scale, 1 / u
        misses, constraint_entries = self._constraints(z, given)
        predictions, data_entries = self._predictions(z, given)
        by_row, by_column = 1 / rows[self._constraints.rows], self.scale[self._constraints.columns]
        data_row, data_column = (
            weights[self._predictions.rows],
            self.scale[self._predictions.columns],
        )
        return layout.linear(
            (misses / rows - target, constraint_entries * by_row * by_column),
            ((predictions - y) * weights, data_entries * data_row * data_column),
        )

    def blocks(self, solution: Solution) -> Linear | None:
        """The linearised problem at a solution; None if it cannot be reduced (see `elimination`).

        Raises
        ------
        NotReducible
            If it can be in general, but not there.
        """
        if self.elimination is None:
            return None
        offsets = np.zeros(self.constraint_count) if solution.offsets is None else solution.offsets
        return self._blocks(
            self.elimination,
            solution.z / self.scale,
            y=solution.values,
            u=solution.sd,
            given=solution.parameters,
            rows=solution.row_scale,
            target=offsets / solution.row_scale,
        )

    def _finished(
        self,
        reached: Reached,
        y: Vector,
        u: Vector,
        given: Vector,
        goal: Vector | None,
        rows: Vector,
        began: float,
    ) -> Solution:
        target = np.zeros(self.constraint_count) if goal is None else goal / rows
        z = reached.point * self.scale
        at = self.linearise(z, given)
        misfit = np.abs(at.constraints / rows - target)
        misfit = np.where(np.isfinite(misfit), misfit, np.inf)
        worst_row = int(np.argmax(misfit)) if misfit.size else -1
        size = float(misfit[worst_row]) if misfit.size else 0.0
        good = reached.good and size <= CONSTRAINT_CLOSES and bool(np.all(np.isfinite(z)))
        standardised = (at.predictions - y) / u
        return Solution(
            z=z,
            multipliers=reached.multipliers / rows,
            bound_multipliers=reached.pull,
            fitted=at.predictions,
            active=self._active(z, reached.pull),
            status="ok" if good else "failed",
            message=reached.message,
            iterations=reached.iterations,
            seconds=time.perf_counter() - began,
            worst_constraint=(worst_row, size),
            objective=0.5 * float(standardised @ standardised),
            values=y,
            sd=u,
            row_scale=rows,
            parameters=given,
            offsets=goal,
        )

    def _active(self, z: Vector, pull: Vector) -> npt.NDArray[np.int8]:
        """Bounds a variable rests on: near the bound, and pressed harder than it is near."""
        active = np.zeros(self.size, dtype=np.int8)
        for sign, bound in ((-1, self.lower), (1, self.upper)):
            gap = np.abs(z - bound) / self.scale
            press = sign * pull
            active[(gap < BOUND_TOUCHED) & (press > BOUND_PRESSED) & (press > gap)] = sign
        active[self.lower == self.upper] = 1
        return active
