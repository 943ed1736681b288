"""Thousands of scenarios of a whole factory in one call, each checked.

    table = scenarios(prepared, {"imbibition.imbibition_percent_fibre": values}, figures)

A scenario that Newton steps do not close goes to IPOPT, and is counted; one that IPOPT cannot
close, or that closes only outside what can be, is a row with its reason and without figures.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from canewright.engine.equations.nominal import Prepared
from canewright.engine.equations.settled import PAST_A_BOUND, Stocks
from canewright.engine.equations.simulate import TOLERANCE
from canewright.engine.scenarios.batch import (
    Batch,
    Expressions,
    Matrix,
    Vector,
    columns_of,
    make_batch,
)
from canewright.engine.scenarios.tape import LANES, Lanes
from canewright.engine.scenarios.tape_c import WIDE, Library, aligned, compiled

STEPS, FAR_STEPS, MOST_STEPS = 2, 3, 8
"""Newton steps before the first check, from a start moved to first order and from one that is
not; and steps in all."""
FEW = 12
"""Columns that differ up to which the start is moved to first order."""
AT_ONCE = 4096
"""Scenarios in memory at a time."""
RESCUED = 1e-7
"""Largest scaled residual of a scenario that IPOPT closed, as in a simulation."""


@dataclass
class Outcome:
    """What came out, a row a scenario.

    Attributes
    ----------
    given : dict
        The table as given.
    figures : dict
        Figure -> values; not a number where the scenario failed.
    reasons : list of str
        Empty where the scenario closed.
    rescued : int
        Scenarios that needed IPOPT and were closed by it.
    """

    given: dict[str, Vector]
    figures: dict[str, Vector]
    reasons: list[str]
    rescued: int = 0

    @property
    def failed(self) -> int:
        """Number of scenarios without an answer."""
        return sum(1 for reason in self.reasons if reason)

    def __len__(self) -> int:
        return len(self.reasons)


@dataclass
class Runner:
    """Runs a batch, compiled or not.

    Parameters
    ----------
    batch : Batch
    compile : bool or None
        Use a C compiler: True and False decide, None where one is there.
    threads : int, optional
        For compiled runs; the machine's when left out.

    Attributes
    ----------
    route : str
        "compiled" or "steps".
    """

    batch: Batch
    compile: bool | None = None
    threads: int | None = None
    route: str = field(init=False)

    def __post_init__(self) -> None:
        self._library: Library | None = None
        self._lanes: dict[str, Lanes] = {}
        path = compiled(self.batch.tapes) if self.compile in (True, None) else None
        if self.compile and path is None:
            raise RuntimeError("No C compiler made the scenarios' code; run without one.")
        if path is not None:
            threads = self.threads or os.cpu_count() or 1
            self._library = Library(path, self.batch.tapes, threads)
        self.route = "steps" if path is None else "compiled"

    def run(self, table: Mapping[str, npt.ArrayLike]) -> Outcome:
        """Solve every row of a table.

        Parameters
        ----------
        table : mapping
            Name -> a value for each scenario (or one for all): settings, performance, sizes.

        Raises
        ------
        KeyError
            For a name that cannot be set.
        ValueError
            If the columns differ in length.
        """
        columns = columns_of(self.batch, list(table))
        given = [np.atleast_1d(np.asarray(values, float)) for values in table.values()]
        values = [np.array(column) for column in np.broadcast_arrays(*given)]
        if any(column.ndim != 1 for column in values):
            raise ValueError("A column holds one value a scenario.")
        count = values[0].size if values else 1
        kept = dict(zip(table, values, strict=True))
        outcome = Outcome(kept, {n: np.full(count, np.nan) for n in self.batch.figure_names}, [])
        for first in range(0, count, AT_ONCE):
            part = slice(first, min(first + AT_ONCE, count))
            own = np.stack([v[part] for v in values]) if values else np.zeros((0, 1))
            todo = np.arange(own.shape[1])
            reasons = [""] * todo.size
            if self._library is not None:
                todo = self._whole(self._library, columns, own, outcome, part)
            if todo.size:
                self._rest(columns, own, todo, reasons, outcome, part)
            outcome.reasons += reasons
        return outcome

    def _whole(
        self,
        library: Library,
        columns: Sequence[int],
        own: Matrix,
        outcome: Outcome,
        part: slice,
    ) -> npt.NDArray[np.intp]:
        """Compiled: figures of those that close at once; places of the others."""
        batch = self.batch
        count = own.shape[1]
        groups = -(-count // WIDE)
        near = len(columns) <= FEW
        slopes = np.ascontiguousarray(batch.slopes[:, list(columns)].T) if near else None
        places = np.array(columns, dtype=np.int64)
        miss, excess = aligned((groups, WIDE)), aligned((groups, WIDE))
        figures = aligned((groups, len(batch.figure_names), WIDE))
        fixed = [batch.start, batch.given, places, slopes]
        fixed += [batch.weights, batch.lower, batch.upper, batch.scale]
        steps = STEPS if near else FAR_STEPS
        library.solve(steps, fixed, _grouped(own, groups), [miss, excess, figures])
        possible = self._possible(columns, own)
        good = (miss.ravel()[:count] < TOLERANCE) & (excess.ravel()[:count] <= PAST_A_BOUND)
        good &= possible
        table = figures.transpose(1, 0, 2).reshape(len(batch.figure_names), -1)[:, :count]
        for name, row in zip(batch.figure_names, table, strict=True):
            outcome.figures[name][part][good] = row[good]
        return np.flatnonzero(~good)

    def _possible(self, columns: Sequence[int], own: Matrix) -> npt.NDArray[np.bool_]:
        low = self.batch.given_lower[list(columns)][:, None]
        high = self.batch.given_upper[list(columns)][:, None]
        return np.asarray(((own >= low) & (own <= high) & np.isfinite(own)).all(axis=0))

    def _rest(
        self,
        columns: Sequence[int],
        own: Matrix,
        which: npt.NDArray[np.intp],
        reasons: list[str],
        outcome: Outcome,
        part: slice,
    ) -> None:
        """The long way for some columns: steps until each closes, then IPOPT, then a reason."""
        batch = self.batch
        own = own[:, which]
        given = np.repeat(batch.given[:, None], which.size, axis=1)
        given[list(columns)] = own
        own_reasons = self._impossible(given)
        todo = np.flatnonzero([not reason for reason in own_reasons])
        points = np.repeat(batch.start[:, None], which.size, axis=1)
        near = len(columns) <= FEW
        if near:
            for column, moved in zip(columns, own, strict=True):
                move = np.where(np.isfinite(moved), moved - batch.given[column], 0.0)
                points += batch.slopes[:, column][:, None] * move
        for k in self._newton(points, given, todo, STEPS if near else FAR_STEPS):
            own_reasons[k], points[:, k] = self._rescue(given[:, k])
            outcome.rescued += not own_reasons[k]
        excess = np.maximum(batch.lower[:, None] - points, points - batch.upper[:, None])
        worst = (excess / batch.scale[:, None]).max(axis=0)
        for k in np.flatnonzero(~(worst <= PAST_A_BOUND)).tolist():
            own_reasons[k] = own_reasons[k] or self._broken(points[:, k])
        good = np.flatnonzero([not reason for reason in own_reasons])
        figures = self._call("figures", points[:, good], given[:, good])
        for name, row in zip(batch.figure_names, figures, strict=True):
            outcome.figures[name][part.start + which[good]] = row
        for k, reason in zip(which.tolist(), own_reasons, strict=True):
            reasons[k] = reason

    def _impossible(self, given: Matrix) -> list[str]:
        batch = self.batch
        low, high = batch.given_lower[:, None], batch.given_upper[:, None]
        wrong = ~((given >= low) & (given <= high) & np.isfinite(given))
        reasons = [""] * given.shape[1]
        for k in np.flatnonzero(wrong.any(axis=0)).tolist():
            i = int(np.flatnonzero(wrong[:, k])[0])
            reasons[k] = (
                f"{batch.given_names[i]} is {given[i, k]:.6g}; it can be "
                f"{batch.given_lower[i]:g} to {batch.given_upper[i]:g}."
            )
        return reasons

    def _newton(
        self, points: Matrix, given: Matrix, todo: npt.NDArray[np.intp], first: int
    ) -> list[int]:
        """Solve the columns to do in place; those that do not close are given back.

        A column that has closed is left alone, so that it does not depend on the others.
        """
        for steps in (first, *([1] * (MOST_STEPS - first))):
            if not todo.size:
                break
            now, fixed = points[:, todo], given[:, todo]
            for _ in range(steps):
                now = self._call("step", now, fixed)
            misses = np.abs(self._call("check", now, fixed)) * self.batch.weights[:, None]
            size = misses.max(axis=0)
            points[:, todo] = now
            todo = todo[~(size < TOLERANCE)]
        return [int(k) for k in todo]

    def _rescue(self, given: Vector) -> tuple[str, Vector]:
        """IPOPT from the solved neighbour: a reason, if it fails too, and the point."""
        batch = self.batch
        try:
            answer = batch.rescue(
                x0=batch.start, p=given, lbx=batch.lower, ubx=batch.upper, lbg=0, ubg=0
            )
        except RuntimeError as error:
            return f"The equations cannot be computed: {str(error).splitlines()[0]}", batch.start
        misses = np.abs(np.array(answer["g"]).ravel())
        if np.all(misses < RESCUED):
            return "", np.array(answer["x"]).ravel()
        worst = int(np.argmax(np.nan_to_num(misses, nan=np.inf)))
        name = batch.equation_names[worst]
        return f"The equations do not close; furthest off is {name}.", batch.start

    def _broken(self, point: Vector) -> str:
        batch = self.batch
        below = (batch.lower - point) / batch.scale
        above = (point - batch.upper) / batch.scale
        i = int(np.argmax(np.nan_to_num(np.maximum(below, above), nan=np.inf)))
        low = below[i] > above[i]
        bound = batch.lower[i] if low else batch.upper[i]
        return (
            f"The factory cannot run so: {batch.labels[i]} would be {point[i]:.4g} "
            f"{batch.units[i]}, {'less' if low else 'more'} than the {bound:.4g} it can be."
        )

    # -- tapes ---------------------------------------------------------------------------------

    def _call(self, name: str, points: Matrix, given: Matrix) -> Matrix:
        """A tape's output (size, cases)."""
        count = points.shape[1]
        if count == 0:
            return np.zeros((sum(self.batch.tapes[name].sizes_out), 0))
        if self._library is not None:
            return self._compiled(name, points, given)
        lanes = self._lanes.get(name)
        if lanes is None:
            lanes = self._lanes[name] = Lanes(self.batch.tapes[name])
        result = np.empty((lanes.outputs[0].shape[0], count))
        for first in range(0, count, LANES):
            wide = min(LANES, count - first)
            for there, here in zip(lanes.inputs, (points, given), strict=True):
                there[:, :wide] = here[:, first : first + wide]
                there[:, wide:] = here[:, first : first + 1]
            lanes.run()
            result[:, first : first + wide] = lanes.outputs[0][:, :wide]
        return result

    def _compiled(self, name: str, points: Matrix, given: Matrix) -> Matrix:
        assert self._library is not None
        count = points.shape[1]
        groups = -(-count // WIDE)
        first, second = (_grouped(part, groups) for part in (points, given))
        out = aligned((groups, sum(self.batch.tapes[name].sizes_out), WIDE))
        self._library.run(name, first, second, out)
        return np.asarray(out.transpose(1, 0, 2).reshape(out.shape[1], -1)[:, :count])


def _grouped(values: Matrix, groups: int) -> Matrix:
    """(size, cases) -> (groups, size, WIDE), the last group filled up with its first case."""
    size, count = values.shape
    result = aligned((groups, size, WIDE))
    whole = count // WIDE
    result[:whole] = values[:, : whole * WIDE].reshape(size, whole, WIDE).transpose(1, 0, 2)
    if whole < groups:
        rest = values[:, whole * WIDE :]
        result[whole] = rest[:, :1]
        result[whole, :, : rest.shape[1]] = rest
    return result


def scenarios(
    prepared: Prepared,
    table: Mapping[str, npt.ArrayLike],
    expressions: Expressions,
    *,
    stocks: Stocks = "settled",
    compile: bool | None = None,
    threads: int | None = None,
) -> Outcome:
    """Solve a factory for every row of a table, from its usual point.

    Parameters
    ----------
    prepared : Prepared
    table : mapping
        Name -> a value for each scenario.
    expressions : callable
        From the model to figures by name.
    stocks, compile, threads
        See `make_batch` and `Runner`.
    """
    batch = make_batch(prepared.model, prepared.usual.values, expressions, stocks=stocks)
    return Runner(batch, compile, threads).run(table)


def any_expressions(names: Sequence[str]) -> Expressions:
    """Figures that are variables of the model, by name."""

    def expressions(model: Any) -> dict[str, Any]:
        return {name: model.symbols[model.position(name)] for name in names}

    return expressions
