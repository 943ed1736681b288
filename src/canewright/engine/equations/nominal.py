"""The factory at its usual point: where solvers start, how variables are scaled.

All settings and performance at the middle of their ranges, stocks as full as usual and of
the composition of what flows into them.
"""

from dataclasses import dataclass

import casadi
import numpy as np

from canewright.engine.equations.model import Model, compile
from canewright.engine.equations.simulate import Simulator, Solved, usually_fixed
from canewright.engine.equations.soundness import decided_twice
from canewright.flowsheet import Factory, FactoryRefused
from canewright.streams import MASS

STEADY = 1e-6
"""Relative change of the stocks' composition at which the usual point counts as steady."""

ROUNDS = 60

FLOOR = 1e-6
"""Smallest scale of a flow, relative to the cane crushed."""

STOCK_COMPOSITION = 0.1
"""Standard deviation of the share of a component in an opening stock, relative, before any
reading [common_practice]."""

ABSENT = 1e-6
"""Share that a component which usually is not in a stock might have all the same."""


@dataclass(frozen=True)
class SoftStatement:
    """A soft prior on an expression: its mean and standard deviation."""

    name: str
    expression: casadi.SX
    mean: float
    sd: float


@dataclass
class Prepared:
    """A compiled factory at its usual point."""

    model: Model
    simulator: Simulator
    usual: Solved
    statements: list[SoftStatement]


def prepare(factory: Factory) -> Prepared:
    """Compile a factory, solve it at its usual point and scale its variables by it.

    Raises
    ------
    FactoryRefused
        If the stations cannot be connected, or decide a quantity twice.
    SolveFailed
        If the usual point cannot be solved.
    """
    model = compile(factory)
    twice = decided_twice(model)
    if twice:
        raise FactoryRefused(twice)
    simulator = Simulator(model, usually_fixed(model))
    solved = usual_point(model, simulator)
    _rescale(model, solved.values)
    return Prepared(
        model, Simulator(model, usually_fixed(model)), solved, opening_statements(model, solved)
    )


def usual_point(model: Model, simulator: Simulator) -> Solved:
    """Solve with every stock at its usual mass and of the composition of its feed."""
    values = model.guess
    for hold in model.factory.holds:
        values[model.position(hold.what)] = hold.at
    solved = simulator.solve(values, cold=True)
    for _ in range(ROUNDS):
        before = solved.values.copy()
        start = solved.values.copy()
        for stock in stocks(model):
            feed = model.states[stock.feed]
            flow = sum(solved[f"{stock.feed}.{c}"] for c in feed.components if c in MASS)
            for component in model.states[stock.opening].components:
                place = model.position(f"{stock.opening}.{component}")
                start[place] = stock.mass * solved[f"{stock.feed}.{component}"] / flow
        solved = simulator.solve(start)
        change = np.abs(solved.values - before) / np.maximum(np.abs(before), 1e-3)
        if np.max(change) < STEADY:
            break
    return solved


@dataclass(frozen=True)
class StockPlace:
    """Names that belong to one stock of a model."""

    station: str
    opening: str
    closing: str
    feed: str
    mass: float
    mass_sd: float


def stocks(model: Model) -> list[StockPlace]:
    """Every stock of the factory."""
    found = []
    for placed in model.flowsheet.placed:
        for declaration in placed.cls.stocks.values():
            quantity = placed.cls.quantities[declaration.sized_by]
            low, high = placed.entry.ranges.get(declaration.sized_by, quantity.typical)
            middle = placed.entry.values.get(declaration.sized_by, quantity.guess)
            found.append(
                StockPlace(
                    placed.name,
                    f"{placed.name} opening",
                    f"{placed.name} closing",
                    placed.connections[declaration.like][0],
                    middle,
                    max((high - low) / 4, 0.05 * middle),
                )
            )
    return found


def composition_width(share: float) -> float:
    """Standard deviation of the share of a component of an opening stock."""
    return max(STOCK_COMPOSITION * (share if share > 0 else ABSENT), 1e-12)


def opening_statements(model: Model, usual: Solved) -> list[SoftStatement]:
    """Soft priors on the opening stocks: usual mass, and composition near the usual one.

    Composition is stated as shares of what is there, so that a nearly empty vessel is as
    well known as a full one. The shares deviate from the usual ones independently of each
    other, but for their sum. A statement for every component would be one too many: it would
    hold by itself, and the global test would count it as a check. So each component is
    stated beside those before it, which gives as many statements as there are freedoms and
    the same sum of squares [own_derivation].
    """
    statements = []
    for stock in stocks(model):
        state = model.states[stock.opening]
        mass = sum(usual[f"{stock.opening}.{c}"] for c in state.components if c in MASS)
        statements.append(
            SoftStatement(f"{stock.opening}, mass", state.flow, stock.mass, stock.mass_sd)
        )
        deviations, widths = {}, {}
        for component in state.components:
            share = usual[f"{stock.opening}.{component}"] / mass
            deviations[component] = state.values[component] / state.flow - share
            widths[component] = composition_width(share)
        heavy = [component for component in state.components if component in MASS]
        before, variance = deviations[heavy[0]], widths[heavy[0]] ** 2
        stated, sd = dict(deviations), dict(widths)
        for component in heavy[1:]:
            part = widths[component] ** 2 / variance
            stated[component] = deviations[component] - part * before
            sd[component] = widths[component] * float(np.sqrt(1 + part))
            before += deviations[component]
            variance += widths[component] ** 2
        del stated[heavy[0]]
        statements += [
            SoftStatement(f"{stock.opening}, {component}", expression, 0.0, sd[component])
            for component, expression in stated.items()
        ]
    return statements


def _rescale(model: Model, values: np.ndarray) -> None:
    cane = max(abs(values[model.position(n)]) for n in model.index if n.endswith(".cane_rate"))
    for variable, value in zip(model.variables, values, strict=True):
        variable.guess = float(value)
        if variable.role in ("flow", "opening"):
            variable.scale = max(abs(value), FLOOR * cane)
        elif variable.role == "result":
            variable.scale = max(abs(value), 0.01 * variable.scale)
