"""What one shift hands to the next: stocks, calibrations, levels of performance, relations.

A shift's settings, performance, opening stocks, relations and biases are its inputs: everything
else follows from them by the equations. An input of a shift is its carried level plus a scatter
that is drawn anew in each shift. Stocks, relations and biases have no scatter. Levels, relations
and biases wander as a stationary first-order process, so that however long nothing is read their
variance never exceeds that of the prior; stocks pass on exactly.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.csgraph import structural_rank

from canewright.engine.adjusting.reconcile import INDEPENDENT, Reconciler
from canewright.engine.adjusting.solution import Vector
from canewright.engine.algebra.kkt import Matrix
from canewright.engine.equations.model import Model
from canewright.engine.equations.nominal import stocks
from canewright.engine.equations.simulate import SolveFailed, unmatched
from canewright.laboratory.readings import RELATIONS

LEVEL_SHARE = 0.5
"""Part of the prior variance of a setting or performance parameter that lasts as its level; the
rest is scatter from shift to shift [common_practice]."""
PARAMETER_DRIFT = 0.05
"""Wander of a level in one shift, in standard deviations of the level [common_practice]."""
BIAS_DRIFT = 0.03
"""Wander of an instrument's bias in one shift, in its standard uncertainties
[common_practice]."""
RELATION_DRIFT = 0.03
"""Wander of a relation in one shift, in standard deviations of its prior [common_practice]."""
UNKNOWN = 10.0
"""Standard deviation, in typical sizes, of an input of which nothing is known beforehand."""
UNKNOWN_STOCK = 1e4
"""The same of a stock, besides what its statements say."""


@dataclass(frozen=True)
class Step:
    """How the carried variables pass to the next shift: x' = keep x + (1 - keep) home + noise.

    `renewed` marks those that are drawn anew (stocks after a gap); `noise` is the variance
    added to each.
    """

    keep: Vector
    noise: Vector
    renewed: np.ndarray


def _inputs_give_the_rest(model: Model) -> None:
    """Refuse a factory whose equations hold too much in one place and too little in another."""
    evaluator = model.evaluator
    rest = [i for i, v in enumerate(model.variables) if v.role not in INDEPENDENT]
    pattern = sparse.csc_array(
        (np.ones(evaluator.rows.size), (evaluator.rows, evaluator.columns)), shape=evaluator.shape
    )[:, rest]
    if structural_rank(pattern) < len(rest):
        left = "; ".join(unmatched(model, rest)[:2])
        raise SolveFailed(
            f"Shifts of this factory cannot be chained: its settings, performance and opening "
            f"stocks do not by themselves give everything else ({left}). Its holds make up for "
            "that in a simulation; let a station decide it instead."
        )


class Carried:
    """The carried variables of a factory, in the order of its inputs.

    Parameters
    ----------
    reconciler : Reconciler
        Whose variables they are.

    Attributes
    ----------
    positions : array of int
        Place of each input among the reconciler's variables.
    names, kinds : list of str
        Name and kind of each: "level", "stock", "relation" or "bias".
    home, scatter : array
        Mean to which a variable returns, and variance of its scatter within a shift.
    closings : array of int
        For each stock, in the order of the stocks, the place of its closing among the
        reconciler's variables.

    Raises
    ------
    SolveFailed
        If the inputs do not give everything else, as where a hold decides what stations leave
        open.
    """

    def __init__(self, reconciler: Reconciler) -> None:
        _inputs_give_the_rest(reconciler.model)
        self.reconciler = reconciler
        model = reconciler.model
        size = len(model.variables)
        self.positions: np.ndarray
        positions, names, kinds, home, spread = [], [], [], [], []
        for place, variable in enumerate(model.variables):
            if variable.role not in ("setting", "fitted"):
                continue
            known = np.isfinite(variable.prior_sd) and variable.prior_sd > 0
            positions.append(place)
            names.append(variable.name)
            kinds.append("level")
            home.append(variable.prior_mean if known else variable.guess)
            spread.append(variable.prior_sd if known else UNKNOWN * variable.scale)
        closing = {}
        for stock in stocks(model):
            for component in model.states[stock.opening].components:
                opening = model.position(f"{stock.opening}.{component}")
                closing[opening] = model.position(f"{stock.closing}.{component}")
        for place, variable in enumerate(model.variables):
            if variable.role == "opening":
                positions.append(place)
                names.append(variable.name)
                kinds.append("stock")
                home.append(variable.guess)
                spread.append(UNKNOWN * variable.scale)
        for k, relation in enumerate(RELATIONS.values()):
            positions.append(size + k)
            names.append(relation.name)
            kinds.append("relation")
            home.append(relation.mean)
            spread.append(relation.sd)
        for k, instrument in enumerate(reconciler.instruments):
            positions.append(size + len(RELATIONS) + k)
            names.append(instrument)
            kinds.append("bias")
            home.append(0.0)
            spread.append(1.0)
        self.positions = np.array(positions)
        self.names, self.kinds = names, kinds
        self.home, self.spread = np.array(home), np.array(spread)
        self.is_level = self.of_kind("level")
        self.is_stock = self.of_kind("stock")
        self.closings = np.array([closing[p] for p in self.positions[self.is_stock]], dtype=int)
        self.scatter = np.where(self.is_level, (1 - LEVEL_SHARE) * self.spread**2, 0.0)
        drift = np.zeros(self.size)
        for kind, amount in (
            ("level", PARAMETER_DRIFT),
            ("relation", RELATION_DRIFT),
            ("bias", BIAS_DRIFT),
        ):
            drift[self.of_kind(kind)] = amount
        self.drift = drift

    @property
    def size(self) -> int:
        """Number of carried variables."""
        return len(self.names)

    def of_kind(self, kind: str) -> np.ndarray:
        """Mask of the carried variables of one kind."""
        return np.array([k == kind for k in self.kinds])

    @cached_property
    def variance(self) -> Vector:
        """Variance of each level, relation and bias when nothing has been read."""
        return np.asarray(np.where(self.is_level, LEVEL_SHARE, 1.0) * self.spread**2)

    @cached_property
    def _stocks_beforehand(self) -> tuple[Vector, Matrix]:
        """Mean and covariance of the opening stocks before any reading, from the statements.

        Shares of what is held are not linear in it: a Gaussian carries their tangent at the
        usual stock, so that far from it the first shift differs a little from a single balance.
        """
        problem = self.reconciler.problem
        places = self.positions[self.is_stock]
        start = self.reconciler.start(self.reconciler.model.guess)
        at = problem.linearise(start, self.reconciler.parameters())
        names = {statement.name for statement in self.reconciler.statements}
        rows = [i for i, name in enumerate(problem.data_names) if name in names]
        by_name = {statement.name: statement for statement in self.reconciler.statements}
        size = self.spread[self.is_stock]
        lead = at.data_jacobian.tocsr()[rows][:, places].toarray() * size
        chosen = [by_name[problem.data_names[i]] for i in rows]
        sd = np.array([statement.sd for statement in chosen])
        mean = np.array([statement.mean for statement in chosen])
        home = self.home[self.is_stock] / size
        weighted = lead / sd[:, None]
        information = weighted.T @ weighted + np.eye(places.size) / UNKNOWN_STOCK**2
        covariance = np.linalg.inv(information)
        centre = covariance @ (weighted.T @ (mean / sd) + home / UNKNOWN_STOCK**2)
        return centre * size, covariance * np.outer(size, size)

    def beforehand(self) -> tuple[Vector, Matrix]:
        """Mean and covariance before the first shift: the priors of a single balance."""
        mean, covariance = self.home.copy(), np.diag(self.variance)
        centre, spread = self._stocks_beforehand
        mean[self.is_stock] = centre
        covariance[np.ix_(self.is_stock, self.is_stock)] = spread
        for instrument, (bias, sd) in self.reconciler.calibrations.items():
            place = self.names.index(instrument)
            mean[place], covariance[place, place] = bias, sd**2
        return mean, covariance

    def step(self, elapsed: float, joined: bool) -> Step:
        """How the variables pass over a time.

        Parameters
        ----------
        elapsed : float
            From start to start, in shifts of the factory's usual length.
        joined : bool
            Whether one shift begins when the other ends. After a gap nobody knows what was
            drawn from the vessels: their stocks are as before any reading.
        """
        keep = (1 - self.drift**2) ** (elapsed / 2)
        noise = np.asarray((1 - keep**2) * self.variance)
        renewed = self.is_stock & (not joined)
        keep = np.where(self.is_stock, 1.0, keep)
        noise[self.is_stock] = 0.0
        return Step(keep, noise, renewed)

    @staticmethod
    def beside(cross: Matrix, step: Step) -> Matrix:
        """Cross-covariance of totals (rows) with the carried, after a step."""
        return np.asarray(cross * np.where(step.renewed, 0.0, step.keep))

    def passed(self, mean: Vector, covariance: Matrix, step: Step) -> tuple[Vector, Matrix]:
        """Mean and covariance after a step."""
        centre = step.keep * mean + (1 - step.keep) * self.home
        spread = covariance * np.outer(step.keep, step.keep)
        spread[np.diag_indices_from(spread)] += step.noise
        if step.renewed.any():
            first, stock = self._stocks_beforehand
            centre[step.renewed] = first
            spread[step.renewed, :] = 0.0
            spread[:, step.renewed] = 0.0
            spread[np.ix_(step.renewed, step.renewed)] = stock
        return centre, spread

    def priors(self, mean: Vector, covariance: Matrix) -> dict[str, tuple[float, float]]:
        """Levels and biases as priors of a single balance, by the names that it gives them."""
        sd = np.sqrt(np.diag(covariance))
        return {
            f"calibration of {name}" if kind == "bias" else name: (float(m), float(s))
            for name, kind, m, s in zip(self.names, self.kinds, mean, sd, strict=True)
            if kind in ("bias", "level")
        }
