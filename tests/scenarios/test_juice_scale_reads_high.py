"""The juice scale reads high by one and a half times the smallest bias the tool says it sees.

Every other reading of the shift is left as it was, noise and all.
"""

import pytest

from canewright.account.account import balance as balance_files
from canewright.demo.factory import WELL_RUN, write_demonstration
from canewright.engine.suspects.suspects import find_suspects
from tests.whole_factory import Figures, balance, named, spoil

SCALE = "mixed_juice weight"
SEED = 4
RECOVERIES = (
    "overall_recovery",
    "boiling_house_recovery",
    "sucrose_extraction",
    "reduced_overall_recovery",
)


@pytest.fixture(scope="module")
def story(workshop):
    made_up = workshop.shift(SEED)
    clean = find_suspects(balance(workshop, made_up.measurements))
    high = 1.5 * clean.detectable[SCALE]
    readings = spoil(made_up.measurements, {SCALE: lambda tonnes: tonnes + high})
    plain = balance(workshop, readings)
    return made_up, clean, high, plain, find_suspects(plain)


def test_the_clean_shift_accuses_nobody_and_would_see_less_than_two_percent(story):
    made_up, clean, _, _, _ = story
    assert not clean.findings
    read = next(m.value for m in made_up.measurements if m.name == SCALE)
    # Issue "The balance of a shift", part 9: under 2 % in one shift.
    assert clean.detectable[SCALE] < 0.02 * read


def test_the_scale_is_named_and_its_interval_covers_what_was_added(story):
    _, _, high, _, found = story
    assert f"bias of {SCALE}" in named(found)
    first = found.findings[0]
    low, upper = first.interval
    # What the scale reads too much: the planted part. Its own calibration, 0.2 % for one
    # standard uncertainty, is drawn as well, so the interval may be off by its share.
    assert low <= high <= upper
    assert found.explained


def test_recoveries_stand_nearly_unmoved(workshop, story):
    _, clean, _, plain, found = story
    figures = Figures(workshop, RECOVERIES)
    before, after = figures.stated(clean.estimate), figures.stated(found.estimate)
    spoilt = figures.stated(plain)
    for name in RECOVERIES:
        # Without its scale the factory knows a little less: within half a standard
        # uncertainty of the clean balance, and nearer to it than the spoilt one where that
        # one moved at all.
        moved = abs(after[name].value - before[name].value)
        assert moved < 0.5 * before[name].sd
        assert after[name].sd < 1.3 * before[name].sd
        assert moved <= max(abs(spoilt[name].value - before[name].value), 0.1 * before[name].sd)


@pytest.mark.slow
def test_the_last_shift_of_the_demonstration_as_a_newcomer_would_try_it(tmp_path):
    write_demonstration(WELL_RUN, tmp_path)
    factory, file = tmp_path / "factory.toml", tmp_path / "readings.csv"
    clean = balance_files(factory, file)
    detectable = clean.suspects.detectable[SCALE]
    text = file.read_text(encoding="utf-8")
    booked = next(line for line in text.splitlines() if line.startswith("mixed_juice,weight,"))
    tonnes = float(booked.split(",")[2])
    assert detectable < 0.02 * tonnes
    high = 1.5 * detectable
    spoilt = booked.replace(f",{booked.split(',')[2]},", f",{tonnes + high:.2f},")
    assert spoilt != booked
    file.write_text(text.replace(booked, spoilt), encoding="utf-8")
    found = balance_files(factory, file)
    assert not clean.suspects.findings
    assert [finding.name for finding in found.suspects.findings] == [f"bias of {SCALE}"]
    low, upper = found.suspects.findings[0].interval
    assert low <= high <= upper
    for name in RECOVERIES:
        before, after = clean.statements[name], found.statements[name]
        # As above: within half a standard uncertainty.
        assert abs(after.value - before.value) < 0.5 * before.sd
