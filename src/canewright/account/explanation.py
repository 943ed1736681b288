"""The explanation of one figure: value, readings behind it, equations, sources."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import casadi

from canewright import registry
from canewright.account.account import Account
from canewright.engine.adjusting.explain import Contribution, Statement, explain, statement
from canewright.engine.equations.points import Channel, Points
from canewright.engine.measuring.what_to_measure import Hint, what_to_measure
from canewright.files.problems import known_names
from canewright.laboratory.bench import BenchResult
from canewright.laboratory.standing import Standing
from canewright.registry import Formula, Source


@dataclass(frozen=True)
class Explanation:
    """What one figure rests on.

    Attributes
    ----------
    name, label, unit, definition : str
    statement : Statement
    contributions : list of Contribution
        The largest share of the variance first.
    formula : Formula or None
        The registered formula, where it is one.
    sources : list of Source
    made_of : list of str
        Flows, conditions and quantities in the figure's own expression.
    equations : list of str
        Equations of the stations in which those stand.
    hint : Hint or None
        What to measure, where the figure is not determined.
    bench : dict
        Readings behind it that were worked from raw readings of the bench, by name.
    instruments : list of Standing
        Instruments behind it of whose bias something is known.
    """

    name: str
    label: str
    unit: str
    definition: str
    statement: Statement
    contributions: list[Contribution]
    formula: Formula | None
    sources: list[Source]
    made_of: list[str]
    equations: list[str]
    hint: Hint | None
    bench: dict[str, BenchResult] = field(default_factory=dict)
    instruments: list[Standing] = field(default_factory=list)


def explanation(account: Account, asked: str) -> Explanation:
    """Explain a figure, what a reading should be, or any quantity of the factory.

    Parameters
    ----------
    account : Account
    asked : str
        A figure's name; a reading as `point analysis`; or `station.quantity`.

    Raises
    ------
    LookupError
        If nothing is called so, naming what is nearest.
    ValueError
        If the figure has no value in this shift.
    """
    name, label, unit, definition, expression, formula, keys = _found(account, asked)
    estimate = account.estimate
    known = statement(estimate, expression)
    hint = None if known.determined else what_to_measure(estimate, [expression])[0]
    bibliography = registry.sources()
    contributions = explain(estimate, expression)
    behind = [name, *[part.name for part in contributions]]
    made_of = sorted({str(symbol) for symbol in casadi.symvar(casadi.SX(expression))})
    return Explanation(
        name,
        label,
        unit,
        definition,
        known,
        contributions,
        formula,
        [bibliography[key] for key in keys if key in bibliography],
        made_of,
        _equations(account, set(made_of)),
        hint,
        {one: account.bench[one] for one in dict.fromkeys(behind) if one in account.bench},
        [known for known in account.instruments if _carries(known, behind, account)],
    )


def _carries(known: Standing, behind: Sequence[str], account: Account) -> bool:
    """Whether an instrument read something of what a figure rests on."""
    if f"calibration of {known.instrument}" in behind:
        return True
    channels = account.estimate.reconciler.channels
    return any(one.instrument == known.instrument and one.name == behind[0] for one in channels)


def _found(
    account: Account, asked: str
) -> tuple[str, str, str, str, Any, Formula | None, tuple[str, ...]]:
    figure = account.figures.get(asked)
    if figure is not None:
        formula = registry.formulas()[figure.formula] if figure.formula else None
        return (
            figure.name,
            figure.label,
            figure.unit,
            figure.definition,
            figure.expression,
            formula,
            figure.sources,
        )
    channel = _channel(account, asked)
    if channel is not None:
        expression = Points(account.estimate.model).predict(
            channel, account.estimate.reconciler.relations
        )
        words = f"What {channel.analysis} of {channel.point} should read, without bias."
        return (channel.name, channel.label, channel.unit, words, expression, None, ())
    model = account.estimate.model
    if asked in model.index:
        variable = model.variables[model.position(asked)]
        symbol = model.symbols[model.position(asked)]
        words = "As the balance found it."
        return (asked, variable.label or asked, variable.unit, words, symbol, None, ())
    names = [*account.figures, *[line.name for line in account.readings], *model.index]
    raise LookupError(f"No figure is called '{asked}'. {known_names(asked, names, 'figures')}")


def _channel(account: Account, asked: str) -> Channel | None:
    point, _, analysis = asked.strip().partition(" ")
    try:
        return Points(account.estimate.model).channel(point, analysis)
    except KeyError:
        return None


def _equations(account: Account, made_of: set[str]) -> list[str]:
    """Equations in which the figure's own variables stand, by station."""
    found = []
    for placed in account.estimate.model.equations:
        equation = placed.equation
        symbols = casadi.symvar(casadi.SX(equation.left) - casadi.SX(equation.right))
        if made_of & {str(symbol) for symbol in symbols}:
            found.append(placed.name)
    return found
