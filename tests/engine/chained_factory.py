"""Chains of made-up shifts of the poorly instrumented demonstration factory, for tests."""

from functools import cache

from canewright.demo.factory import DRY_RIDGE, POORLY_READ
from canewright.demo.plan import planned
from canewright.demo.season import Season, as_measurements
from canewright.demo.truth import Workshop
from canewright.engine.chain.amounts import Amount, Amounts
from canewright.engine.chain.chain import Chain, ShiftReadings
from canewright.engine.equations.nominal import prepare
from canewright.engine.equations.points import Points
from canewright.figures.ledgers import ledgers
from canewright.files.factory import read_factory


@cache
def workshop():
    """The factory, its readings and their reconciler: built once."""
    prepared = prepare(read_factory(POORLY_READ.path))
    return Workshop(prepared, planned(Points(prepared.model), DRY_RIDGE))


@cache
def season(count, seed):
    """Shifts of a season without planted faults."""
    return tuple(Season(workshop(), POORLY_READ.losses, (), seed).shifts(count))


def readings(shifts):
    """Shifts as the chain takes them."""
    return [
        ShiftReadings(
            shift.facts.name, shift.facts.start, shift.facts.hours, tuple(as_measurements(shift))
        )
        for shift in shifts
    ]


@cache
def amounts():
    """Sucrose of cane and of every row of the ledger, and the stock of molasses at its ends."""
    model = workshop().prepared.model
    ledger = ledgers(model)["sucrose"]
    found = [Amount("sucrose in cane", "t", ledger.base, headline=True)]
    found += [Amount(row.name, "t", row.expression, headline=True) for row in ledger.leaving]
    opening, closing = (
        model.states[f"final molasses tank {side}"].values["sucrose"]
        for side in ("opening", "closing")
    )
    found.append(Amount("molasses at first", "t", opening, "first"))
    found.append(Amount("molasses at last", "t", closing, "last"))
    return Amounts(workshop().reconciler, found)


def chain(periods=(), freed=()):
    """A chain over the factory."""
    made = workshop()
    return Chain(
        made.reconciler,
        made.prepared.usual.values,
        amounts(),
        periods=periods,
        freed=freed,
    )
