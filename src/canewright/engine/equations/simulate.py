"""Simulation: settings and performance fixed, every stream solved for."""

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import casadi
import numpy as np

from canewright.engine.algebra.square import SquareBlock
from canewright.engine.equations.model import Model

TOLERANCE = 1e-9
"""Largest scaled residual of a solved factory."""

STEPS = 30
SHORTEST = 1e-3
"""Newton steps, and the least part of one that is tried, before IPOPT takes over."""


class SolveFailed(RuntimeError):
    """No solution: `open_equations` names what did not close, worst first."""

    def __init__(self, sentence: str, open_equations: Sequence[str] = ()) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.open_equations = list(open_equations)


@dataclass
class Solved:
    """A factory's values.

    `values` holds every variable of the model (internal units); `iterations` and `seconds`
    what it took; `route` the solver that got there.
    """

    model: Model
    values: np.ndarray
    parameters: np.ndarray
    iterations: int = 0
    seconds: float = 0.0
    route: str = ""

    def __getitem__(self, name: str) -> float:
        """Value of a variable by any of its names, in its internal unit."""
        return float(self.values[self.model.position(name)])


@dataclass
class Simulator:
    """Square solver of a model for one choice of what is fixed.

    Built once and kept: the fixed variables are its parameters.

    Parameters
    ----------
    model : Model
    fixed : sequence of int
        Positions of the fixed variables: settings, performance parameters, opening stocks.

    Raises
    ------
    SolveFailed
        If the number of equations differs from the number of free variables.
    """

    model: Model
    fixed: Sequence[int]
    free: list[int] = field(init=False)

    def __post_init__(self) -> None:
        model = self.model
        held = set(self.fixed)
        self.free = [i for i in range(len(model.variables)) if i not in held]
        equations = model.residuals.numel()
        if len(self.free) != equations:
            raise SolveFailed(
                f"{len(self.free)} quantities are free but there are {equations} equations.",
                unmatched(model, self.free),
            )
        self._places = np.array(self.free, dtype=np.intp)
        self.scale = model.scale[self._places]
        self._lower, self._upper = model.lower[self._places], model.upper[self._places]
        evaluator = model.evaluator
        column = np.full(len(model.variables), -1)
        column[self._places] = np.arange(equations)
        self._taken = np.flatnonzero(column[evaluator.columns] >= 0)
        self._rows = evaluator.rows[self._taken].astype(np.intp)
        self._columns = column[evaluator.columns[self._taken]]
        self._block = SquareBlock(self._rows, self._columns, equations)

    def __getstate__(self) -> dict[str, Any]:
        return {name: value for name, value in vars(self).items() if name != "_ipopt"}

    def _at(self, values: np.ndarray, parameters: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Residuals and entries of their derivatives by the scaled free variables."""
        residuals, entries = self.model.evaluator(values, parameters)
        return residuals, entries[self._taken] * self.scale[self._columns]

    @cached_property
    def _ipopt(self) -> Any:
        """IPOPT on the same equations, with bounds; built when first needed."""
        model = self.model
        z, fixed = casadi.SX.sym("z", len(self.free)), casadi.SX.sym("f", len(self.fixed))
        weights = casadi.SX.sym("w", len(self.free))
        full = casadi.SX(len(model.variables), 1)
        full[self.free], full[list(self.fixed)] = z * casadi.DM(self.scale), fixed
        plain = casadi.Function("residual", [model.symbols, model.parameters], [model.residuals])
        options: dict[str, Any] = {
            "ipopt.print_level": 0,
            "ipopt.sb": "yes",
            "print_time": False,
            "error_on_fail": False,
            "ipopt.max_iter": 300,
            "ipopt.tol": 1e-10,
            "ipopt.constr_viol_tol": 1e-10,
            "ipopt.bound_relax_factor": 0.0,
        }
        program = {
            "x": z,
            "p": casadi.vertcat(fixed, model.parameters, weights),
            "f": casadi.SX(0),
            "g": plain(full, model.parameters) * weights,
        }
        return casadi.nlpsol("square", "ipopt", program, options)

    def weights(self, values: np.ndarray, parameters: np.ndarray) -> np.ndarray:
        """Row scales: one over the largest scaled entry of each row of the Jacobian."""
        return self._weights(self._at(values, parameters)[1])

    def _weights(self, entries: np.ndarray) -> np.ndarray:
        largest = np.zeros(len(self.free))
        np.maximum.at(largest, self._rows, np.abs(entries))
        scales: np.ndarray = 1.0 / np.maximum(largest, 1e-12)
        return scales

    def _newton(
        self, start: np.ndarray, parameters: np.ndarray, weights: np.ndarray
    ) -> tuple[np.ndarray, int] | None:
        """Newton steps, shortened until the next one would be shorter; None if they fail."""
        values = start.copy()
        residuals, entries = self._at(values, parameters)
        miss = residuals * weights
        for count in range(STEPS + 1):
            if not np.all(np.isfinite(entries)):
                return None
            if np.max(np.abs(miss)) < TOLERANCE * 1e-1:
                return values, count
            try:
                factor = self._block.factor(entries * weights[self._rows])
            except RuntimeError:  # how scipy says "exactly singular"
                return None
            step = -factor.solve(miss)
            length, part = float(np.linalg.norm(step)), 1.0
            while True:
                trial = values.copy()
                trial[self._places] += part * step * self.scale
                residuals, entries = self._at(trial, parameters)
                miss = residuals * weights
                if np.all(np.isfinite(miss)):
                    ahead = float(np.linalg.norm(factor.solve(miss)))
                    if ahead <= (1 - part / 4) * length or np.max(np.abs(miss)) < TOLERANCE:
                        break
                part /= 2
                if part < SHORTEST:
                    return None
            values = trial
        return None

    def solve(
        self,
        start: np.ndarray,
        parameters: np.ndarray | None = None,
        weights: np.ndarray | None = None,
        cold: bool = False,
    ) -> Solved:
        """Solve from `start`, whose fixed entries are the values they are fixed at.

        Newton first (unless `cold`); if it leaves the bounds or does not close, IPOPT with
        bounds.

        Raises
        ------
        SolveFailed
            Naming the equations that did not close.
        """
        begun = time.perf_counter()
        model = self.model
        p = model.parameter_values if parameters is None else parameters
        w = self.weights(start, p) if weights is None else weights
        if not cold:
            found = self._newton(start, p, w)
            if found is not None:
                values, count = found
                margin = 1e-9 * self.scale
                x = values[self._places]
                if np.all(x >= self._lower - margin) and np.all(x <= self._upper + margin):
                    return Solved(model, values, p, count, time.perf_counter() - begun, "newton")
        lower, upper = self._lower / self.scale, self._upper / self.scale
        answer = self._ipopt(
            x0=np.clip(start[self._places] / self.scale, lower, upper),
            p=np.concatenate([start[self.fixed], p, w]),
            lbx=lower,
            ubx=upper,
            lbg=0,
            ubg=0,
        )
        stats = self._ipopt.stats()
        values = start.copy()
        values[self._places] = np.array(answer["x"]).ravel() * self.scale
        residual = self._at(values, p)[0] * w
        if not np.max(np.abs(residual)) < 1e-7:
            worst = np.argsort(-np.abs(np.nan_to_num(residual, nan=np.inf)))[:8]
            raise SolveFailed(
                f"The factory's equations do not close ({stats['return_status']}).",
                [f"{model.equations[i].name} (off by {residual[i]:.2g})" for i in worst],
            )
        spent = time.perf_counter() - begun
        return Solved(model, values, p, int(stats["iter_count"]), spent, "ipopt")


def usually_fixed(model: Model) -> list[int]:
    """What a simulation fixes: settings, performance parameters, opening stocks, less holds."""
    fixed = {
        i
        for i, variable in enumerate(model.variables)
        if variable.role in ("setting", "fitted", "opening")
    }
    for hold in model.factory.holds:
        fixed.discard(model.position(hold.by))
        fixed.add(model.position(hold.what))
    return sorted(fixed)


def simulate(
    model: Model,
    settings: Mapping[str, float] | None = None,
    start: np.ndarray | None = None,
    simulator: Simulator | None = None,
) -> Solved:
    """Solve the factory with its settings and performance fixed.

    Parameters
    ----------
    model : Model
    settings : mapping
        Variable -> value (internal unit) instead of the factory file's. Sizes
        (station.size) and "hours" may be given too.
    start : array
        A solved neighbour to start from.
    simulator : Simulator
        To reuse a compiled solver.

    Raises
    ------
    KeyError
        For an unknown name.
    SolveFailed
        Naming the equations that did not close.
    """
    simulator = simulator or Simulator(model, usually_fixed(model))
    values = model.guess if start is None else start.copy()
    parameters = model.parameter_values.copy()
    for hold in model.factory.holds:
        values[model.position(hold.what)] = hold.at
    for name, value in (settings or {}).items():
        if name in model.parameter_names:
            parameters[model.parameter_names.index(name)] = value
            continue
        position = model.position(name)
        if position not in simulator.fixed:
            raise KeyError(f"'{name}' follows from the equations; it cannot be set.")
        values[position] = value
    return simulator.solve(values, parameters, cold=start is None)


def unmatched(model: Model, free: Sequence[int]) -> list[str]:
    """Names that a maximum matching of equations to free quantities leaves over."""
    from scipy.sparse.csgraph import maximum_bipartite_matching

    z = casadi.vertcat(*[model.symbols[i] for i in free])
    pattern = casadi.DM(casadi.jacobian(model.residuals, z).sparsity(), 1).sparse().tocsr()
    matched = maximum_bipartite_matching(pattern, perm_type="column")
    lonely = [
        f"no quantity left for the equation '{model.equations[row].name}'"
        for row in range(pattern.shape[0])
        if matched[row] < 0
    ]
    columns = set(matched[matched >= 0])
    return lonely + [
        f"no equation left for '{model.variables[free[k]].name}'"
        for k in range(len(free))
        if k not in columns
    ]
