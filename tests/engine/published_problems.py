"""The published problems of `data/reconciliation.json`, built for the engine."""

import json
from pathlib import Path

import casadi
import numpy as np
import pytest

from canewright.engine.adjusting.adjustment import Problem
from canewright.engine.adjusting.linear import LinearAdjustment
from canewright.engine.adjusting.posterior import Posterior
from canewright.engine.suspects.gross_errors import bias, loss

DATA = json.loads((Path(__file__).parent / "data" / "reconciliation.json").read_text("utf-8"))
PROBLEMS = {problem["id"]: problem for problem in DATA}


def decimals(value):
    text = repr(float(value))
    return len(text.split(".")[1].rstrip("0")) if "e" not in text else 6


def as_printed(expected, digits=None):
    """Equal to the digits printed, half of the last digit being the tolerance.

    Data files drop trailing zeros: an entry of a list has at least as many digits after the
    point as any larger entry, whether the list was printed to fixed decimals or figures.
    """
    if np.ndim(expected) == 0:
        digits = decimals(expected) if digits is None else digits
        return pytest.approx(expected, rel=0, abs=0.501 * 10**-digits)  # half of the last digit
    sizes = np.abs(np.asarray(expected, dtype=float))
    longest = [max(decimals(w) for w in np.array(expected)[sizes >= v]) for v in sizes]
    return [as_printed(v, d) for v, d in zip(expected, longest, strict=True)]


def matrix(rows, size):
    table = np.zeros((len(rows), size))
    for place, row in enumerate(rows):
        for term in row.split():
            factor, _, stream = term.rpartition("*")
            number = int(stream)
            table[place, abs(number) - 1] = float(factor or 1) * (1 if number > 0 else -1)
    return table


def uncertainties(problem):
    """Standard uncertainties; one source gives variances to three decimals instead.

    The data file holds their roots to six figures: 1.79833 is sqrt(3.234), and so on.
    """
    sd = np.array(problem["sd"])
    return np.sqrt(np.round(sd**2, 3)) if problem["id"] == "yang-1995" else sd


def linear(problem, read=None):
    """The engine's problem for a linear network, all or some streams read."""
    size = max(abs(int(t.rpartition("*")[2])) for r in problem["balance_rows"] for t in r.split())
    balances = matrix(problem["balance_rows"], size)
    z = casadi.SX.sym("z", size)
    streams = range(size) if read is None else [i - 1 for i in read]
    return Problem(
        z,
        casadi.mtimes(casadi.DM(balances), z),
        casadi.vertcat(*[z[i] for i in streams]),
        np.full(size, -np.inf),
        np.full(size, np.inf),
        np.maximum(np.abs(problem.get("readings", np.full(size, 50.0))), 1.0),
        data_names=[f"stream {i + 1}" for i in streams],
        constraint_names=[f"node {i + 1}" for i in range(len(balances))],
    )


def adjust(problem):
    built = linear(problem)
    solution = built.solve(problem["readings"], uncertainties(problem), problem["readings"])
    return built, solution, Posterior.at(built, solution)


def closed_form(problem):
    balances = matrix(problem["balance_rows"], len(problem["readings"]))
    return LinearAdjustment(balances, problem["readings"], uncertainties(problem))


def streams_and_nodes(built):
    return [bias(n) for n in built.data_names], [loss(n, [n]) for n in built.constraint_names]
