"""What a season learns of settings and performance, against the made-up truth."""

import numpy as np
import pytest

from canewright.demo.factory import WELL_RUN
from canewright.demo.season import Season
from canewright.engine.chain.amounts import Amounts
from canewright.engine.chain.chain import Chain
from tests.engine.chained_factory import readings

SHIFTS, LAST, SEEDS = 45, 15, (1, 2, 3, 4)
SCREEN = "juice screen.juice_on_fibre"


@pytest.mark.slow
def test_levels_lie_where_they_are_said_to_and_none_is_learnt_out_of_nothing(workshop):
    """Each shift is made linear at its own point: no level may be made up of the differences.

    The true level is taken as the mean over the last shifts. Nothing reads the juice on
    cush-cush: a season may not claim to know it and be wrong.
    """
    reconciler, model = workshop.reconciler, workshop.prepared.model
    far, unread = [], []
    for seed in SEEDS:
        made = list(Season(workshop, WELL_RUN.losses, (), seed).shifts(SHIFTS))
        chain = Chain(reconciler, workshop.prepared.usual.values, Amounts(reconciler, ()))
        _, results, skipped = chain.run(readings(made), chain.begin())
        assert not skipped
        carried, last = chain.carried, results[-1]
        places = [
            i
            for i, kind in enumerate(carried.kinds)
            if kind == "level" and carried.names[i] in model.index
        ]
        truth = np.array([[s.truth[carried.names[i]] for i in places] for s in made[-LAST:]])
        spread = last.carried_sd[places] ** 2 + carried.scatter[places] / LAST
        score = (last.carried[places] - truth.mean(axis=0)) / np.sqrt(spread)
        far.append(np.abs(score) > 1.96)
        unread.append(score[[carried.names[i] for i in places].index(SCREEN)])
    # 95 % within 1.96; the truth wanders less than the priors allow, so more are.
    assert np.mean(far) < 0.05
    # Four draws within 3 standard deviations: by chance once in a hundred seeds.
    assert np.all(np.abs(unread) < 3)
