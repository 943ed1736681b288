"""Streams and stocks of a mass balance, as tables."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import casadi
import numpy as np

from canewright.account import Account
from canewright.engine.adjusting.explain import statements
from canewright.figures.ledger import hours_of
from canewright.report.content import Column, Row, Table
from canewright.report.words import _
from canewright.report.writing_numbers import fixed, half_width, measured
from canewright.streams import DISSOLVED, State

SUCROSE = ("sucrose", "crystal")
SOLIDS = (*DISSOLVED, "crystal")


def total(state: State, members: tuple[str, ...]) -> Any:
    """Mass flow of several components of a stream. [t/h]."""
    return sum(state.values[name] for name in members if name in state.values)


def values_of(account: Account, expressions: Sequence[Any]) -> np.ndarray:
    """Values of expressions of the model's symbols, without their derivatives."""
    estimate = account.estimate
    model = estimate.model
    count = len(model.parameter_names)
    made = casadi.Function(
        "amounts",
        [model.symbols, model.parameters],
        [casadi.vertcat(*[casadi.SX(expression) for expression in expressions])],
    )
    given = np.asarray(estimate.solution.parameters).ravel()[:count]
    found = made(np.asarray(estimate.values), given)
    return np.array(casadi.densify(found)).ravel()


def _columns(first: str) -> tuple[Column, ...]:
    return (
        Column("name", first, "text", 2.8),
        Column("mass", _("mass, t"), "number"),
        Column("mass_half_width", "± 95 %", "number", 0.9),
        Column("solids", _("solids, %"), "number"),
        Column("sucrose_percent", _("sucrose, %"), "number"),
        Column("purity", _("purity, %"), "number"),
        Column("sucrose", _("sucrose, t"), "number"),
        Column("sucrose_half_width", "± 95 %", "number", 0.9),
    )


def _rows(account: Account, names: Sequence[str], over: Any) -> tuple[Row, ...]:
    """Rows of states; intervals of masses, and plain percentages."""
    states = [account.estimate.model.states[name] for name in names]
    masses: list[Any] = []
    shares: list[Any] = []
    for state in states:
        sucrose, solids, flow = total(state, SUCROSE), total(state, SOLIDS), state.flow
        masses += [flow * over, sucrose * over]
        shares += [100 * solids / flow, 100 * sucrose / flow, 100 * sucrose / solids]
    known = iter(statements(account.estimate, masses))
    percents: Iterator[float] = iter(values_of(account, shares).tolist() if shares else [])
    rows = []
    for name in names:
        mass, sucrose = next(known), next(known)
        rows.append(
            Row(
                (
                    name,
                    measured(mass.value, mass.sd),
                    half_width(mass.sd),
                    *(fixed(next(percents), 2) for _column in range(3)),
                    measured(sucrose.value, sucrose.sd),
                    half_width(sucrose.sd),
                )
            )
        )
    return tuple(rows)


def stream_table(account: Account) -> Table:
    """Every stream that holds sucrose: mass, solids, sucrose and true purity."""
    model = account.estimate.model
    hours = hours_of(model)
    streams = [
        name
        for name in model.flowsheet.streams
        if "sucrose" in model.states[name].values or "crystal" in model.states[name].values
    ]
    rows = _rows(account, streams, hours)
    notes = (
        _(
            "Over the period, in the order of the process. Solids are dissolved solids and "
            "crystal; purity is true purity, sucrose over solids."
        ),
    )
    return Table("streams", _("Streams"), _columns(_("stream")), rows, notes, _("No stream."))


def stock_table(account: Account) -> Table:
    """Opening and closing stocks: mass, solids, sucrose and true purity."""
    model = account.estimate.model
    names = [name for name in model.states if name not in model.flowsheet.streams]
    names = [name for name in names if name.endswith((" opening", " closing"))]
    names = [name for name in names if "sucrose" in model.states[name].values]
    rows = _rows(account, names, 1.0)
    empty = _("This factory keeps no stock that holds sucrose.")
    return Table("stocks", _("Stocks"), _columns(_("vessel")), rows, (), empty)
