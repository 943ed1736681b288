"""Worth at the margin: the scale of raw sugar and examples worked from end to end."""

import numpy as np
import pytest

from canewright.laws import economics, evaporation

POLARISATIONS = [94.0, 95.0, 96.0, 97.0, 98.0, 99.0, 99.3, 100.0]
# grading table of a commodity exchange: 1.50, 1.25, 1.00 % per degree; -1.60, -2.00 %
PREMIUMS = [-3.60, -1.60, 0.00, 1.50, 2.75, 3.75, 4.05, 4.75]


def test_premium_is_straight_between_the_steps_of_the_table():
    inside = np.linspace(94.0, 100.0, 601)
    expected = np.interp(inside, POLARISATIONS, PREMIUMS)
    # corners are rounded over 1e-4 degree at up to 1.6 % per degree
    np.testing.assert_allclose(economics.polarisation_premium(inside), expected, atol=2e-4)


def test_another_contract_is_another_table():
    flat = economics.PolarisationScale(
        base=97.0, above=((100.0, 1.0),), below=((96.0, 1.0),), source="common_practice"
    )
    # corner at the base rounded over 1e-4 degree
    assert flat.premium(99.0) == pytest.approx(2.0, abs=2e-4)
    assert flat.premium(96.5) == pytest.approx(-0.5, abs=2e-4)


def test_marginal_imbibition_of_a_worked_example():
    """P 13, F 14, gain 0.012: 3.53 of sugar against 2.96 of steam a tonne of water."""
    pol = economics.pol_per_imbibition_water(13.0, 14.0, 0.012)
    share = 79.04  # % of pol of purity 71 that becomes sugar of 99.8, molasses 34
    sugar = pol * share / 99.8
    steam = economics.steam_value_by_bagasse(20.0, 2.364)
    assert sugar == pytest.approx(8.82, abs=0.006)  # printed to 0.01
    assert sugar / 1000.0 * 400.0 == pytest.approx(3.53, abs=0.006)  # printed to 0.01
    assert 0.35 * steam == pytest.approx(2.96, abs=0.02)  # printed with the price rounded to 8.5


def test_effluent_of_a_worked_example_as_share_of_the_pol():
    lost = economics.sucrose_in_effluent(0.5, 2000.0)
    # 0.69 % of 13 % pol, printed to 0.01
    assert 100.0 * lost / 130.0 == pytest.approx(0.69, abs=0.006)


def test_one_ppm_in_tail_water_as_share_of_the_pol():
    in_vapour = evaporation.sugar_in_vapour(1.0, 44.1)
    grams = 1000.0 * evaporation.entrainment_loss(0.26, in_vapour)
    assert grams == pytest.approx(11.7, abs=0.06)  # g/t cane, printed to 0.1
    assert grams / 1300.0 == pytest.approx(0.009, abs=5e-4)  # % of 13 % pol, printed to 0.001
