"""The ladder of tests that every registered station climbs, whoever wrote it."""

import inspect
import re

import casadi
import numpy as np
import pytest

from canewright import registry
from canewright.model import stations
from tests.stations.alone import alone

STATIONS = {name: cls for name, cls in stations().items() if not hasattr(cls, "expand")}
CAUTIONS = {
    "sulphur dioxide",
    "lime",
    "lead salts",
    "ethanol",
    "steam and vacuum",
    "rotating machinery",
    "confined spaces",
    "sugar dust",
}

each = pytest.mark.parametrize("name", STATIONS)


@each
def test_says_what_it_assumes_and_where_it_comes_from(name):
    text = inspect.getdoc(STATIONS[name]) or ""
    assert "Assumes" in text
    keys = re.findall(r"\[([a-z0-9_]+)\]", text.split("Sources:")[1])
    assert keys, "no source key after 'Sources:'"
    assert set(keys) <= set(registry.sources())
    assert set(STATIONS[name].cautions) <= CAUTIONS


@each
def test_quantities_have_units_ranges_and_sources(name):
    for quantity in STATIONS[name].quantities.values():
        assert quantity.unit
        assert quantity.typical[0] < quantity.typical[1]
        assert (
            quantity.bounds[0] <= quantity.typical[0] <= quantity.typical[1] <= quantity.bounds[1]
        )
        assert quantity.source in registry.sources()


@each
@pytest.mark.parametrize("connect_optional", [False, True])
def test_is_square_and_of_full_rank_at_its_typical_point(name, connect_optional):
    placed = alone(STATIONS[name], connect_optional=connect_optional)
    names = [equation.name for equation in placed.equations]
    assert len(names) == len(set(names)), "equation names repeat"
    assert len(placed.equations) == len(placed.free), (
        f"{len(placed.equations)} equations for {[placed.names[i] for i in placed.free]}"
    )
    if not placed.free:
        return
    jacobian = casadi.Function(
        "j", [placed.symbols], [casadi.jacobian(placed.residuals, placed.symbols)]
    )
    rng = np.random.default_rng(1)
    point = placed.guess * rng.uniform(0.97, 1.03, len(placed.guess))
    matrix = np.array(jacobian(point))[:, placed.free] * np.maximum(
        np.abs(point[placed.free]), 1e-6
    )
    matrix /= np.maximum(np.abs(matrix).max(axis=1, keepdims=True), 1e-12)
    assert np.linalg.matrix_rank(matrix, tol=1e-9) == len(placed.free)


@each
@pytest.mark.parametrize("connect_optional", [False, True])
def test_solves_from_its_typical_point_and_conserves(name, connect_optional):
    placed = alone(STATIONS[name], connect_optional=connect_optional)
    if not placed.free:
        return
    solved = placed.solve()
    for balance in placed.balances():
        difference = placed.value(balance.left - balance.right, solved)
        size = max(abs(placed.value(balance.left, solved)), 1.0)
        # The solver closes equations to 1e-10 of their scale; 1e-7 leaves room for rounding.
        assert abs(difference) < 1e-7 * size, balance.name


@each
def test_moves_the_way_a_chemist_would_bet(name):
    cls = STATIONS[name]
    placed = alone(cls, connect_optional=True)
    if not cls.expects:
        return
    base = placed.solve()
    for cause, sign, effect in cls.expects:
        step = 0.02 * max(abs(base[cause]), 0.5)
        moved = placed.solve(**{cause.replace(".", "__"): base[cause] + step})
        change = moved[effect] - base[effect]
        assert change * (1 if sign == "+" else -1) > 0, f"{cause} {sign} {effect}: {change:g}"
