"""An engineer changes the demonstration factory by editing its file, and nothing else."""

import re
from importlib import resources

import pytest

from canewright.engine.equations import soundness
from canewright.engine.equations.model import compile
from canewright.engine.equations.nominal import usual_point
from canewright.engine.equations.simulate import Simulator, usually_fixed
from canewright.files.factory import read_text
from canewright.streams import MASS

TEXT = resources.files("canewright.factories").joinpath("halcyon_bend.toml").read_text("utf-8")


def block(text, name):
    """The lines of one station, from its header to the next table or heading."""
    found = re.findall(rf'\[\[station\]\][^\n]*\nname = "{name}"\n(?:(?!\[\[|# ---).*\n)*', text)
    assert len(found) == 1, f"The demonstration has {len(found)} stations called '{name}'."
    return found[0]


def without(text, *names):
    for name in names:
        text = text.replace(block(text, name), "")
    return text


def changed(text, name, old, new):
    before = block(text, name)
    assert before.count(old) == 1, f"{old!r} is {before.count(old)} times in '{name}'."
    return text.replace(before, before.replace(old, new))


def without_instruments_of(text, *streams):
    for stream in streams:
        text = re.sub(
            rf'\[\[instrument\]\]\nname = .*\nreads = "{stream}\.[^\n]*\n(?:(?!\[\[).+\n)*',
            "",
            text,
        )
    return text


def without_limits_of(text, *owners):
    """Limits on what is taken out go with it: the tool names their lines otherwise."""
    for owner in owners:
        found = rf'\[\[limit\]\][^\n]*\nwhat = "{owner}\.[^\n]*\n(?:(?!\[).+\n)*'
        text, count = re.subn(found, "", text)
        assert count, f"The demonstration has no limit on '{owner}'."
    return text


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


def solved(text):
    """The factory of a text at its usual point; the ladder of checks on the way."""
    model = compile(read_text(text))
    assert soundness.structure(model) == []
    fixed = usually_fixed(model)
    assert len(model.variables) - len(fixed) == model.residuals.numel()
    return usual_point(model, Simulator(model, fixed))


@pytest.fixture(scope="module")
def as_it_is():
    return solved(TEXT)


def flow(factory, stream):
    kind = factory.model.flowsheet.streams[stream]
    return sum(factory[f"{stream}.{item}"] for item in kind.fields if item in MASS)


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
