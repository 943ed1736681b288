"""Growth of scale over a season: coefficients of its shifts, and hours since each cleaning."""

from __future__ import annotations

from datetime import timedelta

from canewright.account.season import SeasonAccount
from canewright.engine.advising.cleaning import KIND
from canewright.engine.advising.scaling import Scaling, fit_scaling

CLEANING = "cleaning"
"""Cause of a stop, in the log of stops, after which all bodies are clean."""


def season_scaling(account: SeasonAccount) -> dict[str, Scaling]:
    """Growth of scale on every body whose coefficient is fitted.

    Hours of crushing count from the end of the last stop for cleaning in the log of stops;
    before the first one, from the season's first shift.

    Raises
    ------
    CleaningRefused
        If there are too few shifts.
    """
    model = account.prepared.model
    ages = _ages(account)
    return {
        placed.name: fit_scaling(
            placed.name,
            ages,
            [float(r.point[model.position(f"{placed.name}.coefficient")]) for r in account.results],
        )
        for placed in model.flowsheet.placed
        if placed.cls.kind == KIND
    }


def _ages(account: SeasonAccount) -> list[float]:
    """Hours of crushing since the last cleaning, at the middle of each shift."""
    cleaned = sorted(
        stop.start + timedelta(hours=stop.hours) for stop in account.stops if stop.cause == CLEANING
    )
    ages: list[float] = []
    age, passed = 0.0, 0
    for result in account.results:
        while (
            passed < len(cleaned)
            and result.start is not None
            and cleaned[passed] <= result.start + timedelta(hours=result.hours / 2)
        ):
            age, passed = 0.0, passed + 1
        ages.append(age + result.hours / 2)
        age += result.hours
    return ages
