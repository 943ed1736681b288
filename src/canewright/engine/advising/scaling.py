"""How fast scale grows on evaporator bodies, from their coefficients shift after shift.

By the square law 1/k^2 = a t + b, with t the hours of crushing since the last cleaning. The
line is fitted to all shifts, each weighed by its own size because coefficients are known in
proportion; shifts follow each other, so the standard deviation of a is widened by how much one
residual resembles the next. Sources: [mccabe_robinson1924] for the law, [own_derivation].
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from canewright.engine.adjusting.explain import COVERAGE
from canewright.engine.advising.advise import Optimiser
from canewright.engine.advising.cleaning import KIND, Body, CleaningRefused
from canewright.laws.heat_transfer import best_run

FEWEST = 6
"""Shifts from which a line is drawn; our choice."""


@dataclass(frozen=True)
class Scaling:
    """Growth of scale on one body.

    Attributes
    ----------
    growth, growth_sd : float
        a of the square law, in 1/(k^2 h).
    start : float
        b of it, so that the coefficient when clean is 1/sqrt(b).
    shifts : int
        How many stand behind it.
    """

    name: str
    growth: float
    growth_sd: float
    start: float
    shifts: int

    @property
    def shown(self) -> bool:
        """Whether the season shows that scale grows, with 95 %."""
        return self.growth > COVERAGE * self.growth_sd and self.start > 0

    @property
    def clean(self) -> float:
        """Coefficient when clean."""
        return float(1 / np.sqrt(self.start)) if self.start > 0 else float("inf")


def fit_scaling(name: str, hours: Sequence[float], coefficients: Sequence[float]) -> Scaling:
    """The square law through the shifts of a body.

    Parameters
    ----------
    hours : sequence
        Of crushing since the last cleaning, at the middle of each shift.
    coefficients : sequence
        As the balance found them.

    Raises
    ------
    CleaningRefused
        If there are too few shifts, or all are of one age.
    """
    t, k = np.asarray(hours, dtype=float), np.asarray(coefficients, dtype=float)
    if t.size < FEWEST or np.ptp(t) <= 0:
        raise CleaningRefused(
            f"{name}: {t.size} shifts do not tell how scale grows; {FEWEST} or more are needed, "
            "since the same cleaning or since several."
        )
    y = 1 / k**2
    fitted = np.full(t.size, y.mean())
    for _ in range(3):
        weights = 1 / np.maximum(fitted, 1e-3 * y.mean())
        rows = np.column_stack([t, np.ones(t.size)]) * weights[:, None]
        (growth, start), *_ = np.linalg.lstsq(rows, y * weights, rcond=None)
        fitted = growth * t + start
    residuals = (y - fitted) * weights
    spread = float(np.sum(residuals**2)) / (t.size - 2)
    alike = float(residuals[1:] @ residuals[:-1]) / max(float(residuals @ residuals), 1e-300)
    alike = min(max(alike, 0.0), 0.9)
    variance = spread * float(np.linalg.inv(rows.T @ rows)[0, 0]) * (1 + alike) / (1 - alike)
    return Scaling(name, float(growth), float(np.sqrt(variance)), float(start), int(t.size))


def bodies_with(
    optimiser: Optimiser, scalings: Mapping[str, Scaling], stop_hours: float
) -> list[Body]:
    """The bodies on which scale is shown to grow, as old as their coefficients now say.

    Raises
    ------
    CleaningRefused
        If there is none.
    """
    model = optimiser.model
    found = []
    for placed in model.flowsheet.placed:
        one = scalings.get(placed.name)
        if placed.cls.kind != KIND or one is None or not one.shown:
            continue
        place = model.position(f"{placed.name}.coefficient")
        now = float(optimiser.found.values[place])
        age = max((1 / now**2 - one.start) / one.growth, 0.0)
        found.append(
            Body(
                placed.name,
                model.variables[place].unit,
                now,
                one.clean,
                age,
                one.growth,
                one.start,
                float(best_run(one.growth, one.start, stop_hours)),
            )
        )
    if not found:
        told = "; ".join(
            f"{one.name} {one.growth:.2g} +/- {COVERAGE * one.growth_sd:.2g} over {one.shifts} "
            "shifts"
            for one in scalings.values()
        )
        raise CleaningRefused(
            "The season does not show that scale grows on any body (growth of 1/k^2 an hour, "
            f"95 %: {told}). Say by --cleaned and --clean what you know."
        )
    return found
