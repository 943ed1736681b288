"""Instruments that step or drift, called while the chain runs.

For each instrument, start and shape the signature of an error of size 1 is carried through the
filter: what it would add to each innovation and to each estimate. Its likelihood ratio against
no error needs no second pass. Source: [willsky_jones1976]; the slope of the likelihood is that
by the mean of the inputs, from the mean of the shift instead of its most likely point
[own_derivation]: what leans by the bend of the equations in every shift is no error.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from canewright.engine.adjusting.solution import Vector
from canewright.engine.adjusting.statistics import family_limit
from canewright.engine.algebra.kkt import Matrix
from canewright.engine.chain.carried import Step
from canewright.engine.chain.chain import Chain
from canewright.engine.chain.chain_parts import ChainState, Freed
from canewright.engine.chain.chained_shift import Balanced

Shape = Literal["step", "drift"]
SHAPES: tuple[Shape, ...] = ("step", "drift")
KEPT = ((8, 1), (16, 4), (48, 8))
"""Until which age one in how many starts is kept; our choice."""
SINGLE = np.float32
"""Signatures are carried with seven digits: a likelihood ratio needs three of them."""
SEASON = 450
"""Shifts over which, together, a good season has a false call once in twenty."""
SPAN = 0.95
"""Probability that an error began within the span of shifts that is said."""
RIVAL = 20.0
"""An instrument less than this many times less likely is named beside the first; our choice."""
ASIDE_TIMES = 3
"""Shifts in a row in which a reading is set aside before its instrument is called; our choice."""
SEEN = 0.04
"""Information of an error of one standard uncertainty below which it is not looked for: its size
would not be known to five of them; our choice."""


@dataclass(frozen=True)
class Call:
    """An instrument that was called.

    Attributes
    ----------
    shape : str
        "step" (all at once) or "drift" (the same more in each shift).
    start, called : int
        Number of the first shift it shows in, and of the shift at which it was called.
    size, sd : float
        In the standard uncertainties of its calibration: of the step, or in each shift.
    statistic, limit : float
        Likelihood ratio, and the square of the limit it passed.
    due : int
        The first shift at which an error of this size and start would on average have passed
        the limit, by the covariance of the filter alone.
    rivals : tuple of str
        Other instruments that would explain it nearly as well.
    earliest, latest : int
        Shifts between which it began, with a probability of 95 %. A reading that was set aside
        tells only when it was last so far off: `earliest` is -1 then.
    """

    instrument: str
    shape: Shape
    start: int
    called: int
    size: float
    sd: float
    statistic: float
    limit: float
    due: int
    rivals: tuple[str, ...] = ()
    earliest: int = -1
    latest: int = -1

    def freed(self) -> Freed:
        """The bias of this instrument let go from its start."""
        if self.shape == "step":
            return Freed(self.instrument, self.start, abs(self.size))
        return Freed(self.instrument, self.start, abs(self.size), abs(self.size))


@dataclass
class WatchedStart:
    """Hypotheses that begin in one shift: two shapes of every instrument."""

    number: int
    signature: Matrix
    score: Vector
    information: Vector
    history: list[Vector] = field(default_factory=list)


@dataclass
class Watch:
    """Watches the instruments of a chain; give it to the chain as its `watcher`.

    Attributes
    ----------
    calls : list of Call
    aside : dict
        Reading set aside in the last shift -> first shift, times in a row, size.
    starts : list of WatchedStart
    """

    calls: list[Call] = field(default_factory=list)
    aside: dict[str, tuple[int, int, float]] = field(default_factory=dict)
    starts: list[WatchedStart] = field(default_factory=list)

    def __call__(
        self, chain: Chain, state: ChainState, balanced: Balanced, step: Step, spread: Matrix
    ) -> None:
        """Take in one shift of the chain."""
        carried = chain.carried
        bias = np.flatnonzero(carried.of_kind("bias"))
        number, size = state.number, carried.size
        columns = len(SHAPES) * bias.size
        self.starts.append(
            WatchedStart(
                number,
                np.zeros((size, columns), SINGLE),
                np.zeros(columns),
                np.zeros(columns),
            )
        )
        self._thin(number)
        said = balanced.update
        ages = np.array([number - start.number for start in self.starts])
        whole = np.concatenate([start.signature for start in self.starts], axis=1)
        whole *= np.where(step.renewed, 0.0, step.keep).astype(SINGLE)[:, None]
        shown = said.whitened[:, bias].astype(SINGLE)
        added = np.concatenate(
            [np.concatenate([shown, shown * (age + 1)], axis=1) for age in ages], axis=1
        )
        added -= said.whitened.astype(SINGLE) @ whole
        # The slope of the likelihood by the mean of each input before the readings: by what the
        # hypothesis adds to the bias, less what it had already made of the estimates.
        slope = balanced.weights[bias]
        score = np.concatenate([np.concatenate([slope, slope * (age + 1)]) for age in ages])
        score -= balanced.weights @ whole.astype(float)
        scattered = carried.scatter[:, None] * said.whitened.T
        whole += (said.moved - scattered).astype(SINGLE) @ added
        follow = balanced.local.places(carried.closings)
        stock = follow.astype(SINGLE) @ whole
        stock += (follow @ scattered).astype(SINGLE) @ added
        whole[carried.is_stock] = stock
        information = np.einsum("ij,ij->j", added, added).astype(float)
        for k, start in enumerate(self.starts):
            part = slice(k * columns, (k + 1) * columns)
            start.signature = whole[:, part]
            start.score = start.score + score[part]
            start.information = start.information + information[part]
            start.history.append(start.information)
        if not self.starts or not self._judge(chain, number, [carried.names[i] for i in bias]):
            self._again_aside(chain, number, balanced)

    def _thin(self, number: int) -> None:
        self.starts = [
            start
            for start in self.starts
            if start.number % next((each for age, each in KEPT if number - start.number < age), 1)
            == 0
            and number - start.number < KEPT[-1][0]
        ]

    def _again_aside(self, chain: Chain, number: int, balanced: Balanced) -> None:
        """Call an instrument whose reading was set aside, on the same side, shift after shift."""
        channels = {channel.name: channel for channel in chain.reconciler.channels}
        before, self.aside = self.aside, {}
        for item in balanced.aside:
            channel = channels[item.name]
            unit = channel.bias * (abs(item.expected) / 100 if channel.bias_relative else 1.0)
            if not unit > 0:
                continue
            size = (item.reading - item.expected) / unit
            first, times, _ = before.get(item.name, (number, 0, size))
            if times and np.sign(before[item.name][2]) != np.sign(size):
                first, times = number, 0
            self.aside[item.name] = first, times + 1, size
            if times + 1 == ASIDE_TIMES:
                found = abs(item.standardised)
                call = Call(
                    channel.instrument, "step", first, number, size, abs(size) / found,
                    found**2, found**2, number, (), -1, first,
                )  # fmt: skip
                self._take(chain, call, number)

    def _take(self, chain: Chain, call: Call, number: int) -> None:
        self.calls.append(call)
        # From here on its bias is let go; the season can be run again with it let go before.
        chain.freed = (*chain.freed, _from_now(call, number))
        self.starts.clear()
        self.aside.clear()

    def _judge(self, chain: Chain, number: int, names: list[str]) -> bool:
        limit = family_limit(len(names) * SEASON) ** 2
        score = np.array([start.score for start in self.starts])
        information = np.array([start.information for start in self.starts])
        seen = information > SEEN
        ratio = np.where(seen, score**2 / np.where(seen, information, 1.0), 0.0)
        at, column = np.unravel_index(int(np.argmax(ratio)), ratio.shape)
        best = float(ratio[at, column])
        if best <= limit:
            return False
        shape, instrument = divmod(int(column), len(names))
        by_instrument = ratio.max(axis=0).reshape(len(SHAPES), len(names)).max(axis=0)
        rivals = tuple(
            name
            for k, name in enumerate(names)
            if k != instrument and np.exp(0.5 * (best - by_instrument[k])) < RIVAL
        )
        size = float(score[at, column] / information[at, column])
        start = self.starts[int(at)]
        call = Call(
            names[instrument],
            SHAPES[shape],
            start.number,
            number,
            size,
            float(1 / np.sqrt(information[at, column])),
            best,
            limit,
            start.number + delay([h[column] for h in start.history], size, limit),
            rivals,
            *span(
                [start.number for start in self.starts],
                number,
                score[:, column],
                np.where(seen[:, column], information[:, column], 0.0),
            ),
        )
        self._take(chain, call, number)
        return True


def _from_now(call: Call, number: int) -> Freed:
    grown = abs(call.size) * (1 if call.shape == "step" else number - call.start + 1)
    return Freed(
        call.instrument,
        number + 1,
        max(grown, 1.0),
        0.0 if call.shape == "step" else call.freed().wander,
    )


def span(starts: list[int], called: int, score: Vector, information: Vector) -> tuple[int, int]:
    """Shifts between which an error began, by the likelihood of each start.

    The size is not known: its likelihood is integrated over all sizes alike. A start that stands
    for others, once older ones are thinned out, counts as often as it stands for one, and the
    span reaches from the start before it to the start after it.

    Parameters
    ----------
    starts : list of int
        Shifts that are held to be possible, rising.
    called : int
        The last shift that was seen.
    score, information : array
        Of an error of size 1 from each start; a start without information is left out.
    """
    following = [*starts[1:], called + 1]
    stands = np.array([after - start for start, after in zip(starts, following, strict=True)])
    told = information > 0
    some = np.where(told, information, 1.0)
    weight = 0.5 * score**2 / some - 0.5 * np.log(some) + np.log(stands)
    chance = np.where(told, np.exp(weight - weight[told].max()), 0.0)
    order = np.argsort(-chance, kind="stable")
    among = np.cumsum(chance[order]) / chance.sum()
    chosen = order[: int(np.searchsorted(among, SPAN)) + 1]
    first, last = int(chosen.min()), int(chosen.max())
    earliest = starts[first - 1] + 1 if first else starts[0]
    return earliest, following[last] - 1


def delay(information: list[float], size: float, limit: float) -> int:
    """Shifts after the first until an error of a size passes the limit on average.

    Parameters
    ----------
    information : list of float
        Of an error of size 1, up to each shift since its start.
    size : float
    limit : float
        Of the likelihood ratio. Where the limit is not reached, the number of shifts.
    """
    for shifts, amount in enumerate(information):
        if size**2 * amount >= limit:
            return shifts
    return len(information)
