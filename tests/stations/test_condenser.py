"""Condenser and cooling water, worked by hand and against published ratios."""

import pytest

from canewright.properties import steam
from canewright.stations.condenser import Condenser, CoolingTower
from tests.stations.alone import alone


def test_injection_water_for_a_tonne_of_vapour():
    # 0.12 bar, water 32 to 45 degC: (h_v - 4.186 T_c)/[4.186 (T_c - T_w)] = 44.1 t/t (reference
    # notes on water, derived). Saturated at 49.42 degC, so the leg is 4.42 K colder.
    placed = alone(Condenser, several=1, pressure=0.12, approach=49.419 - 45.0)
    solved = placed.solve(vapours0__water=10.0, water_in__temperature=32.0)
    assert solved["water_out.temperature"] == pytest.approx(45.0, abs=2e-3)  # T_sat to 0.001 K
    # The constant 4.186 stands for 4.18 of the steam table here: 0.15 % each in two places.
    assert solved["water_in.water"] / 10.0 == pytest.approx(44.1, rel=0.004)
    assert solved["water_out.water"] == pytest.approx(solved["water_in.water"] + 10.0)  # mass
    assert solved["vapours0.pressure"] == pytest.approx(0.12)  # set


def test_condenser_of_a_textbook_quintuple():
    # Kern, example 14.4 (read): 14 575 000 Btu/h, vapour 147 F, water 82 F, approach 15 F: gpm =
    # Q/[500 (147 - 82 - 15)] = 583.0, that is 291 500 lb/h = 132.22 t/h.
    pressure = float(steam.saturation_pressure((147 - 32) / 1.8))
    placed = alone(Condenser, several=1, pressure=pressure, approach=15 / 1.8)
    warm, vapour = (132 - 32) / 1.8, (147 - 32) / 1.8
    given_up = float(steam.vapour_enthalpy(vapour) - steam.liquid_enthalpy(warm))
    flow = 14_575_000 * 1.055056e-3 / given_up  # MJ/h over MJ/t: all of the heat to the water
    solved = placed.solve(vapours0__water=flow, water_in__temperature=(82 - 32) / 1.8)
    # 500 Btu/(h gpm F) stands for 499.8 and 1 Btu/(lb F) for 0.998 of the steam table.
    assert solved["water_in.water"] == pytest.approx(132.22, rel=0.003)


def test_cooling_tower_evaporates_about_what_was_condensed():
    # 1 t vapour to 44.1 t water gives 45.1 t at 45 degC; cooled to 32 degC by evaporation alone:
    # 45.1 x (188.44 - 134.11) = 2450.3 MJ over r(32) = 2425.1 MJ/t: 1.0104 t. The reference
    # notes give "about its own mass" (0.995 kg/kg at 37 degC).
    placed = alone(
        CoolingTower,
        wet_bulb=25.0,
        approach=7.0,
        evaporative_share=100.0,
        drift=0.0,
        overflow_share=0.0,
    )
    solved = placed.solve(warm__water=45.1, warm__temperature=45.0, cool__water=45.1)
    assert solved["cool.temperature"] == pytest.approx(32.0)  # wet bulb and approach
    # Enthalpies by the cubic for 40 degC and more, at 32 degC: within 0.05 of 54.3 kJ/kg.
    assert solved["make_up.water"] == pytest.approx(1.0104, rel=0.0015)


def test_drift_and_overflow_are_made_up():
    base = {"wet_bulb": 25.0, "approach": 7.0, "evaporative_share": 80.0}
    flows = {"warm__water": 100.0, "cool__water": 100.0}
    dry = alone(CoolingTower, drift=0.0, overflow_share=0.0, **base).solve(**flows)
    wet = alone(CoolingTower, drift=0.3, overflow_share=1.0, **base).solve(**flows)
    # 0.3 + 1.0 % of 100 t/h, exact by the balance.
    assert wet["make_up.water"] - dry["make_up.water"] == pytest.approx(1.3)
    assert wet["overflow.water"] == pytest.approx(1.0)


def test_fans_and_pumps_draw_power_where_connected():
    placed = alone(CoolingTower, connect_optional=True, specific_power=0.4)
    solved = placed.solve(warm__water=250.0, cool__water=250.0)
    assert solved["power.power"] == pytest.approx(100.0)  # 0.4 kWh/t x 250 t/h
