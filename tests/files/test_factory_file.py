"""The factory file: each mistake gets a sentence with its line and what to do about it."""

from importlib import resources

import pytest

from canewright.engine.equations.model import compile
from canewright.engine.equations.points import Points
from canewright.files.factory import factory_from, read_factory, read_text
from canewright.files.factory_lines import Lines, Place
from canewright.files.factory_names import Names
from canewright.files.problems import InputRefused
from canewright.flowsheet import Spread, connect

STARTER = resources.files("canewright.factories").joinpath("starter.toml").read_text("utf-8")
SCALE = """[[instrument]]
name = "juice scale"
reads = "mixed juice.weight"
random = "0.1 %"
bias = "0.2 %"
calibrated = 2026-05-03
due = 2026-11-03
"""
HEATER = """vapour = "vapour 2"                  # bled from the second body of the evaporator
condensate = "condensate"
surface = "170 m2"
coefficient = ["0.6 kW/(m2.K)", "0.9 kW/(m2.K)"]
"""
HOLD = """
[[hold]]
what = "power house.exported"
at = "0 kW"
by = "turbine.steam_flow"
"""
LIMIT = """
[[limit]]
what = "bagasse house.surplus_share"
at_least = "5 %"
"""


def edited(old, new):
    assert STARTER.count(old) == 1, f"{old!r} is {STARTER.count(old)} times in the starter."
    return STARTER.replace(old, new)


def in_heater(old, new):
    assert HEATER.count(old) == 1
    return edited(HEATER, HEATER.replace(old, new))


def in_scale(old, new):
    assert SCALE.count(old) == 1
    return edited(SCALE, SCALE.replace(old, new))


def problems_of(text):
    with pytest.raises(InputRefused) as refused:
        read_text(text, "mine.toml")
    assert all(problem.file == "mine.toml" for problem in refused.value.problems)
    assert all(problem.what.endswith((".", "?")) for problem in refused.value.problems)
    return refused.value.problems


def line_of(text, mark):
    assert text.count(mark) == 1, f"{mark!r} is {text.count(mark)} times in the text."
    return text[: text.index(mark)].count("\n") + 1


def test_the_starter_is_read():
    factory = read_text(STARTER)
    assert factory.invented
    assert factory.shift_hours == 8
    assert len([entry for entry in factory.stations if entry.kind == "mill"]) == 5
    assert factory.instruments[1].random == Spread(0.1, relative=True)


MISTAKES = {
    # name: (text, mark of the line, part of the sentence, part of the remedy)
    "unknown key": (
        in_heater("surface", "surfce"), 'surfce = "170', "'surfce' is not a key", "surface",
    ),
    "unknown kind": (
        edited('kind = "flash_tank"', 'kind = "flsh_tank"'), 'kind = "flsh_tank"',
        "There is no kind of station called 'flsh_tank'", "flash_tank",
    ),
    "unit of another kind": (
        in_heater("170 m2", "170 m3"), '"170 m3"', "'m3' is a unit of volume", "m2",
    ),
    "no unit at all": (in_heater("170 m2", "many"), '"many"', "'many'", "m2"),
    "outside its bounds": (
        in_heater('"170 m2"', '"0.2 m2"'), '"0.2 m2"', "outside what 'heating surface' can be",
        "Check the number and its unit",
    ),
    "range backwards": (
        in_heater('["0.6 kW/(m2.K)", "0.9 kW/(m2.K)"]', '["0.9", "0.6"]'), '["0.9", "0.6"]',
        "runs backwards", "Swap",
    ),
    "range of three": (
        in_heater('["0.6 kW/(m2.K)", "0.9 kW/(m2.K)"]', "[0.5, 0.6, 0.7]"), "[0.5, 0.6, 0.7]",
        "two ends, not 3", "Write [",
    ),
    "size as a range": (
        in_heater('"170 m2"', "[150, 190]"), "[150, 190]", "a size, which is known", "one number",
    ),
    "value outside its own range": (
        in_heater('["0.6 kW/(m2.K)", "0.9 kW/(m2.K)"]', "{ value = 2, low = 0.6, high = 0.9 }"),
        "value = 2", "not within its range", "between low and high",
    ),
    "half a range": (
        in_heater('["0.6 kW/(m2.K)", "0.9 kW/(m2.K)"]', "{ value = 0.7, low = 0.6 }"),
        "value = 0.7, low", "two ends", "low",
    ),
    "not a number": (in_heater('"170 m2"', "nan"), "surface = nan", "not a number", "m2"),
    "truth in a number's place": (
        in_heater('"170 m2"', "true"), "surface = true", "true is not a number", "m2",
    ),
    "comma for a point": (
        in_heater('"170 m2"', '"170,5 m2"'), '"170,5 m2"', "comma", "170.5",
    ),
    "number for a stream": (
        in_heater('"vapour 2"', "2"), "vapour = 2 ", "'vapour' is 2, where a text", "vapour =",
    ),
    "two streams at one port": (
        in_heater('"vapour 2"', '["vapour 1", "vapour 2"]'), '["vapour 1", "vapour 2"]',
        "takes one stream, not 2", "",
    ),
    "port left open": (
        in_heater('condensate = "condensate"\n', ""), "takes as much vapour as its surface",
        "nothing is connected out of 'condensate'", "",
    ),
    "connection to nowhere": (
        edited('juice_in = "flashed juice"', 'juice_in = "flash juice"'),
        'juice_in = "flash juice"', "no station makes it", "",
    ),
    "station without outlet": (
        edited('juice_in = "flashed juice"', 'juice_in = "flash juice"'),
        'juice_out = "flashed juice"', "goes nowhere", "",
    ),
    "wrong kind of stream": (
        edited('mud = "mud"\nbagacillo', 'mud = "limed juice"\nbagacillo'), 'mud = "limed juice"',
        "takes mud", "",
    ),
    "two makers of one juice": (
        edited('juice_out = "warm juice"', 'juice_out = "limed juice"'),
        'juice_out = "limed juice"\nvapour', "is made by stations", "",
    ),
    "two stations of one name": (
        edited('name = "A machines"', 'name = "B machines"'), None,
        "Two stations are called 'B machines'", "",
    ),
    "no name": (edited('name = "clarifier"\n', ""), None, "'name' is missing", "Write name"),
    "mill with an unknown key": (
        edited('{ moisture = ["53 %", "57 %"] }', '{ moistre = ["53 %", "57 %"] }'), None,
        "a mill has no 'moistre'", "",
    ),
    "mill out of bounds": (
        edited('{ moisture = ["50 %", "54 %"] }', '{ moisture = "5.2 %" }'),
        '{ moisture = "5.2 %" }', "outside what 'moisture % bagasse' can be", "unit",
    ),
    "impossible shift": (
        edited("shift_hours = 8", "shift_hours = 0"), "shift_hours = 0", "not possible", "8",
    ),
    "unnamed factory": (
        edited('name = "Tern Hollow, a starter factory (invented)"', 'name = " "'), 'name = " "',
        "'name' is empty", "Write name",
    ),
    "unknown table": (
        STARTER + "\n[[instument]]\nname = 'x'\n", None, "'instument' is not a key", "instrument",
    ),
    "instrument of an unknown stream": (
        in_scale("mixed juice.weight", "mixd juice.weight"), "mixd juice.weight",
        "There is no 'mixd juice'", "mixed juice",
    ),
    "instrument of an unknown reading": (
        in_scale("mixed juice.weight", "mixed juice.wieght"), "mixed juice.wieght",
        "'wieght' cannot be read", "weight",
    ),
    "reading that the stream has not": (
        in_scale("mixed juice.weight", "mixed juice.fibre"), "mixed juice.fibre",
        "'fibre' cannot be read of 'mixed juice'", "",
    ),
    "instrument without a stream": (
        in_scale("mixed juice.weight", "weight"), 'reads = "weight"', "of which stream",
        "stream.analysis",
    ),
    "one reading by two instruments": (
        in_scale("mixed juice.weight", "cane.weight"), 'reads = "cane.weight"\nrandom = "0.1 %"\n',
        "read by 'weighbridge' already", "One instrument",
    ),
    "several units": (
        in_scale('"mixed juice.weight"', '["mixed juice.weight", "mixed juice.brix"]'),
        "mixed juice.brix", "several units", "an instrument for each",
    ),
    "uncertainty of another kind": (
        in_scale("0.1 %", "0.1 degC"), '"0.1 degC"', "'degC' is a unit of temperature", "t",
    ),
    "uncertainty below zero": (in_scale("0.1 %", "-0.1 %"), '"-0.1 %"', "above zero", "exact"),
    "uncertainty in words": (in_scale("0.1 %", "small"), '"small"', "not an uncertainty", "0.2 %"),
    "due before calibrated": (
        in_scale("2026-11-03", "2025-11-03"), "2025-11-03", "before it was calibrated", "dates",
    ),
    "no date": (in_scale("2026-11-03", '"soon"'), '"soon"', "not a date", "2026-05-03"),
    "point of an unknown stream": (
        STARTER + '\n[[point]]\nname = "x"\nstream = "no such juice"\n', "no such juice",
        "There is no 'no such juice'", "",
    ),
    "point that is another stream's": (
        STARTER + '\n[[point]]\nname = "syrup"\nstream = "mixed juice"\n', None,
        "already the point of stream 'syrup'", "Take a name",
    ),
    "hold of an unknown result": (
        STARTER + HOLD.replace("house.exported", "house.exportd"), "house.exportd",
        "'power house.exportd' is not known", "exported",
    ),
    "hold of a setting": (
        STARTER + HOLD.replace("power house.exported", "A pans.solids"), "A pans.solids",
        "does not follow from the equations", "Write its value",
    ),
    "hold by a result": (
        STARTER + HOLD.replace("turbine.steam_flow", "turbine.steam_rate"), "turbine.steam_rate",
        "cannot be moved", "setting",
    ),
    "hold by something unknown": (
        STARTER + HOLD.replace("turbine.steam_flow", "turbine.flow"), "turbine.flow",
        "'turbine.flow' is not known", "turbine.steam_flow",
    ),
    "limit of something unknown": (
        STARTER + LIMIT.replace("surplus_share", "surplus"), "house.surplus\"",
        "is not known", "surplus_share",
    ),
    "limit without an end": (
        STARTER + LIMIT.replace('at_least = "5 %"', 'why = "because"'), None,
        "needs at_least or at_most", "at_most",
    ),
    "limit that leaves nothing": (
        STARTER + LIMIT + 'at_most = "4 %"\n', None, "leaves nothing", "",
    ),
    "price in words": (STARTER + '\n[prices]\nsugar = "dear"\n', "dear", "not a price", "number"),
    "part that does not exist": (
        edited('final_molasses = "C', 'final_mollasses = "C'), "final_mollasses", "not a key",
        "final_molasses",
    ),
    "part of no stream": (
        edited('final_molasses = "C molasses"', 'final_molasses = "D molasses"'), "D molasses",
        "There is no 'D molasses'", "C molasses",
    ),
    "two names of one point": (
        edited('clear_juice = "clear juice"', 'clear_juice = "Mixed-juice"').replace(
            'feed = "clear juice"', 'feed = "Mixed-juice"'
        ), None, "would be one point", "differ",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", MISTAKES)
def test_a_mistake_is_said_with_its_place_and_its_remedy(name):
    text, mark, what, remedy = MISTAKES[name]
    found = [problem for problem in problems_of(text) if what in problem.what]
    assert found, [str(problem) for problem in problems_of(text)]
    assert remedy in f"{found[0].what} {found[0].remedy}"
    if mark is not None:
        assert found[0].row == line_of(text, mark)
        assert f"line {found[0].row}" in str(found[0])


def test_all_mistakes_are_told_at_once_in_the_order_of_the_file():
    text = in_heater("surface", "surfce").replace('random = "0.3 %"', 'random = "little"')
    text = text.replace('kind = "flash_tank"', 'kind = "flsh_tank"')
    found = problems_of(text)
    assert [problem.row for problem in found] == sorted(problem.row for problem in found)
    told = " ".join(problem.what for problem in found)
    for mistake in ("surfce", "flsh_tank", "little"):
        assert mistake in told


def test_a_station_of_unknown_kind_is_not_said_to_have_cut_its_streams():
    found = problems_of(edited('kind = "flash_tank"', 'kind = "flsh_tank"'))
    assert len(found) == 1


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"", "The file is empty"),
        (b"  \n\n", "The file is empty"),
        (b"\xff\xfe\x00[\x00", "not text in UTF-8"),
        ("[factory]\nname = 'Zähl'\n".encode("latin-1"), "not text in UTF-8"),
        (b"\x00\x01\x02\x03", "not TOML"),
        (b"[factory\nname = 1\n", "not TOML"),
        (b"a = " + b"[" * 100_000, "not TOML"),
        (b"x" * 2_000_001, "larger than 2 MB"),
        (b"[factory]\nname = 'x'\n", "lists no station"),
        (b"[factory]\nname = 'x'\n[station]\nname = 'y'\n", "written as one table"),
        (b"factory = 3\nstation = 4\n", "'factory' is no table"),
        (b"[factory]\nname = 'x'\n[prices]\n[[prices.a]]\n", "is not a price"),
    ],
)
def test_a_file_that_is_no_factory_is_refused_in_a_sentence(tmp_path, content, what):
    path = tmp_path / "mine.toml"
    path.write_bytes(content)
    with pytest.raises(InputRefused) as refused:
        read_factory(path)
    assert any(what in problem.what for problem in refused.value.problems), str(refused.value)
    assert all(problem.remedy for problem in refused.value.problems if what in problem.what)


def test_a_folder_and_a_missing_file_are_refused_in_a_sentence(tmp_path):
    for path in (tmp_path, tmp_path / "none.toml"):
        with pytest.raises(InputRefused, match="cannot be read"):
            read_factory(path)


def test_the_line_of_a_toml_mistake_is_told():
    found = problems_of('[factory]\nname = "x"\nname = "y"\n')
    assert found[0].row == 3
    assert "line 3" in str(found[0])
    assert "(at line" not in str(found[0])


def test_a_quoted_date_and_a_byte_order_mark_are_taken(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_bytes(b"\xef\xbb\xbf" + in_scale("2026-11-03", '"2026-11-03"').encode())
    assert str(read_factory(path).instruments[1].due) == "2026-11-03"


def test_a_point_may_be_named_with_its_instrument_and_be_a_main():
    text = in_scale('random = "0.1 %"', 'point = "scale 1"\nrandom = "0.1 %"')
    text += '\n[[point]]\nname = "hot well"\nstream = "hot water"\n'
    points = Points(compile(read_text(text)))
    assert points.channel("scale_1", "weight").instrument == "juice scale"
    assert points.channel("mixed_juice", "weight").instrument == "juice scale"
    assert "temperature" in points.analyses("hot_well")


def test_percent_is_of_the_value_unless_the_reading_is_in_percent():
    text = in_scale("mixed juice.weight", "mixed juice.brix").replace(
        'bias = "0.2 %"\ncalibrated', 'bias = "2 % of value"\ncalibrated'
    )
    scale = read_text(text).instruments[1]
    assert scale.random == Spread(0.1, relative=False)
    assert scale.bias == Spread(2.0, relative=True)


def test_what_the_file_may_name_is_what_can_be_read():
    model = compile(read_text(STARTER))
    points, names = Points(model), Names(connect(model.factory))
    assert not names.clashes
    for point, owner in points.owners.items():
        known = names.analyses(owner)
        assert set(points.analyses(point)) == set(known), point
        for analysis, channel in points.analyses(point).items():
            assert channel.unit == known[analysis]


def test_a_factory_given_as_tables_has_no_lines():
    with pytest.raises(InputRefused) as refused:
        factory_from({"factory": {"name": "x"}, "stations": []})
    assert refused.value.problems[0].row is None
    assert "stations" in str(refused.value)


def test_lines_are_found_in_any_way_of_writing():
    text = """# comment = [
[factory]
name = "a # b ["
why = \"\"\"
[[station]]
kind = 1
\"\"\"

[[station]]
"name" = 'x]'
mills = [ # three
  { a = [1, 2] },

  { a = 3 }, { a = 4 },
]
[[station]]
name = "y"
  [[station.bodies]]
  surface = 1
  [[station.bodies]]
  surface = 2
"""
    lines = Lines(text)
    assert lines.of(Place("factory", 0, "", "why")) == 4
    assert lines.of(Place("station", 0)) == 9
    assert lines.of(Place("station", 0, "", "name")) == 10
    assert [lines.of(Place("station", 0, "", "a", item)) for item in (1, 2, 3)] == [12, 14, 14]
    assert lines.of(Place("station", 1, "", "name")) == 17
    assert [lines.of(Place("station", 1, "", "", item)) for item in (1, 2)] == [18, 20]
    assert lines.of(Place("station", 0, "", "no such key")) == 9
    assert lines.of(Place("limit", 0)) is None
