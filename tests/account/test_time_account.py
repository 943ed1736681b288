"""Where the hours of a period went."""

from datetime import datetime

import pytest

from canewright.account.time_account import time_account
from canewright.files.stops import Stop

FIRST, LAST = datetime(2026, 7, 6, 6), datetime(2026, 7, 7, 6)


def stop(day, hour, hours, cause):
    return Stop(datetime(2026, 7, day, hour), hours, cause)


def test_hours_add_up_and_efficiencies_follow_their_formulas():
    account = time_account(
        [stop(6, 8, 2, "mechanical"), stop(6, 14, 4, "rain"), stop(6, 20, 1, "no cane")],
        FIRST, LAST, [(FIRST, LAST)], 3400.0, planned_cane=4320.0,
    )  # fmt: skip
    assert account.hours == 24
    assert account.gross_available == 20
    assert account.crushing == 17
    assert account.lost == 2
    # 100 x 17/20; 100 x 10/(85 + 10), with 2 h on 20 h; 3400/17: by hand.
    assert account.overall_time_efficiency == pytest.approx(85.0, rel=1e-12)  # rounding
    assert account.lost_time == pytest.approx(1000 / 95, rel=1e-12)  # rounding
    assert account.crushing_rate == pytest.approx(200.0, rel=1e-12)  # rounding
    assert account.planned_cane == 4320
    # Two hours at 200 t/h.
    assert account.not_crushed["mechanical"] == pytest.approx(400.0, rel=1e-12)  # rounding


def test_stops_that_overlap_or_reach_outside_count_once_and_inside():
    account = time_account(
        [stop(6, 4, 3, "cleaning"), stop(6, 6, 2, "mechanical"), stop(7, 5, 9, "holiday")],
        FIRST, LAST, [(FIRST, LAST)], 0.0,
    )  # fmt: skip
    assert account.by_cause == {"cleaning": 1.0, "mechanical": 1.0, "holiday": 1.0}
    assert account.crushing == 21


def test_a_period_without_crushing_has_no_rate():
    account = time_account([stop(6, 6, 24, "holiday")], FIRST, LAST, [], 0.0)
    assert account.crushing == 0
    assert account.crushing_rate != account.crushing_rate


def test_the_rate_is_that_of_the_shifts_that_were_read():
    """The cane of a shift whose file is missing is not known, nor are its hours of crushing."""
    read = [(FIRST, datetime(2026, 7, 6, 14)), (datetime(2026, 7, 6, 22), LAST)]
    account = time_account([stop(6, 13, 2, "mechanical")], FIRST, LAST, read, 3000.0)
    assert account.crushing == 22
    assert account.read == 16
    assert account.crushing_read == 15
    assert account.crushing_rate == pytest.approx(200.0, rel=1e-12)  # rounding
