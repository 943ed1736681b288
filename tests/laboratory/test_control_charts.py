"""Control charts: constants, limits, run rules, run lengths, drawings, bias of an instrument."""

import datetime
import math
import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest
from scipy import integrate, stats

from canewright.laboratory import chart_drawing, control_charts
from canewright.laboratory.chart_constants import constants
from canewright.laboratory.check_samples import (
    CheckRecord,
    bias_prior,
    chart_checks,
    drift_of_weight,
)
from canewright.laboratory.control_charts import (
    cumulative_sums,
    individuals,
    mean_and_range,
    moving_average,
    moving_range,
)
from canewright.laboratory.run_rules import broken, rule_sets

# Table of control chart constants as printed in the handbooks of the trade (ISO 7870-2, ASTM
# manual); the columns of d2, A2, D3 and D4 read in a public copy, d3 and c4 in another.
# n: d2, d3, c4, A2, D3, D4
PRINTED = {
    2: (1.128, 0.853, 0.7979, 1.880, 0, 3.267),
    3: (1.693, 0.888, 0.8862, 1.023, 0, 2.575),
    4: (2.059, 0.880, 0.9213, 0.729, 0, 2.282),
    5: (2.326, 0.864, 0.9400, 0.577, 0, 2.114),
    6: (2.534, 0.848, 0.9515, 0.483, 0, 2.004),
    7: (2.704, 0.833, 0.9594, 0.419, 0.076, 1.924),
    8: (2.847, 0.820, 0.9650, 0.373, 0.136, 1.864),
    9: (2.970, 0.808, 0.9693, 0.337, 0.184, 1.816),
    10: (3.078, 0.797, 0.9727, 0.308, 0.223, 1.777),
    15: (3.472, 0.756, 0.9823, 0.223, 0.347, 1.653),
    20: (3.735, 0.729, 0.9869, 0.180, 0.415, 1.585),
    25: (3.931, 0.708, 0.9896, 0.153, 0.459, 1.541),
}


@pytest.mark.published
@pytest.mark.parametrize("group", PRINTED)
def test_constants_are_the_printed_ones(group):
    d2, d3, c4, of_means, low, high = PRINTED[group]
    found = constants(group)
    # Half a unit of the last digit printed, and as much again: the printed tables themselves
    # differ by one unit in D3 and D4, which they work from rounded d2 and d3.
    assert found.d2 == pytest.approx(d2, abs=6e-4)
    assert found.d3 == pytest.approx(d3, abs=6e-4)
    assert found.c4 == pytest.approx(c4, abs=6e-5)
    assert found.of_means == pytest.approx(of_means, abs=6e-4)
    assert found.low_range == pytest.approx(low, abs=1e-3)
    assert found.high_range == pytest.approx(high, abs=1e-3)


@pytest.mark.parametrize("group", [2, 3, 5, 10, 25])
def test_constants_agree_with_another_way_of_integrating(group):
    def mean_of(x):
        below = stats.norm.cdf(x)
        return 1 - below**group - (1 - below) ** group

    d2, _ = integrate.quad(mean_of, -np.inf, np.inf, epsabs=1e-12)
    # Both integrals are good to a few times 1e-11.
    assert constants(group).d2 == pytest.approx(d2, abs=1e-9)
    sample_sd = stats.chi(group - 1).mean() / math.sqrt(group - 1)
    assert constants(group).c4 == pytest.approx(sample_sd, rel=1e-12)  # rounding of gammas


def test_the_second_moment_of_the_range_of_two_is_exact():
    # Range of two = sqrt(2) |z|: mean 2/sqrt(pi), variance 2 - 4/pi.
    assert constants(2).d2 == pytest.approx(2 / math.sqrt(math.pi), abs=1e-10)  # integration
    assert constants(2).d3 == pytest.approx(math.sqrt(2 - 4 / math.pi), abs=1e-10)  # the same


def test_limits_of_single_values_and_moving_ranges_are_the_usual_factors():
    # laboratory reference, section 10: mean +/- 2.66 MRbar; moving range 3.267 MRbar.
    values = np.array([10.0, 10.4, 9.9, 10.1, 10.2, 9.8])
    mean_range = np.abs(np.diff(values)).mean()
    single, ranges = individuals(values), moving_range(values)
    # Half a unit of the last digit printed of each factor.
    assert (single.upper[0] - single.centre) / mean_range == pytest.approx(2.66, abs=0.005)
    assert ranges.upper[0] / mean_range == pytest.approx(3.267, abs=5e-4)
    assert ranges.centre == pytest.approx(mean_range, rel=1e-12)  # rounding
    assert single.centre == values.mean()


def test_charts_of_means_and_ranges_use_the_published_factors():
    groups = np.random.default_rng(3).normal(50, 2, (20, 4))
    means, ranges = mean_and_range(groups)
    mean_range = np.ptp(groups, axis=1).mean()
    # n = 4: A2 0.729, D4 2.282; half a unit of the last digit printed.
    assert (means.upper[0] - means.centre) / mean_range == pytest.approx(0.729, abs=5e-4)
    assert ranges.upper[0] / mean_range == pytest.approx(2.282, abs=5e-4)
    assert (means.kind, ranges.kind) == ("means", "ranges")


def test_limits_of_the_moving_average_widen_as_published():
    # laboratory reference, section 10: lambda 0.2, L 2.86: 0.572, 0.733 s; 0.953 s in the end.
    half = control_charts.smoothed_limits(200, 1.0)
    # Half a unit of the last digit printed.
    assert half[:2] == pytest.approx([0.572, 0.733], abs=5e-4)
    assert half[-1] == pytest.approx(0.953, abs=5e-4)


def test_the_moving_average_starts_at_its_centre():
    chart = moving_average([1.0, 0.0, 0.0], centre=0.0, sd=1.0)
    # 0.2, then 0.8 of it each time, by hand.
    assert chart.plotted == pytest.approx([0.2, 0.16, 0.128], abs=1e-15)  # rounding


def test_cumulative_sums_count_from_nought_on_both_sides():
    chart = cumulative_sums([1.0, 2.0, -3.0, 0.0], centre=0.0, sd=1.0)
    # up: 0.5, 2.0, 0, 0; down: 0, 0, 2.5, 2.0, by hand.
    assert chart.plotted.tolist() == [0.5, 2.0, 0.0, 0.0]
    assert chart.below.tolist() == [0.0, 0.0, -2.5, -2.0]


PATTERNS = {
    "beyond_three": ([0, 3.1], [0, 2.9]),
    "two_of_three": ([2.1, 0, 2.1], [2.1, 0, -2.1]),
    "four_of_five": ([1.1, 1.1, 0, 1.1, 1.1], [1.1, 1.1, 0, -1.1, 1.1]),
    "eight_on_one_side": ([0.1] * 8, [0.1] * 7 + [-0.1]),
    "nine_on_one_side": ([-0.1] * 9, [-0.1] * 8),
    "six_in_a_trend": ([-2, -1, 0, 0.5, 1, 1.5], [-2, -1, 0, 0.5, 0.4, 1.5]),
    "fourteen_alternating": ([0.1, -0.1] * 7, [0.1, -0.1] * 6 + [0.1, 0.2]),
    "fifteen_near_centre": ([0.5, -0.5, 0.2] * 5, [0.5] * 14 + [1.1]),
    "eight_away_from_centre": ([1.1, -1.2] * 4, [1.1] * 7 + [0.9]),
}


@pytest.mark.parametrize("name", PATTERNS)
def test_each_run_rule_sees_its_pattern_and_not_its_neighbour(name):
    rules = {rule.name: rule for each in rule_sets().values() for rule in each.rules}
    assert set(PATTERNS) == set(rules)
    wrong, right = (np.array(pattern, dtype=float) for pattern in PATTERNS[name])
    assert np.flatnonzero(broken(rules[name], wrong)).tolist() == [wrong.size - 1]
    assert not broken(rules[name], right).any()


def test_a_rule_looks_no_farther_back_than_its_window():
    rule = {rule.name: rule for rule in rule_sets()["western_electric"].rules}["two_of_three"]
    far_apart = np.array([2.1, 0, 0, 2.1, 0, 0, 0, 2.1])
    assert not broken(rule, far_apart).any()


def test_rules_work_on_many_rows_at_once():
    rows = np.random.default_rng(5).standard_normal((7, 60)) * 1.5
    for rule in rule_sets()["eight_rules"].rules:
        together = broken(rule, rows)
        assert (together == [broken(rule, row) for row in rows]).all()


def run_lengths(signals):
    """Points up to the first signal of each row; every row must have one."""
    assert signals.any(axis=-1).all()
    return signals.argmax(axis=-1) + 1


def agrees(lengths, published, last_digit):
    """Within four standard errors of the simulated mean and half the last digit printed."""
    error = lengths.std() / math.sqrt(lengths.size)
    assert lengths.mean() == pytest.approx(published, abs=4 * error + last_digit / 2)


@pytest.mark.slow
@pytest.mark.parametrize(("shift", "published", "digit"), [(0.0, 370.4, 0.1), (1.0, 43.9, 0.1)])
def test_run_lengths_of_shewhart_limits(shift, published, digit):
    # laboratory reference, section 10: 370 in control and 43.9 at a shift of one sd.
    drawn = np.random.default_rng(11).standard_normal((4000, 6000)) + shift
    rule = rule_sets()["limits_only"].rules[0]
    agrees(run_lengths(broken(rule, drawn)), published, digit)


@pytest.mark.slow
@pytest.mark.parametrize(("shift", "published", "digit"), [(0.0, 91.75, 0.01), (1.0, 9.22, 0.01)])
def test_run_lengths_of_the_four_rules(shift, published, digit):
    # Champ and Woodall (1987): 91.75 in control, 9.22 at a shift of one sd (from memory).
    drawn = np.random.default_rng(12).standard_normal((8000, 1500)) + shift
    signals = np.zeros(drawn.shape, dtype=bool)
    for rule in rule_sets()["western_electric"].rules:
        signals |= broken(rule, drawn)
    agrees(run_lengths(signals), published, digit)


@pytest.mark.slow
@pytest.mark.parametrize(("shift", "published", "digit"), [(0.0, 371, 1), (1.0, 9.8, 0.1)])
def test_run_lengths_of_the_moving_average(shift, published, digit):
    # laboratory reference, section 10: 371 in control and 9.8 at a shift of one sd, for limits
    # at their final width; those that start narrow signal a little sooner.
    drawn = np.random.default_rng(13).standard_normal((4000, 6000)) + shift
    plotted = control_charts.smoothed(drawn, 0.0)
    final = control_charts.smoothed_limits(1000, 1.0)[-1]
    agrees(run_lengths(np.abs(plotted) > final), published, digit)
    sooner = run_lengths(np.abs(plotted) > control_charts.smoothed_limits(6000, 1.0))
    assert sooner.mean() < published


@pytest.mark.slow
@pytest.mark.parametrize(("shift", "published", "digit"), [(0.0, 465, 1), (1.0, 10.4, 0.1)])
def test_run_lengths_of_cumulative_sums(shift, published, digit):
    # laboratory reference, section 10: k 0.5, h 5: 465 in control, 10.4 at one sd.
    drawn = np.random.default_rng(14).standard_normal((4000, 7000)) + shift
    above, below = control_charts.sums(drawn)
    agrees(run_lengths((above > 5) | (below > 5)), published, digit)


def test_the_sparkline_marks_signals_and_keeps_the_newest():
    values = [0.0, 0.5, -0.5, 0.2, 4.0]
    chart = individuals(values, centre=0.0, sd=1.0, rules="limits_only")
    bars, marks = chart_drawing.sparkline(chart).splitlines()
    assert len(bars) == len(marks) == 5
    assert marks == "....!"
    assert bars[-1] == chart_drawing.BARS[-1]
    plain, marks = chart_drawing.sparkline(chart, plain=True, widest=2).splitlines()
    assert plain.isascii()
    assert marks == ".!"


def test_the_drawing_is_valid_and_readable_without_colour():
    chart = individuals([0.0, 0.5, -0.5, 4.0], centre=0.0, sd=1.0, rules="limits_only")
    drawn = chart_drawing.svg(chart, title="Refractometer <1> & 2", unit="%", labels=list("abcd"))
    root = ElementTree.fromstring(drawn)
    space = "{http://www.w3.org/2000/svg}"
    assert root.find(f"{space}title").text == "Refractometer <1> & 2"
    assert "Signals at point 4" in root.find(f"{space}desc").text
    # Three open circles and one filled square with its number: shape tells, not colour.
    assert len(root.findall(f".//{space}circle")) == 3
    squares = [part for part in root.findall(f".//{space}rect") if part.get("width") == "8"]
    assert len(squares) == 1
    colours = {part.get(key) for part in root.iter() for key in ("fill", "stroke")} - {None}
    assert colours <= {"black", "white", "none"}
    words = {part.text for part in root.iter(f"{space}text")}
    assert {"upper limit", "lower limit", "centre"} <= words


@pytest.mark.parametrize("make", [individuals, moving_average, cumulative_sums])
def test_every_chart_can_be_drawn(make):
    chart = make([0.1, -0.2, 6.0, 0.3, -7.0], centre=0.0, sd=1.0)
    ElementTree.fromstring(chart_drawing.svg(chart, title="check"))
    assert chart_drawing.sparkline(chart)


def test_a_single_point_has_a_chart_when_the_scatter_is_known():
    chart = individuals([0.5], centre=0.0, sd=1.0)
    assert chart.in_control
    ElementTree.fromstring(chart_drawing.svg(chart, title="check"))


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda: individuals([1.0]), "at least 2"),
        (lambda: individuals([1.0, math.nan, 2.0]), "not a number"),
        (lambda: individuals([1.0, 1.0, 1.0]), "do not differ"),
        (lambda: moving_average([1.0, 2.0], weight=0), "weight of 0"),
        (lambda: mean_and_range([[1, 2], [3]]), "all of one size"),
        (lambda: mean_and_range([[1.0], [2.0]]), "2 to 25"),
        (lambda: constants(26), "2 to 25"),
    ],
)
def test_what_cannot_be_charted_is_refused_in_words(make, told):
    with pytest.raises(ValueError, match=told):
        make()


def record(deviations, **changes):
    given = {
        "instrument": "bench refractometer",
        "values": tuple(20 + d for d in deviations),
        "expected": (20.0,) * len(deviations),
        "unit": "%",
        "repeatability": 0.05,
    }
    return CheckRecord(**{**given, **changes})


def test_the_first_check_sets_the_bias():
    mean, sd = bias_prior(record([0.12]))
    assert mean == pytest.approx(0.12, abs=1e-12)  # rounding of 20.12 - 20
    assert sd == pytest.approx(0.05, rel=1e-12)  # rounding


def test_without_drift_the_bias_is_the_mean_of_all_checks():
    deviations = [0.10, 0.14, 0.06, 0.12]
    mean, sd = bias_prior(record(deviations), drift=0.0)
    # The textbook mean of n readings: algebra, so rounding only.
    assert mean == pytest.approx(np.mean(deviations), abs=1e-12)
    assert sd == pytest.approx(0.05 / 2, rel=1e-12)


def test_after_many_checks_the_bias_is_the_moving_average_of_the_chart():
    drawn = np.random.default_rng(21).normal(0.1, 0.05, 200)
    mean, sd = bias_prior(record(drawn))
    # The start has weight 0.8^200 = 4e-20.
    assert mean == pytest.approx(control_charts.smoothed(drawn, 0.0)[-1], abs=1e-12)
    # Muth (1960): steady-state variance w s^2.
    assert sd == pytest.approx(0.05 * math.sqrt(0.2), rel=1e-9)


def test_the_bias_covers_a_wandering_truth_as_often_as_it_says():
    random = np.random.default_rng(22)
    walk = drift_of_weight(0.2, 0.05)
    missed = []
    for _ in range(2000):
        truth = random.normal(0, 0.1) + np.cumsum(random.normal(0, walk, 12))
        mean, sd = bias_prior(record(truth + random.normal(0, 0.05, 12)))
        missed.append((mean - truth[-1]) / sd)
    # Variance of a chi-square of 2000 over 2000: sd sqrt(2/2000) = 0.032; four of it.
    assert np.mean(np.square(missed)) == pytest.approx(1.0, abs=0.13)
    assert np.mean(missed) == pytest.approx(0.0, abs=4 / math.sqrt(2000))  # four standard errors


def test_the_standard_itself_limits_what_checks_can_tell():
    _, sd = bias_prior(record([0.1] * 400, standard_uncertainty=0.03), drift=0.0)
    # sqrt(0.05^2/400 + 0.03^2), by hand.
    assert sd == pytest.approx(math.sqrt(0.0025**2 + 0.03**2), rel=1e-9)


def test_a_drift_is_told_apart_from_a_blunder():
    random = np.random.default_rng(23)
    steady = random.normal(0, 0.05, 30)
    drifting = steady + np.linspace(0, 0.12, 30)
    blunder = np.append(steady[:-1], 0.4)
    assert chart_checks(record(steady)).fit
    assert "has drifted" in chart_checks(record(drifting)).words
    # One wild check: single values signal.
    told = chart_checks(record(blunder))
    assert not told.fit
    assert any(signal.rule == "beyond_three" for signal in told.single.signals)


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda: record([]), "no reading"),
        (lambda: record([0.1], expected=()), "value expected"),
        (lambda: record([math.nan]), "not a number"),
        (lambda: bias_prior(record([0.1, 0.2], repeatability=None)), "give the repeatability"),
        (lambda: bias_prior(record([0.1, 0.2], repeatability=0.0)), "above zero"),
        (lambda: bias_prior(record([0.1, 0.2]), drift=-1.0), "below zero"),
    ],
)
def test_a_record_that_tells_nothing_is_refused(make, told):
    with pytest.raises(ValueError, match=told):
        make()


def test_times_are_kept_with_the_record():
    times = (datetime.datetime(2026, 5, 3, 6),)
    assert record([0.1], times=times).times == times
