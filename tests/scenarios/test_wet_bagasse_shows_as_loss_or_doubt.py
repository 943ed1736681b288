"""The bagasse sample stood under the steam leak: its moisture is 3 points too high.

Moisture is not weighed anywhere else. Three points are about the smallest error that one
shift can see, so sometimes the tool names the sample and sometimes it only doubts; either
way extraction must stand, as bagasse is also weighed and its pol is read.
"""

import pytest

from canewright.engine.suspects.suspects import find_suspects
from tests.whole_factory import Figures, balance, named, spoil

MOISTURE = "bagasse moisture"
POINTS = 3.0
SEEDS = range(4)
STANDING = ("sucrose_extraction", "loss_bagasse", "overall_recovery", "undetermined_loss")


@pytest.fixture(scope="module")
def stories(workshop):
    told = []
    for seed in SEEDS:
        made_up = workshop.shift(seed)
        readings = spoil(made_up.measurements, {MOISTURE: lambda moisture: moisture + POINTS})
        estimate = balance(workshop, readings)
        told.append((made_up, estimate, find_suspects(estimate)))
    return told


def test_the_tool_says_beforehand_that_three_points_are_hard_to_see(stories):
    for _, _, found in stories:
        # Between 2 and 4.5 points: a tenth of all errors of this size stay unseen.
        assert 2.0 < found.detectable[MOISTURE] < 4.5


def test_the_sample_is_named_or_left_in_doubt_but_nobody_else_is_accused(stories):
    accused = [named(found) for _, _, found in stories]
    for names in accused:
        assert not names or f"bias of {MOISTURE}" in names
    assert any(accused)


def test_the_reading_is_pulled_towards_the_truth(workshop, stories):
    name = "bagasse_moisture"
    figure = Figures(workshop, (name,))
    for made_up, estimate, _ in stories:
        true, stated = figure.true(made_up)[name], figure.stated(estimate)[name]
        read = next(m.value for m in estimate.measurements if m.name == MOISTURE)
        assert stated.value < read
        assert true < stated.value


def test_extraction_and_the_ledger_stand(workshop, stories):
    figures = Figures(workshop, STANDING)
    told = [t for m, _, found in stories for t in figures.told(found.estimate, m)]
    # 16 intervals of 95 %: 13 or more cover in 99 of 100 runs (binomial).
    assert sum(t.covered for t in told) >= 13
