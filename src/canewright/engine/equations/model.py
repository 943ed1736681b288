"""The compiled model: every variable and equation of a factory as CasADi symbols.

Variables that an equation makes equal (a stream that passes a station unchanged) are one
variable under several names. Sizes and the length of the period are parameters.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import casadi
import numpy as np

from canewright.engine.algebra.evaluate import Evaluator
from canewright.engine.equations.aliases import aliases
from canewright.engine.equations.mains import main_equations
from canewright.flowsheet import Factory, Flowsheet, PlacedStation, connect
from canewright.flowsheet.connect import nearest
from canewright.model import Balance, Equation, Station
from canewright.model.station import StockState
from canewright.streams import CARRIED, COMPONENTS, CONDITIONS, State, in_words

FLOW_FLOOR = 1e-9
"""Smallest scale of a flow relative to the cane crushed; below it a component is dust."""


@dataclass
class Variable:
    """One free number of the factory, under all the names that the equations make equal."""

    name: str
    unit: str
    guess: float
    scale: float
    lower: float
    upper: float
    role: str
    prior_mean: float = 0.0
    prior_sd: float = np.inf
    label: str = ""
    other_names: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class PlacedEquation:
    """An equation with the station that wrote it."""

    station: str
    equation: Equation

    @property
    def name(self) -> str:
        """`station: row`, as printed in reports and messages."""
        return f"{self.station}: {self.equation.name}"


@dataclass
class Model:
    """A factory's equations, compiled.

    Attributes
    ----------
    variables : list of Variable
        After alias elimination.
    index : dict
        Every name (stream.component, station.quantity, ...) -> position.
    symbols, residuals : SX
        Variables (n) and left minus right of the equations that remain (m).
    parameters, parameter_names, parameter_values
        Sizes and hours.
    equations : list of PlacedEquation
        Those that remain; `all_equations` also holds the ones that only named aliases.
    states : dict
        Stream (and stock) name -> State of symbols.
    """

    factory: Factory
    flowsheet: Flowsheet
    variables: list[Variable]
    index: dict[str, int]
    symbols: casadi.SX
    residuals: casadi.SX
    parameters: casadi.SX
    parameter_names: list[str]
    parameter_values: np.ndarray
    equations: list[PlacedEquation]
    all_equations: list[PlacedEquation]
    states: dict[str, State]
    stations: dict[str, Station]

    @cached_property
    def evaluator(self) -> Evaluator:
        """Residuals and their derivatives by all variables, compiled once for all solvers."""
        return Evaluator(self.symbols, self.parameters, self.residuals, tidy=True)

    @property
    def guess(self) -> np.ndarray:
        """First guess of every variable."""
        return np.array([variable.guess for variable in self.variables])

    @property
    def scale(self) -> np.ndarray:
        """Typical size of every variable."""
        return np.array([variable.scale for variable in self.variables])

    @property
    def lower(self) -> np.ndarray:
        """Lower bounds."""
        return np.array([variable.lower for variable in self.variables])

    @property
    def upper(self) -> np.ndarray:
        """Upper bounds."""
        return np.array([variable.upper for variable in self.variables])

    def position(self, name: str) -> int:
        """Position of a variable by any of its names; a KeyError names the nearest known."""
        if name not in self.index:
            raise KeyError(f"The factory has no '{name}'.{nearest(name, list(self.index))}")
        return self.index[name]


class _Collector:
    """Names, symbols, guesses and bounds, as stations are placed."""

    def __init__(self, cane: float) -> None:
        self.cane = cane
        self.variables: list[Variable] = []
        self.symbols: list[casadi.SX] = []

    def add(self, variable: Variable) -> casadi.SX:
        symbol = casadi.SX.sym(variable.name)
        self.variables.append(variable)
        self.symbols.append(symbol)
        return symbol

    def state(self, name: str, flowsheet: Flowsheet) -> State:
        kind = flowsheet.streams[name]
        guess = kind.guess(self.cane, flowsheet.shares.get(name))
        values = {}
        for item in kind.fields:
            unit = COMPONENTS.get(item) or {"temperature": "degC", "pressure": "bar abs"}[item]
            if item in COMPONENTS:
                # What is carried may be exactly nothing; a bound at zero would then bind.
                lower, upper = (-np.inf if item in CARRIED else 0.0), np.inf
                floor = 1e-3 if item in CARRIED else FLOW_FLOOR
                scale = max(guess[item], floor * self.cane)
            else:
                lower, typical, upper = getattr(kind, item)
                scale = max(abs(typical), 1.0)
            values[item] = self.add(
                Variable(
                    name=f"{name}.{item}",
                    unit=unit,
                    guess=guess[item],
                    scale=scale,
                    lower=lower,
                    upper=upper,
                    role="flow" if item in COMPONENTS else "condition",
                    label=f"{name}, {in_words(item)}",
                )
            )
        return State(name, kind, values)


def compile(factory: Factory) -> Model:
    """Compile a factory's equations.

    Parameters
    ----------
    factory : Factory
        As read from its file.

    Raises
    ------
    FactoryRefused
        If the stations cannot be connected.
    """
    flowsheet = connect(factory)
    cane = _cane_rate(flowsheet)
    collector = _Collector(cane)
    states = {name: collector.state(name, flowsheet) for name in flowsheet.streams}
    hours = casadi.SX.sym("hours")
    parameters: list[casadi.SX] = [hours]
    parameter_names = ["hours"]
    parameter_values = [factory.shift_hours]
    placed_stations: dict[str, Station] = {}
    equations: list[PlacedEquation] = []
    for placed in flowsheet.placed:
        _usual_guesses(placed, collector)
        values: dict[str, casadi.SX] = {}
        for name, quantity in placed.cls.quantities.items():
            full = f"{placed.name}.{name}"
            low, high = placed.entry.ranges.get(name, quantity.typical)
            middle = placed.entry.values.get(name, (low + high) / 2)
            if quantity.role == "design":
                values[name] = casadi.SX.sym(full)
                parameters.append(values[name])
                parameter_names.append(full)
                parameter_values.append(middle)
                continue
            soft = quantity.role in ("fitted", "setting")
            values[name] = collector.add(
                Variable(
                    name=full,
                    unit=quantity.unit,
                    guess=middle,
                    scale=max(abs(low), abs(high), abs(middle)),
                    lower=min(quantity.bounds[0], middle),
                    upper=max(quantity.bounds[1], middle),
                    role=quantity.role,
                    prior_mean=middle,
                    prior_sd=(high - low) / 4 if soft else np.inf,
                    label=f"{placed.name}, {quantity.label}",
                )
            )
        stocks = _stocks(placed, states, collector, flowsheet, hours)
        station = placed.cls(placed.name, _ports(placed, states), values, stocks, hours)
        placed_stations[placed.name] = station
        equations += _collect(placed.name, station.equations())
    for main in flowsheet.mains:
        equations += _collect(f"{main.name} main", main_equations(main, states))
    return _eliminate(
        factory,
        flowsheet,
        collector,
        states,
        equations,
        placed_stations,
        parameters,
        parameter_names,
        parameter_values,
    )


def _collect(station: str, equations: object) -> list[PlacedEquation]:
    collected = []
    for item in equations:  # type: ignore[attr-defined]
        equation = item if isinstance(item, Equation) else Equation(*item)
        collected.append(PlacedEquation(station, equation))
    return collected


def _usual_guesses(placed: PlacedStation, collector: _Collector) -> None:
    by_name = {variable.name: variable for variable in collector.variables}
    for field_name, value in placed.cls.usual.items():
        port, item = field_name.split(".")
        for stream in placed.connections.get(port, ()):
            by_name[f"{stream}.{item}"].guess = value


def _cane_rate(flowsheet: Flowsheet) -> float:
    """Cane crushed, t/h, as written in the factory file: the scale of all first guesses."""
    for placed in flowsheet.placed:
        quantity = placed.cls.quantities.get("cane_rate")
        if quantity is not None:
            return placed.entry.values.get("cane_rate", quantity.guess)
    return 100.0


def _ports(placed: PlacedStation, states: Mapping[str, State]) -> dict[str, Any]:
    ports: dict[str, Any] = {}
    for name, port in placed.cls.ports.items():
        streams = [states[stream] for stream in placed.connections.get(name, ())]
        if port.several:
            ports[name] = streams
        elif streams:
            ports[name] = streams[0]
    return ports


def _stocks(
    placed: PlacedStation,
    states: dict[str, State],
    collector: _Collector,
    flowsheet: Flowsheet,
    hours: casadi.SX,
) -> dict[str, StockState]:
    stocks = {}
    for name, declaration in placed.cls.stocks.items():
        kind = flowsheet.streams[placed.connections[declaration.like][0]]
        size = placed.cls.quantities[declaration.sized_by]
        mass = placed.entry.values.get(declaration.sized_by, size.guess)
        usual = kind.guess(1.0, mass)
        sides = {}
        for side in ("opening", "closing"):
            values = {}
            for component in kind.fields:
                if component in CONDITIONS:
                    continue
                values[component] = collector.add(
                    Variable(
                        name=f"{placed.name} {side}.{component}",
                        unit=COMPONENTS[component].replace("/h", ""),
                        guess=usual[component],
                        scale=max(usual[component], FLOW_FLOOR * collector.cane),
                        lower=-np.inf if component in CARRIED else 0.0,
                        upper=np.inf,
                        role="opening" if side == "opening" else "flow",
                        label=f"{placed.name}, {side} {declaration.label}, {in_words(component)}",
                    )
                )
            sides[side] = State(f"{placed.name} {side}", kind, values)
            states[sides[side].name] = sides[side]
        stocks[name] = StockState(sides["opening"], sides["closing"], hours)
    return stocks


def _eliminate(
    factory: Factory,
    flowsheet: Flowsheet,
    collector: _Collector,
    states: dict[str, State],
    equations: list[PlacedEquation],
    placed_stations: dict[str, Station],
    parameters: list[casadi.SX],
    parameter_names: list[str],
    parameter_values: list[float],
) -> Model:
    sides = [(placed.equation.left, placed.equation.right) for placed in equations]
    groups, kept = aliases(collector.symbols, sides)
    variables, index, symbols, replacement = [], {}, [], {}
    for new, members in enumerate(groups):
        merged = _merge([collector.variables[i] for i in members])
        variables.append(merged)
        symbol = casadi.SX.sym(merged.name)
        symbols.append(symbol)
        for i in members:
            index[collector.variables[i].name] = new
            replacement[i] = symbol
    old = casadi.vertcat(*collector.symbols)
    new_symbols = casadi.vertcat(*[replacement[i] for i in range(len(collector.symbols))])

    def renew(expressions: list[casadi.SX]) -> list[casadi.SX]:
        return casadi.substitute(expressions, [old], [new_symbols])

    flat: list[casadi.SX] = []
    for placed in equations:
        flat += [casadi.SX(placed.equation.left), casadi.SX(placed.equation.right)]
        if isinstance(placed.equation, Balance):
            flat += [casadi.SX(value) for value in placed.equation.less.values()]
            flat.append(casadi.SX(placed.equation.stock))
    for state in states.values():
        flat += list(state.values.values())
    renewed = iter(renew(flat))
    all_equations, kept_equations, residuals = [], [], []
    for number, placed in enumerate(equations):
        equation = placed.equation
        left, right = next(renewed), next(renewed)
        if isinstance(equation, Balance):
            less = {row: next(renewed) for row in equation.less}
            new_equation: Equation = Balance(
                equation.name, left, right, equation.component, less, next(renewed)
            )
        else:
            new_equation = Equation(equation.name, left, right)
        new_placed = PlacedEquation(placed.station, new_equation)
        all_equations.append(new_placed)
        if number in kept:
            kept_equations.append(new_placed)
            residuals.append(left - right)
    for state in states.values():
        state.values = {component: next(renewed) for component in state.values}
    for station in placed_stations.values():
        for name in station.quantities:
            full = f"{station.name}.{name}"
            if full in index:
                setattr(station, name, symbols[index[full]])
    return Model(
        factory=factory,
        flowsheet=flowsheet,
        variables=variables,
        index=index,
        symbols=casadi.vertcat(*symbols),
        residuals=casadi.vertcat(*residuals),
        parameters=casadi.vertcat(*parameters),
        parameter_names=parameter_names,
        parameter_values=np.array(parameter_values, dtype=float),
        equations=kept_equations,
        all_equations=all_equations,
        states=states,
        stations=placed_stations,
    )


_ROLE_ORDER = ("opening", "setting", "fitted", "result", "condition", "flow")


def _merge(members: list[Variable]) -> Variable:
    """One variable for several names: the chosen role leads, bounds are intersected."""
    leader = min(members, key=lambda member: _ROLE_ORDER.index(member.role))
    merged = Variable(**vars(leader))
    merged.other_names = [member.name for member in members if member is not leader]
    merged.lower = max(member.lower for member in members)
    merged.upper = min(member.upper for member in members)
    merged.guess = min(max(merged.guess, merged.lower), merged.upper)
    return merged
