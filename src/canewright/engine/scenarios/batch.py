"""A factory made ready for thousands of scenarios: everything that a run needs, as plain data.

What is given may differ in every scenario: settings, performance, gains of stock, sizes. The
answer starts from the first-order change of a solved neighbour, takes Newton steps whose
elimination is written out, and is checked. A batch can be sent to another process.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import casadi
import numpy as np
import numpy.typing as npt
import scipy.sparse as sparse
from scipy.sparse.linalg import splu

from canewright.engine.algebra.static_lu import newton_step, pivots, scaled
from canewright.engine.equations.model import Model
from canewright.engine.equations.settled import Square, Stocks
from canewright.engine.scenarios.tape import Tape

Vector = npt.NDArray[np.float64]
Matrix = npt.NDArray[np.float64]
Expressions = Callable[[Model], Mapping[str, Any]]

_IPOPT: dict[str, Any] = {
    "ipopt.print_level": 0,
    "ipopt.sb": "yes",
    "print_time": False,
    "error_on_fail": False,
    "ipopt.max_iter": 200,
    "ipopt.tol": 1e-10,
    "ipopt.constr_viol_tol": 1e-10,
    "ipopt.bound_relax_factor": 0.0,
}


@dataclass(frozen=True)
class Batch:
    """One factory and its figures, ready to be run many times.

    Attributes
    ----------
    given_names : tuple of str
        What may differ: held variables (under every name), rows of settled stocks, sizes.
    given_places : dict
        Name -> place among the given.
    given, given_lower, given_upper : array (g)
        Values at the solved neighbour, and bounds.
    start : array (n)
        The solved neighbour: what follows.
    slopes : array (n, g)
        Its change with what is given.
    weights : array (n)
        One over the size of each equation's terms.
    scale, lower, upper : array (n)
        Of what follows.
    labels, units : tuple of str
        Of what follows, for reasons.
    equation_names : tuple of str
    figure_names : tuple of str
    tapes : dict
        "step" (point, given) -> next point; "check" -> residuals; "figures".
    rescue : casadi Function
        IPOPT on the same equations, within bounds.
    """

    given_names: tuple[str, ...]
    given_places: dict[str, int]
    given: Vector
    given_lower: Vector
    given_upper: Vector
    start: Vector
    slopes: Matrix
    weights: Vector
    scale: Vector
    lower: Vector
    upper: Vector
    labels: tuple[str, ...]
    units: tuple[str, ...]
    equation_names: tuple[str, ...]
    figure_names: tuple[str, ...]
    tapes: dict[str, Tape]
    rescue: Any

    @cached_property
    def size(self) -> int:
        """Number of quantities that follow."""
        return int(self.start.size)


def make_batch(
    model: Model,
    values: Vector,
    expressions: Expressions,
    *,
    sizes: Vector | None = None,
    stocks: Stocks = "settled",
    offsets: Vector | None = None,
) -> Batch:
    """Make a factory ready for scenarios around a solved state.

    Parameters
    ----------
    model : Model
    values : array
        A solved state: the usual point, or what a balance found.
    expressions : callable
        From the model to figures by name.
    sizes : array, optional
        Sizes and hours; the model's when left out.
    stocks : {"settled", "as found"}
        See `settled`.
    offsets : array, optional
        What each equation must equal, where a balance allowed for a loss.
    """
    square = Square(model, stocks)
    if offsets is not None:
        square.offsets[: offsets.size] = offsets
    parameters = model.parameter_values if sizes is None else sizes
    goals = square.targets(values)
    point = square.solve(values, parameters, goals).values
    symbols, free = model.symbols, [int(i) for i in square.free]
    held = [int(i) for i in square.held]
    wanted = casadi.SX.sym("goal", len(square.rows))
    own = [
        sum((f * symbols[i] for i, f in zip(row.places, row.factors, strict=True)), casadi.SX(0))
        for row in square.rows
    ]
    residuals = casadi.vertcat(model.residuals, casadi.vertcat(*own) - wanted)
    if np.any(square.offsets):
        residuals = residuals - casadi.DM(square.offsets)
    unknown = casadi.vertcat(*[symbols[i] for i in free])
    given = casadi.vertcat(*[symbols[i] for i in held], wanted, model.parameters)
    given_values = np.concatenate([point[held], goals, parameters])
    jacobian = casadi.jacobian(residuals, unknown)
    at = casadi.Function("at", [unknown, given], [jacobian, casadi.jacobian(residuals, given)])
    inner, outer = (sparse.csc_array(part.sparse()) for part in at(point[free], given_values))
    scale = square.scale[free]
    table, weights = scaled(_whole(jacobian, inner), scale)
    step = newton_step(jacobian, residuals, pivots(table))
    slopes = -splu(sparse.csc_matrix(table)).solve(weights[:, None] * outer.toarray())
    figures = expressions(model)
    lower, upper = model.lower[free], model.upper[free]
    problem: Any = {"x": unknown, "p": given, "f": 0, "g": residuals * casadi.DM(weights)}
    unbounded = np.full(goals.size + parameters.size, np.inf)
    return Batch(
        given_names=_names(model, square),
        given_places=_places(model, square),
        given=given_values,
        given_lower=np.concatenate([model.lower[held], -unbounded]),
        given_upper=np.concatenate([model.upper[held], unbounded]),
        start=point[free],
        slopes=scale[:, None] * slopes,
        weights=weights,
        scale=scale,
        lower=lower,
        upper=upper,
        labels=tuple(model.variables[i].label or model.variables[i].name for i in free),
        units=tuple(model.variables[i].unit for i in free),
        equation_names=tuple(square.names),
        figure_names=tuple(figures),
        tapes={
            "step": Tape.of([unknown, given], [unknown - step]),
            "check": Tape.of([unknown, given], [residuals]),
            "figures": Tape.of([unknown, given], [casadi.vertcat(*figures.values())]),
        },
        rescue=casadi.nlpsol("rescue", "ipopt", problem, _IPOPT),
    )


def _whole(jacobian: casadi.SX, values: sparse.csc_array) -> sparse.coo_array:
    """The matrix with every entry of the symbols' pattern, zeros of the point included."""
    pattern = jacobian.sparsity()
    rows, columns = np.array(pattern.row()), np.array(pattern.get_col())
    dense = np.asarray(values[rows, columns]).ravel()
    return sparse.coo_array((dense, (rows, columns)), shape=values.shape)


def _names(model: Model, square: Square) -> tuple[str, ...]:
    return (
        *(model.variables[int(i)].name for i in square.held),
        *(row.name for row in square.rows),
        *model.parameter_names,
    )


def _places(model: Model, square: Square) -> dict[str, int]:
    places = {name: k for k, name in enumerate(_names(model, square))}
    for k, i in enumerate(square.held):
        for other in model.variables[int(i)].other_names:
            places.setdefault(other, k)
    return places


def columns_of(batch: Batch, names: Sequence[str]) -> list[int]:
    """Places of names among what is given.

    Raises
    ------
    KeyError
        With a sentence, for a name that is not given.
    """
    from canewright.flowsheet.connect import nearest

    places = []
    for name in names:
        if name not in batch.given_places:
            hint = nearest(name, list(batch.given_places))
            raise KeyError(f"'{name}' is nothing that a scenario can set.{hint}")
        places.append(batch.given_places[name])
    return places
