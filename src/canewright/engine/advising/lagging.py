"""Performance worse than usual, and what bringing it back would be worth.

Advice moves settings; a fouled body or a mill that is set wrong is not one of them. Where the
readings say that performance is worse than the factory file calls usual, the factory is solved
again with it at the middle of its usual range, all else as found: the difference in money is
what a cleaning or a repair is worth. Performance that has left its usual range no longer is what
the range says, so its own prior is taken out first: with s^2 the variance of the prior and p^2
that of what was found, the readings alone say usual + (found - usual)/(1 - p^2/s^2).
Source: [own_derivation].
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
from scipy import special

from canewright.engine.adjusting.explain import COVERAGE, information_from_priors
from canewright.engine.adjusting.posterior import DETERMINED_UP_TO
from canewright.engine.advising.advise import Optimiser
from canewright.engine.equations.settled import Vector
from canewright.engine.equations.simulate import SolveFailed

FAR = 1.0
"""Distance from usual, in standard deviations of the usual range, from which performance lags;
our choice: one shift in six lags by chance."""
SURELY = COVERAGE
"""The same in standard deviations of what was found."""


@dataclass(frozen=True)
class Lagging:
    """One quantity of performance that is worse than usual.

    Attributes
    ----------
    name, label, unit : str
    found, usual : float
        As the balance found it; the middle of the range in the factory file.
    read : float
        As the readings alone say, without the factory file's range.
    gain : float
        Money a day if it were as usual; `interval` holds 95 %, `chance` is that of a gain.
    remedy : str
        Where to look, as a clause.
    cautions : tuple of str
        Keys of what to mind at the station.
    """

    name: str
    label: str
    unit: str
    found: float
    usual: float
    read: float
    gain: float
    interval: tuple[float, float]
    chance: float
    remedy: str
    cautions: tuple[str, ...]


@cache
def remedies() -> dict[str, str]:
    """Where to look, by `kind.quantity`."""
    text = resources.files("canewright.engine.advising").joinpath("restorable_performance.toml")
    entries = tomllib.loads(text.read_text("utf8"))["performance"]
    return {entry["name"]: entry["remedy"] for entry in entries}


def lagging(optimiser: Optimiser, least: float = 0.0) -> list[Lagging]:
    """Performance that lags, the dearest first.

    Parameters
    ----------
    optimiser : Optimiser
    least : float
        Money a day below which it is not told.
    """
    model, square, estimate = optimiser.model, optimiser.square, optimiser.estimate
    order = {int(place): k for k, place in enumerate(square.held)}
    before = optimiser.case.slopes(optimiser.found, optimiser.relations)
    found: list[Lagging] = []
    for placed in model.flowsheet.placed:
        for quantity in placed.cls.quantities:
            remedy = remedies().get(f"{placed.cls.kind}.{quantity}")
            if remedy is None:
                continue
            place = model.position(f"{placed.name}.{quantity}")
            variable = model.variables[place]
            usual, spread = float(variable.prior_mean), float(variable.prior_sd)
            value = float(optimiser.found.values[place])
            if place not in order or not np.isfinite(spread) or spread <= 0:
                continue
            away = usual - value
            if abs(away) <= FAR * spread or before.by_held[0, order[place]] * away <= least:
                continue
            variance = _known(optimiser, place)
            if variance is None or abs(away) <= SURELY * np.sqrt(variance):
                continue
            by_readings = 1 - variance / spread**2
            read = min(max(usual - away / by_readings, variable.lower), variable.upper)
            try:
                gain, direction = _restored(optimiser, place, read, usual)
            except SolveFailed:
                continue
            sd = float(np.sqrt(estimate.posterior.variances(direction[None, :])[0])) / by_readings
            if gain <= least:
                continue
            found.append(
                Lagging(
                    f"{placed.name}.{quantity}",
                    variable.label or f"{placed.name}, {quantity}",
                    variable.unit,
                    value,
                    usual,
                    read,
                    gain,
                    (gain - COVERAGE * sd, gain + COVERAGE * sd),
                    float(special.ndtr(gain / sd)) if sd > 0 else 1.0,
                    remedy,
                    tuple(placed.cls.cautions),
                )
            )
    return sorted(found, key=lambda one: -one.gain)


def _known(optimiser: Optimiser, place: int) -> float | None:
    """Variance of what was found; None where priors rather than readings carry it."""
    estimate = optimiser.estimate
    direction = np.zeros((1, estimate.reconciler.problem.size))
    direction[0, place] = 1.0
    variance = estimate.posterior.variances(direction)
    share = information_from_priors(estimate, direction, variance)
    return float(variance[0]) if share[0] <= DETERMINED_UP_TO else None


def _restored(optimiser: Optimiser, place: int, read: float, usual: float) -> tuple[float, Vector]:
    """Money a day with it as usual against as read, and its derivative by what was estimated."""
    square, case = optimiser.square, optimiser.case
    ends = []
    for value in (read, usual):
        start = optimiser.found.values.copy()
        start[place] = value
        at = square.solve(start, optimiser.given.sizes, optimiser.targets)
        ends.append(case.slopes(at, optimiser.relations))
    first, second = ends
    held = second.by_held[0].copy()
    held[np.flatnonzero(square.held == place)] = 0.0
    direction = np.zeros(optimiser.estimate.reconciler.problem.size)
    direction[square.held] += held - first.by_held[0]
    for k, row in enumerate(square.rows):
        change = second.by_row[0, k] - first.by_row[0, k]
        direction[list(row.places)] += np.array(row.factors) * change
    count = len(optimiser.model.variables)
    relations = second.by_relation[0] - first.by_relation[0]
    direction[count : count + relations.size] = relations
    return float(second.values[0] - first.values[0]), direction
