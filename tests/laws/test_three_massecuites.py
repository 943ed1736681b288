"""The worked three-massecuite balance, solved as one small linear system.

Per 100 t solids of syrup at 84 purity; A sugar 99.7, A molasses 68, B massecuite 72,
B sugar 95, B molasses 50, C massecuite 57, C sugar 84, final molasses 33, no losses.
A takes syrup and all B and C sugar, B takes A molasses and syrup, C takes B and A
molasses. Printed figures: half a unit of the third decimal.
"""

import numpy as np
import pytest

from canewright.figures.boiling_house_formulas import sjm_recovery, solids_to_sugar
from canewright.laws.crystallisation import (
    cross_ratio,
    crystal_percent_massecuite,
    crystal_percent_massecuite_by_brix,
    massecuite_from_feed,
)

SYRUP, A_SUGAR, A_MOL, B_MC, B_SUGAR, B_MOL, C_MC, C_SUGAR, FINAL = (
    84.0,
    99.7,
    68.0,
    72.0,
    95.0,
    50.0,
    57.0,
    84.0,
    33.0,
)
PRINTED = {
    "syrup to A": 86.710,
    "syrup to B": 13.290,
    "A massecuite": 133.622,
    "A sugar": 76.462,
    "A molasses": 57.160,
    "A molasses to B": 39.870,
    "A molasses to C": 17.290,
    "B massecuite": 53.160,
    "B sugar": 25.989,
    "B molasses": 27.171,
    "C massecuite": 44.461,
    "C sugar": 20.923,
    "final molasses": 23.538,
}
NAMES = list(PRINTED)


def balance():
    """Solids of each stream by a linear solve: masses and sucrose, every purity given."""
    rows, right = [], []

    def equation(terms, value=0.0):
        row = np.zeros(len(NAMES))
        for name, factor in terms.items():
            row[NAMES.index(name)] += factor
        rows.append(row)
        right.append(value)

    equation({"syrup to A": 1, "syrup to B": 1}, 100.0)
    equation({"A massecuite": 1, "syrup to A": -1, "B sugar": -1, "C sugar": -1})
    equation({"A massecuite": 1, "A sugar": -1, "A molasses": -1})
    equation(
        {
            "syrup to A": SYRUP,
            "B sugar": B_SUGAR,
            "C sugar": C_SUGAR,
            "A sugar": -A_SUGAR,
            "A molasses": -A_MOL,
        }
    )
    equation({"A molasses": 1, "A molasses to B": -1, "A molasses to C": -1})
    equation({"B massecuite": 1, "A molasses to B": -1, "syrup to B": -1})
    # The share of the two feeds comes from the registered mixing rule.
    equation({"syrup to B": 1, "A molasses to B": -cross_ratio(B_MC, SYRUP, A_MOL)})
    equation({"B sugar": 1, "B massecuite": -solids_to_sugar(B_SUGAR, B_MC, B_MOL) / 100})
    equation({"B massecuite": 1, "B sugar": -1, "B molasses": -1})
    equation({"C massecuite": 1, "B molasses": -1, "A molasses to C": -1})
    equation({"A molasses to C": 1, "B molasses": -cross_ratio(C_MC, A_MOL, B_MOL)})
    equation({"C sugar": 1, "C massecuite": -solids_to_sugar(C_SUGAR, C_MC, FINAL) / 100})
    equation({"C massecuite": 1, "C sugar": -1, "final molasses": -1})
    return dict(zip(NAMES, np.linalg.solve(np.array(rows), np.array(right)), strict=True))


STREAMS = balance()


@pytest.mark.published
@pytest.mark.parametrize("name", NAMES)
def test_stream_of_the_worked_balance(name):
    assert STREAMS[name] == pytest.approx(PRINTED[name], abs=0.0006)  # printed to 0.001


def test_sucrose_closes_over_the_house():
    out = STREAMS["A sugar"] * A_SUGAR + STREAMS["final molasses"] * FINAL
    assert out == pytest.approx(100.0 * SYRUP, abs=1e-9)  # closure of a linear solve


def test_purity_of_a_massecuite_is_the_printed_one():
    sucrose = (
        STREAMS["syrup to A"] * SYRUP + STREAMS["B sugar"] * B_SUGAR + STREAMS["C sugar"] * C_SUGAR
    )
    # printed to three decimals
    assert sucrose / STREAMS["A massecuite"] == pytest.approx(86.139, abs=0.0006)


def test_product_depends_on_the_end_purities_only():
    assert STREAMS["A sugar"] == pytest.approx(solids_to_sugar(A_SUGAR, SYRUP, FINAL), abs=1e-9)
    recovered = sjm_recovery(A_SUGAR, SYRUP, FINAL)
    # closure of a linear solve
    assert STREAMS["A sugar"] * A_SUGAR / SYRUP == pytest.approx(recovered, abs=1e-9)


@pytest.mark.parametrize(
    ("name", "brix", "density", "volume"),
    [
        ("A massecuite", 92.5, 1.460, 0.989),
        ("B massecuite", 94.0, 1.480, 0.382),
        ("C massecuite", 96.0, 1.500, 0.309),
    ],
)
def test_pan_volumes_per_tonne_of_syrup_brix(name, brix, density, volume):
    tonnes = massecuite_from_feed(STREAMS[name] / 100.0, 100.0, brix)
    assert tonnes / density == pytest.approx(volume, abs=0.0006)  # printed to three decimals


def test_the_two_crystal_contents_agree_at_one_liquor_dry_substance_only():
    by_purity = crystal_percent_massecuite(57.0, 33.0, 96.0)
    assert by_purity == pytest.approx(34.39, abs=0.005)  # printed to two decimals
    # 93.9 is printed to one decimal, and half of it moves the crystal content by 0.5
    assert crystal_percent_massecuite_by_brix(96.0, 93.9) == pytest.approx(by_purity, abs=0.55)
    assert crystal_percent_massecuite_by_brix(96.0, 88.0) > 2 * 33.0
