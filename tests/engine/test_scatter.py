"""Scatter and noise from innovations, against analysis of variance and made-up seasons."""

import numpy as np
import pytest

from canewright.demo.season import AS_PRIORS, STEADY, Season
from canewright.engine.chain.amounts import Amounts
from canewright.engine.chain.chain import Chain
from canewright.engine.chain.filter import update
from canewright.engine.chain.scatter import factors, shown_by
from tests.engine.chained_factory import readings

SHIFTS, REPEATS = 7, 3


def test_repeats_of_one_quantity_give_the_analysis_of_variance():
    """Balanced one-way layout with a known mean: quadratic estimates are those of its mean
    squares, whatever was taken beforehand ([rao1971]; within and between, any textbook)."""
    drawn = np.random.default_rng(3).normal(size=(SHIFTS, REPEATS))
    read = 2.0 * drawn + 1.5 * np.random.default_rng(4).normal(size=(SHIFTS, 1))
    taken_scatter, taken_noise = 0.8, 5.0
    matrix, noise = np.ones((REPEATS, 1)), np.full(REPEATS, taken_noise)
    spread, scatter = np.array([[taken_scatter]]), np.array([taken_scatter])
    shown = [shown_by(update(matrix, noise, spread, row), scatter, noise) for row in read]
    found = factors(shown)
    assert found is not None
    means = read.mean(axis=1)
    within = ((read - means[:, None]) ** 2).sum() / (SHIFTS * (REPEATS - 1))
    between = (means**2).mean() - within / REPEATS
    assert found[0].value == pytest.approx(between / taken_scatter, rel=1e-12)
    assert found[1].value == pytest.approx(within / taken_noise, rel=1e-12)


def test_factors_of_drawn_innovations_and_how_sure_they_are():
    """Many short records: no lean, and the uncertainty told is the one seen."""
    rng = np.random.default_rng(11)
    matrix = rng.normal(size=(8, 5))
    scatter, noise = np.array([1.0, 0.5, 2.0, 0.0, 0.0]), rng.uniform(0.2, 2.0, size=8)
    before = np.diag([0.1, 0.1, 0.1, 0.4, 0.4])
    real = matrix @ (before + np.diag(scatter)) @ matrix.T + np.diag(noise)
    drawn = rng.multivariate_normal(np.zeros(8), real, size=(300, 20))
    whole = before + np.diag(scatter)
    found = []
    for record in drawn:
        told = factors(
            shown_by(update(matrix, noise, whole, row), scatter, noise) for row in record
        )
        assert told is not None
        found.append([(factor.value, factor.sd) for factor in told])
    values, told_sd = np.array(found)[:, :, 0], np.array(found)[:, :, 1]
    # 300 records: a mean is known to 0.06 of a standard deviation, that itself to 4 %.
    seen = values.std(axis=0)
    assert np.all(np.abs(values.mean(axis=0) - 1) < 4 * seen / np.sqrt(300))
    assert seen == pytest.approx(told_sd.mean(axis=0), rel=0.15)


def test_shifts_that_show_nothing_tell_nothing():
    noise = np.ones(3)
    said = update(np.zeros((3, 2)), noise, np.eye(2), np.ones(3))
    assert factors([]) is None
    assert factors([shown_by(said, np.ones(2), noise)]) is None


@pytest.mark.slow
@pytest.mark.parametrize(("wander", "low", "high"), [(AS_PRIORS, 0.8, 1.1), (STEADY, 0.0, 0.3)])
def test_a_season_shows_how_it_was_made(workshop, wander, low, high):
    """Half of the priors' variance scatters, as is taken; or a quarter of that, slowly, of which
    levels follow a part. What settings also teach of their level takes a few hundredths off."""
    made = Season(workshop, faults=(), seed=5, wander=wander).shifts(45)
    chain = Chain(
        workshop.reconciler, workshop.prepared.usual.values, Amounts(workshop.reconciler, ())
    )
    _, results, skipped = chain.run(readings(made))
    assert not skipped
    found = factors(result.scatter for result in results[3:])
    assert found is not None
    scatter, noise = found
    assert low < scatter.value < high
    assert abs(noise.value - 1) < 4 * noise.sd
