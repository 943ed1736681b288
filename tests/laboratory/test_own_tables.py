"""Tables of a laboratory's own: looked up between their entries, refused beyond their ends."""

import numpy as np
import pytest

from canewright.cli.main import main
from canewright.engine.equations.points import Points
from canewright.files.catalogue import FactoryCatalogue
from canewright.files.factory import read_text
from canewright.files.problems import InputRefused
from canewright.files.readings import combine, read_readings
from canewright.files.table_files import own_methods, read_table
from canewright.laboratory.method import methods
from canewright.laboratory.propagation import propagate
from canewright.laboratory.working import examine
from tests.engine import small_factory

# Of our own imagining.
SPINDLE = """
title = "spindle no. 7"
source = "certificate 812 of the maker, 2026"
method = "brix_by_hydrometer"
uncertainty = 0.01
temperature = [15, 20, 25, 30]
reading = [5, 15, 25]
table = [
  [-0.22, -0.25, -0.28],
  [0.0, 0.0, 0.0],
  [0.31, 0.34, 0.37],
  [0.66, 0.72, 0.77],
]
"""
FACTOR = """
title = "printed table of factors"
source = "laboratory manual, page 44"
method = "reducing_sugars"
titre = [15, 25, 50]
sucrose = [0, 5]
table = [[50.5, 47.6], [51.2, 47.5], [52.5, 47.3]]
"""


@pytest.fixture
def spindle(tmp_path):
    path = tmp_path / "spindle.toml"
    path.write_text(SPINDLE, encoding="utf-8")
    return path


def test_an_entry_is_taken_as_it_stands_and_lines_are_straight_between(spindle):
    table = read_table(spindle)
    assert table.at(25.0, 15.0) == pytest.approx(0.34)
    # Half way between four entries: their mean, by hand.
    assert table.at(27.5, 20.0) == pytest.approx((0.34 + 0.37 + 0.72 + 0.77) / 4)
    both = table.at(np.array([25.0, 27.5]), np.array([15.0, 20.0]))
    assert both == pytest.approx([0.34, 0.55])
    assert table.at(30.0, 25.0) == pytest.approx(0.77)  # the last corner is still in it


def test_the_table_takes_the_place_of_the_formula(spindle):
    method = own_methods([spindle])["brix_by_hydrometer"]
    worked = examine(method, {"reading": 15.0, "temperature": 25.0})
    assert worked.value == pytest.approx(15.34)
    assert worked.steps[0].source == "certificate 812 of the maker, 2026"
    uncertain = propagate(method, {"reading": 15.0, "temperature": 27.0})
    # The table's own error is common to all that it corrects; the thermometer goes through its
    # slope, 0.38 of 5 K.
    assert uncertain.shared["spindle no. 7"][0] == pytest.approx(0.01)
    assert uncertain.shared["hydrometer thermometer"][0] == pytest.approx(
        0.5 / np.sqrt(3) * 0.38 / 5, rel=1e-6
    )


def test_beyond_its_ends_a_reading_is_refused(spindle):
    method = own_methods([spindle])["brix_by_hydrometer"]
    (said,) = examine(method, {"reading": 15.0, "temperature": 38.0}).refusals
    assert "15 to 30 degC. The table of spindle no. 7 ends there" in said.text


def test_a_table_of_factors_reaches_where_the_remembered_one_does_not(tmp_path):
    path = tmp_path / "factors.toml"
    path.write_text(FACTOR, encoding="utf-8")
    method = own_methods([path])["reducing_sugars"]
    given = {"titre": 25.0, "sample_mass": 20.0, "sucrose": 5.0, "standardisation": 100.0}
    assert examine(methods()["reducing_sugars"], given).refusals  # above 1 g of sucrose
    # RS = 10 f/(T w), laboratory reference, section 4.
    assert examine(method, given).value == pytest.approx(10 * 47.5 / (25.0 * 20.0))


def test_the_factory_file_names_the_tables_and_readings_are_worked_by_them(spindle, tmp_path):
    text = small_factory.text() + '\n[laboratory]\ntables = ["spindle.toml"]\n'
    factory = read_text(text)
    assert factory.tables == ("spindle.toml",)
    points = Points(small_factory.small_model())
    path = tmp_path / "shift.csv"
    path.write_text(
        "point,analysis,value,unit,method\n"
        "mixed_juice,brix.reading,15,%,brix_by_hydrometer\n"
        "mixed_juice,brix.temperature,25,degC,\n",
        encoding="utf-8",
    )
    own = FactoryCatalogue(points, own_methods(factory.tables, tmp_path))
    (brix,) = combine(read_readings(path, own).rows, own)
    assert brix.value == pytest.approx(15.34)
    assert "spindle no. 7" in brix.shared
    plain = FactoryCatalogue(points)
    assert combine(read_readings(path, plain).rows, plain)[0].value != brix.value


def test_the_factory_file_names_the_rule_for_repeats(tmp_path):
    text = small_factory.text() + '\n[laboratory]\nrepeats = "closest_pair"\n'
    assert read_text(text).repeats == "closest_pair"
    assert read_text(small_factory.text()).repeats == "median_of_three"
    with pytest.raises(InputRefused, match="There is no rule called 'closest'"):
        read_text(text.replace("closest_pair", "closest"))


def test_the_command_takes_a_table(spindle, capsys):
    with pytest.raises(SystemExit) as left:
        main(["lab", "brix_by_hydrometer", "reading=15", "temperature=25", "--table", str(spindle)])
    assert not left.value.code
    assert "from spindle no. 7" in capsys.readouterr().out
    with pytest.raises(SystemExit):
        main(["lab", "brix_of_juice", "reading=15", "--table", str(spindle)])
    assert "is a table for brix_by_hydrometer" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("was", "becomes", "sentence"),
    [
        ('method = "brix_by_hydrometer"', 'method = "colour"', "takes no table of one's own"),
        ('source = "certificate 812 of the maker, 2026"', "", "'source' is missing"),
        ("temperature = [15, 20, 25, 30]", "temperature = [15, 25, 20, 30]", "each above the last"),
        ("temperature = [15, 20, 25, 30]", "temperature = [15, 20, 25]", "has 4 rows for 3 values"),
        ("[0.31, 0.34, 0.37]", "[0.31, 0.34]", "Row 3 of the table has 2 entries for 3"),
        ("[0.31, 0.34, 0.37]", '[0.31, "a", 0.37]', "no list of numbers"),
        ("uncertainty = 0.01", "uncertainty = -0.01", "cannot be below zero"),
        ("uncertainty = 0.01", "sd = 0.01", "'sd' is not a key"),
        ("title =", "title", "not TOML"),
    ],
)
def test_what_is_wrong_with_a_table_is_said(spindle, was, becomes, sentence):
    assert was in SPINDLE
    spindle.write_text(SPINDLE.replace(was, becomes), encoding="utf-8")
    with pytest.raises(InputRefused) as refused:
        own_methods([spindle])
    assert sentence in str(refused.value)
