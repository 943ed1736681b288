"""What a factory earns a day: hand-worked sums, prices missing, power both ways."""

import casadi
import numpy as np
import pytest

from canewright.demo.factory import POORLY_READ
from canewright.engine.equations.model import compile
from canewright.figures.money import AT_96, earnings, unknown_prices
from canewright.files.factory import read_factory


@pytest.fixture(scope="module")
def usual(halcyon_bend):
    model = halcyon_bend.model

    def value(expression, values=halcyon_bend.usual.values):
        function = casadi.Function("v", [model.symbols, model.parameters], [casadi.SX(expression)])
        return float(function(values, model.parameter_values))

    return value


def rows_of(model, prices):
    return {row.name: row for row in earnings(model, prices).rows}


def test_a_day_is_added_up_from_its_streams(halcyon_bend, usual):
    """Tonnes an hour times 24 times the price, added by hand."""
    model, state = halcyon_bend.model, halcyon_bend.usual
    prices = {"plantation_white_sugar": 500.0, "final_molasses": 100.0, "sulphur": 200.0}
    white = sum(
        state[f"{stream}.{component}"]
        for stream in ("bulk bags", "sacks", "retail bags")
        for component in model.states[stream].components
        if component not in ("colour", "sulphite", "lime", "phosphate")
    )
    made = model.states["C molasses"]
    molasses = usual(made.flow)
    by_hand = 24 * (
        500 * white + 100 * molasses - 200 * state["sulphur burner.sulphur_rate"] / 1000
    )
    found = earnings(model, prices)
    # The same sums in another order.
    assert usual(found.total) == pytest.approx(by_hand, rel=1e-10)
    assert {row.name for row in found.priced} == set(prices)


def test_molasses_made_counts_not_molasses_sent_away(halcyon_bend, usual):
    model = halcyon_bend.model
    row = rows_of(model, {})["final_molasses"]
    other = halcyon_bend.usual.values.copy()
    other[model.position("final molasses tank.dispatch")] *= 3
    assert usual(row.amount, other) == usual(row.amount)


def test_sugar_paid_by_polarisation(halcyon_bend, usual):
    """Pol 98.56: +1.50 + 1.25 + 0.56 x 1.00 % over the price at 96 [exchange_grading]."""
    from canewright.figures.control import control_figures

    model = halcyon_bend.model
    pol = usual(control_figures(model)["pol_of_raw_sugar"].expression)
    row = rows_of(model, {f"raw_sugar{AT_96}": 400.0})[f"raw_sugar{AT_96}"]
    by_hand = usual(row.amount) * 400 * (1 + (1.50 + 1.25 + 1.00 * (pol - 98)) / 100)
    # Corners of the scale are rounded over 1e-4 degree.
    assert usual(row.value) == pytest.approx(by_hand, rel=1e-6)


def test_a_price_that_is_not_written_is_missing_and_never_nothing(halcyon_bend):
    model = halcyon_bend.model
    found = earnings(model, {"raw_sugar": 0.0})
    assert {row.name for row in found.priced} == {"raw_sugar"}
    assert {"final_molasses", "surplus_bagasse", "lime", "cane"} <= {r.name for r in found.missing}


def test_the_demonstration_prices_everything_it_sells_and_buys(halcyon_bend):
    assert not earnings(halcyon_bend.model).missing
    assert not unknown_prices(halcyon_bend.model)


def test_power_is_sold_or_bought(halcyon_bend, usual):
    model = halcyon_bend.model
    rows = rows_of(model, {"power_sold": 50.0, "power_bought": 100.0})
    place = model.position("power house.exported")
    for kilowatts, worth in ((1000.0, 24 * 50.0), (-1000.0, -24 * 100.0)):
        values = halcyon_bend.usual.values.copy()
        values[place] = kilowatts
        total = usual(rows["power_sold"].value + rows["power_bought"].value, values)
        # The corner is rounded over 1 kW: 2.5e-7 of 1000 kW.
        assert total == pytest.approx(worth, rel=1e-5)
    assert np.isfinite(total)


def test_power_made_without_a_power_house_is_worth_its_price():
    """More of it earns more: it need not be bought, or is sold."""
    model = compile(read_factory(POORLY_READ.path))
    rows = rows_of(model, {"power_made": 100.0})
    assert rows["power_made"].sign == 1
    assert rows["power_made"].unit == "MWh"
    assert not {"power_used", "power_sold", "power_bought"} & set(rows)
    made = model.position("generated power.power")
    slope = casadi.gradient(casadi.SX(rows["power_made"].value), model.symbols)[made]
    # 24 hours of a kW are 0.024 MWh.
    assert float(casadi.evalf(slope)) == pytest.approx(0.024 * 100.0, rel=1e-12)
