"""Cane before the mills: yard, washing and preparation, against cases worked by hand."""

import pytest

from canewright.stations.cane_preparation import CanePreparation
from canewright.stations.cane_washing import CaneWashing
from canewright.stations.cane_yard import CaneYard
from tests.stations.alone import alone

ROUNDING = 1e-6
"""Relative: the answers are plain arithmetic, the solver closes to 1e-10."""
CANE = {
    "sucrose": 13.0,
    "reducing_sugars": 0.5,
    "ash": 0.6,
    "organics": 1.0,
    "fibre": 14.0,
    "soil": 1.0,
    "water": 69.9,
}


def test_forty_hours_in_the_yard_cost_two_thirds_of_a_unit():
    # Larrahondo: 0.010 to 0.023 units of sucrose % cane per hour; 40 h at the middle, 0.0165,
    # are 0.66 units. 200 t/h of cane with 13 %: 26 - 1.32 = 24.68 t/h sucrose; reducing sugars
    # 1.0 + 1.32 x 2 x 180.16/342.30 (1.38949) = 2.38949; the invert binds 0.06949 t/h of water.
    solved = alone(CaneYard).solve(
        cane_rate=200,
        sucrose_percent=13,
        reducing_sugars_percent=0.5,
        ash_percent=0.6,
        organics_percent=1.0,
        fibre_percent=14,
        soil_percent=1.0,
        hours_to_crushing=40,
        deterioration=0.0165,
    )
    assert solved["cane.sucrose"] == pytest.approx(24.68, rel=ROUNDING)
    assert solved["cane.reducing_sugars"] == pytest.approx(2.38949, rel=1e-5)  # hand rounding
    assert solved["cane.water"] == pytest.approx(139.8 - 0.06949, rel=ROUNDING)
    assert sum(solved[f"cane.{name}"] for name in CANE) == pytest.approx(200, rel=1e-9)  # solver


def test_the_ledger_of_the_yard_starts_at_the_cane_as_weighed():
    placed = alone(CaneYard)
    solved = placed.solve(sucrose_percent=13, cane_rate=200, hours_to_crushing=40)
    (sucrose,) = [balance for balance in placed.balances() if balance.component == "sucrose"]
    rows = {name: placed.value(amount, solved) for name, amount in sucrose.less.items()}
    assert rows["cane as weighed"] == pytest.approx(-26, rel=ROUNDING)
    assert rows["deteriorated in the yard"] == pytest.approx(1.32, rel=ROUNDING)


def test_washing_loses_what_the_water_carries():
    # Purification notes, section 14: 5 t of water per t of cane at 0.4 kg sugar per t, pol 13 %:
    # 2.0 kg/t, 1.54 % of the sucrose.
    given = {f"cane_in__{name}": value for name, value in CANE.items()}
    solved = alone(CaneWashing).solve(
        **given,
        water_rate=5,
        sucrose_to_water=1.54,
        soil_removed=60,
        fibre_to_water=0,
        water_kept=2,
    )
    assert solved["water_in.water"] == pytest.approx(500, rel=ROUNDING)
    assert 1000 * solved["wash_water.sucrose"] / 500 == pytest.approx(0.4, rel=2e-3)  # printed
    assert solved["cane_out.soil"] == pytest.approx(0.4, rel=ROUNDING)
    assert solved["cane_out.water"] == pytest.approx(71.9, rel=ROUNDING)
    assert solved["wash_water.water"] == pytest.approx(498, rel=ROUNDING)


def test_preparation_draws_power_by_fibre():
    # Lecture note: heavy preparation of 105 kW per t fibre/h installed is 4410 kW for 42 t
    # fibre/h (first and second knives and shredder, 15 + 30 + 60).
    given = {f"cane_in__{name}": 3 * value for name, value in CANE.items()}
    solved = alone(CanePreparation, connect_optional=True).solve(**given, specific_power=105)
    assert solved["power.power"] == pytest.approx(4410, rel=ROUNDING)
    assert solved["cane_out.sucrose"] == pytest.approx(39, rel=ROUNDING)
