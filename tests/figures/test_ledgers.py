"""Ledgers: they close because the equations do, and their rows are the trade's."""

import casadi
import numpy as np
import pytest

from canewright.engine.equations.simulate import simulate
from canewright.figures.ledgers import ledgers
from tests.engine.small_factory import small_model, small_truth

# A state in which everything that a ledger can hold is not nothing.
DISTURBED = {
    "juice section.undetermined": 1.5,
    "boiling section.undetermined": -0.7,
    "juice section.spill": 0.4,
    "syrup tank.closing_mass": 95.0,
    "A pan.inversion": 0.3,
    "hours": 12.0,
}


def evaluated(model, solved):
    """Ledger -> (total in, total out, base, {row: value})."""
    found = {}
    for name, ledger in ledgers(model).items():
        rows = [*ledger.entering, *ledger.leaving]
        stacked = casadi.vertcat(
            ledger.total_in, ledger.total_out, ledger.base, *[row.expression for row in rows]
        )
        function = casadi.Function("l", [model.symbols, model.parameters], [stacked])
        numbers = np.array(function(solved.values, solved.parameters)).ravel()
        by_row = dict(zip([row.name for row in rows], numbers[3:], strict=True))
        found[name] = (*numbers[:3], by_row)
    return found


@pytest.fixture(scope="module")
def usual():
    return evaluated(small_model(), small_truth())


@pytest.fixture(scope="module")
def disturbed():
    start = small_truth().values
    return evaluated(small_model(), simulate(small_model(), DISTURBED, start=start))


LEDGERS = ("sucrose", "solids", "fibre", "water", "steam", "heating")


@pytest.mark.parametrize("name", LEDGERS)
def test_both_sides_have_one_total(usual, disturbed, name):
    for total_in, total_out, _, _ in (usual[name], disturbed[name]):
        # 1e-6 of what came in: a thousand times the tolerance at which equations close
        assert total_in == pytest.approx(total_out, rel=1e-6)


def test_sucrose_in_cane_is_what_the_yard_weighed(usual):
    # By hand: 200 t/h, 13.25 % sucrose as weighed (the middle of 11 to 15.5), 8 hours.
    _, _, base, rows = usual["sucrose"]
    assert base == pytest.approx(212.0, rel=1e-9)  # arithmetic only
    assert rows["cane as weighed"] == base


def test_what_is_planted_is_found_in_its_row(usual, disturbed):
    _, _, _, rows = disturbed["sucrose"]
    assert usual["sucrose"][3]["spilled"] == 0.0
    assert rows["spilled"] > 0.5
    assert rows["more in stock at the end"] > 10
    assert rows["inverted"] > usual["sucrose"][3]["inverted"]


def test_undetermined_loss_is_the_sum_of_its_sections():
    model = small_model()
    solved = simulate(model, DISTURBED, start=small_truth().values)
    row = ledgers(model)["sucrose"].row("undetermined")
    assert [part.name for part in row.parts] == ["juice section", "boiling section"]
    function = casadi.Function(
        "u",
        [model.symbols, model.parameters],
        [casadi.vertcat(row.expression, *[part.expression for part in row.parts])],
    )
    whole, juice, boiling = np.array(function(solved.values, solved.parameters)).ravel()
    # By hand: the share of what enters the section, over 12 hours; 1e-9 is arithmetic.
    expected = 12 * 1.5 / 100 * solved["mixed juice.sucrose"]
    assert juice == pytest.approx(expected, rel=1e-9)
    assert boiling == pytest.approx(-12 * 0.7 / 100 * solved["syrup.sucrose"], rel=1e-9)
    assert whole == pytest.approx(juice + boiling, rel=1e-9)


def test_bagasse_that_is_burnt_counts_as_bagasse(usual):
    # By hand: fibre is 14 % of 1600 t cane; what is not in the cake was burnt.
    _, _, _, rows = usual["fibre"]
    assert rows["cane as weighed"] == pytest.approx(224.0, rel=1e-9)
    assert rows["bagasse"] + rows["cake to the fields"] == pytest.approx(224.0, rel=1e-6)


def test_inversion_leaves_the_solids_heavier(disturbed):
    # 342.30 g of sucrose make 360.31 g of reducing sugars: the water comes from the liquor.
    sucrose, solids = disturbed["sucrose"][3], disturbed["solids"][3]
    assert solids["inverted"] == pytest.approx(
        sucrose["inverted"] * (1 - 360.31 / 342.30), rel=2e-3
    )


def test_the_heating_ledger_says_what_is_lost_to_the_surroundings():
    ledger = ledgers(small_model())["heating"]
    row = ledger.row("to heater")
    assert [part.name for part in row.parts] == ["to the juice", "lost to surroundings"]
    assert "sensible" in ledger.covers
