"""A made-up season of the demonstration factory: known truth, noise, and planted faults.

Stocks pass from shift to shift, settings and performance wander slowly around the season's
own level, instruments keep their bias. The planted faults are written in the answer sheet,
which only tests and the curious read.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import NamedTuple

import numpy as np

from canewright.demo.truth import Workshop
from canewright.engine.adjusting.reconcile import Measurement
from canewright.engine.equations.nominal import stocks
from canewright.engine.equations.simulate import Solved, SolveFailed
from canewright.files.rows import ReadingRow, ShiftFacts
from canewright.streams import MASS

SEASON_START = datetime(2026, 7, 6, 6, 0)
SEED = 20260706


class Wander(NamedTuple):
    """How settings and performance move, in standard deviations of their priors.

    The spread of the season's level and of the shifts around it, and the correlation of one shift
    with the next.
    """

    level: float
    spread: float
    memory: float


STEADY = Wander(0.5, 0.35, 0.75)
"""Steadier than the priors say: shifts of one season differ less than factories do."""
AS_PRIORS = Wander(0.5**0.5, 0.5**0.5, 0.0)
"""As the priors say, half of their variance in the level of the season and half in its shifts."""

LOSSES = {
    "juice section.undetermined": 0.35,
    "evaporator section.undetermined": 0.15,
    "boiling section.undetermined": 0.45,
}
"""True undetermined losses, % of the section's sucrose: the season's level."""

LOSS_WANDER = 0.15

STOCK_HOURS = 40.0
"""Hours in which a store that is too full or too empty is brought back to its usual stock."""


@dataclass(frozen=True)
class Fault:
    """A planted fault, in the words of the answer sheet.

    `apply` changes the samples (channel name -> values of the samples) of the shifts in
    which the fault is present, given the number of shifts since it began.
    """

    name: str
    first: int
    last: int
    what: str
    apply: Callable[[dict[str, list[float]], int], None] = field(repr=False)


def _scaled(channel: str, factor_per_shift: float) -> Callable[[dict[str, list[float]], int], None]:
    def apply(samples: dict[str, list[float]], age: int) -> None:
        factor = 1 + factor_per_shift * (age + 1)
        samples[channel] = [value * factor for value in samples[channel]]

    return apply


def _shifted(channel: str, amount: float) -> Callable[[dict[str, list[float]], int], None]:
    def apply(samples: dict[str, list[float]], _: int) -> None:
        samples[channel] = [value + amount for value in samples[channel]]

    return apply


def _swapped(first: str, second: str) -> Callable[[dict[str, list[float]], int], None]:
    def apply(samples: dict[str, list[float]], _: int) -> None:
        for name in [name for name in samples if name.startswith(f"{first} ")]:
            other = name.replace(first, second, 1)
            if other in samples:
                samples[name], samples[other] = samples[other], samples[name]

    return apply


def _digits_swapped(channel: str) -> Callable[[dict[str, list[float]], int], None]:
    def apply(samples: dict[str, list[float]], _: int) -> None:
        value = samples[channel][-1]
        tens, ones = divmod(int(value), 10)
        samples[channel][-1] = value - (10 * tens + ones) + (10 * ones + tens)

    return apply


FAULTS = (
    Fault(
        "juice scale drifts",
        20,
        37,
        "The juice scale reads 0.15 % more each shift, until it is tared again.",
        _scaled("mixed_juice weight", 0.0015),
    ),
    Fault(
        "wet bagasse sample",
        44,
        44,
        "The bagasse sample was taken under the wash: moisture 3 points too high.",
        _shifted("bagasse moisture", 3.0),
    ),
    Fault(
        "molasses bottles swapped",
        51,
        51,
        "The bottles of A and B molasses were swapped.",
        _swapped("a_molasses", "b_molasses"),
    ),
    Fault(
        "last body's condenser leaks",
        58,
        63,
        "Syrup reaches the condenser of the last body: 900 mg more sucrose per kg of vapour.",
        lambda samples, age: None,
    ),
    Fault(
        "mistyped Brix",
        66,
        66,
        "The two digits of the second syrup Brix were typed the wrong way round.",
        _digits_swapped("syrup brix"),
    ),
)
"""The answer sheet. Shifts are counted from 0; the last shift of the season has no fault."""

LEAK = ("evaporator body 5.entrainment", 900.0)


@dataclass
class Shift:
    """One made-up shift: what was true, and what was written down."""

    number: int
    facts: ShiftFacts
    truth: Solved
    rows: list[ReadingRow]
    faults: list[str]


class Season:
    """Makes up the season shift by shift.

    Parameters
    ----------
    workshop : Workshop
        Of the factory and its plan of readings.
    losses : mapping
        Level of the undetermined losses by name. [% of the section's sucrose]
    faults : sequence of Fault
    seed : int
        The same seed makes the same season.
    wander : Wander
        Of settings and performance.
    """

    def __init__(
        self,
        workshop: Workshop,
        losses: dict[str, float] | None = None,
        faults: Sequence[Fault] = FAULTS,
        seed: int = SEED,
        wander: Wander = STEADY,
    ) -> None:
        self.workshop = workshop
        self.losses = LOSSES if losses is None else losses
        self.faults = faults
        self.rng = np.random.default_rng(seed)
        self.biases = workshop.biases(self.rng)
        self.relations = workshop.relations(self.rng)
        model = workshop.prepared.model
        self._moving = [
            i
            for i in workshop.prepared.simulator.fixed
            if model.variables[i].role in ("setting", "fitted")
            and np.isfinite(model.variables[i].prior_sd)
            and model.variables[i].name not in self.losses
        ]
        self._moves = wander
        self._level = wander.level * self.rng.normal(size=len(self._moving))
        self._wander = wander.spread * self.rng.normal(size=len(self._moving))

    def shifts(self, count: int) -> Iterator[Shift]:
        """The first `count` shifts of the season, in order.

        Raises
        ------
        SolveFailed
            If a shift cannot be solved even after its settings are drawn again.
        """
        workshop, model = self.workshop, self.workshop.prepared.model
        values = workshop.draw(self.rng, width=0.0)
        truth: Solved | None = None
        for number in range(count):
            for attempt in range(20):
                self._step(values)
                present = [f for f in self.faults if f.first <= number <= f.last]
                leaks = any(fault.name.startswith("last body") for fault in present)
                if leaks:
                    values[model.position(LEAK[0])] += LEAK[1]
                if truth is not None:
                    self._send_away(values, truth)
                    for stock in stocks(model):
                        for component in model.states[stock.opening].components:
                            values[model.position(f"{stock.opening}.{component}")] = truth[
                                f"{stock.closing}.{component}"
                            ]
                try:
                    truth = workshop.solve(values)
                    break
                except SolveFailed:
                    if attempt == 19:
                        raise
            assert truth is not None
            yield self._written(number, truth, present)

    def _step(self, values: np.ndarray) -> None:
        model = self.workshop.prepared.model
        noise = self.rng.normal(size=len(self._moving))
        _, spread, memory = self._moves
        self._wander = memory * self._wander + spread * np.sqrt(1 - memory**2) * noise
        for i, level, wander in zip(self._moving, self._level, self._wander, strict=True):
            variable = model.variables[i]
            value = variable.prior_mean + variable.prior_sd * (level + wander)
            values[i] = min(max(value, variable.lower), variable.upper)
        for name, level in self.losses.items():
            values[model.position(name)] = level + LOSS_WANDER * self.rng.normal()

    def _send_away(self, values: np.ndarray, last: Solved) -> None:
        """Stores send away what came in, and bring the stock back to its usual size in time."""
        model = self.workshop.prepared.model
        for stock in stocks(model):
            name = f"{stock.station}.dispatch"
            if name not in model.index:
                continue
            held, came = (
                sum(last[f"{stream}.{c}"] for c in model.states[stream].components if c in MASS)
                for stream in (stock.closing, stock.feed)
            )
            usual = values[model.position(name)] * (1 + 0.05 * self.rng.normal())
            wanted = 0.5 * (came + usual) + (held - stock.mass) / STOCK_HOURS
            values[model.position(name)] = max(wanted, 0.1 * came)

    def _written(self, number: int, truth: Solved, present: list[Fault]) -> Shift:
        hours = self.workshop.prepared.model.factory.shift_hours
        start = SEASON_START + timedelta(hours=hours * number)
        facts = ShiftFacts(start, hours, f"shift {number % 3 + 1} of {start:%d %b}")
        exact = self.workshop.exact(truth, self.relations)
        samples: dict[str, list[float]] = {}
        sds: dict[str, float] = {}
        for channel, count, value in zip(
            self.workshop.channels, self.workshop.counts, exact, strict=True
        ):
            shift = channel.bias * self.biases[channel.instrument]
            biased = value * (1 + shift / 100) if channel.bias_relative else value + shift
            random = channel.random
            if channel.random_relative:
                random = abs(biased) * random / 100
            sds[channel.name] = max(random, 1e-9)
            samples[channel.name] = list(biased + random * self.rng.normal(size=count))
        for fault in present:
            fault.apply(samples, number - fault.first)
        rows = []
        for channel, count in zip(self.workshop.channels, self.workshop.counts, strict=True):
            decimals = max(0, int(np.ceil(1 - np.log10(sds[channel.name]))))
            for k, value in enumerate(samples[channel.name]):
                time = start + timedelta(hours=hours * (k + 1) / count)
                if channel.point.endswith("_opening"):
                    time = start
                written = round(max(value, channel.low), min(decimals, 8))
                rows.append(
                    ReadingRow.of(channel.point, channel.analysis, written, channel.unit, time=time)
                )
        return Shift(number, facts, truth, rows, [fault.name for fault in present])


def as_measurements(shift: Shift) -> list[Measurement]:
    """Rows of a shift as measurements: means of the samples."""
    groups: dict[tuple[str, str], list[float]] = {}
    for row in shift.rows:
        groups.setdefault((row.point, row.analysis), []).append(row.value)
    return [
        Measurement(point, analysis, float(np.mean(values)), len(values))
        for (point, analysis), values in groups.items()
    ]
