"""An engineer changes the demonstration factory by editing its file, and nothing else."""

import re

import pytest

from tests.scenarios.edited_factory import (
    TEXT,
    block,
    changed,
    flow,
    solved,
    without,
    without_instruments_of,
    without_limits_of,
)


def quadruple(text):
    """The fourth body taken out: a line."""
    lines = re.findall(r"^  \{ surface = .*\},\n", block(text, "evaporator"), re.MULTILINE)
    assert len(lines) == 5
    return changed(text, "evaporator", lines[2] + lines[3], lines[2])


def seven_mills(text):
    """The fourth mill written once more: a line."""
    lines = re.findall(r"^  \{ moisture = .*\},\n", block(text, "mills"), re.MULTILINE)
    assert len(lines) == 6
    return changed(text, "mills", lines[3] + lines[4], lines[3] + lines[3] + lines[4])


def two_strikes(text):
    """No C strike: all A molasses is boiled to B, and B molasses is final molasses."""
    text = without(
        text,
        "A molasses divider",
        "B molasses conditioner",
        "C pans",
        "C crystallisers",
        "C crystalliser stock",
        "C reheater",
        "spent heating water",
        "C machines",
    )
    text = changed(text, "B pans", '"A molasses to B"', '"A molasses to pans"')
    text = changed(text, "remelter", '"C sugar", ', "")
    text = changed(text, "final molasses tank", '"C molasses"', '"B molasses"')
    assert text.count('final_molasses = "C molasses"') == 1
    text = text.replace('final_molasses = "C molasses"', 'final_molasses = "B molasses"')
    text = without_limits_of(text, "C massecuite boiled", "C crystalliser stock", "C crystallisers")
    return without_instruments_of(text, "C massecuite", "C molasses", "C sugar", "C crystalliser.*")


@pytest.fixture(scope="module")
def as_it_is():
    return solved(TEXT)


def kinds(factory):
    placed = [each.cls.kind for each in factory.model.flowsheet.placed]
    return {kind: placed.count(kind) for kind in placed}


def test_a_quadruple_for_the_quintuple(as_it_is):
    edited = solved(quadruple(TEXT))
    assert kinds(as_it_is)["evaporator_body"] == 5
    assert kinds(edited)["evaporator_body"] == 4
    # Each tonne of vapour is used one time less: more steam for each tonne evaporated.
    before, after = (
        factory["exhaust to evaporator body 1.water"]
        / (factory["juice to evaporator.water"] - factory["raw syrup.water"])
        for factory in (as_it_is, edited)
    )
    assert after > before


def test_a_mill_more(as_it_is):
    edited = solved(seven_mills(TEXT))
    assert kinds(edited)["mill"] == kinds(as_it_is)["mill"] + 1 == 7
    before, after = (
        factory["bagasse.sucrose"] / factory["bagasse.fibre"] for factory in (as_it_is, edited)
    )
    assert after < before


def test_no_third_strike(as_it_is):
    edited = solved(two_strikes(TEXT))
    assert kinds(edited)["vacuum_pan"] == kinds(as_it_is)["vacuum_pan"] - 1 == 2
    assert "crystalliser" not in kinds(edited)
    # Molasses that is boiled once less keeps more sucrose.
    before = as_it_is["C molasses.sucrose"] / flow(as_it_is, "C molasses")
    after = edited["B molasses.sucrose"] / flow(edited, "B molasses")
    assert after > before
    assert flow(edited, "B molasses") > flow(as_it_is, "C molasses")


@pytest.mark.slow
def test_all_three_at_once():
    edited = solved(two_strikes(seven_mills(quadruple(TEXT))))
    assert (kinds(edited)["evaporator_body"], kinds(edited)["mill"]) == (4, 7)
    assert kinds(edited)["vacuum_pan"] == 2
