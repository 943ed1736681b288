"""Figures of a period from what is added up over its shifts.

One rule for all: the figure's own formula, with every flow at its mean over the hours of the
period, the stocks as they were when the period began and ended, and the hours of the whole
period. A ratio of flows is then the ratio of their sums; a temperature or a coefficient is its
mean over the hours. Losses are ratios of the sums of their ledger rows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import casadi
import numpy as np

from canewright.engine.amounts import Amount
from canewright.engine.kkt import Matrix
from canewright.engine.nominal import stocks
from canewright.engine.reconcile import Reconciler
from canewright.engine.solution import Vector
from canewright.figures.boiling_house_figures import all_sugar
from canewright.figures.figure import Book, Figure, slug
from canewright.figures.ledgers import Ledger, LedgerRow, hours_of

HOURS = "hours"
RULES = {
    "sum": "sum over the shifts",
    "ratio": "ratio of sums over the shifts",
    "mean": "mean over the hours",
}
HEADLINE_LEDGER = "sucrose"
CHIEF = ("cane", "sucrose in mixed juice", "sucrose in sugar")
"""Amounts by which periods are compared."""


@dataclass(frozen=True)
class PeriodFigure:
    """A figure of a period.

    `rule` says how shifts make a period. `gradient` holds the derivatives with respect to the
    totals it was made from.
    """

    name: str
    label: str
    unit: str
    value: float
    sd: float
    rule: str
    gradient: Vector


class PeriodFigures:
    """What must be added up for the figures and ledgers of a period, and how it makes them.

    Parameters
    ----------
    reconciler : Reconciler
    ledgers : mapping of str to Ledger
    figures : mapping of str to Figure
        With the reconciler's relations.

    Attributes
    ----------
    amounts : list of Amount
        To be added up by a chain.
    """

    def __init__(
        self,
        reconciler: Reconciler,
        ledgers: Mapping[str, Ledger],
        figures: Mapping[str, Figure],
    ) -> None:
        self.reconciler = reconciler
        self.ledgers, self.figures = ledgers, figures
        self.amounts: list[Amount] = [Amount(HOURS, "h", hours_of(reconciler.model), headline=True)]
        self._rows()
        self._chief()
        self._states()
        self._compiled: dict[tuple[str, ...], tuple[list[tuple[str, str, str, str]], Any]] = {}

    def _rows(self) -> None:
        for name, ledger in self.ledgers.items():
            headline = name == HEADLINE_LEDGER
            self._add(f"{name}: base", ledger.unit, ledger.base, headline=headline)
            for side, rows in (("in", ledger.entering), ("out", ledger.leaving)):
                for row in rows:
                    self._add(
                        row_name(name, side, row), ledger.unit, row.expression, headline=headline
                    )
            for row in ledger.leaving:
                if row.kind == "undetermined" and headline:
                    for part in row.parts:
                        name_of_part = f"{row_name(name, 'out', row)}, {part.name}"
                        self._add(name_of_part, ledger.unit, part.expression, headline=True)

    def _chief(self) -> None:
        """Cane, and sucrose in mixed juice and in sugar: what two periods are compared by."""
        book = Book(self.reconciler.model, {}, self.ledgers)
        hours = book.hours
        cane, juice, sugar = book.stream("cane"), book.stream("mixed_juice"), all_sugar(book)
        if cane is None or juice is None or sugar is None:
            return
        self._add(CHIEF[0], "t", hours * cane.flow, headline=True)
        self._add(CHIEF[1], "t", hours * juice.all_sucrose, headline=True)
        self._add(CHIEF[2], "t", hours * sugar.all_sucrose, headline=True)

    def _add(self, name: str, unit: str, expression: Any, *, headline: bool) -> None:
        self.amounts.append(Amount(name, unit, expression, headline=headline))

    def _states(self) -> None:
        """Variables on which the figures depend, over the hours; stocks at both ends."""
        model, variables = self.reconciler.model, self.reconciler.variables
        loss = self._losses()
        expressions = [casadi.SX(f.expression) for n, f in self.figures.items() if n not in loss]
        pattern = casadi.jacobian(casadi.vertcat(*expressions), variables).sparsity()
        used = sorted(set(pattern.get_triplet()[1]))
        ends: dict[int, str] = {}
        for stock in stocks(model):
            for component in model.states[stock.opening].components:
                ends[model.position(f"{stock.opening}.{component}")] = "first"
                ends[model.position(f"{stock.closing}.{component}")] = "last"
        hours = hours_of(model)
        self._used: dict[int, str] = {}
        for place in used:
            name = f"{self.reconciler.problem.variable_names[place]} over the hours"
            self._used[place] = name
            symbol = variables[place]
            if place in ends:
                rule: Any = ends[place]
                self.amounts.append(Amount(name, "t", symbol, rule))
            else:
                self.amounts.append(Amount(name, "", hours * symbol))

    def _losses(self) -> dict[str, str]:
        """Figures of losses -> name of the amount they are a percentage of the base of."""
        ledger = self.ledgers.get(HEADLINE_LEDGER)
        found: dict[str, str] = {}
        if ledger is None:
            return found
        for row in ledger.leaving:
            if row.kind in ("product", "stock"):
                continue
            own = row_name(HEADLINE_LEDGER, "out", row)
            if row.kind == "undetermined":
                found["undetermined_loss"] = own
                if len(row.parts) > 1:
                    for part in row.parts:
                        found[f"undetermined_loss_{slug(part.name)}"] = f"{own}, {part.name}"
            else:
                found[f"loss_{slug(row.name)}"] = own
        return {name: amount for name, amount in found.items() if name in self.figures}

    def of(self, names: tuple[str, ...], mean: Vector, covariance: Matrix) -> list[PeriodFigure]:
        """Figures of a period that can be made from these totals.

        Parameters
        ----------
        names : tuple of str
            Of the amounts, in the order of the totals: all of them, or the headline ones.
        mean, covariance : array
            Of the totals.
        """
        kinds, function = self._function(names)
        values, gradients = (np.array(part) for part in function(mean))
        found = []
        for (name, label, unit, rule), value, gradient in zip(
            kinds, values.ravel(), gradients, strict=True
        ):
            usable = np.isfinite(value) and np.isfinite(gradient).all()
            variance = float(gradient @ covariance @ gradient) if usable else float("nan")
            found.append(
                PeriodFigure(
                    name, label, unit, float(value), float(np.sqrt(max(variance, 0.0))), rule,
                    gradient,
                )
            )  # fmt: skip
        return found

    def _function(self, names: tuple[str, ...]) -> tuple[list[tuple[str, str, str, str]], Any]:
        if names in self._compiled:
            return self._compiled[names]
        totals = casadi.SX.sym("totals", len(names))
        place = {name: i for i, name in enumerate(names)}
        hours = totals[place[HOURS]]
        model, variables = self.reconciler.model, self.reconciler.variables
        state = [variables[i] for i in range(variables.numel())]
        rules = {amount.name: amount.rule for amount in self.amounts}
        for i, name in self._used.items():
            if name in place:
                total = totals[place[name]]
                state[i] = total / hours if rules[name] == "sum" else total
        losses = self._losses()
        kinds, made = [], []
        whole = all(name in place for name in self._used.values())
        for name, figure in self.figures.items():
            if name in losses and losses[name] in place:
                base = totals[place[f"{HEADLINE_LEDGER}: base"]]
                kinds.append((name, figure.label, figure.unit, RULES["ratio"]))
                made.append(100 * totals[place[losses[name]]] / base)
            elif whole and name not in losses:
                kinds.append((name, figure.label, figure.unit, RULES[self._rule(figure)]))
                made.append(casadi.SX(figure.expression))
        stacked = casadi.vertcat(*made) if made else casadi.SX(0, 1)
        old = casadi.vertcat(variables, hours_of(model))
        (stacked,) = casadi.substitute([stacked], [old], [casadi.vertcat(*state, hours)])
        function = casadi.Function(
            "period",
            [totals, model.parameters],
            [casadi.densify(stacked), casadi.densify(casadi.jacobian(stacked, totals))],
        )
        sizes = model.parameter_values

        def evaluated(mean: Vector) -> tuple[Any, Any]:
            first, second = function(mean, sizes)
            return first, second

        self._compiled[names] = kinds, evaluated
        return self._compiled[names]

    def _rule(self, figure: Figure) -> str:
        """How shifts make a period, by what the figure depends on."""
        model = self.reconciler.model
        expression = casadi.SX(figure.expression)
        pattern = casadi.jacobian(expression, self.reconciler.variables).sparsity()
        places = set(pattern.get_triplet()[1])
        size = len(model.variables)
        roles = {model.variables[i].role for i in places if i < size}
        if roles & {"result", "condition", "fitted"}:
            return "mean"
        return "sum" if figure.unit == "t" else "ratio"


def row_name(ledger: str, side: str, row: LedgerRow) -> str:
    """Name of the amount of a ledger's row."""
    return f"{ledger} {side}: {row.name}"
