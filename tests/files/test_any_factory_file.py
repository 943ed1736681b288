"""Whatever stands in a factory file, it is taken or refused in sentences; it never breaks."""

import copy
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from canewright.cli.new_command import starter
from canewright.files.factory import factory_from, read_factory, read_text
from canewright.files.problems import InputRefused
from canewright.flowsheet import Factory

TEXT = starter().decode()
TABLES = {
    **tomllib.loads(TEXT),
    "hold": [{"what": "power house.exported", "at": "0 kW", "by": "turbine.steam_flow"}],
    "limit": [{"what": "bagasse house.surplus_share", "at_least": "5 %", "why": "x"}],
    "point": [{"name": "scale", "stream": "mixed juice"}],
    "prices": {"raw sugar": 400},
    "control": {"mixed_juice": "mixed juice"},
}

ODD = st.sampled_from(
    [
        True, -1, 3.5, 10**400, float("nan"), float("inf"), "", "  ", "x", "5 %", "1 m2", "'",
        "9" * 100, "mixed juice", "exhaust", "juice heater 1.surface", "mixed juice.weight",
        [], [1], ["a"], ["a", 1], ["5 %", "6 %"], [[]], [{}], [{"a": 1}], {}, {"value": 1},
        {"low": 1, "high": 2}, {"value": "1 %", "low": "x", "high": []},
    ]
)  # fmt: skip


def taken_or_refused(read, content):
    """Read; anything but a factory or a refusal in sentences fails the test."""
    problems = read_or_refused(read, content)
    assert problems is None or problems
    for problem in problems or []:
        assert problem.what
        assert str(problem).startswith(problem.file)


def read_or_refused(read, content):
    """The problems of a refusal; None where a factory was taken."""
    try:
        taken = read(content)
    except InputRefused as refusal:
        return refusal.problems
    assert isinstance(taken, Factory)
    return None


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_any_value_at_any_key(data):
    document = copy.deepcopy(TABLES)
    for _ in range(data.draw(st.integers(1, 3))):
        holder, key = document, data.draw(st.sampled_from(sorted(document)))
        while data.draw(st.integers(0, 9)):
            value = holder[key]
            if isinstance(value, list) and value and isinstance(value[0], dict):
                value = data.draw(st.sampled_from(value))
            if not isinstance(value, dict) or not value:
                break
            holder, key = value, data.draw(st.sampled_from([*sorted(value), "zz"]))
            if key == "zz":
                break
        if data.draw(st.integers(0, 9)):
            holder[key] = data.draw(ODD)
        else:
            holder.pop(key, None)
        if not document:
            break
    taken_or_refused(factory_from, document)


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_a_starter_with_a_piece_replaced(data):
    at = data.draw(st.integers(0, len(TEXT) - 1))
    length = data.draw(st.sampled_from([0, 1, 3, 40, 400]))
    piece = data.draw(st.sampled_from(["", '"', "'", "[", "{", "=", "\n", "[[station]]\n", "5"]))
    taken_or_refused(read_text, TEXT[:at] + piece + TEXT[at + length :])


@settings(max_examples=100, deadline=None)
@given(content=st.one_of(st.binary(max_size=200), st.text(max_size=200).map(str.encode)))
def test_any_bytes(tmp_path_factory, content):
    path = tmp_path_factory.getbasetemp() / "any.toml"
    path.write_bytes(content)
    taken_or_refused(read_factory, path)


@pytest.mark.parametrize("opening", ["[", "{a=", '"', "'''", "[[station]]\nmills = ["])
def test_a_file_that_never_closes(opening):
    taken_or_refused(read_text, opening * 20_000)
