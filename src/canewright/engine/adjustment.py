"""Adjustment of readings to equations that must hold: weighted least squares, solved.

Numbers only: variables, constraints that must vanish, and data (readings and soft priors), each
a prediction from the variables with a value and a standard uncertainty.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import casadi
import numpy as np
import numpy.typing as npt
import scipy.sparse as sparse

Vector = npt.NDArray[np.float64]
Kind = Literal["reading", "prior"]

CONSTRAINT_CLOSES = 1e-6
"""Largest misfit of a scaled constraint that still counts as closed; our choice."""
BOUND_TOUCHED = 1e-5
"""A variable nearer to its bound than this part of its typical size may rest on it; our choice."""
BOUND_PRESSED = 1e-4
"""Pull of a bound, in units of the objective per typical size, that counts as a press."""

# The problem is scaled before IPOPT sees it: its own scaling would loosen the tolerance by the
# largest weight (measured: answers 1000 times less exact, and half as many steps again).
_COMMON_OPTIONS: dict[str, Any] = {
    "print_time": False,
    "calc_lam_p": False,
    "calc_multipliers": False,
    "error_on_fail": False,
    "show_eval_warnings": False,
    "ipopt.print_level": 0,
    "ipopt.sb": "yes",
    "ipopt.nlp_scaling_method": "none",
    "ipopt.min_refinement_steps": 0,
    "ipopt.tol": 1e-9,
    "ipopt.constr_viol_tol": 1e-9,
    "ipopt.acceptable_tol": 1e-7,
    "ipopt.max_iter": 500,
    "ipopt.bound_relax_factor": 1e-10,
    "ipopt.honor_original_bounds": "yes",
}
_WARM_OPTIONS: dict[str, Any] = {
    "ipopt.warm_start_init_point": "yes",
    "ipopt.mu_init": 1e-6,
    "ipopt.warm_start_bound_push": 1e-9,
    "ipopt.warm_start_bound_frac": 1e-9,
    "ipopt.warm_start_slack_bound_push": 1e-9,
    "ipopt.warm_start_slack_bound_frac": 1e-9,
    "ipopt.warm_start_mult_bound_push": 1e-9,
    "ipopt.max_iter": 150,
}


@dataclass(frozen=True)
class Datum:
    """One reading (from an instrument) or soft prior (from experience).

    `name` is that of its prediction, `sd` the standard uncertainty of `value`, both in the unit
    of the prediction; `sd = inf` says that the datum is absent.
    """

    name: str
    kind: Kind
    value: float
    sd: float


@dataclass(frozen=True)
class Linearisation:
    """Predictions, constraints and their sparse derivatives at one point, unscaled."""

    predictions: Vector
    constraints: Vector
    data_jacobian: sparse.csc_array
    constraint_jacobian: sparse.csc_array


@dataclass(frozen=True)
class Solution:
    """The adjusted point and how it was reached.

    `z` are the adjusted variables, `fitted` the predictions there (absent data included).
    `multipliers` (unscaled) are those of `objective + multipliers . constraints`,
    `bound_multipliers` the pull of the bounds per typical size. `active` is -1 where a variable
    rests on its lower bound, 1 on its upper, else 0. `worst_constraint` is the index and scaled
    misfit of the one that closes worst, `objective` half the sum of squared standardised
    misfits. Figures of a failed solution must not be printed; `message` says how it ended.
    """

    z: Vector
    multipliers: Vector
    bound_multipliers: Vector
    fitted: Vector
    active: npt.NDArray[np.int8]
    status: Literal["ok", "failed"]
    message: str
    iterations: int
    seconds: float
    worst_constraint: tuple[int, float]
    objective: float
    values: Vector
    sd: Vector
    row_scale: Vector
    parameters: Vector = field(default_factory=lambda: np.zeros(0))
    offsets: Vector | None = None

    @property
    def ok(self) -> bool:
        """Whether the figures of this solution may be used."""
        return self.status == "ok"


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
    ) -> None:
        self.size = int(variables.numel())
        self.constraint_count = int(constraints.numel())
        self.data_count = int(predictions.numel())
        self.lower = _vector(lower, self.size, "lower bounds")
        self.upper = _vector(upper, self.size, "upper bounds")
        self.scale = _vector(scale, self.size, "scale")
        self.variable_names = _names(variable_names, self.size, "variable")
        self.constraint_names = _names(constraint_names, self.constraint_count, "constraint")
        self.data_names = _names(data_names, self.data_count, "datum")
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
            else _vector(constraint_scale, self.constraint_count, "constraint scale")
        )
        self.parameter_count = 0 if parameters is None else int(parameters.numel())
        self._index = {name: i for i, name in enumerate(self.data_names)}
        self._build(variables, constraints, predictions, parameters)

    def _build(self, variables: Any, constraints: Any, predictions: Any, parameters: Any) -> None:
        given = casadi.SX(0, 1) if parameters is None else parameters
        evaluate = casadi.Function(
            "evaluate",
            [variables, given],
            [
                casadi.densify(predictions),
                casadi.densify(constraints),
                casadi.jacobian(predictions, variables),
                casadi.jacobian(constraints, variables),
            ],
        )
        shapes = [evaluate.sparsity_out(i) for i in (2, 3)]
        self._patterns = [(np.array(p.row()), np.array(p.colind())) for p in shapes]
        self._point, self._given = np.zeros(self.size), np.zeros(self.parameter_count)
        self._outputs = [np.zeros(evaluate.nnz_out(i)) for i in range(4)]
        buffer: Any
        buffer, self._call = evaluate.buffer()
        buffer.set_arg(0, self._point.data)
        buffer.set_arg(1, self._given.data)
        for i, array in enumerate(self._outputs):
            buffer.set_res(i, array.data)
        self._kept = (evaluate, buffer)  # the memory behind the call must stay alive

        scaled = casadi.SX.sym("scaled", self.size)
        values = casadi.SX.sym("values", self.data_count)
        weights = casadi.SX.sym("weights", self.data_count)
        row_weights = casadi.SX.sym("row_weights", self.constraint_count)
        outer = casadi.SX.sym("given", self.parameter_count)
        fitted, misfit = casadi.Function(
            "model", [variables, given], [predictions, constraints]
        ).call([scaled * casadi.DM(self.scale), outer])
        nlp = {
            "x": scaled,
            "f": 0.5 * casadi.sumsqr(weights * (fitted - values)),
            "g": row_weights * misfit,
            "p": casadi.vertcat(outer, values, weights, row_weights),
        }
        self._cold = casadi.nlpsol("cold", "ipopt", nlp, _COMMON_OPTIONS)
        self._warm = casadi.nlpsol("warm", "ipopt", nlp, _COMMON_OPTIONS | _WARM_OPTIONS)

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
        self._point[:] = _vector(z, self.size, "point")
        self._given[:] = self._parameters(parameters)
        self._call()
        predictions, constraints, data_part, constraint_part = (o.copy() for o in self._outputs)
        rows = (self.data_count, self.constraint_count)
        data_jacobian, constraint_jacobian = (
            sparse.csc_array((part, *pattern), shape=(count, self.size))
            for part, pattern, count in zip(
                (data_part, constraint_part), self._patterns, rows, strict=True
            )
        )
        return Linearisation(predictions, constraints, data_jacobian, constraint_jacobian)

    def _parameters(self, parameters: npt.ArrayLike | None) -> Vector:
        if parameters is None and self.parameter_count:
            raise ValueError(f"Values are needed for {self.parameter_count} parameters.")
        return _vector([] if parameters is None else parameters, self.parameter_count, "parameters")

    def row_scale(self, z: npt.ArrayLike, parameters: npt.ArrayLike | None = None) -> Vector:
        """Size of each constraint: its largest derivative times typical size, at `z`."""
        if self.constraint_scale is not None:
            return self.constraint_scale
        terms = self.linearise(z, parameters).constraint_jacobian.tocoo()
        largest = np.zeros(self.constraint_count)
        np.maximum.at(largest, terms.row, np.abs(terms.data * self.scale[terms.col]))
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
        u = _vector(sd, self.data_count, "standard uncertainties", finite=False)
        y = _vector(values, self.data_count, "values", finite=False)
        y = _vector(np.where(np.isfinite(u), y, 0.0), self.data_count, "values")
        if not np.all(u > 0):
            worst = self.data_names[int(np.argmin(np.where(np.isnan(u), -np.inf, u)))]
            raise ValueError(f"The standard uncertainty of {worst} must be above zero.")
        given = self._parameters(parameters)
        goal = None if offsets is None else _vector(offsets, self.constraint_count, "offsets")
        origin = _vector(start, self.size, "start") if warm is None else warm.z
        rows = self.row_scale(origin, given)
        target = np.zeros(self.constraint_count) if goal is None else goal / rows
        arguments: dict[str, Any] = {
            "p": np.concatenate([given, y, 1 / u, 1 / rows]),
            "lbx": self.lower / self.scale,
            "ubx": self.upper / self.scale,
            "lbg": target,
            "ubg": target,
            "x0": origin / self.scale,
        }
        iterations, result, message, good = 0, None, "", False
        if warm is not None:
            known = {"lam_x0": warm.bound_multipliers, "lam_g0": warm.multipliers * rows}
            result = self._warm(**arguments, **known)
            iterations, message, good = _outcome(self._warm)
        if not good:
            result = self._cold(**arguments)
            more, message, good = _outcome(self._cold)
            iterations += more
        assert result is not None
        z = _array(result["x"]) * self.scale
        at = self.linearise(z, given)
        misfit = np.abs(at.constraints / rows - target)
        misfit = np.where(np.isfinite(misfit), misfit, np.inf)
        worst_row = int(np.argmax(misfit)) if misfit.size else -1
        size = float(misfit[worst_row]) if misfit.size else 0.0
        good = good and size <= CONSTRAINT_CLOSES and bool(np.all(np.isfinite(z)))
        pull = _array(result["lam_x"])
        return Solution(
            z=z,
            multipliers=_array(result["lam_g"]) / rows,
            bound_multipliers=pull,
            fitted=at.predictions,
            active=self._active(z, pull),
            status="ok" if good else "failed",
            message=message,
            iterations=iterations,
            seconds=time.perf_counter() - began,
            worst_constraint=(worst_row, size),
            objective=float(result["f"]),
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


def _outcome(solver: Any) -> tuple[int, str, bool]:
    stats = solver.stats()
    message = str(stats["return_status"])
    good = message in ("Solve_Succeeded", "Solved_To_Acceptable_Level")
    return int(stats.get("iter_count", 0)), message, good


def _array(value: Any) -> Vector:
    return np.asarray(value.full(), dtype=float).ravel()


def _vector(value: npt.ArrayLike, size: int, what: str, finite: bool = True) -> Vector:
    array = np.array(value, dtype=float).ravel()
    if array.size != size:
        raise ValueError(f"The {what} must have {size} entries; {array.size} were given.")
    if finite and what not in ("lower bounds", "upper bounds") and not np.all(np.isfinite(array)):
        bad = int(np.flatnonzero(~np.isfinite(array))[0])
        raise ValueError(f"The {what} must be finite numbers; entry {bad} is not.")
    return array


def _names(given: Sequence[str] | None, count: int, what: str) -> tuple[str, ...]:
    names = tuple(given) if given is not None else tuple(f"{what} {i + 1}" for i in range(count))
    if len(names) != count:
        raise ValueError(f"{len(names)} {what} names were given for {count}.")
    if len(set(names)) != count:
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"The {what} name {twice!r} is used twice; names must differ.")
    return names
