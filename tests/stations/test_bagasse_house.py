"""Bagasse house against the day's bagasse account worked in the notes."""

import pytest

from canewright.stations.bagasse_house import BagasseHouse
from tests.stations.alone import alone


def test_the_worked_day_has_its_surplus():
    # Steam and power notes, section 6: 1450 t of bagasse a day, 1057.6 t burnt, surplus 392.4 t
    # (27.1 %) before losses. Here per day: pol 1.9, Brix 2.667, moisture 49.5, fibre 47.833 %.
    bagasse = {"sucrose": 1.9, "organics": 0.767, "fibre": 46.333, "soil": 1.5, "water": 49.5}
    given = {f"bagasse_in__{name}": 14.5 * percent for name, percent in bagasse.items()}
    solved = alone(BagasseHouse).solve(
        **given,
        bagasse_in__reducing_sugars=0,
        bagasse_in__ash=0,
        boiler_share=100 * 1057.6 / 1450,
        bagacillo_share=0,
    )
    surplus = sum(solved[f"surplus.{name}"] for name in bagasse)
    assert surplus == pytest.approx(392.4, rel=1e-6)  # arithmetic
    assert solved["surplus_share"] == pytest.approx(27.1, abs=0.05)  # printed to three digits
    assert solved["to_boilers.water"] == pytest.approx(0.495 * 1057.6, rel=1e-6)  # arithmetic
    assert solved["bagacillo.fibre"] == pytest.approx(0, abs=1e-6)  # solver's bound
