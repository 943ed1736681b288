"""Readings that are wildly wrong but possible are suspects, not a failure."""

import numpy as np
import pytest

from canewright.engine.equations.simulate import SolveFailed
from canewright.engine.suspects.suspects import find_suspects
from tests.engine.small_factory import balanced, small_reconciler, usual_readings


def off_by(name, value):
    names = [channel.name for channel in small_reconciler().channels]
    return {name: value - usual_readings()[names.index(name)]}


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("syrup brix", 26.0),
        ("mixed_juice weight", 15000.0),
        ("mixed_juice pol", 1.3),
        ("cane fibre", 41.0),
        ("clear_juice weight", 158.0),
        ("c_massecuite brix", 49.0),
    ],
)
def test_one_wild_reading_is_named_and_the_shift_is_balanced_without_it(name, value):
    found = find_suspects(balanced(seed=1, off=off_by(name, value)))
    assert f"bias of {name}" in {found.findings[0].name, *found.findings[0].equivalents}
    honest = balanced(seed=1)
    place = honest.model.position("mixed juice.sucrose")
    sd = honest.posterior.variable_sd([place])[0]
    assert abs(found.estimate.values[place] - honest.values[place]) < 3 * sd


@pytest.mark.slow
def test_a_shift_of_nothing_but_nonsense_fails_with_sentences():
    wild = np.random.default_rng(1)
    names = [channel.name for channel in small_reconciler().channels]
    off = {
        name: float(value * wild.uniform(-0.9, 8.0))
        for name, value in zip(names, usual_readings(), strict=True)
    }
    said: list[str] = []
    try:
        said = [] if find_suspects(balanced(seed=1, off=off)).before.passes else ["not balanced"]
    except SolveFailed as failure:
        said = failure.open_equations
    assert said
