"""What to measure: the reading nobody took that would sharpen a figure most."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from canewright.engine.adjusting.explain import prior_in_words
from canewright.engine.adjusting.reconcile import Estimate
from canewright.engine.equations.points import Channel, Points
from canewright.laboratory.predictions import RELATIONS
from canewright.laboratory.reading import stream_class

WORTH_READING = 0.9
"""A reading is worth proposing if it brings the uncertainty below this part; our choice."""
PRIORS_TRIED = 3
"""Heaviest priors of a figure around which a reading is looked for."""
TELLS_OF_RELATIONS = ("sucrose", "dry_solids")
"""Analyses that say how pol and Brix relate to the state."""
LIQUID = ("juice", "syrup", "molasses")
"""Classes of streams whose volume a meter can tell."""
NOT_READ = ("undetermined",)
"""Quantities that no instrument shows."""


@dataclass(frozen=True)
class Hint:
    """A reading that nobody took and that would sharpen a figure.

    `sd` is the standard uncertainty that the figure would have with it; `instead_of` names
    what carries the figure now.
    """

    point: str
    analysis: str
    label: str
    sd: float
    instead_of: str


def what_to_measure(estimate: Estimate, expressions: Sequence[Any]) -> list[Hint | None]:
    """For each figure, the reading near its heaviest priors that would sharpen it most.

    Looked for among what can be read at the stations of those priors and on their streams,
    and is not read in this shift. Nothing where no such reading would help.

    Parameters
    ----------
    estimate : Estimate
    expressions : sequence of SX
        The figures.
    """
    if not expressions:
        return []
    values, gradients = estimate.evaluate(expressions)
    good = np.isfinite(values) & np.isfinite(gradients).all(axis=1)
    gradients = np.where(good[:, None], gradients, 0.0)
    near = _Near(estimate)
    wanted: list[dict[str, list[Channel]]] = []
    for influence, usable in zip(estimate.posterior.influences_of(gradients), good, strict=True):
        wanted.append(
            {name: near.channels(name) for name in _heaviest(estimate, influence.shares)}
            if usable
            else {}
        )
    channels = list({c.name: c for group in wanted for cs in group.values() for c in cs}.values())
    gains = _Gains(estimate, near.points, channels, gradients)
    return [gains.best(row, group) for row, group in enumerate(wanted)]


def _heaviest(estimate: Estimate, shares: np.ndarray) -> list[str]:
    problem = estimate.reconciler.problem
    prior = np.array([kind == "prior" for kind in problem.kinds])
    order = np.argsort(-np.where(prior, shares, 0.0), kind="stable")[:PRIORS_TRIED]
    return [problem.data_names[i] for i in order if prior[i] and shares[i] > 0]


class _Near:
    """What could be read around a station and is not."""

    def __init__(self, estimate: Estimate) -> None:
        self.points = Points(estimate.model)
        self._model = estimate.model
        self._read = {measurement.name for measurement in estimate.measurements}
        self._known: dict[str, list[Channel]] = {}

    def channels(self, prior: str) -> list[Channel]:
        """Channels at the station, or stock, that a prior belongs to."""
        if any(relation.label == prior for relation in RELATIONS.values()):
            found = self._at({m.split()[0] for m in self._read})
            return [channel for channel in found if channel.analysis in TELLS_OF_RELATIONS]
        owner = prior.split(",")[0] if "," in prior else prior.rpartition(".")[0]
        names = {owner}
        for placed in self._model.flowsheet.placed:
            stocks = {f"{placed.name} opening", f"{placed.name} closing"}
            if owner == placed.name or owner in stocks:
                names |= {placed.name, *stocks}
                names |= {stream for streams in placed.connections.values() for stream in streams}
        return self._at(point for point, name in self.points.owners.items() if name in names)

    def _at(self, points: Iterable[str]) -> list[Channel]:
        found = []
        for point in sorted(set(points)):
            if point not in self._known:
                self._known[point] = [
                    channel
                    for channel in self.points.analyses(point).values()
                    if channel.name not in self._read and self._can_be_read(channel)
                ]
            found += self._known[point]
        return found

    def _can_be_read(self, channel: Channel) -> bool:
        """Streams and stocks can be sampled; of a station only what people set is noted."""
        if channel.kind != "quantity":
            state = self.points.state(channel.owner)
            return state is not None and (
                channel.analysis != "volume" or stream_class(state.kind) in LIQUID
            )
        variable = self._model.variables[self._model.position(channel.owner)]
        return variable.role == "setting" and channel.analysis not in NOT_READ


class _Gains:
    """How sharp figures would be with one more reading each."""

    def __init__(
        self,
        estimate: Estimate,
        points: Points,
        channels: Sequence[Channel],
        gradients: np.ndarray,
    ) -> None:
        self._estimate = estimate
        self._place = {channel.name: k for k, channel in enumerate(channels)}
        self._count = len(gradients)
        predicted = [points.predict(c, estimate.reconciler.relations) for c in channels]
        values, slopes = (
            estimate.evaluate(predicted)
            if predicted
            else (np.zeros(0), np.zeros((0, gradients.shape[1])))
        )
        self._usable = np.isfinite(values) & np.isfinite(slopes).all(axis=1)
        slopes = np.where(self._usable[:, None], slopes, 0.0)
        self._joint = estimate.posterior.covariance(np.vstack([gradients, slopes]))
        self._noise = np.array(
            [_noise(c, value) for c, value in zip(channels, values, strict=True)]
        )

    def best(self, row: int, groups: dict[str, list[Channel]]) -> Hint | None:
        """The best reading for a figure: of the heaviest prior around which one helps."""
        now = float(np.sqrt(self._joint[row, row]))
        for prior, channels in groups.items():
            best: Hint | None = None
            for channel in channels:
                sd = self._with(row, self._place[channel.name])
                if sd < (best.sd if best else WORTH_READING * now):
                    words = prior_in_words(self._estimate, prior)[0]
                    best = Hint(channel.point, channel.analysis, channel.label, sd, words)
            if best is not None:
                return best
        return None

    def _with(self, row: int, place: int) -> float:
        column = self._count + place
        spread = self._joint[column, column] + self._noise[place]
        if not self._usable[place] or not np.isfinite(spread) or spread <= 0:
            return float("inf")
        left = self._joint[row, row] - self._joint[row, column] ** 2 / spread
        return float(np.sqrt(max(left, 0.0)))


def _noise(channel: Channel, value: float) -> float:
    """Variance of one reading of a channel, its calibration included."""
    parts = (
        (channel.random, channel.random_relative),
        (channel.bias, channel.bias_relative),
    )
    return float(sum((abs(value) * p / 100 if relative else p) ** 2 for p, relative in parts))
