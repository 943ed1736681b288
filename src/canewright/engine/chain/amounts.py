"""Amounts of a shift that are added up over periods, and their derivatives."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal

import casadi
import numpy as np
import scipy.sparse as sparse

from canewright.engine.adjusting.reconcile import Reconciler
from canewright.engine.adjusting.solution import Vector
from canewright.engine.algebra.bend import Bend
from canewright.engine.algebra.evaluate import Evaluator

Rule = Literal["sum", "first", "last"]


@dataclass(frozen=True)
class Amount:
    """What is added up: its expression over one shift, in `unit`.

    `rule` says what shifts make together: their sum, or the value of the first or the last of
    them (what a vessel held when the period began or ended). `headline` amounts are kept for
    every day, week and month; all of them for the period to date. Of a `first` one, `ends_as` is
    the name of the `last` one of the same vessel: across a gap what came or went unseen between
    the two is taken out, so that their difference stays that of the shifts that were added.
    """

    name: str
    unit: str
    expression: Any
    rule: Rule = "sum"
    headline: bool = False
    ends_as: str = ""


class Amounts:
    """Expressions of a reconciler's symbols with their derivatives, compiled once.

    Parameters
    ----------
    reconciler : Reconciler
    amounts : sequence of Amount
    """

    def __init__(self, reconciler: Reconciler, amounts: Sequence[Amount]) -> None:
        self.amounts = tuple(amounts)
        self.places = {amount.name: i for i, amount in enumerate(self.amounts)}
        if len(self.places) != len(self.amounts):
            raise ValueError("Two amounts have the same name.")
        given = casadi.vertcat(
            reconciler.model.parameters, casadi.SX.sym("unused", reconciler.sizes)
        )
        stacked = casadi.vertcat(*[casadi.SX(amount.expression) for amount in self.amounts])
        self._symbols = reconciler.variables, given, stacked
        self.evaluator = Evaluator(*self._symbols)

    def __len__(self) -> int:
        return len(self.amounts)

    @cached_property
    def bend(self) -> Bend:
        """How they bend; compiled when first asked for."""
        return Bend(*self._symbols)

    def at(self, point: Vector, parameters: Vector) -> tuple[Vector, sparse.csc_array]:
        """Values and sparse derivatives with respect to the reconciler's variables."""
        values, entries = self.evaluator(point, parameters)
        return values.copy(), self.evaluator.matrix(entries.copy())

    def chosen(self, headline: bool) -> np.ndarray:
        """Places of all amounts, or of the headline ones only."""
        return np.array(
            [i for i, amount in enumerate(self.amounts) if amount.headline or not headline],
            dtype=int,
        )
