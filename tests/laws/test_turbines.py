"""Turbines and let-down against an independent steam library and a worked exhaust balance."""

import pytest
import seuif97

from canewright.laws import turbines
from canewright.properties import steam

LIVE = [(21.0, 340.0), (32.0, 380.0), (45.0, 440.0), (67.0, 515.0)]


@pytest.mark.parametrize(("pressure", "temperature"), LIVE)
@pytest.mark.parametrize("exhaust", [0.1, 1.0, 2.5, 8.0, 15.0])
def test_heat_drop_agrees_with_an_independent_library(pressure, temperature, exhaust):
    entropy = seuif97.pt2s(pressure / 10, temperature)
    theirs = seuif97.pt2h(pressure / 10, temperature) - seuif97.ps2h(exhaust / 10, entropy)
    # 0.03 kJ/kg: backward equations of IF97 (0.02) and the rounded corner (0.01)
    assert turbines.isentropic_drop(pressure, temperature, exhaust) == pytest.approx(
        theirs, abs=0.03
    )


@pytest.mark.parametrize(("pressure", "temperature"), LIVE)
@pytest.mark.parametrize("efficiency", [45.0, 70.0, 82.0])
def test_exhaust_temperature_agrees_with_an_independent_library(pressure, temperature, efficiency):
    live = seuif97.pt2h(pressure / 10, temperature)
    entropy = seuif97.pt2s(pressure / 10, temperature)
    after = live - efficiency / 100 * (live - seuif97.ps2h(0.25, entropy))
    # 0.05 K stated for the rounded corner and IF97's backward equation
    assert turbines.exhaust_temperature(pressure, temperature, 2.5, efficiency) == pytest.approx(
        seuif97.ph2t(0.25, after), abs=0.05
    )


def test_let_down_station_closes_its_mass_and_heat():
    live, water = steam.steam_enthalpy(45.0, 440.0), steam.water_enthalpy(45.0, 105.0)
    outlet = steam.steam_enthalpy(2.5, 137.0)
    spray = turbines.spray_water(live, outlet, water)
    # identities: rounding only
    assert live + spray * water == pytest.approx((1.0 + spray) * outlet, rel=1e-12)
    assert turbines.live_steam_let_down(live, outlet, water) == pytest.approx(
        1.0 / (1.0 + spray), rel=1e-12
    )


def test_exhaust_balance_of_a_worked_day():
    """5000 t cane a day, process 45 % cane at 2.5 bar 137 degC, power 32 kWh/t, 45 bar set."""
    live, water = steam.steam_enthalpy(45.0, 440.0), steam.water_enthalpy(45.0, 105.0)
    outlet = steam.steam_enthalpy(2.5, 137.0)
    drop = turbines.isentropic_drop(45.0, 440.0, 2.5)
    through_turbine = 5000.0 * 32.0 * turbines.steam_rate(drop, 78.0, 96.0) / 1000.0
    after = turbines.exhaust_enthalpy(live, drop, 78.0)
    exhaust = through_turbine * (1.0 + turbines.spray_water(after, outlet, water))
    make_up = 2250.0 - exhaust
    let_down = make_up * turbines.live_steam_let_down(live, outlet, water)
    # the worked day prints tonnes to 0.1
    assert through_turbine == pytest.approx(1152.3, abs=0.06)
    assert exhaust == pytest.approx(1173.6, abs=0.2)
    assert make_up == pytest.approx(1076.4, abs=0.2)
    assert let_down == pytest.approx(864.2, abs=0.2)
    assert (through_turbine + let_down) / 50.0 == pytest.approx(40.3, abs=0.06)


def test_condensing_set_of_a_paper_has_ordinary_efficiency():
    # paper on cogeneration in Tamil Nadu: 64 ata 480 degC, 70 t/h, 18.68 MW off season
    rate = 70.0 / 18.68
    for exhaust in (0.08, 0.10):
        drop = turbines.isentropic_drop(64 * 0.980665, 480.0, exhaust)
        implied = 100.0 * turbines.steam_rate(drop, 100.0, 100.0) / rate
        assert 76.5 < implied < 79.5
