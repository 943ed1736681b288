"""Determinations of a period put together: repeats judged, samples weighed, composites."""

import math

import numpy as np
import pytest

from canewright.laboratory.together import CannotBeWeighed, together


def test_samples_make_their_mean_and_their_random_part_falls():
    made = together([11.9, 12.1, 12.0, 12.4], range(4), 0.05)
    assert made.value([11.9, 12.1, 12.0, 12.4]) == pytest.approx(12.1)
    assert made.own([0.05] * 4) == pytest.approx(0.05 / 2)
    assert (made.samples, made.words) == (4, ())


def test_eight_hourly_samples_keep_the_bias_of_their_instrument():
    # laboratory reference, section 8: 8 hourly samples, 0.05 and 0.03 -> 0.035.
    made = together(range(8), range(8), 0.05)
    # Half a unit of the last digit printed.
    assert math.hypot(made.own([0.05] * 8), 0.03) == pytest.approx(0.035, abs=5e-4)


def test_repeats_of_a_sample_count_once():
    # Two samples, one of them twice: (12.00 + 12.02)/2 and 12.51 make 12.26, not 12.177.
    values = [12.00, 12.02, 12.51]
    made = together(values, ["a", "a", "b"], 0.03)
    assert made.value(values) == pytest.approx((12.01 + 12.51) / 2)
    assert made.samples == 2
    # The random part is that of two samples, not of three.
    assert made.own([0.03] * 3) == pytest.approx(0.03 / math.sqrt(2))


def test_two_that_disagree_make_their_mean_no_surer_than_they_agree():
    made = together([11.90, 12.10], ["a", "a"], 0.03)  # 0.20 > 2.8 x 0.03
    assert made.value([11.90, 12.10]) == pytest.approx(12.0)
    assert made.own([0.03, 0.03]) == pytest.approx(math.hypot(0.03, 0.10))
    (words,) = made.words
    assert "make another analysis" in words


def test_the_third_result_settles_it_by_the_median():
    values = [11.90, 12.10, 11.92]
    made = together(values, ["a"] * 3, 0.03)
    assert made.value(values) == 11.92
    assert "median" in made.words[0]


def test_another_rule_takes_the_mean_of_the_closest_two():
    values = [11.90, 12.10, 11.92]
    made = together(values, ["a"] * 3, 0.03, rule="closest_pair")
    assert made.value(values) == pytest.approx(11.91)
    assert "closest two" in made.words[0]
    # Four of them no rule of three judges: the one that judges most does.
    four = [11.90, 12.10, 11.92, 11.94]
    assert together(four, ["a"] * 4, 0.03, rule="closest_pair").value(four) == pytest.approx(11.93)


def test_a_composite_weights_by_flow():
    values = [12.0, 13.0]
    made = together(values, [1, 2], 0.03, [300.0, 100.0])
    assert made.value(values) == pytest.approx(12.25)
    drawn = np.random.default_rng(7).normal(values, 0.03, (200_000, 2)) @ [0.75, 0.25]
    # Standard error of a standard deviation of 200 000 draws: 1/sqrt(2 n) = 0.16 %; four of it.
    assert made.own([0.03, 0.03]) == pytest.approx(drawn.std(), rel=0.007)


@pytest.mark.parametrize(
    ("samples", "amounts", "sentence"),
    [
        ([1, 2], [300.0, None], "Some samples have an amount and others have none"),
        ([1, 1], [300.0, 200.0], "stands for two amounts, "),
        ([1, 2], [0.0, 0.0], "come to nothing"),
        ([1] * 5, [], "judges up to 4"),
    ],
)
def test_what_makes_no_value_is_said(samples, amounts, sentence):
    with pytest.raises(CannotBeWeighed, match=sentence):
        together([12.0] * len(samples), samples, 0.03, amounts)
