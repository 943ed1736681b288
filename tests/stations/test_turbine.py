"""Turbines, desuperheating and let-down against a published table and a second library."""

import pytest
from iapws import IAPWS97

from canewright.stations.power_house import PowerHouse
from canewright.stations.steam_mains import BlowOff, Desuperheater, LetDown
from canewright.stations.turbine import CondensingTurbine, DriveTurbine, Turbine
from tests.stations.alone import alone

# Reference notes on steam, section 3: inlet bar, degC, exhaust bar, efficiencies %, drop kJ/kg,
# kg/kWh, exhaust degC (or dryness %); recomputed there with a second steam library.
BACK_PRESSURE = [
    (21, 340, 2.5, 60, 95, 458.9, 13.76, 185),
    (32, 380, 2.5, 72, 95, 558.6, 9.42, 157),
    (45, 440, 2.5, 78, 96, 667.6, 7.20, 157),
    (67, 515, 2.5, 82, 97, 807.6, 5.60, 161),
]
CONDENSING = [
    (45, 440, 0.10, 78, 96, 1132.9, 4.24, 93.0),
    (67, 515, 0.10, 80, 97, 1275.0, 3.64, 93.6),
]


@pytest.mark.parametrize("row", BACK_PRESSURE)
def test_back_pressure_turbine(row):
    pressure, temperature, exhaust, efficiency, drive, drop, rate, leaving = row
    placed = alone(
        Turbine,
        steam_flow=50.0,
        isentropic_efficiency=efficiency,
        drive_efficiency=drive,
        exhaust_pressure=exhaust,
    )
    solved = placed.solve(steam__pressure=pressure, steam__temperature=temperature)
    # Half of the last digit printed; 0.02 % between the two libraries there.
    assert solved["isentropic_drop"] == pytest.approx(drop, abs=0.1 + 2e-4 * drop)
    assert solved["steam_rate"] == pytest.approx(rate, abs=0.005 + 2e-4 * rate)
    assert solved["power.power"] == pytest.approx(50000 / solved["steam_rate"])  # kg/h over rate
    assert solved["exhaust.temperature"] == pytest.approx(leaving, abs=0.55)  # whole degrees
    assert solved["exhaust.water"] == pytest.approx(50.0)  # nothing is lost


@pytest.mark.parametrize("row", CONDENSING)
def test_condensing_turbine(row):
    pressure, temperature, vacuum, efficiency, drive, drop, rate, dryness = row
    placed = alone(
        CondensingTurbine,
        steam_flow=20.0,
        condenser_pressure=vacuum,
        isentropic_efficiency=efficiency,
        drive_efficiency=drive,
        approach=3.0,
    )
    solved = placed.solve(
        steam__pressure=pressure, steam__temperature=temperature, water_in__temperature=30.0
    )
    # As above; dryness is printed to 0.1 %.
    assert solved["isentropic_drop"] == pytest.approx(drop, abs=0.1 + 2e-4 * drop)
    assert solved["steam_rate"] == pytest.approx(rate, abs=0.005 + 2e-4 * rate)
    assert solved["dryness"] == pytest.approx(dryness, abs=0.06)
    # First law over the turbine and its condenser: steam in less power less condensate, by the
    # second library; the cubic for water at 30 degC is within 0.1 of 50 kJ/kg.
    live = IAPWS97(P=pressure / 10, T=temperature + 273.15).h
    boiling = IAPWS97(P=vacuum / 10, x=0)
    gone = 20.0 * (live - boiling.h) - 3.6 * solved["power.power"] / (drive / 100)
    warmed = IAPWS97(T=boiling.T - 3.0, x=0).h - IAPWS97(T=303.15, x=0).h
    assert solved["water_in.water"] == pytest.approx(gone / warmed, rel=0.003)


def test_drive_turbine_takes_the_steam_that_its_power_needs():
    # 21 bar, 340 degC to 2.5 bar at 45 and 96 %: 458.9 x 0.45 x 0.96 / 3.6 = 55.07 kWh/t; a mill
    # of 600 kW takes 10.895 t/h (drop from the table above, four digits).
    placed = alone(
        DriveTurbine, isentropic_efficiency=45.0, drive_efficiency=96.0, exhaust_pressure=2.5
    )
    solved = placed.solve(steam__pressure=21.0, steam__temperature=340.0, power__power=600.0)
    assert solved["steam.water"] == pytest.approx(10.895, rel=5e-4)


def test_desuperheater_by_a_second_library():
    exhaust = IAPWS97(P=0.25, T=157 + 273.15)
    saturated = IAPWS97(P=0.25, x=1)
    spray = IAPWS97(T=105 + 273.15, x=0)
    expected = 40.0 * (exhaust.h - saturated.h) / (saturated.h - spray.h)
    placed = alone(Desuperheater, several=1, exhaust_pressure=2.5)
    solved = placed.solve(
        steam_in0__water=40.0, steam_in0__temperature=157.0, spray__temperature=105.0
    )
    # Cubics within 0.06 kJ/kg: of 65 kJ/kg of superheat 0.1 %, twice.
    assert solved["spray.water"] == pytest.approx(expected, rel=0.002)
    assert solved["out.water"] == pytest.approx(40.0 + solved["spray.water"])  # mass
    assert solved["out.pressure"] == pytest.approx(2.5)  # set here
    assert solved["steam_in0.pressure"] == pytest.approx(2.5)  # and for the turbine


@pytest.mark.parametrize(
    ("pressure", "temperature", "published"),
    # Reference notes, section 3: spray per live steam to 2.5 bar and 137 degC, water 105 degC.
    [(45.0, 440.0, 0.2455), (32.0, 380.0, 0.1937)],
)
def test_let_down_station(pressure, temperature, published):
    live = IAPWS97(P=pressure / 10, T=temperature + 273.15).h
    water = IAPWS97(P=pressure / 10, T=105 + 273.15).h
    superheated, saturated = IAPWS97(P=0.25, T=137 + 273.15).h, IAPWS97(P=0.25, x=1).h
    # First that the second library gives what is published, then ours: saturated vapour.
    assert (live - superheated) / (superheated - water) == pytest.approx(published, abs=2e-4)
    placed = alone(LetDown)
    solved = placed.solve(
        steam_in__pressure=pressure,
        steam_in__temperature=temperature,
        spray__temperature=105.0,
        out__pressure=2.5,
        out__water=50.0,
    )
    ratio = solved["spray.water"] / solved["steam_in.water"]
    # Water is taken at its saturation here, at live pressure there: 3 in 2276 kJ/kg.
    assert ratio == pytest.approx((live - saturated) / (saturated - water), rel=0.002)
    assert solved["spray.water"] + solved["steam_in.water"] == pytest.approx(50.0)  # mass


def test_blow_off_and_power_house_are_plain_sums():
    assert alone(BlowOff, flow=3.5).solve()["vapour.water"] == pytest.approx(3.5)  # as set
    house = alone(PowerHouse)
    solved = house.solve(generated__power=4000.0, used__power=5200.0)
    assert solved["exported"] == pytest.approx(-1200.0)  # bought
