"""What to measure next: how much one more reading or a calibration narrows an interval.

With V the posterior covariance, g the gradient of a figure, a that of a candidate reading and
r its variance, the reading leaves the variance gVg' - (gVa')^2/(aVa' + r): a rank-one update,
exact for what is linear. A reading repeated sees the instrument's common error again; a
calibration sees nothing else. Source: [own_derivation].
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, Literal

import numpy as np

from canewright.engine.adjusting.explain import CALIBRATION, COVERAGE
from canewright.engine.adjusting.reconcile import Estimate
from canewright.engine.equations.points import Channel, Points
from canewright.engine.equations.settled import Matrix, Vector
from canewright.laboratory.readings import READINGS

Kind = Literal["new reading", "repeat", "calibration"]

NARROWS = 0.005
"""Relative narrowing below which a candidate is not worth naming; our choice."""
NOT_SAMPLED = ("vapour", "steam", "gas", "power")
"""Kinds of streams that nobody takes a sample of."""
TWICE_SAID = ("mass", "flow", "volume")
"""Analyses that another one says already: weight, or the volume that a dip tells."""
INSTALLED = ("weight", "energy")
"""Readings that need an instrument that is there: one that the factory file names. What it
has counted over the shift cannot be counted again."""
NOT_SHOWN = ("undetermined", "share", "closing_mass", "dispatch")
"""Settings that nothing shows directly."""
PAST = "_opening"
"""Ending of a point whose dip was the last shift's to take."""


@dataclass(frozen=True)
class Candidate:
    """One more reading or a calibration, and what it does to a figure's uncertainty.

    `sd_before` and `sd_after` are standard uncertainties of the figure; `cost_hours` the hours
    of an analyst.
    """

    kind: Kind
    point: str
    analysis: str
    label: str
    cost_hours: float
    value: float
    sd_before: float
    sd_after: float

    @property
    def interval_before(self) -> tuple[float, float]:
        """95 % interval of the figure now."""
        return self.value - COVERAGE * self.sd_before, self.value + COVERAGE * self.sd_before

    @property
    def interval_after(self) -> tuple[float, float]:
        """With the reading: as wide, around today's value."""
        return self.value - COVERAGE * self.sd_after, self.value + COVERAGE * self.sd_after

    @property
    def narrowing(self) -> float:
        """Part of the interval that goes. 0 to 1."""
        return 1 - self.sd_after / self.sd_before if self.sd_before > 0 else 0.0

    @property
    def per_hour(self) -> float:
        """That part per hour of an analyst."""
        return self.narrowing / self.cost_hours


@cache
def costs() -> dict[str, Any]:
    """Hours of an analyst. See `laboratory_hours.toml`."""
    folder = resources.files("canewright.engine.measuring")
    return tomllib.loads(folder.joinpath("laboratory_hours.toml").read_text("utf8"))


@dataclass(frozen=True)
class _Offer:
    kind: Kind
    point: str
    analysis: str
    label: str
    cost: float
    gradient: Vector
    noise: float


class Measuring:
    """Candidates around one estimate.

    Parameters
    ----------
    estimate : Estimate
    """

    def __init__(self, estimate: Estimate) -> None:
        self.estimate = estimate
        self._reconciler = estimate.reconciler
        self._points = Points(estimate.model)
        self._size = self._reconciler.problem.size
        count = len(estimate.model.variables) + len(self._reconciler.relations)
        self._bias = {name: count + k for k, name in enumerate(self._reconciler.instruments)}
        self._installed = {one.name for one in estimate.model.factory.instruments}
        self.offers = [*self._repeats(), *self._unread(), *self._calibrations()]

    def _repeats(self) -> list[_Offer]:
        problem, solution = self._reconciler.problem, self.estimate.solution
        rows = problem.linearise(solution.z, solution.parameters).data_jacobian.tocsr()
        read = {measurement.name: measurement for measurement in self.estimate.measurements}
        found = []
        for k, channel in enumerate(self._reconciler.channels):
            measured = read.get(channel.name)
            hours = _hours(channel)
            if measured is None or hours is None or not np.isfinite(solution.sd[k]):
                continue
            if channel.analysis in INSTALLED or channel.point.endswith(PAST):
                continue
            alone = float(solution.sd[k]) ** 2
            if channel.several == "mean":
                alone *= measured.count
            row = np.asarray(rows[[k]].todense()).ravel()
            found.append(
                _Offer("repeat", channel.point, channel.analysis, channel.label, hours, row, alone)
            )
        return found

    def _unread(self) -> list[_Offer]:
        read = {measurement.name for measurement in self.estimate.measurements}
        channels: dict[str, Channel] = {}
        seen: set[tuple[str, str]] = set()
        for point in self._points.owners:
            for channel in self._points.analyses(point).values():
                key = (channel.owner, channel.analysis)
                if channel.name in read or key in seen or not self._can_be_read(channel):
                    continue
                seen.add(key)
                channels[channel.name] = channel
        listed = [c for c in channels.values() if _hours(c) is not None]
        if not listed:
            return []
        values, gradients = self.estimate.evaluate(
            [self._points.predict(c, self._reconciler.relations) for c in listed]
        )
        found = []
        for channel, value, row in zip(listed, values, gradients, strict=True):
            if not (np.isfinite(value) and np.isfinite(row).all()):
                continue
            if not channel.low <= value <= channel.high:
                continue
            gradient, noise = row.copy(), _size(channel.random, channel.random_relative, value) ** 2
            common = _size(channel.bias, channel.bias_relative, value)
            if channel.instrument in self._bias:
                gradient[self._bias[channel.instrument]] += common
            else:
                noise += common**2
            hours = _hours(channel)
            assert hours is not None
            found.append(
                _Offer(
                    "new reading",
                    channel.point,
                    channel.analysis,
                    channel.label,
                    hours,
                    gradient,
                    noise,
                )
            )
        return found

    def _can_be_read(self, channel: Channel) -> bool:
        if channel.analysis in TWICE_SAID or channel.point.endswith(PAST):
            return False
        if channel.analysis in INSTALLED:
            return channel.instrument in self._installed
        if channel.kind == "quantity":
            variable = self.estimate.model.variables[self.estimate.model.position(channel.owner)]
            return variable.role == "setting" and channel.analysis not in NOT_SHOWN
        owner = channel.owner
        kind = self.estimate.model.flowsheet.streams.get(owner)
        return kind is None or kind.name not in NOT_SAMPLED

    def _calibrations(self) -> list[_Offer]:
        table = costs()
        left = table["after_calibration"]["left_percent"] / 100
        kinds = {channel.instrument: channel for channel in self._reconciler.channels}
        found = []
        for name, place in self._bias.items():
            gradient = np.zeros(self._size)
            gradient[place] = 1.0
            channel = kinds.get(name)
            reading = READINGS.get(channel.analysis) if channel is not None else None
            hours = table["calibration"].get(
                reading.instrument if reading is not None else "other",
                table["calibration"]["other"],
            )
            # Calibrated, the error has `left` of its spread: what would leave that of 1.
            noise = left**2 / (1 - left**2)
            found.append(
                _Offer(
                    "calibration",
                    name,
                    f"{CALIBRATION.strip()} {name}",
                    f"{CALIBRATION}{name}",
                    float(hours),
                    gradient,
                    noise,
                )
            )
        return found

    def ranked(self, value: float, gradient: Vector, extra: float = 0.0) -> list[Candidate]:
        """Every candidate that narrows a figure's interval, the most per hour first.

        Parameters
        ----------
        value : float
            The figure, and `gradient` its derivative by everything estimated.
        extra : float
            Standard deviation that no reading of the shift can take away.
        """
        joint = self._joint(gradient)
        every = self._candidates(joint, value, extra)
        found = [every[k] for k in self._distinct(every)]
        return sorted(found, key=lambda one: -one.per_hour)

    def _distinct(self, candidates: list[Candidate]) -> list[int]:
        """Places of candidates that narrow at all, one for each that tells the same.

        A sample of the same liquor further on tells the same: the shortest name stands for it.
        """
        same: dict[tuple[str, str, int], int] = {}
        order = sorted(
            range(len(candidates)), key=lambda k: (len(candidates[k].point), candidates[k].point)
        )
        for k in order:
            one = candidates[k]
            if one.narrowing > NARROWS:
                same.setdefault((one.kind, one.analysis, round(1e6 * one.narrowing)), k)
        return list(same.values())

    def plan(
        self, value: float, gradient: Vector, hours: float, extra: float = 0.0
    ) -> list[Candidate]:
        """What to do with some hours of an analyst: the best first, each after those before it."""
        joint, left = self._joint(gradient), hours
        chosen: list[Candidate] = []
        open_ones = self._distinct(self._candidates(joint, value, extra))
        while True:
            now = self._candidates(joint, value, extra)
            fit = [k for k in open_ones if now[k].cost_hours <= left and now[k].narrowing > NARROWS]
            if not fit:
                return chosen
            place = max(fit, key=lambda k: now[k].per_hour)
            chosen.append(now[place])
            open_ones.remove(place)
            left -= now[place].cost_hours
            column = joint[:, place + 1].copy()
            joint -= np.outer(column, column) / (column[place + 1] + self.offers[place].noise)

    def _joint(self, gradient: Vector) -> Matrix:
        rows = np.vstack([gradient, *(offer.gradient for offer in self.offers)])
        return self.estimate.posterior.covariance(rows)

    def _candidates(self, joint: Matrix, value: float, extra: float) -> list[Candidate]:
        before = float(joint[0, 0])
        found = []
        for k, offer in enumerate(self.offers, start=1):
            spread = joint[k, k] + offer.noise
            seen = np.isfinite(spread) and spread > 0 and np.isfinite(joint[0, k])
            after = before - float(joint[0, k]) ** 2 / spread if seen else before
            found.append(
                Candidate(
                    offer.kind,
                    offer.point,
                    offer.analysis,
                    offer.label,
                    offer.cost,
                    value,
                    float(np.sqrt(before + extra**2)),
                    float(np.sqrt(max(after, 0.0) + extra**2)),
                )
            )
        return found


def _hours(channel: Channel) -> float | None:
    table = costs()
    if channel.kind == "quantity":
        return float(table["other"]["setting"])
    found = table["analysis"].get(channel.analysis)
    return None if found is None else float(found)


def _size(spread: float, relative: bool, value: float) -> float:
    return abs(value) * spread / 100 if relative else spread
