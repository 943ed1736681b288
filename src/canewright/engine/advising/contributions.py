"""Why money changed from one shift to another: what each setting and parameter brought.

Both shifts are points of one factory. Along the straight line from what was given in the one
to what was given in the other, the derivative of money by each given quantity, times its
change, adds up to the whole change. Source: [own_derivation].
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from canewright.engine.advising.advise import Optimiser
from canewright.engine.equations.settled import Vector
from canewright.engine.equations.simulate import Solved

NODES = 5
"""Points along the way; the rule is exact for polynomials of degree nine."""


@dataclass
class Given:
    """What determined a shift, by name, so that it can be written down and read again."""

    held: dict[str, float]
    rows: dict[str, float]
    relations: dict[str, float]
    offsets: dict[str, float]
    hours: float

    @classmethod
    def of(cls, optimiser: Optimiser) -> Given:
        """What determined the shift of an estimate."""
        square, model = optimiser.square, optimiser.model
        values = optimiser.found.values
        names = zip(model.equations, square.offsets[: len(model.equations)], strict=True)
        return cls(
            {model.variables[i].name: float(values[i]) for i in square.held},
            {
                row.name: float(target)
                for row, target in zip(square.rows, optimiser.targets, strict=True)
            },
            dict(
                zip(
                    optimiser.estimate.reconciler.relations,
                    map(float, optimiser.relations),
                    strict=True,
                )
            ),
            {equation.name: float(value) for equation, value in names if value != 0.0},
            float(optimiser.given.sizes[model.parameter_names.index("hours")]),
        )


@dataclass
class Contributions:
    """Money a day from one shift to another.

    Attributes
    ----------
    before, after : float
    by_held : dict
        Settings and performance parameters -> what their change brought.
    by_stock : dict
        Gains of stocks.
    rest : float
        Relations, hours and losses that the balances allowed for.
    changes : dict
        Settings and performance parameters -> (before, after).
    slopes : dict
        Mean derivative of money by each of them on the way.
    """

    before: float
    after: float
    by_held: dict[str, float]
    by_stock: dict[str, float]
    rest: float
    changes: dict[str, tuple[float, float]]
    slopes: dict[str, float]


def contributions(optimiser: Optimiser, then: Given) -> Contributions:
    """What brought money from an earlier shift to that of an estimate.

    Parameters
    ----------
    optimiser : Optimiser
        Of the later shift.
    then : Given
        The earlier shift.

    Raises
    ------
    SolveFailed
        If the factory cannot run somewhere between the two.
    """
    square, model = optimiser.square, optimiser.model
    now = Given.of(optimiser)
    held_names = [model.variables[i].name for i in square.held]
    row_names = [row.name for row in square.rows]
    ties = list(optimiser.estimate.reconciler.relations)
    h0, h1 = _vector(then.held, now.held, held_names), _vector(now.held, now.held, held_names)
    r0, r1 = _vector(then.rows, now.rows, row_names), _vector(now.rows, now.rows, row_names)
    t0 = _vector(then.relations, now.relations, ties)
    t1 = _vector(now.relations, now.relations, ties)
    equations = [equation.name for equation in model.equations]
    o0 = np.array([then.offsets.get(name, 0.0) for name in equations])
    o1 = square.offsets[: len(equations)].copy()
    place = model.parameter_names.index("hours")
    by_held, by_row = np.zeros(h0.size), np.zeros(r0.size)
    start = optimiser.found.values

    def at(part: float, near: Vector) -> Solved:
        values, sizes = near.copy(), optimiser.given.sizes.copy()
        values[square.held] = h0 + part * (h1 - h0)
        sizes[place] = then.hours + part * (now.hours - then.hours)
        square.offsets[: len(equations)] = o0 + part * (o1 - o0)
        return square.solve(values, sizes, r0 + part * (r1 - r0))

    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    try:
        for node, weight in sorted(zip(nodes, weights, strict=True), reverse=True):
            part = (node + 1) / 2
            solved = at(part, start)
            start = solved.values
            slopes = optimiser.case.slopes(solved, t0 + part * (t1 - t0))
            by_held += weight / 2 * slopes.by_held[0]
            by_row += weight / 2 * slopes.by_row[0]
        first = at(0.0, start)
        before = float(optimiser.case.slopes(first, t0).values[0])
    finally:
        square.offsets[: len(equations)] = o1
    after = optimiser.money_found
    shares = by_held * (h1 - h0)
    stocks = by_row * (r1 - r0)
    return Contributions(
        before,
        after,
        dict(zip(held_names, map(float, shares), strict=True)),
        dict(zip(row_names, map(float, stocks), strict=True)),
        after - before - float(shares.sum()) - float(stocks.sum()),
        {name: (float(a), float(b)) for name, a, b in zip(held_names, h0, h1, strict=True)},
        dict(zip(held_names, map(float, by_held), strict=True)),
    )


def _vector(values: Mapping[str, Any], else_: Mapping[str, Any], names: list[str]) -> Vector:
    return np.array([float(values.get(name, else_[name])) for name in names])
