"""IPOPT on a weighted least squares problem: for poor starts and many bounds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import casadi
import numpy as np
import numpy.typing as npt

Vector = npt.NDArray[np.float64]

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
class Reached:
    """What a solver reached, in scaled variables and constraints."""

    point: Vector
    multipliers: Vector
    pull: Vector
    iterations: int
    message: str
    good: bool


class InteriorPoint:
    """IPOPT for any start and for a near one.

    Minimise 1/2 sum((weights * (predictions - values))^2) with row weights * constraints equal
    to a target and the variables within bounds; both solvers are functions of the parameters
    (given, values, weights, row weights).

    Parameters
    ----------
    variables, given, constraints, predictions : casadi.SX
    scale : array (n)
        Typical size of each variable.
    """

    def __init__(
        self, variables: Any, given: Any, constraints: Any, predictions: Any, scale: Vector
    ) -> None:
        scaled = casadi.SX.sym("scaled", variables.numel())
        values = casadi.SX.sym("values", predictions.numel())
        weights = casadi.SX.sym("weights", predictions.numel())
        row_weights = casadi.SX.sym("row_weights", constraints.numel())
        outer = casadi.SX.sym("given", given.numel())
        fitted, misfit = casadi.Function(
            "model", [variables, given], [predictions, constraints]
        ).call([scaled * casadi.DM(scale), outer])
        program = {
            "x": scaled,
            "f": 0.5 * casadi.sumsqr(weights * (fitted - values)),
            "g": row_weights * misfit,
            "p": casadi.vertcat(outer, values, weights, row_weights),
        }
        self._cold = casadi.nlpsol("cold", "ipopt", program, _COMMON_OPTIONS)
        self._warm = casadi.nlpsol("warm", "ipopt", program, _COMMON_OPTIONS | _WARM_OPTIONS)

    def solve(
        self,
        start: Vector,
        parameters: Vector,
        bounds: tuple[Vector, Vector],
        target: Vector,
        near: tuple[Vector, Vector] | None = None,
    ) -> Reached:
        """Solve from a start; `near` are multipliers of bounds and constraints that suit it."""
        arguments: dict[str, Any] = {
            "p": parameters,
            "lbx": bounds[0],
            "ubx": bounds[1],
            "lbg": target,
            "ubg": target,
            "x0": start,
        }
        iterations, result, message, good = 0, None, "", False
        if near is not None:
            result = self._warm(**arguments, lam_x0=near[0], lam_g0=near[1])
            iterations, message, good = _outcome(self._warm)
        if not good:
            result = self._cold(**arguments)
            more, message, good = _outcome(self._cold)
            iterations += more
        assert result is not None
        point, multipliers, pull = (_array(result[key]) for key in ("x", "lam_g", "lam_x"))
        return Reached(point, multipliers, pull, iterations, message, good)


def _outcome(solver: Any) -> tuple[int, str, bool]:
    stats = solver.stats()
    message = str(stats["return_status"])
    good = message in ("Solve_Succeeded", "Solved_To_Acceptable_Level")
    return int(stats.get("iter_count", 0)), message, good


def _array(value: Any) -> Vector:
    return np.asarray(value.full(), dtype=float).ravel()
