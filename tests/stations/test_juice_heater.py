"""Juice heaters against published heaters and a case worked by hand."""

import pytest

from canewright.stations.juice_heater import JuiceHeater
from canewright.streams import ClearJuice, Juice
from tests.stations.alone import alone

POUND = 0.45359237e-3  # t
SQUARE_FOOT = 0.09290304  # m2
BTU_COEFFICIENT = 5.678263e-3  # kW/(m2.K) in one Btu/(h ft2 F)


def celsius(fahrenheit):
    return (fahrenheit - 32) / 1.8


def juice(flow, brix, purity=100.0, port="juice_in"):
    solids = flow * brix / 100
    return {
        f"{port}__sucrose": solids * purity / 100,
        f"{port}__reducing_sugars": 0.0,
        f"{port}__ash": 0.0,
        f"{port}__organics": solids * (1 - purity / 100),
        f"{port}__water": flow - solids,
    }


@pytest.mark.parametrize(
    ("kind", "vapour", "pressure", "cold", "hot", "coefficient", "surface"),
    [
        # Kern, Process Heat Transfer, ex. 14.4 [kern1950]: degF, Btu/(h ft2 F), ft2.
        # Pressures are of saturated steam at 227 degF = 108.33 degC: 1.355 bar.
        (Juice, 227, 1.3550, 184, 212, 231, 950),
        (ClearJuice, 227, 1.3550, 200, 220, 214, 1301),
    ],
)
def test_kern_heaters_reach_their_temperature(
    kind, vapour, pressure, cold, hot, coefficient, surface
):
    placed = alone(JuiceHeater, kinds={"juice_in": kind})
    insoluble = {} if kind is ClearJuice else {"juice_in__fibre": 0.0, "juice_in__soil": 0.0}
    solved = placed.solve(
        **juice(229000 * POUND, 13.0, purity=80),
        **insoluble,
        juice_in__temperature=celsius(cold),
        vapour__pressure=pressure,
        coefficient=coefficient * BTU_COEFFICIENT,
        surface=surface * SQUARE_FOOT,
        heat_loss=0,
    )
    assert solved["condensate.temperature"] == pytest.approx(celsius(vapour), abs=0.02)  # pressure
    # Kern takes a specific heat of 0.91 Btu/(lb F); a juice of 13 Brix has 0.935 to 0.945 here.
    # 3.5 % more capacity is 3.5 % less NTU (1.05 and 1.35): 0.3 and 0.2 degC of the outlet.
    assert solved["juice_out.temperature"] == pytest.approx(celsius(hot), abs=0.4)


def test_a_heater_worked_by_hand():
    # 100 t/h, 15 Brix, purity 85, 35 -> 70 degC on vapour of 112 degC (1.5325 bar) needs
    # NTU = ln[(112 - 35)/(112 - 70)] = 0.6061 and has LMTD 57.74 (purification notes, sec. 7).
    # Specific heat at 52.5 degC: 0.85 x 4.182 + 0.15 x (1.2168 + 0.46 x 0.85 + 0.0075 x 52.5)
    # = 3.5547 + 0.15 x 2.0016 = 3.8549 kJ/(kg.K): 385.49 MJ/(h.K), 107.08 kW/K.
    # U A = 0.6061 x 107.08 = 64.90 kW/K: 92.72 m2 at 0.7 kW/(m2.K).
    # Heat 385.49 x 35 = 13 492 MJ/h; latent heat at 112 degC 2224.6 kJ/kg (steam table), 2 %
    # lost: vapour 13 492/(2224.6 x 0.98) = 6.1886 t/h.
    placed = alone(JuiceHeater)
    solved = placed.solve(
        **juice(100, 15, purity=85),
        juice_in__fibre=0,
        juice_in__soil=0,
        juice_in__temperature=35,
        vapour__pressure=1.5325,
        surface=92.72,
        coefficient=0.7,
        heat_loss=2,
    )
    assert solved["juice_out.temperature"] == pytest.approx(70, abs=0.05)  # hand rounding
    assert solved["vapour.water"] == pytest.approx(6.1886, rel=2e-3)  # hand rounding of cp
    assert solved["condensate.water"] == pytest.approx(solved["vapour.water"], rel=1e-9)
