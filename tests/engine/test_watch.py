"""A juice scale that drifts is named, with its start, when the filter's covariance says."""

import numpy as np
import pytest

from canewright.demo.season import Season, as_measurements
from canewright.engine.amounts import Amount, Amounts
from canewright.engine.chain import Chain, ShiftReadings
from canewright.engine.watch import Watch
from canewright.figures.ledgers import ledgers

FIRST, SHIFTS = 8, 20
DRIFT = 0.15
"""% more in each shift, as in the demonstration's own season."""


def chained(workshop, seed, drift, shifts=SHIFTS):
    """Calls of the watch over a season whose juice scale drifts from shift `FIRST` on."""
    reconciler = workshop.reconciler
    base = ledgers(workshop.prepared.model)["sucrose"].base
    amounts = Amounts(reconciler, [Amount("sucrose in cane", "t", base, headline=True)])
    chain = Chain(reconciler, workshop.prepared.usual.values, amounts)
    chain.watcher = watch = Watch()
    read = []
    for shift in Season(workshop, faults=(), seed=seed).shifts(shifts):
        factor = 1 + drift / 100 * max(0, shift.number - FIRST + 1)
        measured = tuple(
            type(m)(m.point, m.analysis, m.value * factor, m.count)
            if m.name == "mixed_juice weight"
            else m
            for m in as_measurements(shift)
        )
        read.append(ShiftReadings(shift.facts.name, shift.facts.start, 8.0, measured))
    _, _, skipped = chain.run(read)
    assert not skipped
    return watch.calls


@pytest.mark.slow
def test_a_drifting_juice_scale_is_named_about_when_it_is_due(workshop):
    """Ten seasons: the delay that the covariance predicts, and the one that comes."""
    lead, starts = [], []
    for seed in range(10):
        calls = chained(workshop, seed, DRIFT)
        assert calls, f"nothing was called in season {seed}"
        call = calls[0]
        assert "juice scale" in (call.instrument, *call.rivals)
        # A likelihood ratio passes its limit with even odds at the shift it is due.
        lead.append(call.called - call.due)
        starts.append(call.start - FIRST)
        assert call.called < SHIFTS
    assert abs(np.median(lead)) <= 2
    assert abs(np.median(starts)) <= 3


@pytest.mark.slow
def test_nothing_is_called_in_seasons_without_a_fault(workshop):
    """One false call in twenty seasons of 450 shifts is allowed: 60 shifts have hardly any."""
    calls = [call for seed in range(3) for call in chained(workshop, seed, 0.0)]
    assert not calls
