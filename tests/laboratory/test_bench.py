"""The bench sheet: methods chosen, analyses taken from each other, uncertainties in parts."""

import datetime
import math
from dataclasses import dataclass

import numpy as np
import pytest

from canewright.laboratory.bench import Known, limits, raw_readings, work_up
from canewright.laboratory.method import methods
from canewright.laboratory.plausibility import alarms, ranges, unusual
from canewright.laboratory.readings import READINGS

CLASSES = ("juice", "syrup", "massecuite", "molasses", "sugar", "cane", "bagasse", "cake")


@dataclass(frozen=True)
class Row:
    point: str
    analysis: str
    value: float
    method: str = ""
    time: datetime.datetime | None = None
    repeat: str = ""
    amount: float | None = None


def at(hour):
    return datetime.datetime(2026, 8, 14, hour)


def sheet(**readings):
    return [Row("juice", name.replace("__", "."), value) for name, value in readings.items()]


def only(rows, classes=None, **more):
    results, problems = work_up(rows, classes or {"juice": "juice"}, **more)
    assert problems == []
    assert len(results) == 1
    return results[0]


@pytest.mark.parametrize("stream_class", CLASSES)
@pytest.mark.parametrize("analysis", READINGS)
def test_raw_readings_of_all_methods_agree_in_their_units(analysis, stream_class):
    for name, raw in raw_readings(analysis, stream_class).items():
        low, high = limits(analysis, name, stream_class)
        assert low <= raw.low < raw.high <= high


def test_the_brix_of_the_same_sample_is_taken_for_schmitz_and_its_thermometer_with_it():
    rows = sheet(
        brix__reading=14.0, brix__temperature=25.0, pol__rotation=48.1, pol__temperature=20.0
    )
    results, problems = work_up(rows, {"juice": "juice"})
    brix, pol = results
    assert problems == []
    assert (brix.analysis, pol.analysis) == ("brix", "pol")
    one = pol.determinations[0]
    assert one.taken == ("brix",)
    assert one.worked.inputs["brix"] == brix.value
    slope = methods()["pol_of_juice"].sensitivities(
        {"rotation": 48.1, "brix": brix.value, "temperature": 20.0}, ["brix"]
    )[1]["brix"]
    shared = pol.shared["refractometer thermometer"]
    assert shared == pytest.approx(slope * brix.shared["refractometer thermometer"])
    # 0.1 Brix is 0.04 % of the pol (reference, section 1): -0.0047 of 11.86 per 0.1 Brix
    assert slope == pytest.approx(-0.0004 * 11.86 / 0.1, rel=0.05)


def test_the_order_of_the_rows_is_of_no_account():
    rows = sheet(
        brix__reading=14.0, brix__temperature=25.0, pol__rotation=48.1, pol__temperature=20.0
    )
    forward = {r.analysis: (r.value, r.own) for r in work_up(rows, {"juice": "juice"})[0]}
    backward = {r.analysis: (r.value, r.own) for r in work_up(rows[::-1], {"juice": "juice"})[0]}
    assert forward == backward


def test_a_brix_given_as_a_result_is_taken_too_with_the_uncertainty_of_the_method():
    rows = sheet(pol__rotation=48.1, pol__temperature=20.0)
    taken = only(rows, ready={("juice", "brix"): Known(14.2)})
    typed = only(sheet(pol__rotation=48.1, pol__temperature=20.0, pol__brix=14.2))
    assert taken.value == typed.value
    assert taken.own == pytest.approx(typed.own, rel=1e-12)


def test_each_time_is_a_determination_and_their_mean_has_less_of_its_own_error():
    hours = (6, 8, 10, 12)
    rows = [Row("juice", "brix.reading", 14.0 + 0.1 * k, time=at(h)) for k, h in enumerate(hours)]
    rows.append(Row("juice", "brix.temperature", 25.0))
    result = only(rows)
    assert len(result.determinations) == 4
    assert [one.time for one in result.determinations] == [at(h) for h in hours]
    one = result.determinations[0]
    # the same uncertainty each: 1/sqrt(4); slopes differ a little with the reading
    assert result.own == pytest.approx(one.own / 2, rel=1e-3)
    thermometer = "refractometer thermometer"
    assert result.shared[thermometer] == pytest.approx(one.shared[thermometer], rel=1e-2)
    together = math.hypot(result.own, result.shared[thermometer])
    assert result.uncertainty == pytest.approx(together, rel=1e-12)


def test_eight_hourly_samples_are_as_sure_as_the_reference_says():
    # 8 hourly samples, 0.05 random and 0.03 of bias: 0.035 (reference, section 8)
    rows = [Row("juice", "brix.reading", 14.0, time=at(h)) for h in range(6, 14)]
    own = only([*rows, Row("juice", "brix.temperature", 20.0)]).own
    assert math.hypot(own, 0.03) == pytest.approx(0.035, abs=0.0006)


def test_the_method_column_names_the_method():
    rows = sheet(brix__reading=15.0, brix__temperature=30.0)
    by_spindle = [Row(r.point, r.analysis, r.value, "brix by hydrometer") for r in rows]
    assert only(rows).method.name == "brix_of_juice"
    assert only(by_spindle).method.name == "brix_by_hydrometer"


def test_without_a_name_the_method_is_the_one_that_has_these_readings():
    found = only(sheet(brix__index=1.3540, brix__temperature=24.0))
    assert found.method.name == "brix_by_refractive_index"


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (sheet(brix__reading=80.0, brix__temperature=20.0), "dilute"),
        (sheet(brix__temperature=20.0), "reading is missing"),
        (sheet(brix__glow=3.0, brix__reading=14.0), "no raw reading 'glow'"),
        (sheet(weight__gross=3.0), "No method makes weight"),
        ([Row("juice", "brix.reading", 14.0, "brix_of_joice")], "Did you mean brix_of_juice"),
        (
            [
                Row("juice", "brix.reading", 14.0, "brix_of_juice"),
                Row("juice", "brix.temperature", 20.0, "brix_by_hydrometer"),
            ],
            "two methods",
        ),
    ],
)
def test_what_is_wrong_is_said_with_its_row(rows, words):
    results, problems = work_up(rows, {"juice": "juice"})
    assert results == []
    assert any(words in f"{problem.what} {problem.remedy}" for problem in problems), problems
    assert all(problem.row in rows for problem in problems)


def test_what_only_follows_from_another_mistake_is_not_said_again():
    rows = sheet(brix__reading=80.0, brix__temperature=20.0, pol__rotation=48.0)
    results, problems = work_up(rows, {"juice": "juice"})
    assert results == []
    assert len(problems) == 1
    assert "reading = 80" in problems[0].what


def test_an_unusual_stream_is_remarked():
    rows = [Row("mixed_juice", "brix.reading", 21.0), Row("mixed_juice", "brix.temperature", 20.0)]
    result = only(rows, {"mixed_juice": "juice"})
    assert any("mostly 11 to 17" in text for text in result.warnings)
    assert unusual("brix", "mixed juice", 14.0, "%") == ""
    assert unusual("brix", "no such stream", 99.0, "%") == ""
    assert all(low < high for stream in ranges().values() for low, high in stream.values())


def test_the_sheet_keeps_what_analyses_share_in_their_covariance():
    rows = [
        Row(point, f"brix.{name}", value)
        for point in ("one", "two")
        for name, value in (("reading", 14.0), ("temperature", 26.0))
    ]
    one, two = work_up(rows, {"one": "juice", "two": "juice"})[0]
    rng = np.random.default_rng(5)
    count = 200_000
    thermometer = rng.standard_normal(count)
    drawn = [
        r.value
        + r.own * rng.standard_normal(count)
        + r.shared["refractometer thermometer"] * thermometer
        for r in (one, two)
    ]
    expected = one.shared["refractometer thermometer"] * two.shared["refractometer thermometer"]
    expected /= one.uncertainty * two.uncertainty
    # a correlation from 200 000 draws is good to 0.0022, three times that is allowed
    assert np.corrcoef(drawn)[0, 1] == pytest.approx(expected, abs=0.007)


def test_alarms_are_those_of_the_reference():
    usual = {
        ("first juice", "pol"): 15.0,
        ("first juice", "brix"): 18.0,
        ("mixed_juice", "pol"): 11.8,
        ("mixed_juice", "brix"): 14.3,
        ("A massecuite", "apparent_purity"): 85.0,
        ("B massecuite", "apparent_purity"): 74.0,
        ("C massecuite", "apparent_purity"): 60.0,
        ("final molasses", "apparent_purity"): 33.0,
        ("bagasse", "pol"): 1.9,
        ("bagasse", "moisture"): 49.5,
        ("bagasse", "fibre"): 47.8,
        ("bagasse", "brix"): 2.7,
        ("raw sugar", "pol"): 98.6,
        ("raw sugar", "moisture"): 0.34,
    }
    assert alarms(usual) == []

    def said(**changes):
        changed = {**usual, **{tuple(k.split("__")): v for k, v in changes.items()}}
        changed = {(p.replace("_", " "), a): v for (p, a), v in changed.items()}
        return alarms(changed)

    assert any("above its Brix" in text for text in said(mixed_juice__pol=15.0))
    assert any("exchanged" in text for text in said(B_massecuite__apparent_purity=58.0))
    assert any("above that of first juice" in text for text in said(mixed_juice__pol=12.5))
    assert any("and not 100" in text for text in said(bagasse__moisture=52.0))
    assert any("below 1" in text for text in said(bagasse__pol=0.8))
    assert any("0.25" in text for text in said(raw_sugar__moisture=0.5))
    before = {("syrup", "ash"): 2.0, ("syrup", "brix"): 62.0}
    now = {("syrup", "ash"): 2.3, ("syrup", "brix"): 58.0}
    assert any("ash of syrup" in text for text in alarms(now, before))
    assert alarms({("syrup", "ash"): 1.9, ("syrup", "brix"): 58.0}, before) == []


def test_a_warning_is_given_once_for_all_determinations():
    rows = [Row("juice", "brix.reading", 40.0 + hour, time=at(hour)) for hour in (6, 10, 14)]
    result = only([*rows, Row("juice", "brix.temperature", 20.0)])
    (words,) = [text for text in result.warnings if "reading = " in text]
    assert "reading = 46 %" in words
    assert words.endswith("(2 more like it.)")
