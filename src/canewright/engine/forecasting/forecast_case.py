"""One factory of a forecast, its figures, and what is given there once changes are made."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import casadi
import numpy as np

from canewright.engine.equations.changes import Change, ChangeRefused
from canewright.engine.equations.model import Model
from canewright.engine.equations.responses import Link, Response, links
from canewright.engine.equations.settled import Matrix, Square, Stocks, Vector
from canewright.engine.equations.simulate import Solved

Expressions = Callable[[Model, Mapping[str, Any]], Mapping[str, Any]]
"""From a model and the relations between state and pol to figures by name."""


@dataclass(frozen=True)
class Slopes:
    """Figures at a point, and their derivatives by held variables, rows and relations."""

    values: Vector
    by_held: Matrix
    by_row: Matrix
    by_relation: Matrix


class Case:
    """A factory with its square and its figures, compiled once.

    Parameters
    ----------
    model : Model
    expressions : callable
        The figures.
    symbols : mapping
        Of the relations between state and pol.
    stocks : {"settled", "as found"}
    assumed : bool
        Whether performance answers settings by the assumed responses.
    """

    def __init__(
        self,
        model: Model,
        expressions: Expressions,
        symbols: Mapping[str, Any],
        stocks: Stocks,
        assumed: bool,
    ) -> None:
        self.model = model
        self.square = Square(model, stocks)
        written = expressions(model, symbols)
        self.names = list(written)
        self.links = list(links(model)) if assumed else []
        stacked = casadi.vertcat(*[casadi.SX(item) for item in written.values()])
        relations = casadi.vertcat(*symbols.values())
        inputs = [model.symbols, model.parameters, relations]
        self._figures = casadi.Function("figures", inputs, [stacked])
        self._gradients = casadi.Function(
            "gradients",
            inputs,
            [casadi.jacobian(stacked, model.symbols), casadi.jacobian(stacked, relations)],
        )

    def values(self, at: Solved, relations: Vector) -> Vector:
        """Figures at a solved point."""
        return np.array(self._figures(at.values, at.parameters, relations)).ravel()

    def many(self, values: Matrix, sizes: Vector, relations: Matrix) -> Matrix:
        """Figures (draws, figures) at many points (draws, n), each with its relations."""
        given = np.tile(sizes, (len(values), 1)).T
        found = self._figures.map(len(values))(values.T, given, relations.T)
        return np.array(casadi.densify(found)).T

    def slopes(self, at: Solved, relations: Vector) -> Slopes:
        """Figures at a solved point with their derivatives, all that is free following."""
        own, direct = self._gradients(at.values, at.parameters, relations)
        gradients = np.array(casadi.densify(own))
        held, rows = self.square.slopes(at.values, at.parameters, gradients)
        return Slopes(self.values(at, relations), held, rows, np.array(casadi.densify(direct)))


@dataclass
class Asked:
    """What is given after the changes, and how it follows from what was given before.

    `by_held` holds the derivatives of what is held after by what is held before, `by_slope`
    those by the slope of each assumed response; `moved` what the responses did.
    """

    held: Vector
    targets: Vector
    sizes: Vector
    by_held: Matrix
    by_slope: dict[Response, Vector] = field(default_factory=dict)
    moved: list[tuple[Link, float, float]] = field(default_factory=list)


@dataclass(frozen=True)
class Found:
    """What the balance found, to be carried to a factory that may have been rebuilt."""

    model: Model
    values: Vector
    sizes: Vector
    targets: Mapping[str, float]

    def place(self, model: Model, place: int) -> int | None:
        """Position in the factory as found of a variable of a factory."""
        if model is self.model:
            return place
        variable = model.variables[place]
        for name in (variable.name, *variable.other_names):
            if name in self.model.index:
                return self.model.index[name]
        return None

    def carried(self, model: Model) -> Vector:
        """Values of a factory as far as they were found; its guesses where not."""
        if model is self.model:
            return self.values.copy()
        values = model.guess
        for i in range(len(values)):
            place = self.place(model, i)
            if place is not None:
                values[i] = self.values[place]
        return values

    def sizes_of(self, model: Model, changes: Sequence[Change] = ()) -> Vector:
        """Sizes and hours of a factory, with changes."""
        known = dict(zip(self.model.parameter_names, self.sizes, strict=True))
        own = zip(model.parameter_names, model.parameter_values, strict=True)
        sizes = np.array([known.get(name, value) for name, value in own])
        for change in changes:
            if change.size:
                place = model.parameter_names.index(change.name)
                sizes[place] = change.applied(sizes[place])
        return sizes

    def targets_of(self, square: Square, values: Vector) -> Vector:
        """Right sides of the rows of a square as they were found."""
        own = zip(square.rows, square.targets(values), strict=True)
        return np.array([self.targets.get(row.name, value) for row, value in own])


def ask(case: Case, found: Found, changes: Sequence[Change]) -> Asked:
    """What is given once changes are made, the assumed responses having answered.

    Raises
    ------
    ChangeRefused
        If a change is of something that follows, or goes out of bounds.
    """
    model, square = case.model, case.square
    before = found.carried(model)
    values = before.copy()
    order = {int(i): k for k, i in enumerate(square.held)}
    jacobian = np.eye(square.held.size)
    changed = set()
    for change in changes:
        if change.size:
            continue
        place = model.position(change.name)
        if place not in order:
            raise ChangeRefused(_why_not(model, change.name))
        variable = model.variables[place]
        values[place] = change.applied(before[place])
        if not variable.lower <= values[place] <= variable.upper:
            raise ChangeRefused(
                f"{change.name} can be {variable.lower:g} to {variable.upper:g} "
                f"{variable.unit}, not {values[place]:.4g}."
            )
        jacobian[order[place]] *= change.slope
        changed.add(place)
    asked = Asked(values, values, found.sizes_of(model, changes), jacobian)
    for link in case.links:
        if link.cause in changed and link.effect not in changed and link.effect in order:
            _answer(link, asked, before, values, order, model)
    asked.targets = found.targets_of(square, before)
    asked.held = values[square.held]
    return asked


def _answer(
    link: Link,
    asked: Asked,
    before: Vector,
    values: Vector,
    order: Mapping[int, int],
    model: Model,
) -> None:
    """Let one performance parameter answer one setting."""
    response, was, now = link.response, before[link.cause], values[link.cause]
    if now == was or (response.by == "ratio" and min(now, was) <= 0):
        return
    move = response.change(was, now)
    old, variable = values[link.effect], model.variables[link.effect]
    new = min(max(response.moved(old, move), variable.lower), variable.upper)
    cause, effect = order[link.cause], order[link.effect]
    factor = new if response.moves == "share" else 1.0
    if response.moves == "share":
        asked.by_held[effect] *= new / old
        for slopes in asked.by_slope.values():
            slopes[effect] *= new / old
    by_cause = response.change_slope(now) * asked.by_held[cause]
    by_cause[cause] -= response.change_slope(was)
    asked.by_held[effect] += factor * response.slope * by_cause
    own = asked.by_slope.setdefault(response, np.zeros(len(order)))
    own[effect] += factor * move
    values[link.effect] = new
    asked.moved.append((link, float(old), float(new)))


def _why_not(model: Model, name: str) -> str:
    for hold in model.factory.holds:
        if hold.by == name:
            return (
                f"{name} moves by itself to hold {hold.what}; set {hold.what} instead, or "
                "take the hold out of the factory file."
            )
    return f"{name} follows from the equations when the stocks have settled; it is not set."
