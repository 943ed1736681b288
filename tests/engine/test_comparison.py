"""Contributions to a change add up, whatever the factors."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from canewright.engine.chain.comparison import changed, log_mean

SIZES = st.floats(0.01, 100.0)


@given(st.lists(st.tuples(SIZES, SIZES), min_size=1, max_size=4), SIZES, SIZES)
def test_contributions_add_up(factors, reported_before, reported_after):
    before = {str(i): pair[0] for i, pair in enumerate(factors)}
    after = {str(i): pair[1] for i, pair in enumerate(factors)}
    change = changed(before, after, reported_before, reported_after)
    total = sum(change.contributions.values())
    size = max(abs(part) for part in (*change.contributions.values(), 1.0))
    assert abs(total - change.total) < 1e-9 * size


def test_a_factor_that_stays_contributes_nothing():
    change = changed({"cane": 13.0, "house": 0.9}, {"cane": 12.0, "house": 0.9}, 11.7, 10.8)
    # Exact, but for rounding.
    assert change.contributions["house"] == 0.0
    assert change.contributions["cane"] == pytest.approx(-0.9, rel=1e-12)
    assert change.contributions["measurement"] == pytest.approx(0.0, abs=1e-12)


def test_log_mean_lies_between_its_ends():
    # (4 - 1)/ln 4 = 2.16404; equal numbers are their own mean.
    assert log_mean(1.0, 4.0) == pytest.approx(2.16404, rel=1e-5)  # five digits written
    assert log_mean(3.0, 3.0) == 3.0


def test_periods_without_sugar_cannot_be_compared():
    with pytest.raises(ValueError, match="cannot be compared"):
        changed({"cane": 0.0}, {"cane": 1.0}, 0.0, 1.0)
    with pytest.raises(ValueError, match="same factors"):
        changed({"cane": 1.0}, {"house": 1.0}, 0.0, 1.0)
