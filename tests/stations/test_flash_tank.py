"""Flash tank against flash worked in the notes."""

import pytest

from canewright.stations.flash_tank import FlashTank
from canewright.streams import ClearJuice
from tests.stations.alone import alone


def tank(temperature):
    placed = alone(FlashTank, kinds={"juice_in": ClearJuice})
    return placed.solve(
        juice_in__sucrose=12.9,
        juice_in__reducing_sugars=0.5,
        juice_in__ash=0.6,
        juice_in__organics=1.0,
        juice_in__water=85,
        juice_in__temperature=temperature,
    )


def test_juice_of_104_degrees_flashes_off_two_thirds_of_a_percent():
    # Purification notes, section 7: 104 degC, 15 Brix, specific heat 3.913, boiling at 100.3:
    # 3.913 x 3.7/2256 = 0.00642 t/t. The latent heat is 2256.5 kJ/kg at 100 degC (IF97).
    solved = tank(104)
    assert solved["juice_out.temperature"] == pytest.approx(100.3, abs=0.08)  # printed to 0.1
    # 0.08 K of the 3.7 K that flash is 2 %.
    assert solved["flash.water"] == pytest.approx(0.642, rel=0.02)
    assert solved["juice_out.sucrose"] == pytest.approx(12.9, rel=1e-8)  # solver
    assert solved["flash.pressure"] == pytest.approx(1.01325)


def test_juice_that_does_not_boil_passes():
    solved = tank(96)
    assert solved["juice_out.temperature"] == pytest.approx(96, abs=1e-3)  # rounded corner
    assert solved["flash.water"] < 1e-4
