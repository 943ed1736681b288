"""The plan of a season as a file: taken whole, or refused with everything that is wrong."""

from datetime import date, datetime

import pytest

from canewright.account.season_plan import against_plan, pace, planned
from canewright.files.plan import plan_path, read_plan
from canewright.files.problems import InputRefused

PLAN = """first,last,cane,sugar,recovery,hours
2026-08-01,2026-08-31,93000,10000,84,620
2026-07-01,2026-07-31,62000,6500,83,600
"""


def written(folder, text):
    path = folder / "plan.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_plan_is_read_in_the_order_of_its_days(tmp_path):
    written(tmp_path, PLAN)
    july, august = read_plan(plan_path(tmp_path))
    assert (july.first, july.last, july.cane) == (date(2026, 7, 1), date(2026, 7, 31), 62000)
    assert (august.sugar, august.recovery, august.hours) == (10000, 84, 620)


def test_a_span_counts_by_its_days_and_recovery_by_its_cane(tmp_path):
    spans = read_plan(written(tmp_path, PLAN))
    asked = planned(spans, datetime(2026, 7, 22), datetime(2026, 8, 11))
    # Ten days of July at 2000 t a day and ten of August at 3000: by hand.
    assert asked.cane == pytest.approx(50000)
    assert asked.recovery == pytest.approx((20000 * 83 + 30000 * 84) / 50000)
    assert asked.hours == pytest.approx(10 * 600 / 31 + 10 * 20)
    assert planned(spans, datetime(2027, 1, 1), datetime(2027, 2, 1)).cane == 0


def test_what_is_not_planned_has_no_line(tmp_path):
    spans = read_plan(written(tmp_path, "first,last,cane\n2026-07-01,2026-07-31,62000\n"))
    actual = {"cane_tonnes": (30000.0, 50.0), "sugar_tonnes": (3000.0, 5.0)}
    lines = against_plan(
        spans, datetime(2026, 7, 1), datetime(2026, 7, 11), actual.get, crushing=200.0
    )
    assert [(line.name, line.difference) for line in lines] == [("cane crushed", 10000.0)]


def test_the_pace_to_date_tells_when_the_planned_cane_is_crushed(tmp_path):
    spans = read_plan(written(tmp_path, PLAN))
    # 155000 t planned, 50000 t in 20 days from 6 July: 42 days more.
    found = pace(spans, datetime(2026, 7, 6), datetime(2026, 7, 26), 50000.0)
    assert found.end == datetime(2026, 9, 6)
    assert found.planned_end == datetime(2026, 9, 1)
    assert found.late == pytest.approx(5)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("first,last\n2026-07-01,2026-07-31\n", "column 'cane' is missing"),
        ("first,last,cane,rain\n2026-07-01,2026-07-31,5,1\n", "column 'rain' is not known"),
        ("first,last,cane\n2026-07-01,2026-06-30,5\n", "before it begins"),
        ("first,last,cane\n01/07/2026,2026-07-31,5\n", "'01/07/2026' is not a day"),
        ("first,last,cane\n2026-07-01,2026-07-31,\n", "No cane is planned"),
        ("first,last,cane\n2026-07-01,2026-07-31,-5\n", "is not possible"),
        ("first,last,cane,hours\n2026-07-01,2026-07-01,5,25\n", "more than the span has"),
        (
            "first,last,cane\n2026-07-01,2026-07-31,5\n2026-07-31,2026-08-01,5\n",
            "before the one from 2026-07-01 ends",
        ),
        ("# nothing\n", "is empty"),
    ],
)
def test_a_plan_is_refused_in_a_sentence(tmp_path, text, said):
    with pytest.raises(InputRefused, match=said):
        read_plan(written(tmp_path, text))
