"""Clarifier against a balance worked by hand and against worked inversion."""

import pytest

from canewright.stations.clarifier import Clarifier
from tests.stations.alone import alone

ROUNDING = 1e-6
"""Relative: the answers are plain arithmetic, the solver closes to 1e-10."""
MASS = ("sucrose", "reducing_sugars", "ash", "organics", "fibre", "soil", "water")
LIMED = {
    # 100 t/h: 15 % Brix on liquid of 99 t/h, 1 t/h insoluble.
    "juice_in__sucrose": 12.85,
    "juice_in__reducing_sugars": 0.5,
    "juice_in__ash": 0.6,
    "juice_in__organics": 0.9,
    "juice_in__fibre": 0.2,
    "juice_in__soil": 0.8,
    "juice_in__water": 84.15,
    "juice_in__colour": 200_000,
    "juice_in__temperature": 100,
}


def test_all_insoluble_goes_to_mud_with_clear_juice_around_it():
    # 1.0 t/h insoluble at 8 % of the mud: mud 12.5 t/h, of which 11.5 of liquid, 87.5 t/h clear
    # juice of the same 15 % Brix. No inversion: factor 0. Colour 200 000 x (1 - 0.47) = 106 000,
    # shared 87.5 : 11.5 (so its IU falls from 13 468 to 7138, as in Saska, 47 %).
    solved = alone(Clarifier).solve(
        **LIMED, mud_solids=8, inversion_factor=0, colour_removal=47, temperature_fall=4
    )
    mud = sum(solved[f"mud.{name}"] for name in MASS)
    clear = sum(solved[f"clear_juice.{name}"] for name in MASS if f"clear_juice.{name}" in solved)
    assert mud == pytest.approx(12.5, rel=ROUNDING)
    assert clear == pytest.approx(87.5, rel=ROUNDING)
    assert solved["mud.sucrose"] == pytest.approx(12.85 * 11.5 / 99, rel=ROUNDING)
    assert solved["clear_juice.colour"] == pytest.approx(106_000 * 87.5 / 99, rel=ROUNDING)
    assert solved["mud_liquid"] == pytest.approx(100 * 11.5 / 87.5, rel=ROUNDING)
    assert solved["mud.temperature"] == pytest.approx(96, rel=ROUNDING)


def test_two_hours_at_97_degrees_invert_a_tenth_of_a_percent():
    # Worked in the purification notes, section 10, with Vukov's rate [vukov1965, from memory]:
    # 97 degC, pH 6.6 at that temperature, 15 Brix, 2 h: 0.102 % of the sucrose.
    # Density of 15 Brix at 97 degC: 1019 kg/m3, so 2 h of 100 t/h need 200/1.019 = 196.3 m3.
    solved = alone(Clarifier).solve(
        **LIMED, volume=196.3, hot_ph=6.6, inversion_factor=1, temperature_fall=3
    )
    assert solved["residence"] == pytest.approx(2.0, abs=0.005)  # density to 0.2 %
    assert solved["inverted"] == pytest.approx(0.102, abs=0.001)  # printed to three digits
    # 1 t of sucrose gives 1.0526 t of invert, with 0.0526 t of water (molar masses 342.3, 18.02).
    lost = solved["inverted"] / 100 * 12.85
    gained = solved["clear_juice.reducing_sugars"] + solved["mud.reducing_sugars"] - 0.5
    assert gained == pytest.approx(1.0526 * lost, rel=1e-4)  # rounded ratio
