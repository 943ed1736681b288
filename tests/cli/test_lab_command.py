"""`canewright lab` as it is typed: the list, a page, the working, JSON, and how it refuses."""

import json
import subprocess
import sys

import pytest

from canewright.cli.main import main
from canewright.laboratory.method import methods
from tests.laboratory.typical import TYPICAL


@pytest.fixture
def run(capsys, monkeypatch):
    """Run the command with what was typed; give its exit code and what it printed."""

    def run_it(*typed, columns=80):
        monkeypatch.setenv("COLUMNS", str(columns))
        with pytest.raises(SystemExit) as left:
            main(["lab", *typed])
        printed = capsys.readouterr()
        return left.value.code or 0, printed.out, printed.err

    return run_it


def pairs(name):
    """Usual readings as typed, each with its unit."""
    method = methods()[name]
    return [f"{key}={value:g} {method.input(key).unit}" for key, value in TYPICAL[name].items()]


def refused(result):
    code, out, err = result
    assert code == 2
    assert out == ""
    assert "Traceback" not in err
    return err


def test_the_list_names_every_method_and_what_it_needs(run):
    code, out, _ = run(columns=120)
    assert code == 0
    assert out.startswith(f"{len(methods())} methods of analysis")
    lines = [line.strip() for line in out.splitlines()]
    for name, method in methods().items():
        at = next(k for k, line in enumerate(lines) if line.startswith(f"{name}: "))
        needs = " ".join(lines[at : at + 3])
        for raw in method.inputs:
            assert not raw.required or f"{raw.name} [{raw.unit}]" in needs


@pytest.mark.parametrize("columns", [80, 120])
@pytest.mark.parametrize("name", methods())
def test_every_page_and_every_working_keeps_to_the_width(run, name, columns):
    for typed in ([name], [name, *pairs(name)]):
        code, out, err = run(*typed, columns=columns)
        assert (code, err) == (0, "")
        assert max(len(line) for line in out.splitlines()) <= columns


def test_a_page_says_what_is_needed_its_limits_its_source_and_its_caution(run):
    code, out, _ = run("pol_of_juice")
    assert code == 0
    assert "rotation" in out
    assert "10 to 40" in out
    assert "laboratory_schmitz" in out
    assert "Basic lead acetate is toxic" in out
    assert "880 nm" in out
    assert (
        "In a readings file, as analyses: pol.rotation, pol.brix (or the sample's brix)."
        in out.replace("\n", " ")
    )
    assert (
        "with brix_by_hydrometer in the column method" in run("brix_by_hydrometer", columns=120)[1]
    )


def test_the_working_shows_each_line_the_interval_the_source_and_the_caution(run):
    typed = ("pol_of_juice", "rotation=48.1", "brix=14.2", "temperature=293.15K")
    code, out, _ = run(*typed)
    assert code == 0
    assert "11.857 %" in out  # R 48.10 at 14.2 Brix, Schmitz's definition with SPS-4
    assert "95 %" in out
    assert "Schmitz factor" in out
    assert "0.246515" in out
    assert "[icumsa_raw_pol]" in out
    assert "Basic lead acetate" in out
    assert "Local codes" in out


@pytest.mark.parametrize("name", methods())
def test_json_has_the_promised_keys_and_no_other(run, name):
    code, out, _ = run(name, *pairs(name), "--json")
    answer = json.loads(out)
    assert code == 0
    assert list(answer) == ["method", "result", "steps", "warnings", "cautions"]
    assert list(answer["result"]) == ["value", "unit", "interval"]
    low, high = answer["result"]["interval"]
    assert low < answer["result"]["value"] < high
    assert answer["steps"]
    for line in answer["steps"]:
        assert list(line) == ["name", "value", "unit", "source"]
    assert answer["steps"][-1]["value"] == answer["result"]["value"]
    assert all(isinstance(text, str) and text for text in answer["warnings"] + answer["cautions"])


def test_units_are_taken_and_converted(run):
    by_default = run("bag_net_weight", "gross=50.262kg", "tare=0.132kg", "--json")
    in_grams = run("bag_net_weight", "gross=50262 g", "tare=132g", "--json")
    first, second = (json.loads(out)["result"]["value"] for _, out, _ in (by_default, in_grams))
    assert first == pytest.approx(second, rel=1e-12)  # a conversion by powers of ten


def test_published_precision_makes_the_interval_where_there_is_one(run):
    _, out, _ = run("pol_of_white_sugar", *pairs("pol_of_white_sugar"), "--json")
    answer = json.loads(out)
    half = (answer["result"]["interval"][1] - answer["result"]["interval"][0]) / 2
    # s_R = 0.094/2.8 = 0.0336 Z (abstract of the method); 1.96 standard deviations hold 95 %
    assert half == pytest.approx(1.96 * 0.094 / 2.8, rel=1e-9)
    _, out, _ = run("pol_of_white_sugar", *pairs("pol_of_white_sugar"))
    assert "published precision" in out


def test_where_a_method_is_not_linear_what_was_drawn_is_reported(run):
    typed = ("indicator_value", "at_ph_9=0.062", "at_ph_4=0.012")
    _, out, _ = run(*typed)
    assert "not near linear" in out
    assert " 1 " not in out.splitlines()[1]  # a ratio has no unit
    _, out, _ = run(*typed, "--json")
    answer = json.loads(out)
    low, high = answer["result"]["interval"]
    # A quotient of a small number is skewed upward.
    assert high - answer["result"]["value"] > 1.3 * (answer["result"]["value"] - low)
    assert any("not near linear" in words for words in answer["warnings"])


def test_the_usual_range_of_a_stream_warns(run):
    typed = ("brix_of_juice", "reading=22", "temperature=20", "--json")
    assert json.loads(run(*typed)[1])["warnings"] == []
    warned = json.loads(run(*typed, "--of", "mixed juice")[1])["warnings"]
    assert len(warned) == 1
    assert "mostly 11 to 17" in warned[0]
    assert "first juice" in refused(run(*typed, "--of", "fist juice"))


def test_every_problem_is_said_at_once(run):
    said = refused(
        run(
            "pol_of_juice",
            "rotation=98",
            "brix=14.2",
            "temperature=70",
            "zero=9",
            "tube_length=900",
            "tub=1",
        )
    )
    for words in ("zero = 9 degZ", "temperature = 70 degC", "tube_length = 900 mm", "'tub'"):
        assert words in said
    assert "canewright lab pol_of_juice" in said


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (("pol_of_juice", "rotation=48.1"), "brix is missing"),
        (("pol_of_juice", "rotation=48,1", "brix=14.2"), "48.1"),
        (("pol_of_juice", "rotation=48.1kg", "brix=14.2"), "rotation"),
        (("pol_of_juice", "rotation=inf", "brix=14.2"), "rotation"),
        (("pol_of_juice", "rotation=1", "rotation=2", "brix=14.2"), "given twice"),
        (("pol_of_juice", "rotation", "48.1"), "No method is called"),
        (("pol_of_juise", "rotation=48.1"), "pol_of_juice"),
        (("rotation=48.1",), "Name the method"),
        (("ash_by_conductivity", "conductivity=215", "water_conductivity=2uS/cm"), "has no unit"),
        (("bag_net_weight", "gross=50.2", "tare=130"), "has no unit"),
    ],
)
def test_what_cannot_be_read_is_refused_in_a_sentence(run, typed, words):
    assert words in refused(run(*typed))


def test_a_missing_unit_says_what_to_look_at(run):
    said = refused(run("ash_by_conductivity", "conductivity=215", "water_conductivity=2uS/cm"))
    assert "conductivity=215uS/cm" in said
    assert "uS/cm or mS/cm" in said


def test_the_solver_and_the_table_libraries_are_not_imported():
    program = (
        "import sys\n"
        "from canewright.cli.main import main\n"
        "try:\n"
        "    main(['lab', 'pol_of_juice', 'rotation=48.1', 'brix=14.2'])\n"
        "except SystemExit:\n"
        "    pass\n"
        "heavy = {'casadi', 'scipy', 'pint'} & {name.split('.')[0] for name in sys.modules}\n"
        "sys.exit(', '.join(sorted(heavy)) or 0)\n"
    )
    left = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert left.returncode == 0, left.stderr
