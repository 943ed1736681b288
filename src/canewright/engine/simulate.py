"""Simulation: settings and performance fixed, every stream solved for."""

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import casadi
import numpy as np

from canewright.engine.model import Model

TOLERANCE = 1e-9
"""Largest scaled residual of a solved factory."""


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
        self.scale = model.scale[self.free]
        z, p = casadi.SX.sym("z", len(self.free)), model.parameters
        fixed_symbols = casadi.SX.sym("f", len(self.fixed))
        full = [casadi.SX(0)] * len(model.variables)
        for k, i in enumerate(self.free):
            full[i] = z[k] * self.scale[k]
        for k, i in enumerate(self.fixed):
            full[i] = fixed_symbols[k]
        residuals = casadi.substitute(model.residuals, model.symbols, casadi.vertcat(*full))
        jacobian = casadi.jacobian(residuals, z)
        weights = casadi.SX.sym("w", equations)
        self._jacobian = casadi.Function("jacobian", [z, fixed_symbols, p], [jacobian])
        inputs = casadi.vertcat(fixed_symbols, p, weights)
        self._residual = casadi.Function("residual", [z, inputs], [residuals * weights])
        self._newton = casadi.rootfinder(
            "newton",
            "fast_newton",
            self._residual,
            {"error_on_fail": False, "max_iter": 30, "abstol": TOLERANCE * 1e-1},
        )
        self._given = (z, inputs, residuals * weights)

    @cached_property
    def _ipopt(self) -> Any:
        """IPOPT on the same equations, with bounds; built when first needed."""
        z, inputs, weighted = self._given
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
        return casadi.nlpsol(
            "square",
            "ipopt",
            {"x": z, "p": inputs, "f": 0, "g": weighted},
            options,
        )

    def weights(self, values: np.ndarray, parameters: np.ndarray) -> np.ndarray:
        """Row scales: one over the largest scaled entry of each row of the Jacobian."""
        jacobian = self._jacobian(values[self.free] / self.scale, values[self.fixed], parameters)
        rows: np.ndarray = np.abs(jacobian.sparse()).max(axis=1).toarray().ravel()
        scales: np.ndarray = 1.0 / np.maximum(rows, 1e-12)
        return scales

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
        inputs = np.concatenate([start[self.fixed], p, w])
        z = start[self.free] / self.scale
        lower = model.lower[self.free] / self.scale
        upper = model.upper[self.free] / self.scale
        values = start.copy()
        if not cold:
            x = np.array(self._newton(z, inputs)).ravel()
            residual = np.array(self._residual(x, inputs)).ravel()
            inside = np.all(x >= lower - 1e-9) and np.all(x <= upper + 1e-9)
            if np.all(np.isfinite(residual)) and np.max(np.abs(residual)) < TOLERANCE and inside:
                values[self.free] = x * self.scale
                iterations = int(self._newton.stats().get("iter_count", 0))
                spent = time.perf_counter() - begun
                return Solved(model, values, p, iterations, spent, "newton")
        margin = np.maximum(lower, np.minimum(z, upper))
        answer = self._ipopt(x0=margin, p=inputs, lbx=lower, ubx=upper, lbg=0, ubg=0)
        x = np.array(answer["x"]).ravel()
        stats = self._ipopt.stats()
        residual = np.array(self._residual(x, inputs)).ravel()
        values[self.free] = x * self.scale
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
