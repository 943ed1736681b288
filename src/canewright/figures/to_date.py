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

from canewright.engine.adjusting.influences import DETERMINED_UP_TO
from canewright.engine.adjusting.reconcile import Reconciler
from canewright.engine.adjusting.solution import Vector
from canewright.engine.algebra.kkt import Matrix
from canewright.engine.chain.amounts import Amount, Rule
from canewright.engine.chain.prior_spread import PriorSpread
from canewright.engine.equations.nominal import stocks
from canewright.figures.boiling_house_figures import all_sugar
from canewright.figures.figure import Book, Figure, slug
from canewright.figures.ledger import Ledger, LedgerRow, hours_of

HOURS = "hours"
RULES = {
    "sum": "sum over the shifts",
    "ratio": "ratio of sums over the shifts",
    "mean": "mean over the hours",
}
HEADLINE_LEDGER = "sucrose"
DRAWN, SPREAD, SAME = 4, 0.2, 1e-12
"""Points drawn to see which variables enter figures alike, how far from the usual one, and the
difference of two derivatives, of the largest, that is rounding; our choice."""
CHIEF = ("cane", "sucrose in mixed juice", "sucrose in sugar")
"""Amounts by which periods are compared."""


@dataclass(frozen=True)
class PeriodFigure:
    """A figure of a period.

    `rule` says how shifts make a period. `gradient` holds the derivatives with respect to the
    totals it was made from. `prior_share` is the share of what is known of it that priors alone
    would give, nan where nobody asked.
    """

    name: str
    label: str
    unit: str
    value: float
    sd: float
    rule: str
    gradient: Vector
    prior_share: float = float("nan")

    @property
    def determined(self) -> bool:
        """Whether readings bring more of what is known of it than priors do."""
        return bool(np.isfinite(self.sd)) and not self.prior_share > DETERMINED_UP_TO


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
        To be added up by a chain. Variables that enter every figure alike (the components of a
        stream of which only the flow counts) are added up together.
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
        ends: dict[int, Rule] = {}
        closing: dict[int, int] = {}
        for stock in stocks(model):
            for component in model.states[stock.opening].components:
                opens = model.position(f"{stock.opening}.{component}")
                closing[opens] = model.position(f"{stock.closing}.{component}")
                ends[opens], ends[closing[opens]] = "first", "last"
        hours = hours_of(model)
        names = self.reconciler.problem.variable_names
        self._used: dict[str, list[int]] = {}
        groups = alike(self.reconciler, casadi.vertcat(*expressions), ends)
        named = {
            frozenset(group): " + ".join(names[place] for place in group) + " over the hours"
            for group in groups
        }
        for group in groups:
            first, name = group[0], named[frozenset(group)]
            self._used[name] = group
            whole = sum(variables[place] for place in group[1:]) + variables[first]
            if first in ends:
                same = frozenset(closing.get(place, -1) for place in group)
                self.amounts.append(
                    Amount(name, "t", whole, ends[first], ends_as=named.get(same, ""))
                )
            else:
                self.amounts.append(Amount(name, "", hours * whole))

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

    def of(
        self,
        names: tuple[str, ...],
        mean: Vector,
        covariance: Matrix,
        prior: PriorSpread | None = None,
        chosen: np.ndarray | None = None,
    ) -> list[PeriodFigure]:
        """Figures of a period that can be made from these totals.

        Parameters
        ----------
        names : tuple of str
            Of the amounts, in the order of the totals: all of them, or the headline ones.
        mean, covariance : array
            Of the totals.
        prior : PriorSpread, optional
            Says what priors alone would give.
        chosen : array of int, optional
            Places of the totals among all amounts; all of them when left out.
        """
        kinds, function = self._function(names)
        values, gradients = (np.array(part) for part in function(mean))
        values = values.ravel()
        usable = np.isfinite(values) & np.isfinite(gradients).all(axis=1)
        safe = np.where(usable[:, None], gradients, 0.0)
        variances = np.maximum(((safe @ covariance) * safe).sum(axis=1), 0.0)
        nothing = np.full(values.size, np.nan)
        shares = nothing if prior is None else prior.share(safe, variances, chosen)
        sd = np.where(usable, np.sqrt(variances), np.nan)
        found = []
        for place, (name, label, unit, rule) in enumerate(kinds):
            value, own, share = (float(part[place]) for part in (values, sd, shares))
            found.append(PeriodFigure(name, label, unit, value, own, rule, gradients[place], share))
        return found

    def declared(self, names: tuple[str, ...]) -> list[tuple[str, str, str, str]]:
        """Name, label, unit and rule of the figures that `of` makes of these totals."""
        return self._function(names)[0]

    def _function(self, names: tuple[str, ...]) -> tuple[list[tuple[str, str, str, str]], Any]:
        if names in self._compiled:
            return self._compiled[names]
        totals = casadi.SX.sym("totals", len(names))
        place = {name: i for i, name in enumerate(names)}
        hours = totals[place[HOURS]]
        model, variables = self.reconciler.model, self.reconciler.variables
        state = [variables[i] for i in range(variables.numel())]
        rules = {amount.name: amount.rule for amount in self.amounts}
        for name, group in self._used.items():
            if name not in place:
                continue
            total = totals[place[name]] / len(group)
            for i in group:  # only their sum counts
                state[i] = total / hours if rules[name] == "sum" else total
        losses = self._losses()
        kinds, made = [], []
        whole = all(name in place for name in self._used)
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


def alike(reconciler: Reconciler, expressions: Any, apart: Mapping[int, str]) -> list[list[int]]:
    """Places of the variables that enter expressions, those together that enter them alike.

    Two variables enter alike where every expression has the same derivative by both at several
    points drawn around the usual one: then only their sum counts.

    Parameters
    ----------
    reconciler : Reconciler
        Whose variables they are.
    expressions : SX
    apart : mapping
        Place -> word; variables of different words are never put together.
    """
    model, variables = reconciler.model, reconciler.variables
    jacobian = casadi.jacobian(expressions, variables)
    used = sorted(set(jacobian.sparsity().get_triplet()[1]))
    derivatives = casadi.Function("alike", [variables, model.parameters], [jacobian])
    start = reconciler.start(model.guess)
    scale = np.maximum(np.abs(start), 1e-3)
    drawn = np.random.default_rng(1)
    seen = []
    for _ in range(DRAWN):
        point = start + SPREAD * scale * drawn.uniform(0.1, 1.0, size=start.size)
        seen.append(casadi.densify(derivatives(point, model.parameter_values)).full()[:, used])
    rows = np.vstack(seen)
    size = np.abs(rows).max(axis=1, keepdims=True)
    rows = rows / np.where(size > 0, size, 1.0)
    groups: list[list[int]] = []
    for column, place in enumerate(used):
        same = (
            group
            for group in groups
            if apart.get(group[0]) == apart.get(place)
            and np.allclose(rows[:, used.index(group[0])], rows[:, column], rtol=0, atol=SAME)
        )
        found = next(same, None)
        if found is None:
            groups.append([place])
        else:
            found.append(place)
    return groups
