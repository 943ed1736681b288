"""Sulphitation tower against slip and uptake worked by hand."""

import pytest

from canewright.stations.sulphitation import SulphitationTower
from canewright.streams import Syrup
from tests.stations.alone import alone

# Gas of 12 % by volume, per kmol: 12 of SO2, 8.95 of oxygen, 79.05 of nitrogen with argon.
GAS = {
    "gas__so2": 12 * 64.064 / 4000,
    "gas__oxygen": 8.95 * 31.998 / 4000,
    "gas__nitrogen": 79.05 * 28.161 / 4000,
}


def test_three_tenths_percent_in_the_stack_is_two_percent_of_the_sulphur():
    # Purification notes, section 5: from 12 % down to 0.3 % in the stack loses
    # 0.3/99.7 x 88/12 = 2.2066 % of the sulphur: absorption 97.7934 %.
    solved = alone(SulphitationTower).solve(**GAS, absorption=97.7934)
    assert solved["stack_percent"] == pytest.approx(0.3, rel=1e-4)  # hand rounding
    # The gas brings 192.19 kg/h of SO2: 187.95 kg/h end as sulphite, and in the ash.
    assert solved["juice_out.sulphite"] - solved["juice_in.sulphite"] == pytest.approx(
        187.95, rel=1e-4
    )
    assert solved["juice_out.ash"] - solved["juice_in.ash"] == pytest.approx(0.18795, rel=1e-4)
    assert solved["stack.oxygen"] == pytest.approx(GAS["gas__oxygen"], rel=1e-8)  # solver


def test_syrup_takes_up_what_it_is_given():
    # 50 t/h of syrup, 192.19 kg/h SO2 at 98 %: 3767 mg/kg.
    placed = alone(SulphitationTower, kinds={"juice_in": Syrup})
    syrup = {"sucrose": 26, "reducing_sugars": 1.35, "ash": 1.45, "organics": 2.2, "water": 19}
    given = {f"juice_in__{name}": value for name, value in syrup.items()}
    solved = placed.solve(**GAS, **given, absorption=98)
    assert solved["taken_up"] == pytest.approx(1e3 * 192.192 * 0.98 / 50, rel=1e-5)  # rounding
    assert solved["juice_out.water"] == pytest.approx(19, rel=1e-8)  # solver
