"""A few stations joined by named streams and solved together, without a factory file."""

import casadi
import numpy as np

from canewright.model import Equation
from canewright.streams import COMPONENTS, State


def joined(stations, streams, given, cane=100.0):
    """Values by name of stations that share streams.

    stations: name -> (class, {port: stream or list of streams}, {quantity: value});
    quantities that are not results and not named stand at the middle of their range.
    streams: name -> kind. given: "stream.component" -> value. Everything else is solved for.
    """
    names, symbols, guess, lower, upper = [], [], [], [], []

    def add(name, typical, low, high):
        names.append(name)
        symbols.append(casadi.SX.sym(name))
        guess.append(float(given.get(name, typical)))
        lower.append(low)
        upper.append(high)
        return symbols[-1]

    states = {}
    for stream, kind in streams.items():
        fields = {}
        for item, typical in kind.guess(cane).items():
            bounds = (0.0, np.inf) if item in COMPONENTS else getattr(kind, item)[::2]
            fields[item] = add(f"{stream}.{item}", typical, *bounds)
        states[stream] = State(stream, kind, fields)
    fixed = set()
    equations = []
    for name, (cls, ports, values) in stations.items():
        unknown = set(values) - set(cls.quantities)
        assert not unknown, f"{cls.kind} has no {unknown}"
        quantities = {}
        for item, quantity in cls.quantities.items():
            value = values.get(item, quantity.guess)
            quantities[item] = add(f"{name}.{item}", value, *quantity.bounds)
            if quantity.role != "result":
                fixed.add(len(names) - 1)
        connected = {
            port: [states[s] for s in stream] if isinstance(stream, list) else states[stream]
            for port, stream in ports.items()
        }
        equations += [
            item if isinstance(item, Equation) else Equation(*item)
            for item in cls(name, connected, quantities).equations()
        ]
    fixed |= {names.index(name) for name in given}
    free = [k for k in range(len(names)) if k not in fixed]
    assert len(free) == len(equations), f"{len(equations)} equations, {len(free)} unknowns"
    return _solved(names, symbols, guess, lower, upper, free, equations)


def _solved(names, symbols, guess, lower, upper, free, equations):
    values, lower, upper = np.array(guess), np.array(lower), np.array(upper)
    scale = np.maximum(np.abs(values), 1e-4)
    z = casadi.SX.sym("z", len(free))
    full = [casadi.SX(value) for value in values]
    for k, position in enumerate(free):
        full[position] = z[k] * scale[position]
    residuals = casadi.vertcat(*[casadi.SX(e.left) - e.right for e in equations])
    residuals = casadi.substitute(residuals, casadi.vertcat(*symbols), casadi.vertcat(*full))
    start = values[free] / scale[free]
    jacobian = casadi.Function("j", [z], [casadi.jacobian(residuals, z)])
    rows = np.abs(np.array(jacobian(start))).max(axis=1)
    solver = casadi.nlpsol(
        "joined",
        "ipopt",
        {"x": z, "f": 0, "g": residuals / np.maximum(rows, 1e-9)},
        {"ipopt.print_level": 0, "ipopt.sb": "yes", "print_time": False, "ipopt.tol": 1e-10},
    )
    bounds = {"lbx": lower[free] / scale[free], "ubx": upper[free] / scale[free]}
    answer = solver(x0=start, lbg=0, ubg=0, **bounds)
    assert solver.stats()["success"], solver.stats()["return_status"]
    values[free] = np.array(answer["x"]).ravel() * scale[free]
    return dict(zip(names, values, strict=True))


def flow(solved, stream):
    """Mass flow of a solved stream, t/h."""
    mass = [name for name, unit in COMPONENTS.items() if unit == "t/h"]
    return sum(solved.get(f"{stream}.{name}", 0.0) for name in mass)
