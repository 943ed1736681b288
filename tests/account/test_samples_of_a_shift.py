"""Samples in a file of readings: repeats, composites, late ones, ones that do not count."""

import csv

import pytest

from canewright.account.remarks import remarks
from canewright.engine.equations.points import Points
from canewright.files.catalogue import FactoryCatalogue
from canewright.files.problems import InputRefused
from canewright.files.readings import combine, read_readings
from canewright.files.writing import write_readings
from tests.engine.small_factory import small_model

HEAD = [
    "point",
    "analysis",
    "value",
    "unit",
    "method",
    "time",
    "note",
    "repeat",
    "amount",
    "received",
    "excluded",
]
FACTS = [["shift", "start", "2026-08-14T14:00"], ["shift", "hours", "8"]]


@pytest.fixture(scope="module")
def catalogue():
    return FactoryCatalogue(Points(small_model()))


@pytest.fixture
def taken(catalogue, tmp_path):
    """Read rows of point, analysis, value and what else is named; give readings and remarks."""

    def read(*rows):
        path = tmp_path / "shift.csv"
        with path.open("w", encoding="utf-8", newline="") as file:
            sheet = csv.writer(file)
            sheet.writerow(HEAD)
            sheet.writerows([*row, *[""] * (len(HEAD) - len(row))] for row in FACTS)
            for point, analysis, value, more in rows:
                cells = {"point": point, "analysis": analysis, "value": value, **more}
                sheet.writerow([cells.get(name, "") for name in HEAD])
        read_in = read_readings(path, catalogue)
        combined = combine(read_in.rows, catalogue)
        found = {f"{one.point} {one.analysis}": one for one in combined}
        told = remarks(small_model().factory, combined, read_in.rows, read_in.shift)
        return found, {kind: [r.words for r in told if r.kind == kind] for kind in KINDS}, read_in

    return read


KINDS = ("alarm", "repeats", "late", "excluded", "near a limit")


def juice(value, analysis="brix", **more):
    return ("mixed_juice", analysis, str(value), more)


def test_repeats_at_one_time_are_judged(taken):
    found, told, _ = taken(
        juice(15.30, time="16:00", repeat="1"),
        juice(15.34, time="16:00", repeat="2"),
        juice(15.50, time="20:00"),
    )
    brix = found["mixed_juice brix"]
    assert brix.value == pytest.approx((15.32 + 15.50) / 2)
    assert brix.count == 2
    assert told["repeats"] == []


def test_repeats_that_disagree_ask_for_another(taken):
    # 0.5 Brix apart; 2.8 of the 0.05 of a juice's refractometer Brix is 0.14.
    found, told, _ = taken(
        juice(15.0, time="16:00", repeat="1"), juice(15.5, time="16:00", repeat="2")
    )
    assert found["mixed_juice brix"].sd == pytest.approx((0.05**2 + 0.25**2) ** 0.5)
    (words,) = told["repeats"]
    assert "brix of mixed_juice" in words
    assert "make another analysis" in words


def test_a_composite_is_weighed_by_what_its_samples_stand_for(taken):
    found, _, _ = taken(
        juice(15.0, time="16:00", amount="300"), juice(16.0, time="20:00", amount="100")
    )
    assert found["mixed_juice brix"].value == pytest.approx(15.25)


def test_raw_readings_have_repeats_and_amounts_too(taken):
    twenty = juice(20, "brix.temperature")
    found, told, _ = taken(
        juice(15.0, "brix.reading", time="16:00", repeat="1", amount="300"),
        juice(15.6, "brix.reading", time="16:00", repeat="2"),
        juice(16.0, "brix.reading", time="20:00", amount="100"),
        twenty,
    )
    brix = found["mixed_juice brix"]
    assert brix.value == pytest.approx(0.75 * 15.3 + 0.25 * 16.0)
    assert brix.count == 3  # determinations; of two samples
    assert len(brix.bench.determinations) == 3
    assert "make another analysis" in told["repeats"][0]


def test_a_sample_taken_at_the_wrong_point_is_kept_and_does_not_count(taken, tmp_path, catalogue):
    reason = "taken at the scale tank, not at the screen"
    found, told, read_in = taken(
        juice(15.3, time="16:00"), juice(26.0, time="16:00", excluded=reason)
    )
    assert found["mixed_juice brix"].value == 15.3
    (words,) = told["excluded"]
    assert "brix of mixed_juice 26 %, taken 14 Aug 16:00, is kept" in words
    assert reason in words
    # and it is still there when the file is written again
    again = tmp_path / "again.csv"
    write_readings(again, read_in.rows, read_in.shift)
    assert [row.excluded for row in read_readings(again, catalogue).rows] == ["", reason]


def test_a_sample_that_came_late_counts_and_is_told(taken):
    found, told, _ = taken(
        juice(15.3, time="16:00", received="17:00"),
        juice(15.5, time="21:00", received="2026-08-15T02:10"),
    )
    assert found["mixed_juice brix"].value == pytest.approx(15.4)
    (words,) = told["late"]
    assert "15.5 %, taken 14 Aug 21:00, came 15 Aug 02:10, after the shift" in words


@pytest.mark.parametrize(
    ("rows", "sentence"),
    [
        ([juice(15.0, amount="300", time="16:00"), juice(15.1, time="18:00")], "have an amount"),
        ([juice(15.0, amount="-3")], "cannot stand for -3"),
        ([juice(15.0, received="yesterday")], "yesterday"),
        ([juice(900, "weight", repeat="1")], "no repeats and no amounts"),
        ([juice(15.0, time="16:00"), juice(15.1, time="16:00")], "column 'repeat'"),
        ([juice(215, "ash.conductivity")], "'215' has no unit, and instruments differ"),
        (
            [
                juice(15.0, "brix.reading", amount="300", time="16:00"),
                juice(15.0, "brix.reading", time="18:00"),
                juice(20, "brix.temperature"),
            ],
            "have an amount",
        ),
    ],
)
def test_what_cannot_be_weighed_is_refused_with_its_row(taken, rows, sentence):
    with pytest.raises(InputRefused, match=sentence) as refused:
        taken(*rows)
    assert refused.value.problems[0].row


def test_what_a_chemist_would_stop_at_is_told(taken):
    _, told, _ = taken(
        ("mixed_juice", "brix", "15.0", {}),
        ("mixed_juice", "pol", "13.5", {}),
        ("juice_of_mill_1", "brix", "19.0", {}),
        ("juice_of_mill_1", "pol", "16.0", {}),
    )
    # The juice of mill 1 is the first juice here: 90.0 above 84.2.
    assert any(
        "purity of mixed juice (90.00) is above that of first juice" in w for w in told["alarm"]
    )
