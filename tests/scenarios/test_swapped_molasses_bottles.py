"""The bottles of A and B molasses changed places on the way to the laboratory."""

import pytest

from canewright.engine.suspects.suspects import find_suspects
from tests.whole_factory import Figures, balance, swap

SEED = 2
FIGURES = ("overall_recovery", "undetermined_loss", "purity_of_final_molasses")


@pytest.fixture(scope="module")
def story(workshop):
    made_up = workshop.shift(SEED)
    clean = balance(workshop, made_up.measurements)
    swapped = balance(workshop, swap(made_up.measurements, "a_molasses", "b_molasses"))
    return clean, swapped, find_suspects(swapped)


def test_the_tool_says_which_two_bottles(story):
    _, _, found = story
    assert not found.before.passes
    assert [finding.name for finding in found.findings] == ["a_molasses and b_molasses swapped"]
    finding = found.findings[0]
    assert finding.kind == "swapped samples"
    assert not finding.equivalents
    assert {name.split()[0] for name in finding.readings} == {"a_molasses", "b_molasses"}
    # Wholly swapped is a size of 1.
    assert finding.interval[0] <= 1.0 <= finding.interval[1]


def test_with_the_labels_put_right_the_balance_is_the_clean_one(workshop, story):
    clean, _, found = story
    figures = Figures(workshop, FIGURES)
    before, after = figures.stated(clean), figures.stated(found.estimate)
    for name in FIGURES:
        # The same problem up to the weights, which are % of what was booked for either.
        assert after[name].value == pytest.approx(before[name].value, abs=0.1 * before[name].sd)
    assert found.after.passes
