"""Syrup clarifier against a case worked by hand."""

import pytest

from canewright.stations.syrup_clarifier import SyrupClarifier
from tests.stations.alone import alone

SYRUP = {
    "sucrose": 52.0,
    "reducing_sugars": 2.5,
    "ash": 3.0,
    "organics": 4.5,
    "water": 38.0,
    "colour": 600_000,
    "sulphite": 60,
    "lime": 300,
    "phosphate": 6.2,
    "temperature": 84,
}


def test_the_precipitate_floats_off_with_its_syrup():
    # 100 t/h of syrup, 62 t dissolved. 300 mg P2O5/kg: 18.6 kg/h beside 6.2; 90 % of 24.8 = 22.32
    # precipitate as Ca3(PO4)2: x 310.18/141.944 = 48.77 kg/h. Lime 300 + 24.8 (400 mg/kg) less
    # 22.32 x 1.1853 = 26.45: 298.35 kg/h. Scum 3 t/h. Colour 20 % out: 480 000.
    # Liquid left 100 + 0.0186 + 0.0248 - 0.04877 = 99.9946 t, 2.9512 of it in the scum.
    solved = alone(SyrupClarifier).solve(
        **{f"syrup_in__{name}": value for name, value in SYRUP.items()},
        phosphate_dose=300,
        lime_dose=400,
        phosphate_precipitated=90,
        scum_percent=3,
        colour_removal=20,
        temperature_fall=2,
    )
    hand = 1e-4  # relative: five digits by hand
    assert solved["scum.soil"] == pytest.approx(0.04877, rel=2e-4)  # four digits by hand
    scum = sum(solved[f"scum.{name}"] for name in (*list(SYRUP)[:5], "soil", "fibre"))
    assert scum == pytest.approx(3, rel=1e-7)  # solver
    assert solved["scum.lime"] + solved["syrup_out.lime"] == pytest.approx(298.35, rel=hand)
    assert solved["scum.colour"] == pytest.approx(480_000 * 2.9512 / 99.9946, rel=hand)
    assert solved["syrup_out.sucrose"] == pytest.approx(52 * (1 - 2.9512 / 99.9946), rel=hand)
    assert solved["syrup_out.sulphite"] + solved["scum.sulphite"] == pytest.approx(60, rel=1e-8)
    assert solved["syrup_out.temperature"] == pytest.approx(82, rel=1e-8)  # solver
