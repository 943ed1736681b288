"""After the shift: advice followed in a made-up truth, read again, balanced, and reviewed."""

from datetime import datetime

import numpy as np
import pytest

from canewright.account import balance
from canewright.account.advice import Adviser
from canewright.account.advice_ledger import keep, review
from canewright.demo.factory import WELL_RUN
from canewright.demo.plan import planned
from canewright.demo.truth import Workshop
from canewright.engine.adjusting.explain import COVERAGE
from canewright.engine.equations.nominal import prepare
from canewright.engine.equations.points import Points
from canewright.files.factory import read_factory
from canewright.files.rows import ReadingRow, ShiftFacts
from canewright.files.writing import write_readings


@pytest.fixture(scope="module")
def workshop():
    prepared = prepare(read_factory(WELL_RUN.path))
    return Workshop(prepared, planned(Points(prepared.model), WELL_RUN.plan))


def written(workshop, measurements, path, hour):
    units = {channel.name: channel.unit for channel in workshop.channels}
    rows = [ReadingRow.of(m.point, m.analysis, float(m.value), units[m.name]) for m in measurements]
    write_readings(path, rows, ShiftFacts(datetime(2026, 8, 14, hour, 0), 8.0, f"from {hour}"))
    return balance(WELL_RUN.path, path)


@pytest.mark.slow
def test_a_gain_that_came_is_found_again_within_its_interval(workshop, tmp_path):
    made = workshop.shift(7, width=0.5)
    first = written(workshop, made.measurements, tmp_path / "first.csv", 6)
    adviser = Adviser(first)
    advice = adviser.advise(draws=0)
    keep(tmp_path / "ledger.json", advice)
    optimiser = adviser.optimiser
    move = advice.chosen.best.settings - optimiser.settings_found
    truth, square = made.truth, optimiser.square
    values = truth.values.copy()
    for one, step in zip(optimiser.settings, move, strict=True):
        values[one.place] += step
    for link in optimiser.program.links:
        was, now = truth.values[link.cause], values[link.cause]
        if was != now:
            change = link.response.change(was, now)
            values[link.effect] = link.response.moved(values[link.effect], change)
    after = square.solve(values, truth.parameters, square.targets(truth.values))
    rng = np.random.default_rng(99)
    readings = workshop.read(after, rng, made.biases, made.relations)
    second = written(workshop, readings, tmp_path / "second.csv", 14)
    found = review(tmp_path / "ledger.json", second)
    ties = np.array([made.relations[n] for n in optimiser.estimate.reconciler.relations])
    both = np.stack([truth.values, after.values])
    money, _ = optimiser.program.many(both, truth.parameters, np.stack([ties, ties]))
    true_gain = money[1] - money[0]
    # The review's own 95 % interval; the seed is fixed, and the truth lies well inside.
    assert abs(found.earned - true_gain) < COVERAGE * found.earned_sd
    assert found.forecast == pytest.approx(true_gain, rel=0.2)  # followed: 80 % and more
    assert sum(money for _, money in found.groups) == pytest.approx(found.change, abs=1e-6)
    # Read well enough to see that it was made: moves that the readings tell at all.
    known = {one.setting for one in advice.moves if one.known}
    told = [one for one in found.moves if one.setting in known]
    assert sum(one.made for one in told) >= 0.6 * len(told)
