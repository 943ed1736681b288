"""How sure the gain of moves is, to first order, and what carries its uncertainty.

With x what was found and F, G money before and after, the gain G(x) - F(x) varies by
(G_x - F_x) V (G_x - F_x)' and by the slopes of the assumed responses. Source: [own_derivation].
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import special

from canewright.engine.adjusting.explain import COVERAGE
from canewright.engine.advising.advise import Optimiser
from canewright.engine.equations.settled import Matrix, Vector


@dataclass(frozen=True)
class Gain:
    """Money a day that moves bring, to first order.

    `direction` is its derivative by everything that the balance estimated, `assumed` the
    standard deviation that the assumed responses add.
    """

    value: float
    sd: float
    direction: Vector
    assumed: float

    @property
    def interval(self) -> tuple[float, float]:
        """95 %."""
        return self.value - COVERAGE * self.sd, self.value + COVERAGE * self.sd

    @property
    def chance(self) -> float:
        """Chance that it is above zero, 0 to 1."""
        return self.chance_of(0.0)

    def chance_of(self, money: float) -> float:
        """Chance that it is so much or more, 0 to 1."""
        if self.sd <= 0:
            return float(self.value > money)
        return float(special.ndtr((self.value - money) / self.sd))


def gains_of(optimiser: Optimiser, states: Sequence[Vector], less: Sequence[Vector]) -> list[Gain]:
    """What one choice of settings earns more than another, for pairs of choices.

    Parameters
    ----------
    states, less : sequence of array
        Settings in the order of `optimiser.settings`.
    """
    derivatives: dict[bytes, tuple[float, Vector, Vector]] = {}

    def known(settings: Vector) -> tuple[float, Vector, Vector]:
        key = settings.tobytes()
        if key not in derivatives:
            derivatives[key] = _derivatives(optimiser, settings)
        return derivatives[key]

    pairs = [(known(after), known(before)) for after, before in zip(states, less, strict=True)]
    directions = np.array([after[1] - before[1] for after, before in pairs])
    variances = optimiser.estimate.posterior.variances(directions)
    spreads = optimiser.program.response_sd()
    found = []
    for (after, before), variance, direction in zip(pairs, variances, directions, strict=True):
        assumed = float(np.sum(((after[2] - before[2]) * spreads) ** 2))
        found.append(
            Gain(
                after[0] - before[0],
                float(np.sqrt(variance + assumed)),
                direction,
                float(np.sqrt(assumed)),
            )
        )
    return found


def _derivatives(optimiser: Optimiser, settings: Vector) -> tuple[float, Vector, Vector]:
    """Money with settings moved; its derivatives by what was estimated and by the slopes."""
    square, case, program = optimiser.square, optimiser.case, optimiser.program
    at = optimiser.state(settings)
    slopes = case.slopes(at, optimiser.relations)
    by_held, by_response = _answers(optimiser, settings)
    held = slopes.by_held[0]
    result = np.zeros(optimiser.estimate.reconciler.problem.size)
    result[square.held] += held @ by_held
    for k, row in enumerate(square.rows):
        result[list(row.places)] += np.array(row.factors) * slopes.by_row[0, k]
    count = len(optimiser.model.variables)
    result[count : count + slopes.by_relation.shape[1]] = slopes.by_relation[0]
    own = held @ by_response if len(program.responses) else np.zeros(0)
    return float(slopes.values[0]), result, own


def _answers(optimiser: Optimiser, settings: Vector) -> tuple[Matrix, Matrix]:
    """How what is held after follows what was held before, and the slopes of responses."""
    square, program = optimiser.square, optimiser.program
    order = {int(place): k for k, place in enumerate(square.held)}
    found, values = optimiser.found.values, optimiser.found.values.copy()
    for one, value in zip(optimiser.settings, settings, strict=True):
        values[one.place] = value
    by_held = np.eye(square.held.size)
    by_response = np.zeros((square.held.size, len(program.responses)))
    for link in program.links:
        response, was, now = link.response, float(found[link.cause]), float(values[link.cause])
        if was == now:
            continue
        effect, cause = order[link.effect], order[link.cause]
        change = response.change(was, now)
        # The knob is turned by an amount: what it was moves along with what it is.
        along = response.slope * (response.change_slope(now) - response.change_slope(was))
        new, factor = response.moved(values[link.effect], change), 1.0
        if response.moves == "share":
            ratio = float(np.exp(response.slope * change))
            by_held[effect] *= ratio
            by_response[effect] *= ratio
            factor = new
        by_held[effect, cause] += factor * along
        by_response[effect, program.place_of(response)] += factor * change
        values[link.effect] = new
    return by_held, by_response
