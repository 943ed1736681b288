"""Calibration of instruments: what an overdue one is worth, and that the balance heeds it."""

import datetime
import math
from dataclasses import dataclass

import pytest

from canewright.laboratory.instruments import (
    intervals_overdue,
    overdue,
    widening,
)

CALIBRATED, DUE = datetime.date(2025, 5, 1), datetime.date(2026, 5, 1)


def day(days):
    """So many days after the due date."""
    return DUE + datetime.timedelta(days=days)


@dataclass(frozen=True)
class Instrument:
    name: str
    calibrated: datetime.date | None
    due: datetime.date | None


@dataclass(frozen=True)
class Factory:
    instruments: tuple[Instrument, ...]


@pytest.mark.parametrize("days", [-400, -1, 0])
def test_an_instrument_in_its_interval_keeps_its_bias(days):
    assert widening(CALIBRATED, DUE, day(days)) == 1.0


@pytest.mark.parametrize("intervals", [1, 2, 3])
def test_the_variance_grows_by_its_own_size_for_each_interval(intervals):
    # The stated rule, worked by hand: sqrt(1 + intervals overdue).
    found = widening(CALIBRATED, DUE, day(365 * intervals))
    assert found == pytest.approx(math.sqrt(1 + intervals), rel=1e-12)  # rounding


def test_the_widening_does_not_jump():
    before, after = widening(CALIBRATED, DUE, day(364)), widening(CALIBRATED, DUE, day(366))
    # A day is 1/365 of an interval: sqrt(2) times (1/365)/4 a day, two days.
    assert after - before == pytest.approx(2 * math.sqrt(2) / 4 / 365, rel=1e-3)


def test_an_instrument_without_dates():
    assert intervals_overdue(None, None, day(500)) == 0
    assert intervals_overdue(CALIBRATED, None, day(500)) == 0
    # A year is taken where the calibration's date is missing.
    assert intervals_overdue(None, DUE, day(365)) == 1


def test_the_overdue_are_listed_longest_first():
    factory = Factory(
        (
            Instrument("scale", CALIBRATED, day(1)),
            Instrument("polarimeter", CALIBRATED, DUE),
            Instrument("refractometer", CALIBRATED, day(-100)),
            Instrument("dip rod", None, None),
        )
    )
    listed = overdue(factory, day(1))
    assert [entry.instrument for entry in listed] == ["refractometer", "polarimeter"]
    assert "was due for calibration on 2026-05-01, 1 day ago" in listed[1].words
    assert "101 days" in listed[0].words


def test_the_balance_widens_the_bias_of_an_overdue_instrument_only():
    from canewright.engine.equations.model import compile
    from canewright.engine.equations.points import Points
    from canewright.files.factory import read_text
    from tests.engine import small_factory

    instruments = """
[[instrument]]
name = "bench refractometer"
reads = ["mixed juice.brix", "clear juice.brix"]
bias = "0.05 %"
calibrated = 2025-05-01
due = 2026-05-01

[[instrument]]
name = "juice scale"
reads = ["mixed juice.weight"]
calibrated = 2026-06-01
due = 2027-06-01
"""
    model = compile(read_text(small_factory.text() + instruments))
    plain, dated = Points(model), Points(model, on=day(365))
    for point in ("mixed_juice", "clear_juice"):
        before, after = plain.channel(point, "brix"), dated.channel(point, "brix")
        assert before.bias == 0.05
        # One interval overdue: sqrt(2); rounding only.
        assert after.bias == pytest.approx(0.05 * math.sqrt(2), rel=1e-12)
        assert after.random == before.random
    assert dated.channel("mixed_juice", "weight") == plain.channel("mixed_juice", "weight")
    assert dated.channel("mixed_juice", "pol") == plain.channel("mixed_juice", "pol")
