"""Power that a station takes: so much for each tonne of what it moves, worked by hand."""

import pytest

from canewright.stations.boiler import Boiler
from canewright.stations.centrifugals import Centrifugals
from canewright.stations.mill import Mill
from tests.stations.alone import alone

ROUNDING = 1e-6
"""Relative: the products are exact, the solver closes to 1e-10."""


@pytest.mark.parametrize(
    ("station", "moved"),
    [(Boiler, "steam."), (Centrifugals, "massecuite.")],
)
def test_power_is_so_much_a_tonne(station, moved):
    # 2.5 kWh on each tonne: of 80 t/h 200 kW.
    placed = alone(station, connect_optional=True, specific_power=2.5)
    solved = placed.solve()
    masses = ("sucrose", "reducing_sugars", "ash", "organics", "crystal", "water", "fibre", "soil")
    flow = sum(
        value
        for name, value in solved.items()
        if name.startswith(moved) and name.split(".")[1] in masses
    )
    assert flow > 1
    assert solved["power.power"] == pytest.approx(2.5 * flow, rel=ROUNDING)


def test_a_mill_takes_power_by_the_fibre_it_is_fed():
    # 12 kWh on each tonne of fibre in all its feeds; juice and water cost nothing.
    placed = alone(Mill, connect_optional=True, specific_power=12.0)
    solved = placed.solve()
    fibre = sum(
        value
        for name, value in solved.items()
        if name.startswith("feed") and name.endswith(".fibre")
    )
    assert fibre > 1
    assert solved["power.power"] == pytest.approx(12.0 * fibre, rel=ROUNDING)
