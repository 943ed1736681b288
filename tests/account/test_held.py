"""Quantities held at the edge of what they can be, in words and numbers."""

from dataclasses import replace

import pytest

from canewright.account.held import held_in
from canewright.engine.chain.amounts import Amounts
from canewright.engine.chain.chain import Chain
from tests.engine import chained_factory


@pytest.fixture(scope="module")
def season():
    """Three shifts of the poorly read factory, and what they were balanced by."""
    made = chained_factory.workshop()
    chain = Chain(made.reconciler, made.prepared.usual.values, Amounts(made.reconciler, ()))
    _, results, skipped = chain.run(chained_factory.readings(chained_factory.season(3, 3)))
    assert not skipped
    return made.reconciler, results


def held_at(reconciler, result, name, value):
    """The shift with one of its variables held where it is said to be."""
    place = reconciler.problem.variable_names.index(name)
    point = result.point.copy()
    point[place] = value
    return replace(result, held=(*result.held, place), point=point)


def test_shifts_that_hold_nothing_tell_nothing(season):
    assert held_in(*season) == []


def test_each_quantity_is_told_once_with_its_side_and_shifts(season):
    reconciler, results = season
    name = "imbibition.imbibition_percent_fibre"
    place = reconciler.problem.variable_names.index(name)
    low, high = reconciler.problem.lower[place], reconciler.problem.upper[place]
    tank = "final molasses tank opening.sucrose"
    changed = [
        held_at(reconciler, results[0], name, low),
        held_at(reconciler, held_at(reconciler, results[1], name, high), tank, 0.9),
        held_at(reconciler, held_at(reconciler, results[2], name, low), tank, 0.8),
    ]
    found = {(one.quantity, one.lowest): one for one in held_in(reconciler, changed)}
    assert [len(one.shifts) for one in held_in(reconciler, changed)] == [2, 2, 1]
    content = found["final molasses tank, opening stock, sucrose", True]
    assert (content.value, content.unit, content.shifts) == (0.8, "t", (1, 2))
    assert content.sentence == (
        "final molasses tank, opening stock, sucrose: held at its lowest, 0.8 t, in 2 shifts, "
        "the last 3; the readings ask for less. What follows from it is known to one side "
        "only, which its interval does not say."
    )
    (above,) = [one for one in found.values() if not one.lowest]
    assert above.quantity.startswith("imbibition, ")
    assert (above.value, above.shifts) == (high, (1,))
    assert "held at its highest" in above.sentence
    assert "in shift 2;" in above.sentence
