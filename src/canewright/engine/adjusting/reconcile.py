"""Reconciliation of a factory: what happened, given the readings and their uncertainties.

Unknown are every stream, every performance parameter and every instrument's bias. Given are
readings, soft priors on performance, and the equations, which hold exactly.
"""

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import casadi
import numpy as np

from canewright.engine.adjusting.adjustment import Problem
from canewright.engine.adjusting.posterior import Posterior
from canewright.engine.adjusting.solution import Kind, Solution
from canewright.engine.algebra.bend import Bend
from canewright.engine.algebra.evaluate import Evaluator
from canewright.engine.equations.model import Model
from canewright.engine.equations.nominal import SoftStatement
from canewright.engine.equations.points import Channel, Points
from canewright.engine.equations.simulate import SolveFailed
from canewright.laboratory.readings import RELATIONS

INDEPENDENT = ("setting", "fitted", "opening")
"""Roles of variables that give all others, and that have priors."""


@dataclass(frozen=True)
class Measurement:
    """A reading of the period: its channel, its value and how many were averaged.

    `value` is in the channel's unit; of `count` readings it is the mean (or the total).
    Worked from raw readings it brings its own standard uncertainty `sd`, that of the value as
    it is, and `shared`: what one standard uncertainty of each error source in common with
    other readings (a thermometer, a standard solution) moves it.
    """

    point: str
    analysis: str
    value: float
    count: int = 1
    sd: float | None = None
    shared: Mapping[str, float] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """`point analysis`, the channel's name."""
        return f"{self.point} {self.analysis}"


@dataclass
class Reconciler:
    """The reconciliation problem of a factory for a set of channels, built once and reused.

    `shared` lists the pairs of a channel's name and an error source that it shares with
    others, where raw readings tell them; each source is one more variable, like a bias.
    `calibrations` gives mean and standard uncertainty of biases of which more is known than is
    stated, in standard uncertainties.
    """

    model: Model
    channels: list[Channel]
    statements: Sequence[SoftStatement] = ()
    shared: Sequence[tuple[str, str]] = ()
    calibrations: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    relations: dict[str, casadi.SX] = field(init=False)
    instruments: list[str] = field(init=False)

    def __post_init__(self) -> None:
        model = self.model
        points = Points(model)
        self.relations = {name: casadi.SX.sym(name) for name in RELATIONS}
        self.instruments = list(
            dict.fromkeys(
                [
                    *[channel.instrument for channel in self.channels],
                    *[source for _, source in self.shared],
                ]
            )
        )
        biases = casadi.SX.sym("bias", len(self.instruments))
        predictions: list[casadi.SX] = []
        names: list[str] = []
        kinds: list[Kind] = []
        self._priors: list[tuple[float, float]] = []
        bias_sizes = casadi.SX.sym("bias size", self.sizes)
        self.plain = []
        for k, channel in enumerate(self.channels):
            plain = casadi.SX(points.predict(channel, self.relations))
            self.plain.append(plain)
            bias = bias_sizes[k] * biases[self.instruments.index(channel.instrument)]
            biased = plain * (1 + bias / 100) if channel.bias_relative else plain + bias
            for place, (name, source) in enumerate(self.shared, start=len(self.channels)):
                if name == channel.name:
                    biased += bias_sizes[place] * biases[self.instruments.index(source)]
            predictions.append(biased)
            names.append(channel.name)
            kinds.append("reading")
        for k, instrument in enumerate(self.instruments):
            predictions.append(biases[k])
            names.append(f"calibration of {instrument}")
            kinds.append("reading")
            self._priors.append(self.calibrations.get(instrument, (0.0, 1.0)))
        for i, variable in enumerate(model.variables):
            if np.isfinite(variable.prior_sd) and variable.prior_sd > 0:
                predictions.append(model.symbols[i])
                names.append(variable.name)
                kinds.append("prior")
                self._priors.append((variable.prior_mean, variable.prior_sd))
        for statement in self.statements:
            predictions.append(statement.expression)
            names.append(statement.name)
            kinds.append("prior")
            self._priors.append((statement.mean, statement.sd))
        for name, relation in RELATIONS.items():
            predictions.append(self.relations[name])
            names.append(relation.label)
            kinds.append("prior")
            self._priors.append((relation.mean, relation.sd))
        self.variables = casadi.vertcat(model.symbols, *self.relations.values(), biases)
        relations = list(RELATIONS.values())
        count = len(self.instruments)
        self.problem = Problem(
            self.variables,
            model.residuals,
            casadi.vertcat(*predictions),
            [*model.lower, *[relation.bounds[0] for relation in relations], *[-np.inf] * count],
            [*model.upper, *[relation.bounds[1] for relation in relations], *[np.inf] * count],
            [*model.scale, *[abs(relation.mean) for relation in relations], *[1.0] * count],
            variable_names=[
                *[variable.name for variable in model.variables],
                *RELATIONS,
                *[f"bias of {name}" for name in self.instruments],
            ],
            constraint_names=[equation.name for equation in model.equations],
            data_names=names,
            kinds=kinds,
            parameters=casadi.vertcat(model.parameters, bias_sizes),
            independent=[
                *[i for i, v in enumerate(model.variables) if v.role in INDEPENDENT],
                *range(len(model.variables), self.variables.numel()),
            ],
            compiled=model.evaluator,
        )

    @cached_property
    def bends(self) -> tuple[Bend, Bend]:
        """How the equations bend, and the predictions of the readings; compiled when needed."""
        variables, given, constraints, predictions = self.problem.symbols
        read = predictions[: len(self.channels)]
        return Bend(variables, given, constraints), Bend(variables, given, read)

    @property
    def sizes(self) -> int:
        """How many sizes of biases and shared errors stand behind the model's parameters."""
        return len(self.channels) + len(self.shared)

    def start(self, values: np.ndarray) -> np.ndarray:
        """Starting point from values of the model's variables."""
        middle = [relation.mean for relation in RELATIONS.values()]
        return np.concatenate([values, middle, np.zeros(len(self.instruments))])

    def data(
        self,
        measurements: Sequence[Measurement],
        priors: Mapping[str, tuple[float, float]] | None = None,
    ) -> tuple[np.ndarray, np.ndarray]:
        """Values and standard uncertainties in the order of the predictions.

        `priors` replaces priors (mean, sd) by name: carried stocks, biases, performance.
        """
        unread, wide = self._unread
        values, sd = unread.copy(), wide.copy()
        for measurement in measurements:
            place = self._places.get(measurement.name, len(self.channels))
            if place >= len(self.channels):
                continue
            channel = self.channels[place]
            random = channel.random
            if channel.random_relative:
                random = abs(measurement.value) * random / 100
            if channel.several == "mean":
                random /= measurement.count**0.5
            if measurement.sd is not None:
                random = measurement.sd
            values[place], sd[place] = measurement.value, max(random, 1e-9)
        for name, (mean, width) in (priors or {}).items():
            place = self._places.get(name, -1)
            if place >= len(self.channels):
                values[place], sd[place] = mean, width
        return values, sd

    @cached_property
    def _places(self) -> dict[str, int]:
        return {name: place for place, name in enumerate(self.problem.data_names)}

    @cached_property
    def _unread(self) -> tuple[np.ndarray, np.ndarray]:
        """Values and standard uncertainties before anything is read: priors alone."""
        count = len(self.channels)
        means = [mean for mean, _ in self._priors]
        widths = [width for _, width in self._priors]
        return (
            np.concatenate([np.zeros(count), means]),
            np.concatenate([np.full(count, np.inf), widths]),
        )

    def parameters(
        self, hours: float | None = None, measurements: Sequence[Measurement] = ()
    ) -> np.ndarray:
        """Sizes, hours, the size of each channel's bias, and of each error it shares."""
        values = self.model.parameter_values.copy()
        if hours is not None:
            values[self.model.parameter_names.index("hours")] = hours
        shared = {measurement.name: measurement.shared for measurement in measurements}
        sizes = [shared.get(name, {}).get(source, 0.0) for name, source in self.shared]
        return np.concatenate([values, [channel.bias for channel in self.channels], sizes])

    def solve(
        self,
        measurements: Sequence[Measurement],
        start: np.ndarray,
        *,
        hours: float | None = None,
        warm: Solution | None = None,
        priors: Mapping[str, tuple[float, float]] | None = None,
    ) -> "Estimate":
        """Reconcile the measurements of a period.

        Parameters
        ----------
        measurements : sequence of Measurement
        start : array
            Values of the model's variables to start from: a simulation.
        hours : float
            Length of the period. [h]
        warm : Solution
            Of a neighbouring period.
        priors : mapping
            Priors (mean, sd) by name in place of the model's.

        Raises
        ------
        SolveFailed
            Naming the equations that did not close and the readings around them.
        """
        begun = time.perf_counter()
        values, sd = self.data(measurements, priors)
        parameters = self.parameters(hours, measurements)
        solution = self.problem.solve(values, sd, self.start(start), warm, parameters)
        if not solution.ok:
            raise self._failure(solution)
        return Estimate(self, tuple(measurements), solution, time.perf_counter() - begun)

    def _failure(self, solution: Solution) -> SolveFailed:
        at = self.problem.linearise(solution.z, solution.parameters)
        misfit = np.abs(at.constraints / solution.row_scale)
        worst = np.argsort(-np.nan_to_num(misfit, nan=np.inf))[:6]
        pull = (at.predictions - solution.values) / solution.sd
        readings = [i for i in np.argsort(-np.abs(np.nan_to_num(pull))) if i < len(self.channels)]
        names = [f"{self.problem.constraint_names[i]} (off by {misfit[i]:.2g})" for i in worst]
        names += [
            f"reading {self.channels[i].name} is {pull[i]:+.0f} standard deviations away"
            for i in readings[:6]
            if abs(pull[i]) > 3
        ]
        return SolveFailed(f"The balance does not close ({solution.message}).", names)


@dataclass
class Estimate:
    """What happened: the reconciled factory and everything that can be asked of it."""

    reconciler: Reconciler
    measurements: tuple[Measurement, ...]
    solution: Solution
    seconds: float

    @property
    def model(self) -> Model:
        """The compiled factory."""
        return self.reconciler.model

    @cached_property
    def posterior(self) -> Posterior:
        """Uncertainties, from one factorisation at the solution."""
        return Posterior.at(self.reconciler.problem, self.solution)

    @property
    def values(self) -> np.ndarray:
        """Reconciled values of the model's variables."""
        return self.solution.z[: len(self.model.variables)]

    def __getitem__(self, name: str) -> float:
        """Reconciled value of a variable by any of its names."""
        return float(self.values[self.model.position(name)])

    @cached_property
    def _cache(self) -> dict[int, object]:
        return {}

    def evaluate(self, expressions: Sequence[casadi.SX]) -> tuple[np.ndarray, np.ndarray]:
        """Values (q) and gradients (q, n) of expressions of the model's symbols."""
        given = casadi.vertcat(
            self.model.parameters, casadi.SX.sym("unused", self.reconciler.sizes)
        )
        stacked = casadi.vertcat(*[casadi.SX(expression) for expression in expressions])
        figures = Evaluator(self.reconciler.variables, given, stacked)
        values, entries = figures(self.solution.z, self.solution.parameters)
        gradients = np.zeros(figures.shape)
        gradients[figures.rows, figures.columns] = entries
        return values.copy(), gradients
