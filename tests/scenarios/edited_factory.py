"""The demonstration factory edited as text, as an engineer edits a factory file."""

import re
from importlib import resources

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


def solved(text):
    """The factory of a text at its usual point; the ladder of checks on the way."""
    model = compile(read_text(text))
    assert soundness.structure(model) == []
    fixed = usually_fixed(model)
    assert len(model.variables) - len(fixed) == model.residuals.numel()
    return usual_point(model, Simulator(model, fixed))


def flow(factory, stream):
    kind = factory.model.flowsheet.streams[stream]
    return sum(factory[f"{stream}.{item}"] for item in kind.fields if item in MASS)
