"""Published rows of real factories: mills, seasons, molasses survey, milling.

South African thesis, Table 5.1 (means of seasons 2007/08 to 2009/10); Final Molasses
Survey of the 2006 season; Mauritian crop 2010.
"""

import pytest

from canewright.figures import cane_quality_formulas as cane
from canewright.figures import extraction_formulas as mill
from canewright.figures import loss_and_stock_formulas as losses
from canewright.figures import molasses_formulas as molasses
from canewright.figures import time_formulas as time

MILLS = {
    "A": {
        "gross": (85.27, 4.34, 6.89, 2.59, 0.90),
        "sum": 99.99,
        "lost": 2.94,
        "our lost": 2.95,
        "cane": (14.18, 16.36, 14.34),
        "erc": 12.39,
        "erc % sucrose": 87.38,
        "rv": 13.05,
    },
    "B": {
        "gross": (71.33, 8.23, 14.19, 5.94, 0.30),
        "sum": 99.99,
        "lost": 7.70,
        "our lost": 7.69,
        "cane": (13.08, 15.79, 15.08),
        "erc": 11.02,
        "erc % sucrose": 84.24,
        "rv": 11.74,
    },
}
SURVEY = [
    (1.14, 33.2, 33.14),
    (0.86, 34.9, 34.78),
    (0.98, 34.3, 34.02),
    (0.95, 34.3, 34.20),
    (0.80, 35.5, 35.20),
    (0.90, 34.7, 34.51),
]


@pytest.mark.published
@pytest.mark.parametrize("name", MILLS)
def test_time_account_of_the_mill(name):
    row = MILLS[name]
    crushing, _, _, other, _ = row["gross"]
    assert sum(row["gross"]) == pytest.approx(row["sum"], abs=0.001)  # sum of printed shares
    lost = time.lost_time_percent_available(other, crushing)
    assert lost == pytest.approx(row["our lost"], abs=0.005)  # printed to two decimals
    # 0.03: agreement found over four mills; figures are means of three seasons
    assert lost == pytest.approx(row["lost"], abs=0.03)


@pytest.mark.published
@pytest.mark.parametrize("name", MILLS)
def test_cane_quality_of_the_mill(name):
    row = MILLS[name]
    recoverable = cane.recoverable_value(*row["cane"], 0.385, 0.020)
    crystal = cane.estimated_recoverable_crystal(*row["cane"], 0.9734, 0.542, 0.016)
    # fit residual 0.006 and rounding 0.005 of the figure and of sucrose and Brix
    assert recoverable == pytest.approx(row["rv"], abs=0.015)
    assert crystal == pytest.approx(row["erc"], abs=0.007)  # fit 0.002, rounding 0.005
    share = cane.erc_percent_sucrose(row["erc"], row["cane"][0])
    assert share == pytest.approx(row["erc % sucrose"], abs=0.04)  # 0.005 / 13.08 x 100


@pytest.mark.published
@pytest.mark.parametrize(("ratio", "published", "ours"), SURVEY)
def test_target_purity_against_the_survey(ratio, published, ours):
    target = molasses.target_purity_smith(ratio)
    assert target == pytest.approx(ours, abs=0.0051)  # half a printed digit
    # Every published target lies above the equation by 0.06 to 0.31: stated after seeing them.
    assert 0.05 < published - target < 0.315


def test_the_survey_says_the_equation_is_low_and_by_how_much():
    gaps = [published - molasses.target_purity_smith(ratio) for ratio, published, _ in SURVEY]
    assert min(gaps) > 0  # never by chance on both sides: the bias is real
    mean = sum(gaps) / len(gaps)
    assert mean == pytest.approx(0.17, abs=0.06)  # twelve rows gave 0.17; six of them are here


@pytest.mark.published
def test_target_purities_differ_by_units_at_a_ratio_of_one():
    at_one = [
        molasses.target_purity_smith(1.0),
        molasses.target_purity_equilibrium(1.0),
        molasses.target_purity_australia(1.0),
        molasses.target_purity_reunion(1.0),
    ]
    # 6.8 units between the lowest and the highest: never mix them
    assert max(at_one) - min(at_one) == pytest.approx(6.77, abs=0.005)


@pytest.mark.published
def test_first_survey_row_gives_its_true_purity():
    # target purity difference 8.5 on a target of 33.2: true purity 41.7, one decimal
    assert molasses.target_purity_difference(41.7, 33.2) == pytest.approx(8.5, abs=0.05)


@pytest.mark.published
def test_mauritius_2010_recovery_is_the_published_one():
    percent = losses.sugar_percent_cane(452518.0, 4362118.0)
    assert percent == pytest.approx(10.374, abs=0.0005)  # printed to three decimals
    # at an assumed 98.7 pol and 11.97 % sucrose in cane, printed to one decimal
    assert percent * 98.7 / 11.97 == pytest.approx(85.5, abs=0.05)


@pytest.mark.published
@pytest.mark.parametrize(
    ("pol", "moisture", "purity", "fibre", "extraction"),
    [
        (8.5, 57.0, 80.0, 32.38, 71.73),
        (5.5, 55.0, 77.0, 37.86, 84.35),
        (3.8, 53.0, 75.0, 41.93, 90.24),
        (2.6, 51.5, 73.0, 44.94, 93.77),
        (1.8, 49.5, 71.0, 47.96, 95.96),
    ],
)
def test_five_mill_train(pol, moisture, purity, fibre, extraction):
    share = mill.fibre_percent_bagasse(moisture, mill.brix_percent_bagasse(pol, purity))
    assert share == pytest.approx(fibre, abs=0.0051)  # printed to two decimals
    got = mill.extraction_from_bagasse(pol, share, 14.0, 13.0)
    assert got == pytest.approx(extraction, abs=0.0051)  # printed to two decimals
