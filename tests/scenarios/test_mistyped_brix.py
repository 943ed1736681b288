"""The chemist types the syrup's Brix with two figures exchanged."""

import pytest

from canewright.engine.suspects.suspects import find_suspects
from tests.whole_factory import Figures, balance, exchanged, read_of, spoil

BRIX = "syrup brix"
SEED = 2
FIGURES = ("overall_recovery", "undetermined_loss", "purity_of_syrup", "water_evaporated")


@pytest.fixture(scope="module")
def story(workshop):
    made_up = workshop.shift(SEED)
    clean = balance(workshop, made_up.measurements)
    wrong = balance(workshop, spoil(made_up.measurements, {BRIX: exchanged}))
    return clean, wrong, find_suspects(wrong)


def test_the_typing_error_is_as_meant(story):
    clean, wrong, _ = story
    right, typed = read_of(clean.measurements, BRIX), read_of(wrong.measurements, BRIX)
    assert abs(typed - right) > 9


def test_the_brix_is_named_alone(story):
    _, _, found = story
    assert [finding.name for finding in found.findings] == [f"bias of {BRIX}"]
    assert not found.findings[0].equivalents
    assert found.explained


def test_the_others_say_what_should_have_been_typed(story):
    clean, wrong, found = story
    right, typed = read_of(clean.measurements, BRIX), read_of(wrong.measurements, BRIX)
    low, high = found.findings[0].interval
    # The right reading has its own noise, 0.07 Brix beside an interval of some 0.2 each way.
    assert low - 0.15 <= typed - right <= high + 0.15
    assert found.findings[0].estimate == pytest.approx(right, abs=0.6)


def test_figures_are_those_of_the_clean_shift(workshop, story):
    clean, _, found = story
    figures = Figures(workshop, FIGURES)
    before, after = figures.stated(clean), figures.stated(found.estimate)
    for name in FIGURES:
        # A shift without this one reading: within one standard uncertainty of the clean one.
        assert after[name].value == pytest.approx(before[name].value, abs=before[name].sd)
