"""The factory as a problem to be optimised: settings free, performance as found, money largest.

Unknown are the movable settings and everything that follows; performance parameters that an
assumed response links to a setting follow it. The equations are those of the balance, and the
stocks stand as in `settled`. IPOPT solves it from the point as found; the multipliers of its
answer are the shadow prices. Source: [own_derivation].
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import casadi
import numpy as np

from canewright.engine.advising.limits import Bound
from canewright.engine.advising.movable import Movable
from canewright.engine.advising.optimum import Best, Given
from canewright.engine.equations.model import Model
from canewright.engine.equations.responses import Link, Response
from canewright.engine.equations.settled import Matrix, Square, Vector
from canewright.engine.equations.simulate import SolveFailed

CLOSES = 1e-7
"""Largest scaled misfit of an equation at an answer."""
MISSED = 1e-6
"""Excess over a limit, relative to its size, that counts as passing it."""
ELASTIC = 1e4
"""Weight of a passed limit, by its size, where as little as possible is to be passed."""

_OPTIONS: dict[str, Any] = {
    "print_time": False,
    "error_on_fail": False,
    "ipopt.print_level": 0,
    "ipopt.sb": "yes",
    "ipopt.max_iter": 200,
    "ipopt.tol": 1e-9,
    "ipopt.acceptable_iter": 0,
    "ipopt.constr_viol_tol": 1e-9,
    "ipopt.bound_relax_factor": 0.0,
    "ipopt.mu_strategy": "adaptive",
    "ipopt.bound_push": 1e-8,
    "ipopt.bound_frac": 1e-8,
    "ipopt.warm_start_init_point": "yes",
    "ipopt.warm_start_bound_push": 1e-8,
    "ipopt.warm_start_mult_bound_push": 1e-8,
    "ipopt.mu_init": 1e-4,
}


class Program:
    """The optimisation of a factory, compiled once.

    Parameters
    ----------
    model : Model
    square : Square
        What is given and how stocks stand.
    links : sequence of Link
        Assumed responses.
    settings : sequence of Movable
    money : SX
        Money a day, of the model's symbols, its parameters and the relations.
    bounds : sequence of Bound
    relations : mapping
        Symbols of the relations.
    """

    def __init__(
        self,
        model: Model,
        square: Square,
        links: Sequence[Link],
        settings: Sequence[Movable],
        money: Any,
        bounds: Sequence[Bound],
        relations: Mapping[str, Any],
    ) -> None:
        self.model, self.square = model, square
        self.settings, self.bounds = list(settings), list(bounds)
        moved = {one.place for one in settings}
        self.links = [
            link for link in links if link.cause in moved and link.effect in set(square.held)
        ]
        self.responses = list(dict.fromkeys(link.response for link in self.links))
        self._compile(money, relations)

    # -- writing the problem ------------------------------------------------------------------

    def _compile(self, money: Any, relations: Mapping[str, Any]) -> None:
        model, square, count = self.model, self.square, len(self.bounds)
        scale = model.scale
        self._places = np.array([one.place for one in self.settings], dtype=np.intp)
        self._free_scale = scale[square.free]
        self._set_scale = scale[self._places]
        free = casadi.SX.sym("free", square.free.size)
        chosen = casadi.SX.sym("chosen", len(self.settings))
        passed = casadi.SX.sym("passed", count)
        held = casadi.SX.sym("held", square.held.size)
        targets = casadi.SX.sym("targets", len(square.rows))
        offsets = casadi.SX.sym("offsets", len(model.equations))
        slopes = casadi.SX.sym("slopes", len(self.responses))
        weights = casadi.SX.sym("weights", len(model.equations))
        row_weights = casadi.SX.sym("row weights", len(square.rows))
        worth = casadi.SX.sym("worth", 2)
        full: list[Any] = [None] * len(model.variables)
        order = {int(place): k for k, place in enumerate(square.held)}
        for place, k in order.items():
            full[place] = held[k]
        for k, one in enumerate(self.settings):
            full[one.place] = chosen[k] * self._set_scale[k]
        for link in self.links:
            slope = slopes[self.responses.index(link.response)]
            was, now = held[order[link.cause]], full[link.cause]
            change = now - was if link.response.by == "difference" else casadi.log(now / was)
            if link.response.moves == "points":
                full[link.effect] = full[link.effect] + slope * change
            else:
                full[link.effect] = full[link.effect] * casadi.exp(slope * change)
        for k, place in enumerate(square.free):
            full[int(place)] = free[k] * self._free_scale[k]
        whole = casadi.vertcat(*full)
        related = casadi.vertcat(*relations.values())
        parts = [
            weights * (model.residuals - offsets),
            *[
                row_weights[k]
                * (
                    sum(f * model.symbols[i] for i, f in zip(row.places, row.factors, strict=True))
                    - targets[k]
                )
                for k, row in enumerate(square.rows)
            ],
            *[
                (casadi.SX(bound.expression) - bound.sign * bound.scale * passed[k]) / bound.scale
                for k, bound in enumerate(self.bounds)
            ],
        ]
        inner = casadi.Function(
            "inner",
            [
                model.symbols,
                model.parameters,
                related,
                offsets,
                targets,
                weights,
                row_weights,
                passed,
            ],
            [casadi.vertcat(*parts), casadi.SX(money)],
        )
        sizes = casadi.SX.sym("sizes", model.parameters.numel())
        ties = casadi.SX.sym("ties", related.numel())
        constraints, earned = inner(
            whole, sizes, ties, offsets, targets, weights, row_weights, passed
        )
        self._full = casadi.Function("full", [free, chosen, held, slopes], [whole])
        given = casadi.vertcat(
            held, sizes, ties, targets, offsets, slopes, weights, row_weights, worth
        )
        nlp: dict[str, casadi.SX] = {
            "x": casadi.vertcat(free, chosen, passed),
            "p": given,
            "f": -worth[0] * earned + worth[1] * casadi.sum1(passed),
            "g": constraints,
        }
        self._solver = casadi.nlpsol("best", "ipopt", nlp, _OPTIONS)
        self._money = casadi.Function("money", [model.symbols, model.parameters, related], [money])
        self._slope = casadi.Function(
            "slope",
            [model.symbols, model.parameters, related],
            [casadi.densify(casadi.gradient(casadi.SX(money), model.symbols))],
        )
        self._limited = casadi.Function(
            "limited",
            [model.symbols, model.parameters, related],
            [casadi.vertcat(*[casadi.SX(bound.expression) for bound in self.bounds])],
        )

    # -- solving ------------------------------------------------------------------------------

    def limit_values(self, values: Vector, given: Given) -> Vector:
        """What is limited, at a point."""
        return np.array(self._limited(values, given.sizes, given.relations)).ravel()

    def money(self, values: Vector, given: Given) -> float:
        """Money a day at a point."""
        return float(self._money(values, given.sizes, given.relations))

    def money_gradient(self, values: Vector, given: Given) -> Vector:
        """Derivatives of money by all variables, nothing following."""
        return np.array(self._slope(values, given.sizes, given.relations)).ravel()

    def many(self, values: Matrix, sizes: Vector, relations: Matrix) -> tuple[Vector, Matrix]:
        """Money (draws) and what is limited (draws, l) at many points (draws, n)."""
        count = len(values)
        given = np.tile(sizes, (count, 1)).T
        arguments = (values.T, given, relations.T)
        money = np.array(self._money.map(count)(*arguments)).ravel()
        limited = np.array(casadi.densify(self._limited.map(count)(*arguments))).T
        return money, limited.reshape(count, len(self.bounds))

    def solve(
        self,
        given: Given,
        *,
        warm: Best | None = None,
        may_pass: Callable[[Bound], bool] | Vector | None = None,
        without: Sequence[int] = (),
        money: bool = True,
        elastic: float = ELASTIC,
    ) -> Best:
        """The settings that earn most.

        Parameters
        ----------
        given : Given
        warm : Best, optional
            A neighbouring answer to start from.
        may_pass : callable or array, optional
            Limits that may be passed (at a price that is paid only when nothing else is left),
            or by how much each may be, in its own unit.
        without : sequence of int
            Limits that are not there.
        money : bool
            False asks only that limits be kept.

        Raises
        ------
        SolveFailed
            If there is no answer.
        """
        begun = time.perf_counter()
        model, square = self.model, self.square
        start = given.values if warm is None else warm.values
        weights, row_weights = self._weights(start, given)
        held = given.values[square.held]
        level = max(abs(self.money(given.values, given)), 1.0)
        worth = (100.0 / level) if money else 0.0
        room = self._room(may_pass)
        x0 = np.concatenate(
            [
                start[square.free] / self._free_scale,
                np.clip(start[self._places], given.low, given.high) / self._set_scale,
                np.zeros(len(self.bounds)),
            ]
        )
        lower = [model.lower[square.free] / self._free_scale, given.low / self._set_scale]
        upper = [model.upper[square.free] / self._free_scale, given.high / self._set_scale]
        equal = np.zeros(len(model.equations) + len(square.rows))
        sizes = np.array([bound.scale for bound in self.bounds])
        gone = {*without, *given.absent}
        low = np.full(len(self.bounds), -np.inf)
        high = np.full(len(self.bounds), np.inf)
        for k, bound in enumerate(self.bounds):
            if k not in gone:
                ends = high if bound.side == "at most" else low
                ends[k] = given.limits[k] / sizes[k]
        arguments: dict[str, Any] = {
            "x0": x0,
            "p": np.concatenate(
                [
                    held,
                    given.sizes,
                    given.relations,
                    given.targets,
                    given.offsets,
                    given.slopes,
                    weights,
                    row_weights,
                    [worth, elastic],
                ]
            ),
            "lbx": np.concatenate([*lower, np.zeros(len(self.bounds))]),
            "ubx": np.concatenate([*upper, room / np.maximum(sizes, 1e-300)]),
            "lbg": np.concatenate([equal, low]),
            "ubg": np.concatenate([equal, high]),
        }
        if warm is not None and warm.warm:
            arguments |= {"lam_x0": warm.warm["lam_x"], "lam_g0": warm.warm["lam_g"]}
        answer = self._solver(**arguments)
        return self._read(answer, given, weights, row_weights, worth or 1.0, begun)

    def _room(self, may_pass: Callable[[Bound], bool] | Vector | None) -> Vector:
        if may_pass is None:
            return np.zeros(len(self.bounds))
        if callable(may_pass):
            return np.array([np.inf if may_pass(bound) else 0.0 for bound in self.bounds])
        return np.asarray(may_pass, dtype=float)

    def _weights(self, values: Vector, given: Given) -> tuple[Vector, Vector]:
        evaluator = self.model.evaluator
        _, entries = evaluator(values, given.sizes)
        largest = np.zeros(len(self.model.equations))
        np.maximum.at(
            largest, evaluator.rows, np.abs(entries * self.model.scale[evaluator.columns])
        )
        rows = np.array(
            [max(abs(self.model.scale[list(row.places)])) for row in self.square.rows], dtype=float
        )
        return 1 / np.maximum(largest, 1e-12), 1 / np.maximum(rows, 1e-12)

    def _read(
        self,
        answer: Mapping[str, Any],
        given: Given,
        weights: Vector,
        row_weights: Vector,
        worth: float,
        begun: float,
    ) -> Best:
        stats = self._solver.stats()
        x, pull = (np.array(answer[key]).ravel() for key in ("x", "lam_x"))
        multipliers, g = (np.array(answer[key]).ravel() for key in ("lam_g", "g"))
        first, second = self.square.free.size, len(self.settings)
        equations, rows = len(self.model.equations), len(self.square.rows)
        misses = np.abs(g[: equations + rows])
        if not (stats["success"] and np.all(misses < CLOSES)):
            raise SolveFailed(
                f"No best settings are found ({stats['return_status']}).",
                self._open(np.where(np.isfinite(misses), misses, np.inf)),
            )
        free, chosen, passed = x[:first], x[first : first + second], x[first + second :]
        values = np.array(
            self._full(free, chosen, given.values[self.square.held], given.slopes)
        ).ravel()
        sizes = np.array([bound.scale for bound in self.bounds])
        own = multipliers / worth
        return Best(
            values=values,
            money=self.money(values, given),
            settings=values[self._places],
            equation_prices=own[:equations] * weights,
            row_prices=own[equations : equations + rows] * row_weights,
            limit_prices=own[equations + rows :] / np.maximum(sizes, 1e-300),
            setting_prices=pull[first : first + second] / worth / self._set_scale,
            passed=np.where(passed > MISSED, passed, 0.0) * sizes,
            iterations=int(stats["iter_count"]),
            seconds=time.perf_counter() - begun,
            warm={"lam_x": pull, "lam_g": multipliers},
        )

    def _open(self, misses: Vector) -> list[str]:
        names = self.square.names
        return [f"{names[i]} (off by {misses[i]:.2g})" for i in np.argsort(-misses)[:6]]

    def slopes(self) -> Vector:
        """Slopes of the assumed responses."""
        return np.array([response.slope for response in self.responses])

    def response_sd(self) -> Vector:
        """Their standard deviations."""
        return np.array([response.sd for response in self.responses])

    def place_of(self, response: Response) -> int:
        """Place of a response among the slopes."""
        return self.responses.index(response)
