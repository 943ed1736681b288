"""Made-up shifts with a known truth: drawn, simulated by the tool's own equations, read.

Everything here is invented, and only the demonstration and the tests use it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import casadi
import numpy as np

from canewright.engine.adjusting.reconcile import Measurement, Reconciler
from canewright.engine.equations.nominal import Prepared, StockPlace, composition_width, stocks
from canewright.engine.equations.points import Channel
from canewright.engine.equations.simulate import Solved, SolveFailed
from canewright.laboratory.readings import RELATIONS
from canewright.streams import MASS

ATTEMPTS = 40


@dataclass
class MadeUp:
    """A made-up shift: the true state, the true biases, and what was read."""

    truth: Solved
    relations: dict[str, float]
    biases: dict[str, float]
    measurements: list[Measurement]


class Workshop:
    """Makes up shifts of one factory for one list of channels.

    Parameters
    ----------
    prepared : Prepared
    channels : sequence of (Channel, count)
        What is read, and how many samples each reading averages.
    """

    def __init__(self, prepared: Prepared, channels: Sequence[tuple[Channel, int]]) -> None:
        self.prepared = prepared
        self.channels = [channel for channel, _ in channels]
        self.counts = [count for _, count in channels]
        self.reconciler = Reconciler(prepared.model, self.channels, prepared.statements)
        plain = casadi.vertcat(*self.reconciler.plain)
        self._read = casadi.Function(
            "read", [self.reconciler.variables, prepared.model.parameters], [plain]
        )

    def draw(self, rng: np.random.Generator, width: float = 1.0) -> np.ndarray:
        """Settings, performance and opening stocks drawn from their priors.

        `width` narrows the draw (1 is the prior itself). Draws outside the bounds are drawn
        again.
        """
        model = self.prepared.model
        values = self.prepared.usual.values.copy()
        for i in self.prepared.simulator.fixed:
            variable = model.variables[i]
            if variable.role == "opening" or not np.isfinite(variable.prior_sd):
                continue
            while True:
                value = rng.normal(variable.prior_mean, width * variable.prior_sd)
                if variable.lower <= value <= variable.upper:
                    break
            values[i] = value
        for stock in stocks(model):
            self._draw_stock(stock, values, rng, width)
        return values

    def _draw_stock(
        self, stock: StockPlace, values: np.ndarray, rng: np.random.Generator, width: float
    ) -> None:
        """An opening stock whose mass and composition follow their statements exactly.

        The deviations of the shares are drawn independently of each other, on condition that
        they add to nothing. A draw with less than nothing of a component is drawn again.
        """
        model, usual = self.prepared.model, self.prepared.usual
        state = model.states[stock.opening]
        names = [f"{stock.opening}.{component}" for component in state.components]
        base = np.array([usual[name] for name in names])
        heavy = np.array([component in MASS for component in state.components])
        shares = base / base[heavy].sum()
        widths = width * np.array([composition_width(share) for share in shares])
        present = base > 0
        part = np.where(heavy, widths**2, 0.0)
        part /= max(part.sum(), 1e-300)
        while True:
            mass = rng.normal(stock.mass, width * stock.mass_sd)
            deviation = widths * rng.normal(size=len(names))
            drawn = mass * (shares + deviation - part * deviation[heavy].sum())
            if np.all(drawn[present] > 0):
                break
        for name, value in zip(names, np.where(present, drawn, 0.0), strict=True):
            values[model.position(name)] = value

    def solve(
        self,
        values: np.ndarray,
        hours: float | None = None,
        changes: Mapping[str, float] | None = None,
    ) -> Solved:
        """The factory with the drawn settings; `changes` sets sizes (spills) by name."""
        model = self.prepared.model
        parameters = model.parameter_values.copy()
        if hours is not None:
            parameters[model.parameter_names.index("hours")] = hours
        for name, value in (changes or {}).items():
            parameters[model.parameter_names.index(name)] = value
        return self.prepared.simulator.solve(values, parameters)

    def truth(
        self,
        rng: np.random.Generator,
        width: float = 1.0,
        changes: Mapping[str, float] | None = None,
    ) -> Solved:
        """A drawn factory that can exist: draws that cannot be solved are drawn again.

        `changes` sets sizes (spills) by name.

        Raises
        ------
        SolveFailed
            If none of many draws can be solved.
        """
        for _ in range(ATTEMPTS):
            try:
                return self.solve(self.draw(rng, width), changes=changes)
            except SolveFailed:
                continue
        raise SolveFailed(f"None of {ATTEMPTS} draws of the factory can be solved.")

    def biases(self, rng: np.random.Generator) -> dict[str, float]:
        """True bias of each instrument, in its standard uncertainties."""
        return {name: float(rng.normal()) for name in self.reconciler.instruments}

    def relations(self, rng: np.random.Generator) -> dict[str, float]:
        """True values of the relations that are not exact."""
        return {name: rng.normal(r.mean, r.sd) for name, r in RELATIONS.items()}

    def exact(self, truth: Solved, relations: Mapping[str, float]) -> np.ndarray:
        """What every channel would read without bias and noise."""
        start = self.reconciler.start(truth.values)
        for k, name in enumerate(RELATIONS):
            start[len(truth.values) + k] = relations[name]
        return np.array(self._read(start, truth.parameters)).ravel()

    def read(
        self,
        truth: Solved,
        rng: np.random.Generator,
        biases: Mapping[str, float],
        relations: Mapping[str, float],
        faults: Mapping[str, float] | None = None,
    ) -> list[Measurement]:
        """Readings of a true state, with noise, biases, and faults added in the reading's unit."""
        measurements = []
        for channel, count, value in zip(
            self.channels, self.counts, self.exact(truth, relations), strict=True
        ):
            shift = channel.bias * biases.get(channel.instrument, 0.0)
            biased = value * (1 + shift / 100) if channel.bias_relative else value + shift
            random = (
                abs(biased) * channel.random / 100 if channel.random_relative else channel.random
            )
            if channel.several == "mean":
                random /= np.sqrt(count)
            read = biased + random * rng.normal() + (faults or {}).get(channel.name, 0.0)
            measurements.append(Measurement(channel.point, channel.analysis, float(read), count))
        return measurements

    def shift(
        self,
        seed: int,
        width: float = 1.0,
        *,
        faults: Mapping[str, float] | None = None,
        changes: Mapping[str, float] | None = None,
    ) -> MadeUp:
        """A made-up shift from one seed.

        The same seed gives the same draws and noise with faults (added to readings, in their
        unit) and changes (of sizes, such as spills) as without.
        """
        rng = np.random.default_rng(seed)
        truth = self.truth(rng, width, changes)
        biases, relations = self.biases(rng), self.relations(rng)
        readings = self.read(truth, rng, biases, relations, faults)
        return MadeUp(truth, relations, biases, readings)
