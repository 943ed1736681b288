"""Juice screen against a case worked by hand."""

import pytest

from canewright.stations.juice_screen import JuiceScreen
from tests.stations.alone import alone

ROUNDING = 1e-6
"""Relative: the answers are plain arithmetic, the solver closes to 1e-10."""


MILL_JUICE = {
    "juice_in__sucrose": 12,
    "juice_in__reducing_sugars": 1,
    "juice_in__ash": 1,
    "juice_in__organics": 1,
    "juice_in__fibre": 1,
    "juice_in__soil": 1,
    "juice_in__water": 83,
}


def alone_screen(connect_optional=True):
    return alone(JuiceScreen, connect_optional=connect_optional)


def test_cush_cush_takes_its_fibre_and_the_juice_that_wets_it():
    # Mill juice 100 t/h: sucrose 12, reducing sugars 1, ash 1, other 1, fibre 1, soil 1, water 83.
    # 80 % of the fibre (0.8 t/h) and 5 % of the soil (0.05 t/h) are held back, with liquid of
    # 15/98 dissolved solids: 9 t of juice on each tonne of fibre are 7.2 t/h, 7.34694 % of the
    # juice, with water 7.2 x 83/98 = 6.09796; of 8.05 t/h that is a moisture of 75.751 %.
    placed = alone_screen()
    solved = placed.solve(**MILL_JUICE, fibre_held=80, soil_held=5, juice_on_fibre=9)
    water = 7.2 * 83 / 98
    assert solved["cush_cush.water"] == pytest.approx(water, rel=ROUNDING)
    total = sum(solved[f"cush_cush.{c}"] for c in ("sucrose", "reducing_sugars", "ash",
                "organics", "fibre", "soil", "water"))  # fmt: skip
    assert 100 * solved["cush_cush.water"] / total == pytest.approx(75.7510, abs=5e-5)
    assert solved["juice_held"] == pytest.approx(100 * water / 83, rel=ROUNDING)
    assert solved["cush_cush.sucrose"] == pytest.approx(12 * water / 83, rel=ROUNDING)
    assert solved["juice_out.fibre"] == pytest.approx(0.2, rel=ROUNDING)
    assert solved["juice_out.soil"] == pytest.approx(0.95, rel=ROUNDING)


def test_tags_are_read_on_the_screened_juice():
    # Without cush-cush the juice is 100 t/h with 15 t/h dissolved: 12 000 IU x 15 = 180 000;
    # 300 mg P2O5/kg = 30 kg/h; 200 mg CaO/kg = 20 kg/h.
    placed = alone_screen(connect_optional=False)
    solved = placed.solve(**MILL_JUICE, colour=12000, phosphate=300, lime=200, temperature=33)
    assert solved["juice_out.colour"] == pytest.approx(180_000, rel=ROUNDING)
    assert solved["juice_out.phosphate"] == pytest.approx(30, rel=ROUNDING)
    assert solved["juice_out.lime"] == pytest.approx(20, rel=ROUNDING)
    assert solved["juice_out.sulphite"] == pytest.approx(0, abs=1e-7)  # solver's bound
    assert solved["juice_out.fibre"] == pytest.approx(1, rel=ROUNDING)
    assert solved["juice_out.temperature"] == 33
