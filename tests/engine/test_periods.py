"""Days, weeks, fortnights and months of runs of shifts."""

import itertools
from datetime import datetime, timedelta

import pytest

from canewright.engine.chain.periods import KINDS, calendar

STARTS = [datetime(2026, 7, 3, 6) + timedelta(hours=8 * k) for k in range(3 * 40)]


@pytest.mark.parametrize("kind", KINDS)
def test_every_shift_belongs_to_one_period(kind):
    periods = calendar(STARTS, kind)
    assert periods[0].first == 0
    assert periods[-1].last == len(STARTS) - 1
    for one, other in itertools.pairwise(periods):
        assert other.first == one.last + 1
    assert len({period.name for period in periods}) == len(periods)


def test_weeks_begin_on_monday_and_a_night_shift_belongs_to_its_first_day():
    weeks = calendar(STARTS, "week")
    assert all(STARTS[week.first].weekday() == 0 for week in weeks[1:])
    assert [week.name for week in weeks[:2]] == ["week 27 of 2026", "week 28 of 2026"]
    days = calendar(STARTS, "day")
    assert (days[0].first, days[0].last) == (0, 2)
    assert STARTS[2].hour == 22


def test_fortnights_are_two_weeks_and_months_follow_the_calendar():
    whole = calendar(STARTS, "fortnight")[1:-1]
    assert all(period.last - period.first + 1 == 42 for period in whole)
    assert [period.name for period in calendar(STARTS, "month")] == ["2026-07", "2026-08"]


def test_a_week_at_the_turn_of_the_year_is_one_week():
    starts = [datetime(2026, 12, 28) + timedelta(days=k) for k in range(7)]
    assert [week.name for week in calendar(starts, "week")] == ["week 53 of 2026"]
