"""Condensate, feedwater and hot water, worked by hand."""

import pytest

from canewright.properties import steam
from canewright.stations.condensate import (
    CondensateFlash,
    Deaerator,
    FeedwaterTank,
    HotWaterTank,
)
from tests.stations.alone import alone


@pytest.mark.parametrize(
    ("hot", "cold", "percent"),
    # Reference notes on evaporation, section 1: computed outside this project's code.
    [(120.0, 105.0, 2.83), (105.0, 95.0, 1.86), (90.0, 75.0, 2.71)],
)
def test_share_of_condensate_that_flashes(hot, cold, percent):
    placed = alone(CondensateFlash, flash_pressure=float(steam.saturation_pressure(cold)))
    solved = placed.solve(condensate_in__water=100.0, condensate_in__temperature=hot)
    assert solved["flash.water"] == pytest.approx(percent, abs=0.006)  # printed to 0.01
    assert solved["condensate_out.temperature"] == pytest.approx(cold, abs=1e-6)  # round trip
    assert solved["condensate_out.water"] + solved["flash.water"] == pytest.approx(100.0)  # mass


def test_deaerator_heats_what_it_lacks():
    # 90 t/h condensate at 100 degC (h 419.10) and make-up at 40 degC (167.54) to 100 t/h at 105
    # degC (440.21), vapour of 2.0 bar (h 2706.2), no heat lost (steam table, kJ/kg):
    # V (2706.2 - 167.54) = 100 x 440.21 - 90 x 419.10 - 10 x 167.54 = 4626.6, V = 1.8225 t/h.
    placed = alone(Deaerator, several=1, temperature=105.0, heat_loss=0.0)
    solved = placed.solve(
        condensates0__water=90.0,
        condensates0__temperature=100.0,
        make_up__temperature=40.0,
        feedwater__water=100.0,
        heating__pressure=2.0,
    )
    # Cubics within 0.06 kJ/kg: 0.06 x 90 of 4627 MJ/h is 0.1 %.
    assert solved["heating.water"] == pytest.approx(1.8225, rel=0.002)
    assert solved["make_up.water"] == pytest.approx(10.0 - solved["heating.water"])  # mass


def test_feedwater_tank_makes_up_what_is_drawn():
    # 90 t/h condensate at 120 degC (503.81) and 10 t/h at 40 degC (167.54 kJ/kg): 470.18 kJ/kg;
    # with 1 % lost 465.48: 110.97 degC (461.42 at 110, 4.23 kJ/(kg K)).
    placed = alone(FeedwaterTank, several=1, heat_loss=1.0)
    solved = placed.solve(
        condensates0__water=90.0,
        condensates0__temperature=120.0,
        make_up__temperature=40.0,
        feedwater__water=100.0,
    )
    assert solved["make_up.water"] == pytest.approx(10.0)  # mass
    assert solved["feedwater.temperature"] == pytest.approx(110.97, abs=0.03)  # 0.1 of 4.2 kJ/kg


def test_hot_water_tank_lets_the_surplus_run_off():
    # 60 t/h at 95 degC (398.09) and 40 t/h at 60 degC (251.15 kJ/kg): 339.31 kJ/kg, 81.04 degC
    # (339.15 at 81.0, 4.197 kJ/(kg K)); with 2 % lost 332.53 kJ/kg, 79.43 degC.
    placed = alone(HotWaterTank, heat_loss=2.0)
    solved = placed.solve(
        condensates0__water=60.0,
        condensates0__temperature=95.0,
        condensates1__water=40.0,
        condensates1__temperature=60.0,
        water__water=70.0,
    )
    assert solved["surplus.water"] == pytest.approx(30.0)  # what is not drawn
    assert solved["water.temperature"] == pytest.approx(79.43, abs=0.02)  # 0.06 of 4.2 kJ/(kg K)
    assert solved["surplus.temperature"] == pytest.approx(solved["water.temperature"])  # mixed
