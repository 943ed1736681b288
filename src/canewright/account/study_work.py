"""The work of a study: what each scenario is given, by its number alone, and its figures.

Scenario i is point i // draws of the grid with draw i % draws. Every draw has its own random
numbers, so that a scenario is the same whoever works it out, in whatever company.
"""

from __future__ import annotations

import io
import itertools
import pickle
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from canewright.account.study_plan import Plan
from canewright.engine.equations.responses import Response
from canewright.engine.scenarios.batch import Batch
from canewright.engine.scenarios.scenarios import Outcome, Runner

Matrix = npt.NDArray[np.float64]
Places = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Answering:
    """A performance parameter that answers a varied setting: places among what is given."""

    response: Response
    cause: int
    effect: int


@dataclass
class Work:
    """Everything that a worker needs.

    Attributes
    ----------
    batch : Batch
    plan : Plan
    places : tuple of int
        Of the varied quantities among what is given, in the plan's order.
    middle, root : array (g), (g, z)
        What is drawn: middle + root z, z standard normal; no columns where nothing is.
    answering : tuple of Answering
    fingerprint : str
        Of the plan and the files it names.
    compile : bool
        Whether the scenarios' code is compiled.
    """

    batch: Batch
    plan: Plan
    places: tuple[int, ...]
    middle: npt.NDArray[np.float64]
    root: Matrix
    answering: tuple[Answering, ...]
    fingerprint: str
    compile: bool

    def __getstate__(self) -> dict[str, Any]:
        return {name: value for name, value in vars(self).items() if name != "runner"}

    @cached_property
    def runner(self) -> Runner:
        """The batch ready to run, on one thread: workers are the parallel part."""
        return Runner(self.batch, compile=self.compile, threads=1)

    @cached_property
    def grid(self) -> Matrix:
        """Values of the grid's quantities (points, quantities), the last quickest."""
        values = [vary.values for vary in self.plan.grid]
        return np.array(list(itertools.product(*values)), dtype=float).reshape(-1, len(values))

    def _drawn(self, draws: Sequence[int]) -> tuple[Matrix, Matrix, Matrix]:
        """What is given (g, d), varied draws (v, d) and slopes (a, d) of some draws."""
        batch, plan = self.batch, self.plan
        given = np.repeat(self.middle[:, None], len(draws), axis=1)
        own = [vary for vary in plan.vary if not vary.values]
        varied = np.zeros((len(own), len(draws)))
        responses = list(dict.fromkeys(item.response for item in self.answering))
        slopes = np.repeat([[r.slope] for r in responses], len(draws), axis=1).reshape(
            len(responses), len(draws)
        )
        for k, draw in enumerate(draws):
            rng = np.random.default_rng([plan.seed, draw])
            if self.root.shape[1]:
                given[:, k] += self.root @ rng.normal(size=self.root.shape[1])
            for v, vary in enumerate(own):
                if vary.normal is not None:
                    varied[v, k] = rng.normal(*vary.normal)
                elif vary.uniform is not None:
                    varied[v, k] = rng.uniform(*vary.uniform)
            if plan.uncertain != "nothing":
                for a, response in enumerate(responses):
                    slopes[a, k] = rng.normal(response.slope, response.sd)
        # What lies beyond what can be is moved to its edge.
        low, high = batch.given_lower[:, None], batch.given_upper[:, None]
        return np.clip(given, low, high), varied, slopes

    def given(self, first: int, last: int) -> tuple[dict[str, Matrix], Places]:
        """Columns of the scenarios from `first` up to `last`, and the draw of each."""
        plan, batch = self.plan, self.batch
        numbers = np.arange(first, last)
        points, draws = numbers // plan.draws, numbers % plan.draws
        unique, back = np.unique(draws, return_inverse=True)
        drawn, varied, slopes = self._drawn([int(draw) for draw in unique])
        table, slopes = drawn[:, back], slopes[:, back]
        before = table.copy()
        in_grid = in_draw = 0
        for place, vary in zip(self.places, plan.vary, strict=True):
            if vary.values:
                table[place] = self.grid[points, in_grid]
                in_grid += 1
            else:
                table[place] = varied[in_draw, back]
                in_draw += 1
        responses = list(dict.fromkeys(item.response for item in self.answering))
        for item in self.answering:
            slope = slopes[responses.index(item.response)]
            table[item.effect] = _answered(item, table, before, slope, batch)
        columns = set(self.places) | {item.effect for item in self.answering}
        columns |= set(np.flatnonzero(np.abs(self.root).any(axis=1)).tolist())
        return {batch.given_names[k]: table[k] for k in sorted(columns)}, draws

    def part(self, first: int, last: int) -> dict[str, npt.NDArray[Any]]:
        """Scenarios worked out: varied values, figures, reasons."""
        table, draws = self.given(first, last)
        outcome: Outcome = self.runner.run(table)
        result: dict[str, npt.NDArray[Any]] = {
            "scenario": np.arange(first, last),
            "draw": draws.astype(np.int64),
        }
        for place, vary in zip(self.places, self.plan.vary, strict=True):
            result[vary.name] = table[self.batch.given_names[place]]
        result.update(outcome.figures)
        result["reason"] = np.array(outcome.reasons, dtype=np.str_)
        result["rescued"] = np.array([outcome.rescued], dtype=np.int64)
        return result


def _answered(
    item: Answering, table: Matrix, before: Matrix, slope: Matrix, batch: Batch
) -> Matrix:
    response, effect = item.response, table[item.effect]
    was, now = before[item.cause], table[item.cause]
    change = now - was if response.by == "difference" else np.log(now / was)
    moved = effect + slope * change
    if response.moves == "share":
        moved = effect * np.exp(slope * change)
    low, high = batch.given_lower[item.effect], batch.given_upper[item.effect]
    return np.asarray(np.clip(moved, low, high))


def packed(part: dict[str, npt.NDArray[Any]]) -> bytes:
    """A part as the content of its file."""
    buffer = io.BytesIO()
    columns: dict[str, Any] = {f"c{k}": column for k, column in enumerate(part.values())}
    np.savez(buffer, **columns)
    return buffer.getvalue()


@lru_cache(maxsize=1)
def _loaded(path: Path, fingerprint: str) -> Work:
    work: Work = pickle.loads(path.read_bytes())
    assert work.fingerprint == fingerprint
    return work


def work_from_file(path: Path, fingerprint: str, first: int, last: int) -> bytes:
    """A part, worked out in a process that reads the work from its file once."""
    return packed(_loaded(path, fingerprint).part(first, last))


def work_sent(work: Work, first: int, last: int) -> bytes:
    """A part, worked out where the work was sent to."""
    return packed(work.part(first, last))
