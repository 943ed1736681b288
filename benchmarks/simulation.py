"""Steady state of the whole factory: settings and performance fixed, every stream solved for.

Floor: compiled evaluation of residuals and Jacobian into memory, plus one sparse factorisation
and solve (`splu`, in its usual order) of the scaled matrix, times the Newton steps taken.
"""

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.linalg import splu

from benchmarks.measuring import Row, Table, quickest, workshop


def changed(width: float) -> np.ndarray:
    """The usual point with settings and performance moved by part of their prior widths."""
    prepared = workshop().prepared
    rng = np.random.default_rng(5)
    values = prepared.usual.values.copy()
    for i in prepared.simulator.fixed:
        variable = prepared.model.variables[i]
        if np.isfinite(variable.prior_sd):
            moved = values[i] + width * variable.prior_sd * rng.normal()
            values[i] = min(max(moved, variable.lower), variable.upper)
    return values


def floor(start: np.ndarray) -> float:
    """One evaluation, factorisation and solve. [s]"""
    prepared = workshop().prepared
    simulator, evaluator = prepared.simulator, prepared.model.evaluator
    parameters = prepared.model.parameter_values
    weights = simulator.weights(start, parameters)
    entries = evaluator.matrix(evaluator(start, parameters)[1].copy())
    scaled = (entries[:, simulator.free] * simulator.scale).multiply(weights[:, None])
    matrix, right = sparse.csc_array(scaled), evaluator.values * weights
    evaluate = quickest(lambda: evaluator(start, parameters), 200)
    return evaluate + quickest(lambda: splu(matrix).solve(right), 100)


def run(table: Table) -> None:
    simulator = workshop().prepared.simulator
    for name, width in (("from the usual point", 0.5), ("from a neighbour", 0.02)):
        start = changed(width)
        solved = simulator.solve(start)
        assert solved.route == "newton"
        seconds = quickest(lambda start=start: simulator.solve(start), 30)
        table.add(
            Row(
                f"simulation {name}, {solved.iterations} steps",
                seconds,
                "floor",
                floor(start) * solved.iterations,
                2.0,
            )
        )
