"""Liming tank against amounts worked by hand from molar masses and the worked station balance."""

import pytest

from canewright.model import heat_content
from canewright.stations.liming import LimingTank
from tests.stations.alone import alone

ROUNDING = 1e-4
"""Relative: the hand numbers are rounded at the fifth digit."""

# 105 t/h of mixed juice with 0.525 t/h insolubles, 31.5 kg/h P2O5 (300 mg/kg) and 100 kg/h SO2,
# limed with 150 kg/h CaO as 1.121 t/h milk: the worked station balance of the purification
# notes, section 13 (85 % of the SO2 and 90 % of the P2O5 precipitate).
GIVEN = {
    "juice_in__sucrose": 12.789,
    "juice_in__reducing_sugars": 0.6,
    "juice_in__ash": 0.7,
    "juice_in__organics": 1.0,
    "juice_in__fibre": 0.125,
    "juice_in__soil": 0.4,
    "juice_in__water": 105 - 12.789 - 0.6 - 0.7 - 1.0 - 0.525,
    "juice_in__sulphite": 100,
    "juice_in__lime": 20,
    "juice_in__phosphate": 31.5,
    "juice_in__temperature": 70,
    "milk_of_lime__ash": 0.150,
    "milk_of_lime__soil": 0,
    "milk_of_lime__water": 0.971,
    "milk_of_lime__lime": 150,
    "milk_temperature": 40,
    "sulphite_precipitated": 85,
    "phosphate_precipitated": 90,
    "organics_precipitated": 0,
}

MASS = ("sucrose", "reducing_sugars", "ash", "organics", "fibre", "soil", "water")


def test_precipitates_by_their_molar_masses():
    solved = alone(LimingTank).solve(**GIVEN)
    # CaSO3.1/2H2O: 85 kg SO2 x 129.15/64.066 = 171.35; Ca3(PO4)2: 28.35 x 310.18/141.944 = 61.95.
    assert solved["juice_out.soil"] == pytest.approx(0.4 + 0.17135 + 0.06195, rel=ROUNDING)
    # N of the worked balance: 0.7583 t insoluble per 100 t cane (its 129.15/64.06, 2.185).
    insoluble = solved["juice_out.soil"] + solved["juice_out.fibre"]
    assert insoluble == pytest.approx(0.7583, rel=ROUNDING)
    # Lime: 20 + 150 - 85 x 56.077/64.066 (74.40) - 28.35 x 1.1853 (33.60) = 62.00 kg/h stay.
    assert solved["juice_out.lime"] == pytest.approx(62.00, rel=3e-4)  # last digit of hand sums
    assert solved["juice_out.sulphite"] == pytest.approx(15, rel=ROUNDING)
    assert solved["juice_out.phosphate"] == pytest.approx(3.15, rel=ROUNDING)
    # Ash: 0.7 + 0.150 - 0.085 - 0.0744 - 0.02835 - 0.0336 = 0.62865.
    assert solved["juice_out.ash"] == pytest.approx(0.62865, rel=ROUNDING)
    # Water of the hemihydrate: 85 x 9.008/64.066 = 11.95 kg/h.
    water = GIVEN["juice_in__water"] + 0.971
    assert water - solved["juice_out.water"] == pytest.approx(0.01195, rel=1e-3)  # as above
    assert solved["sulphur_dioxide_per_lime"] == pytest.approx(100 / 150, rel=ROUNDING)


def test_mass_is_kept_and_cold_milk_cools_the_juice():
    placed = alone(LimingTank)
    solved = placed.solve(**GIVEN)
    out = sum(solved[f"juice_out.{name}"] for name in MASS)
    assert out == pytest.approx(105 + 1.121, rel=1e-9)  # solver
    # Juice 89.49 t water at 4.18, 15.09 t dissolved at about 1.75, 0.5 t solids at 1: 401 MJ/K.
    # Milk 0.971 x 4.18 + 0.15 x 1.5 = 4.3 MJ/K: (70 x 401 + 40 x 4.3)/405.3 = 69.68 degC.
    # What precipitates holds less heat as a solid: 0.221 t x (1.48 - 0.9) and 0.012 t water x
    # (4.18 - 0.9), times 70: 11.7 MJ, or 0.03 degC.
    assert solved["juice_out.temperature"] == pytest.approx(69.71, abs=0.02)  # hand rounding
    hot = placed.value(heat_content(placed.station.juice_out), solved)
    cold = placed.value(heat_content(placed.station.juice_in), solved)
    assert hot > cold


def test_a_defecation_factory_limes_without_sulphur_dioxide():
    solved = alone(LimingTank).solve(**{**GIVEN, "juice_in__sulphite": 0})
    assert solved["sulphur_dioxide_per_lime"] == pytest.approx(0, abs=1e-6)  # solver's bound
    assert solved["juice_out.lime"] == pytest.approx(20 + 150 - 33.60, rel=ROUNDING)
