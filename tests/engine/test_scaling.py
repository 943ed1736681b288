"""Growth of scale: the square law through made-up shifts, and through a made-up season."""

from datetime import timedelta

import numpy as np
import pytest

from canewright.account.account import balance
from canewright.account.advice import Adviser
from canewright.account.scaling import season_scaling
from canewright.account.season import balance_season
from canewright.demo.factory import WELL_RUN, write_shift
from canewright.demo.season import SEASON_START, Season
from canewright.engine.advising.cleaning import CleaningRefused, plan_cleaning
from canewright.engine.advising.scaling import Scaling, bodies_with, fit_scaling

CLEAN, GROWTH = 2.5, 6e-4
BODY = "evaporator body 2"
SHIFTS, CLEANED = 24, 12


def law(hours):
    return 1 / np.sqrt(GROWTH * hours + 1 / CLEAN**2)


@pytest.mark.parametrize("seed", range(5))
def test_the_square_law_is_found_again_through_noise(seed):
    hours = np.tile(np.arange(4.0, 160.0, 8.0), 2)
    rng = np.random.default_rng(seed)
    found = fit_scaling(BODY, hours, law(hours) * (1 + 0.03 * rng.normal(size=hours.size)))
    assert found.shown
    # Three of its own standard deviations; clean is half a per cent of noise from 40 shifts.
    assert abs(found.growth - GROWTH) < 3 * found.growth_sd
    assert found.clean == pytest.approx(CLEAN, rel=0.03)


def test_without_growth_none_is_shown_most_of_the_time():
    hours = np.arange(4.0, 160.0, 8.0)
    shown = 0
    for seed in range(200):
        noise = 0.03 * np.random.default_rng(seed).normal(size=hours.size)
        shown += fit_scaling(BODY, hours, 2.0 * (1 + noise)).shown
    # One side of 95 % is 5 of 200; twice that comes once in fifty times and more, for the
    # widening by what residuals resemble is itself drawn.
    assert shown <= 12


def test_too_few_shifts_are_refused():
    with pytest.raises(CleaningRefused, match="5 shifts do not tell"):
        fit_scaling(BODY, range(5), [2.0] * 5)


class Scaled(Season):
    """A season in which one body scales and is cleaned once."""

    number = -1

    def _step(self, values):
        super()._step(values)
        self.number += 1
        hours = 8.0 * (self.number % CLEANED) + 4.0
        place = self.workshop.prepared.model.position(f"{BODY}.coefficient")
        values[place] = law(hours)


@pytest.mark.slow
def test_scale_of_a_season_is_found_and_its_stop_planned(workshop, tmp_path):
    folder = tmp_path / "season"
    folder.mkdir()
    for shift in Scaled(workshop, faults=()).shifts(SHIFTS):
        last = folder / f"{shift.facts.start:%Y-%m-%d_%H%M}.csv"
        write_shift(shift, last, "invented")
    stop = SEASON_START + timedelta(hours=8.0 * CLEANED - 6)
    (folder / "stops.csv").write_text(
        f"start,hours,cause\n{stop:%Y-%m-%d %H:%M},6,cleaning\n", encoding="utf8"
    )
    season = balance_season(WELL_RUN.path, folder, keep=False)
    found = season_scaling(season)
    one = found[BODY]
    assert one.shown
    assert one.shifts == SHIFTS
    # The growth planted, within three standard deviations of what the readings tell of it.
    assert abs(one.growth - GROWTH) < 3 * one.growth_sd
    assert one.clean == pytest.approx(CLEAN, rel=0.15)
    optimiser = Adviser(balance(WELL_RUN.path, last)).optimiser
    bodies = bodies_with(optimiser, found, 8.0)
    assert BODY in [body.name for body in bodies]
    plan = plan_cleaning(optimiser, bodies, 8.0, chemicals=100.0, lost_hour=5.0)
    assert plan.stops
    with pytest.raises(CleaningRefused, match="does not show that scale grows"):
        bodies_with(optimiser, {BODY: Scaling(BODY, 1e-5, 1e-4, 0.2, 9)}, 8.0)
