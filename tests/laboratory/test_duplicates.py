"""Repeats: published rules."""

import math

import numpy as np
import pytest
from scipy import integrate, stats

from canewright.laboratory import duplicates
from canewright.laboratory.duplicates import RULES, judge, repeatability_of_groups


def test_ten_pairs_give_the_worked_repeatability():
    # laboratory reference, section 10: ten differences x 0.01 -> s_r 0.02449, r 0.0686.
    differences = np.array([4, -2, 6, 1, -5, 3, 0, 2, -3, 4]) * 0.01
    found = duplicates.repeatability_of_pairs(differences)
    # Half a unit of the last digit printed.
    assert found.s_r == pytest.approx(0.02449, abs=5e-6)
    assert found.limit == pytest.approx(0.0686, abs=5e-5)
    assert found.degrees_of_freedom == 10


def test_groups_of_two_pool_to_the_same_as_pairs():
    pairs = np.array([[11.90, 11.94], [12.05, 12.03], [11.70, 11.76]])
    from_groups = repeatability_of_groups([*pairs.tolist(), [12.2]])
    from_pairs = duplicates.repeatability_of_pairs(pairs[:, 0] - pairs[:, 1])
    # Same algebra by two ways: rounding of floats only.
    assert from_groups.s_r == pytest.approx(from_pairs.s_r, rel=1e-12)
    assert from_groups.degrees_of_freedom == from_pairs.degrees_of_freedom == 3


@pytest.mark.parametrize("count", [2, 3, 4])
def test_factors_of_the_critical_range_are_the_published_ones(count):
    # ISO 5725-6, table 1: 95 % point of the range of n results, in s, printed to one decimal.
    factor = RULES["widening_range"].widest[count]
    exact = stats.studentized_range.ppf(0.95, count, np.inf)
    # Half a unit of the printed decimal.
    assert factor == pytest.approx(exact, abs=0.05)


def test_two_that_agree_give_their_mean():
    judged = judge([11.90, 11.96], s_r=0.03)
    assert judged.verdict == "accept"
    assert judged.value == pytest.approx(11.93, abs=1e-12)  # rounding of floats
    assert judged.uncertainty == pytest.approx(0.03 / math.sqrt(2), rel=1e-12)  # the same
    assert judged.set_aside == ()


def test_two_that_differ_by_more_than_the_limit_ask_for_another():
    judged = judge([11.90, 11.99], s_r=0.03)  # 0.09 > 2.8 x 0.03 = 0.084
    assert judged.verdict == "repeat"
    assert judged.value is None
    assert "another analysis" in judged.words


def test_the_third_result_gives_the_median():
    judged = judge([11.90, 12.40, 11.93], s_r=0.03)
    assert (judged.verdict, judged.value) == ("median", 11.93)
    assert judged.set_aside == (11.90, 12.40)


def test_a_widening_range_takes_the_mean_of_three_and_the_median_of_four():
    of_three = judge([11.90, 11.99, 11.95], 0.03, "widening_range")  # 0.09 <= 3.3 x 0.03
    assert of_three.verdict == "accept"
    assert of_three.value == pytest.approx((11.90 + 11.99 + 11.95) / 3, abs=1e-12)  # rounding
    assert judge([11.90, 12.40, 11.93], 0.03, "widening_range").verdict == "repeat"
    of_four = judge([11.90, 12.40, 11.93, 11.95], 0.03, "widening_range")
    assert of_four.verdict == "median"
    assert of_four.value == pytest.approx(11.94, abs=1e-12)  # rounding
    assert of_four.set_aside == (11.90, 12.40)


def test_the_closest_pair_is_taken_with_a_warning_that_it_flatters():
    judged = judge([11.90, 12.40, 11.93], 0.03, "closest_pair")
    assert judged.taken == (11.90, 11.93)
    assert judged.set_aside == (12.40,)
    assert "lieblein1952" in judged.words
    two_as_they_come = judge([11.90, 11.93], 0.03, "closest_pair")
    # Lieblein (1952): selected pairs result in less accurate determinations.
    assert judged.uncertainty > two_as_they_come.uncertainty


def test_uncertainties_of_median_and_closest_pair_agree_with_simulation():
    drawn = np.random.default_rng(20260503).standard_normal((400_000, 3))
    drawn.sort(axis=1)
    low, middle, high = drawn.T
    closest = np.where(middle - low <= high - middle, low + middle, middle + high) / 2
    # Relative standard error of a standard deviation from n draws: 1/sqrt(2n) = 0.11 %; four.
    assert middle.std() == pytest.approx(duplicates.MEDIAN_OF_THREE, rel=0.0045)
    assert closest.std() == pytest.approx(duplicates.CLOSEST_OF_THREE, rel=0.0045)


@pytest.mark.slow
def test_the_uncertainty_of_the_median_of_four_is_that_of_its_order_statistics():
    def density(low, gap):
        high = low + gap
        below, above = stats.norm.cdf(low), stats.norm.sf(high)
        return 24 * below * above * stats.norm.pdf(low) * stats.norm.pdf(high)

    variance, _ = integrate.dblquad(
        lambda gap, low: (low + gap / 2) ** 2 * density(low, gap), -8, 8, 0, 16
    )
    stated = judge([0, 50, 20, 30], 1.0, "widening_range").uncertainty
    # Half a unit of the fourth decimal, as carried.
    assert stated == pytest.approx(math.sqrt(variance), abs=5e-5)


@pytest.mark.parametrize(
    ("results", "s_r", "told"),
    [
        ([], 0.03, "no results"),
        ([11.9, math.nan], 0.03, "not a number"),
        ([11.9, 12.0], 0.0, "above 0"),
        ([11.9, 12.0, 12.1, 12.2], 0.03, "up to 3"),
    ],
)
def test_what_cannot_be_judged_is_refused_in_words(results, s_r, told):
    with pytest.raises(ValueError, match=told):
        judge(results, s_r)
