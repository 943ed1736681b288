"""Stocks that jump by more than could flow between the dips of one shift and the next."""

from dataclasses import replace
from datetime import timedelta

import pytest

from canewright.account.stock_jumps import StockCheck
from canewright.demo.factory import WELL_RUN
from canewright.demo.season import Season
from canewright.engine.chain.amounts import Amounts
from canewright.engine.chain.chain import Chain
from canewright.engine.equations.nominal import stocks
from canewright.streams import MASS
from tests.engine import chained_factory

VESSEL = "final molasses tank"
DIPS = ("final_molasses_tank_opening volume_held", "final_molasses_tank_closing volume_held")


@pytest.fixture(scope="module")
def shifts(workshop):
    return chained_factory.readings(Season(workshop, WELL_RUN.losses, (), 4).shifts(3))


def checked(workshop, shifts):
    reconciler = workshop.reconciler
    chain = Chain(reconciler, workshop.prepared.usual.values, Amounts(reconciler, ()))
    _, results, skipped = chain.run(shifts)
    assert not skipped
    return StockCheck(reconciler).jumps(shifts, results), results


def dipped(shift, name, factor):
    """The shift with one dip misread."""
    read = [replace(m, value=m.value * factor) if m.name == name else m for m in shift.measurements]
    assert tuple(read) != shift.measurements
    return replace(shift, measurements=tuple(read))


def value(shift, name):
    return next(m.value for m in shift.measurements if m.name == name)


def test_a_good_season_has_none(workshop, shifts):
    assert checked(workshop, shifts)[0] == []


def test_a_misread_dip_is_a_jump_before_and_after(workshop, shifts):
    """The closing dip of the second shift read half as much again."""
    spoilt = [shifts[0], dipped(shifts[1], DIPS[1], 1.5), shifts[2]]
    found, results = checked(workshop, spoilt)
    assert [(jump.number, jump.vessel) for jump in found] == [(1, VESSEL), (2, VESSEL)]
    within, between = found
    assert within.hours == shifts[1].hours
    assert within.change > within.could > 0
    # What flowed in by the balance.
    model = workshop.reconciler.model
    feed = next(stock.feed for stock in stocks(model) if stock.station == VESSEL)
    mass = [component for component in model.states[feed].components if component in MASS]
    flow = sum(results[1].point[model.position(f"{feed}.{component}")] for component in mass)
    assert within.could == pytest.approx(flow * 8, rel=1e-9)  # the same sum in another order
    assert between.hours == 0
    assert between.could == 0
    assert between.change < 0
    assert (between.before, between.after) == (
        value(spoilt[1], DIPS[1]),
        value(spoilt[2], DIPS[0]),
    )
    assert "nothing can have flowed in between" in between.sentence
    assert "dip it again" in within.sentence
    assert shifts[1].name in within.sentence


def test_over_a_stop_the_vessel_may_have_filled_or_emptied(workshop, shifts):
    later = shifts[2].start + timedelta(hours=48)
    held = value(shifts[1], DIPS[1])
    moved = dipped(shifts[2], DIPS[0], 0.5 * held / value(shifts[2], DIPS[0]))
    found, _ = checked(workshop, [shifts[0], shifts[1], moved])
    assert [jump.number for jump in found] == [2, 2]
    # What flows out in two days is more than half of the tank; within the shift it is not.
    found, _ = checked(workshop, [shifts[0], shifts[1], replace(moved, start=later)])
    assert [jump.hours for jump in found] == [8]


def test_a_factory_without_dips_is_not_asked():
    assert StockCheck(chained_factory.workshop().reconciler).jumps([], []) == []
