"""Reconciliation of one shift: cold, after the shift before it, and by other solvers.

All work on the same problem with the same start (the usual point), with exact sparse
derivatives from the same compiled functions, in the same scaled variables:

* scipy `trust-constr`: equations as constraints, exact Hessians, bounds;
* scipy `least_squares`: it knows no equations, so they are rows of great weight, with bounds;
* Pyomo with cyipopt: the model written out in Pyomo from the same expressions, built once,
  readings as mutable parameters; see `written_out` for what a solve then is.

"Same answer" is the largest distance of a variable, in typical sizes.
"""

import time

import casadi
import numpy as np
import scipy.sparse as sparse
from scipy import optimize

from benchmarks.measuring import Row, Table, quickest, shifts, workshop
from benchmarks.written_out import PyomoProblem

WEIGHT = 1e4
"""Weight of an equation among the standardised misfits of `least_squares`."""
PATIENCE = 120.0
"""Seconds after which another solver is stopped and said not to have finished."""
SHIFTS = 12
COLD_MS, WARM_MS = 0.050, 0.020


class TookTooLong(Exception):
    """A solver ran out of patience."""


class Scaled:
    """The problem as other solvers take it: one start, one set of readings."""

    def __init__(self, measurements, hours):
        made = workshop()
        self.reconciler, self.problem = made.reconciler, made.reconciler.problem
        self.values, self.sd = self.reconciler.data(measurements)
        self.values = np.where(np.isfinite(self.sd), self.values, 0.0)
        self.given = self.reconciler.parameters(hours, measurements)
        self.start = self.reconciler.start(made.prepared.usual.values)
        self.size = self.problem.scale
        self.rows = self.problem.row_scale(self.start, self.given)
        self.bounds = self.problem.lower / self.size, self.problem.upper / self.size
        self._lines = None

    def at(self, point):
        """Standardised misfits, scaled constraints, and their derivatives."""
        if self._lines is None or not np.array_equal(self._lines[0], point):
            at = self.problem.linearise(point * self.size, self.given)
            sizes = sparse.diags_array(self.size)
            self._lines = (
                point.copy(),
                (at.predictions - self.values) / self.sd,
                at.constraints / self.rows,
                sparse.csr_array(sparse.diags_array(1 / self.sd) @ at.data_jacobian @ sizes),
                sparse.csr_array(
                    sparse.diags_array(1 / self.rows) @ at.constraint_jacobian @ sizes
                ),
            )
        return self._lines[1:]

    def hessian(self):
        """Exact Hessian of objective (weights 1/sd) and constraints, as one function."""
        variables, given, constraints, predictions = self.problem._symbols
        scaled = casadi.SX.sym("scaled", variables.numel())
        multipliers = casadi.SX.sym("multipliers", constraints.numel())
        fitted, misfit = casadi.Function("model", [variables, given], [predictions, constraints])(
            scaled * casadi.DM(self.size), casadi.DM(self.given)
        )
        goal = 0.5 * casadi.sumsqr((fitted - casadi.DM(self.values)) / casadi.DM(self.sd))
        held = casadi.dot(multipliers, misfit / casadi.DM(self.rows))
        return tuple(
            casadi.Function("hessian", [scaled, multipliers], [casadi.hessian(what, scaled)[0]])
            for what in (goal, held)
        )

    def timer(self):
        """Raises when patience is over; called by the solvers at every step."""
        end = time.perf_counter() + PATIENCE

        def check(*_, **__):
            if time.perf_counter() > end:
                raise TookTooLong

        return check


def least_squares(scaled):
    """scipy `least_squares`."""
    check = scaled.timer()

    def residuals(point):
        check()
        misfits, constraints, _, _ = scaled.at(point)
        return np.concatenate([misfits, WEIGHT * constraints])

    def jacobian(point):
        _, _, data, rows = scaled.at(point)
        return sparse.vstack([data, WEIGHT * rows]).toarray()

    low, high = scaled.bounds
    start = np.clip(scaled.start / scaled.size, low + 1e-8, high - 1e-8)
    found = optimize.least_squares(
        residuals, start, jacobian, bounds=(low, high), xtol=1e-12, ftol=1e-14, gtol=1e-10
    )
    return found.x, f"{found.nfev} evaluations"


def trust_constr(scaled):
    """scipy `trust-constr`."""
    check = scaled.timer()
    of_goal, of_rows = scaled.hessian()
    none = np.zeros(len(scaled.rows))
    low, high = scaled.bounds
    found = optimize.minimize(
        lambda x: 0.5 * float(scaled.at(x)[0] @ scaled.at(x)[0]),
        np.clip(scaled.start / scaled.size, low, high),
        method="trust-constr",
        jac=lambda x: scaled.at(x)[2].T @ scaled.at(x)[0],
        hess=lambda x: _full(of_goal(x, none)),
        bounds=optimize.Bounds(low, high),
        constraints=optimize.NonlinearConstraint(
            lambda x: scaled.at(x)[1],
            0.0,
            0.0,
            jac=lambda x: sparse.csr_matrix(scaled.at(x)[3]),
            hess=lambda x, v: _full(of_rows(x, v)),
        ),
        callback=check,
        options={"xtol": 1e-10, "gtol": 1e-8, "maxiter": 3000, "sparse_jacobian": True},
    )
    return found.x, f"{found.nit} steps"


def _full(matrix):
    return sparse.csr_matrix(matrix.sparse())


def other(table, name, solve, scaled, ours, promised):
    """Time another solver once, and compare its answer."""
    begun = time.perf_counter()
    try:
        point, words = solve(scaled)
        distance = float(np.abs(point - ours.z / scaled.size).max())
        note = f"{words}, same answer to {distance:.0e}"
    except TookTooLong:
        note = f"stopped unfinished after {PATIENCE:.0f} s"
    spent = time.perf_counter() - begun
    table.add(Row("reconciliation cold", ours.quickest, name, spent, promised, True, note))


class _Ours:
    def __init__(self, solution, seconds):
        self.z, self.quickest = solution.z, seconds


def run(table: Table) -> None:
    made = workshop()
    reconciler, usual = made.reconciler, made.prepared.usual.values
    cold, warm, steps, before = [], [], [], None
    for measurements, hours in shifts(SHIFTS):

        def from_usual(measurements=measurements, hours=hours):
            return reconciler.solve(measurements, usual, hours=hours)

        estimate = from_usual()
        cold.append(quickest(from_usual, 5))
        if before is not None:

            def from_before(measurements=measurements, hours=hours, before=before):
                return reconciler.solve(
                    measurements, before.values, hours=hours, warm=before.solution
                )

            steps.append(from_before().solution.iterations)
            warm.append(quickest(from_before, 5))
        before = estimate
    problem = reconciler.problem
    size = f"{problem.size} variables, {problem.constraint_count} equations"
    table.add(
        Row(
            "reconciliation cold, median",
            float(np.median(cold)),
            "50 ms",
            COLD_MS,
            1.0,
            note=f"{size}, slowest {1000 * max(cold):.0f} ms",
        )
    )
    table.add(
        Row(
            "reconciliation of the next shift, median",
            float(np.median(warm)),
            "20 ms",
            WARM_MS,
            1.0,
            note=f"{np.mean(steps):.1f} steps, slowest {1000 * max(warm):.0f} ms",
        )
    )

    measurements, hours = shifts(SHIFTS)[0]
    scaled = Scaled(measurements, hours)
    solution = reconciler.solve(measurements, usual, hours=hours).solution
    ours = _Ours(solution, cold[0])
    elimination, problem.elimination = problem.elimination, None
    reconciler.solve(measurements, usual, hours=hours)
    general = quickest(lambda: reconciler.solve(measurements, usual, hours=hours), 5)
    distance = (
        np.abs(reconciler.solve(measurements, usual, hours=hours).solution.z - solution.z)
        / problem.scale
    )
    problem.elimination = elimination
    table.add(
        Row(
            "reconciliation cold",
            cold[0],
            "IPOPT in CasADi",
            general,
            None,
            True,
            f"same answer to {distance.max():.0e}",
        )
    )
    begun = time.perf_counter()
    written = PyomoProblem(scaled)
    built = time.perf_counter() - begun
    if not written.available:
        print("  not measured beside Pyomo and cyipopt: install pyomo and cyipopt-wheels")
    else:
        seconds = quickest(written.solve, 3, 60.0)
        distance = np.abs(written.point() - solution.z / problem.scale).max()
        table.add(
            Row(
                "reconciliation cold",
                cold[0],
                "Pyomo's file and cyipopt",
                seconds,
                10.0,
                True,
                f"built in {built:.1f} s before, same answer to {distance:.0e}",
            )
        )
    other(table, "scipy least_squares", least_squares, scaled, ours, 20.0)
    other(table, "scipy trust-constr", trust_constr, scaled, ours, 20.0)
