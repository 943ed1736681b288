"""The demonstration factory with other limits and prices, balanced, for tests of advice."""

from dataclasses import replace

from canewright.demo.factory import WELL_RUN
from canewright.demo.plan import planned
from canewright.demo.truth import Workshop
from canewright.engine.advising.advise import Optimiser
from canewright.engine.equations.nominal import prepare
from canewright.engine.equations.points import Points
from canewright.figures.ledgers import products
from canewright.figures.money import earnings
from canewright.files.factory import read_factory
from tests.whole_factory import balance

IMBIBITION = "imbibition.imbibition_percent_fibre"
PAN_APPROACH = "pan condenser.approach"


def money(model, relations):
    return earnings(model, relations=relations).total


def workshop_with(limits=(), **changes):
    """A workshop of the factory with these limits."""
    factory = replace(read_factory(WELL_RUN.path), limits=tuple(limits), **changes)
    prepared = prepare(factory)
    return Workshop(prepared, planned(Points(prepared.model), WELL_RUN.plan))


def optimiser_of(workshop, seed=7, **how):
    """The optimiser of one balanced shift."""
    estimate = balance(workshop, workshop.shift(seed, width=0.5).measurements)
    return Optimiser(estimate, money, products(estimate.model), **how)
