"""A station set up by itself, at its typical point, to be tested without a factory."""

from dataclasses import dataclass

import casadi
import numpy as np

from canewright.model import Balance, Equation, Station
from canewright.model.station import StockState
from canewright.streams import COMPONENTS, KINDS, State


@dataclass
class Alone:
    """One station's symbols, guesses and residuals, with what is given and what is free."""

    station: Station
    names: list[str]
    symbols: casadi.SX
    guess: np.ndarray
    lower: np.ndarray
    upper: np.ndarray
    free: list[int]
    equations: list[Equation]
    residuals: casadi.SX

    def solve(self, **given):
        """Values by name with the given ones set (dots written as double underscores)."""
        values = self.guess.copy()
        for name, value in given.items():
            values[self.names.index(name.replace("__", "."))] = value
        fixed = [i for i in range(len(self.names)) if i not in set(self.free)]
        z = casadi.vertcat(*[self.symbols[i] for i in self.free])
        p = casadi.vertcat(*[self.symbols[i] for i in fixed])
        scale = np.maximum(np.abs(values[self.free]), 1e-6)
        scaled = casadi.SX.sym("z", len(self.free))
        residuals = casadi.substitute(self.residuals, z, scaled * scale)
        jacobian = casadi.Function("j", [scaled, p], [casadi.jacobian(residuals, scaled)])
        rows = np.abs(np.array(jacobian(values[self.free] / scale, values[fixed]))).max(axis=1)
        solver = casadi.nlpsol(
            "alone",
            "ipopt",
            {"x": scaled, "p": p, "f": 0, "g": residuals / np.maximum(rows, 1e-9)},
            {"ipopt.print_level": 0, "ipopt.sb": "yes", "print_time": False, "ipopt.tol": 1e-10},
        )
        answer = solver(
            x0=values[self.free] / scale,
            p=values[fixed],
            lbg=0,
            ubg=0,
            lbx=self.lower[self.free] / scale,
            ubx=self.upper[self.free] / scale,
        )
        assert solver.stats()["success"], solver.stats()["return_status"]
        values[self.free] = np.array(answer["x"]).ravel() * scale
        return dict(zip(self.names, values, strict=True))

    def value(self, expression, solved):
        """Number of an expression of the station's symbols at a solved point."""
        function = casadi.Function("f", [self.symbols], [casadi.SX(expression)])
        return float(function([solved[name] for name in self.names]))

    def balances(self):
        return [equation for equation in self.equations if isinstance(equation, Balance)]


def alone(cls, *, kinds=None, connect_optional=False, several=2, cane=200.0, shares=None, **values):
    """Place a station by itself.

    kinds: port -> Kind, where a port takes several; shares: port -> t per t cane, to make a
    stream larger or smaller than usual; values: quantity -> value instead of the middle.
    """
    names, symbols, guess, lower, upper, given = [], [], [], [], [], []

    def add(name, typical, low, high, is_given):
        symbols.append(casadi.SX.sym(name))
        names.append(name)
        guess.append(typical)
        lower.append(low)
        upper.append(high)
        given.append(is_given)
        return symbols[-1]

    def state(name, kind, share, is_given, short):
        fields = {}
        for item, typical in kind.guess(cane, share).items():
            typical = cls.usual.get(f"{short}.{item}", typical)
            low, high = (0.0, np.inf) if item in COMPONENTS else getattr(kind, item)[::2]
            field_given = is_given and f"{short}.{item}" not in cls.demands
            fields[item] = add(f"{name}.{item}", typical, low, high, field_given)
        return State(name, kind, fields)

    streams, port_kinds = {}, {}
    for direction in ("in", "out"):
        for name, port in cls.ports.items():
            if port.direction != direction or (port.optional and not connect_optional):
                continue
            kind = (kinds or {}).get(name) or (
                port.kinds[0] if port.kinds else port_kinds.get(port.like) or KINDS["juice"]
            )
            port_kinds[name] = kind
            share = (shares or {}).get(name, port.share)
            is_given = direction == "in"
            if port.several:
                streams[name] = [
                    state(f"{name}{k}", kind, share, is_given, name) for k in range(several)
                ]
            else:
                streams[name] = state(name, kind, share, is_given, name)
    quantities = {}
    for name, quantity in cls.quantities.items():
        is_given = quantity.role != "result"
        middle = values.get(name, quantity.guess)
        quantities[name] = add(name, middle, *quantity.bounds, is_given)
    hours = casadi.SX(8.0)
    stocks = {}
    for name, declaration in cls.stocks.items():
        kind = port_kinds[declaration.like]
        sides = []
        for side in ("opening", "closing"):
            fields = {
                item: add(f"{side}.{item}", typical, 0.0, np.inf, side == "opening")
                for item, typical in kind.guess(
                    1.0, cls.quantities[declaration.sized_by].guess
                ).items()
                if item in COMPONENTS
            }
            sides.append(State(side, kind, fields))
        stocks[name] = StockState(*sides, hours)
    for supplied in cls.supplies:
        assert supplied in names, f"{cls.kind} supplies '{supplied}', which it does not have."
        given[names.index(supplied)] = True
    station = cls("alone", streams, quantities, stocks, hours)
    equations = [e if isinstance(e, Equation) else Equation(*e) for e in station.equations()]
    residuals = casadi.vertcat(*[casadi.SX(e.left) - e.right for e in equations])
    return Alone(
        station,
        names,
        casadi.vertcat(*symbols),
        np.array(guess, dtype=float),
        np.array(lower, dtype=float),
        np.array(upper, dtype=float),
        [i for i, is_given in enumerate(given) if not is_given],
        equations,
        residuals if equations else casadi.SX(0, 1),
    )
