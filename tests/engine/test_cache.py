"""A prepared factory read back from disk is the one that was kept, and never a wrong one."""

import casadi
import numpy as np
import pytest

from canewright.engine.equations import cache
from tests.engine.small_factory import small_model, small_prepared


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv(cache.FOLDER_VARIABLE, str(tmp_path / "kept"))
    return tmp_path / "kept"


@pytest.fixture
def builds(monkeypatch):
    """Counts how often a factory is built; builds it once for all tests."""
    built = []

    def prepare(factory):
        built.append(factory.name)
        return small_prepared()

    monkeypatch.setattr(cache, "prepare", prepare)
    return built


def test_what_is_read_back_is_what_was_kept(folder, builds):
    factory = small_model().factory
    first, second = cache.prepared(factory), cache.prepared(factory)
    assert len(builds) == 1
    assert second is not first
    assert second.model.index == first.model.index
    assert second.model.factory == factory
    np.testing.assert_array_equal(second.usual.values, first.usual.values)
    at, kept = (
        casadi.Function("f", [p.model.symbols, p.model.parameters], [p.model.residuals])(
            1.01 * p.usual.values, p.model.parameter_values
        )
        for p in (first, second)
    )
    np.testing.assert_array_equal(np.array(kept), np.array(at))


def test_expressions_read_back_share_the_symbols_of_the_model(folder, builds):
    factory = small_model().factory
    cache.prepared(factory)
    prepared = cache.prepared(factory)
    model = prepared.model
    everything = casadi.vertcat(
        *[statement.expression for statement in prepared.statements],
        *[side for placed in model.all_equations for side in (placed.equation.left,)],
        *[value for state in model.states.values() for value in state.values.values()],
    )
    known = {symbol.element_hash() for symbol in model.symbols.elements()}
    known |= {symbol.element_hash() for symbol in model.parameters.elements()}
    assert {symbol.element_hash() for symbol in casadi.symvar(everything)} <= known


def test_a_kept_simulator_solves_as_the_first_did(folder, builds):
    factory = small_model().factory
    first, second = cache.prepared(factory), cache.prepared(factory)
    start = first.usual.values.copy()
    start[first.simulator.fixed] *= 1.001
    ends = [p.simulator.solve(start) for p in (first, second)]
    assert ends[0].iterations == ends[1].iterations > 0
    # The same numbers through the same operations.
    np.testing.assert_array_equal(ends[0].values, ends[1].values)


@pytest.mark.parametrize("content", [b"", b"not a pickle", b"\x80\x05K\x01."])
def test_a_damaged_file_is_built_again(folder, builds, content):
    factory = small_model().factory
    cache.prepared(factory)
    (path,) = folder.glob("*.prepared")
    path.write_bytes(content)
    cache.prepared(factory)
    assert len(builds) == 2
    cache.prepared(factory)
    assert len(builds) == 2


def test_another_factory_or_another_build_of_the_code_is_built_anew(folder, builds, monkeypatch):
    factory = small_model().factory
    cache.prepared(factory)
    other = type(factory)(**{**vars(factory), "shift_hours": factory.shift_hours + 1})
    assert cache.key(other) != cache.key(factory)
    monkeypatch.setattr(cache, "_build", lambda: "another version")
    cache.prepared(factory)
    assert len(builds) == 2


def test_only_so_many_are_kept(folder, builds, monkeypatch):
    monkeypatch.setattr(cache, "KEPT", 2)
    factory = small_model().factory
    for version in ("first", "second", "third"):
        monkeypatch.setattr(cache, "_build", lambda version=version: version)
        cache.prepared(factory)
    assert len(list(folder.iterdir())) == 2


def test_nothing_is_kept_where_nothing_can_or_may_be(tmp_path, builds, monkeypatch):
    factory = small_model().factory
    monkeypatch.setenv(cache.FOLDER_VARIABLE, "off")
    cache.prepared(factory)
    occupied = tmp_path / "a file"
    occupied.write_text("in the way")
    monkeypatch.setenv(cache.FOLDER_VARIABLE, str(occupied))
    with pytest.raises(NotADirectoryError):
        (occupied / "x").stat()
    cache.prepared(factory)
    assert len(builds) == 2
