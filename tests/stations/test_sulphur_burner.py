"""Sulphur burner against worked and published figures."""

import pytest

from canewright.stations.sulphur_burner import SulphurBurner
from tests.stations.alone import alone


def test_fifty_kilograms_of_sulphur_at_twelve_percent():
    # Purification notes, section 4: 12 % by volume needs 7.529 kg air per kg of sulphur; the
    # jacket of 50 kg/h takes 124 kW down to 70 degC. Sulphur dioxide 1.998 kg per kg.
    solved = alone(SulphurBurner).solve(sulphur_rate=50, so2_percent=12, gas_temperature=70)
    assert solved["air"] == pytest.approx(0.050 * 7.529, rel=1e-4)  # printed digits
    assert solved["jacket_heat"] == pytest.approx(124, abs=0.6)  # printed to three digits
    assert solved["gas.so2"] == pytest.approx(0.050 * 1.998, rel=5e-4)  # printed digits
    # All that goes in comes out: sulphur and air.
    out = solved["gas.so2"] + solved["gas.oxygen"] + solved["gas.nitrogen"]
    assert out == pytest.approx(0.050 + solved["air"], rel=1e-9)  # solver
    # Oxygen left in the dry gas is 20.95 - y % by volume = 8.95 %.
    moles = {
        "so2": solved["gas.so2"] / 64.064,
        "oxygen": solved["gas.oxygen"] / 31.998,
        "nitrogen": solved["gas.nitrogen"] / 28.161,
    }
    total = sum(moles.values())
    assert 100 * moles["oxygen"] / total == pytest.approx(8.95, abs=0.01)  # molar masses
    assert 100 * moles["so2"] / total == pytest.approx(12.0, abs=0.01)  # molar masses


def test_hugot_air_without_excess():
    # Hugot, ch. 25: 4.3 kg of air burn 1 kg of sulphur; the gas then holds 21 % (20.95 here).
    solved = alone(SulphurBurner).solve(sulphur_rate=1000, so2_percent=20.9)
    assert solved["air"] == pytest.approx(4.3, abs=0.05)  # printed to one digit
    assert solved["gas.oxygen"] < 0.02
