"""Lime station against the density of milk in the notes."""

import pytest

from canewright.stations.lime_station import LimeStation
from tests.stations.alone import alone


@pytest.mark.parametrize(("strength", "density"), [(100, 1071), (150, 1108), (200, 1145)])
def test_milk_has_its_water(strength, density):
    # Purification notes, section 3: milk of 100, 150, 200 g CaO/L weighs 1071, 1108, 1145 kg/m3
    # (from its Ca(OH)2 by ideal volumes). 300 kg/h of CaO: 300/strength m3/h.
    solved = alone(LimeStation).solve(lime_rate=300, milk_strength=strength, grit_percent=0)
    volume = 300 / strength
    assert solved["milk_volume"] == pytest.approx(volume, rel=1e-8)  # solver
    milk = solved["milk_of_lime.ash"] + solved["milk_of_lime.water"]
    assert milk == pytest.approx(volume * density / 1000, rel=5e-4)  # printed to four digits
    assert solved["water_in.water"] == pytest.approx(milk - 0.3, rel=1e-8)  # solver
    assert solved["milk_of_lime.lime"] == pytest.approx(300, rel=1e-8)  # solver


def test_grit_comes_with_the_milk():
    # 8 % grit in what is fed: 300 x 8/92 = 26.09 kg/h.
    solved = alone(LimeStation).solve(lime_rate=300, grit_percent=8)
    assert solved["milk_of_lime.soil"] == pytest.approx(0.02609, rel=1e-3)  # printed digits
