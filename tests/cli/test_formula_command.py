"""`canewright formula` as it is typed: what it prints, in both widths, and how it refuses."""

import json
import subprocess
import sys

import pytest

from canewright import registry
from canewright.cli.main import main

# IAPWS R7-97(2012), table 35: saturation pressure at 300 K, 0.353658941e-2 MPa.
PRESSURE_AT_300_K = 0.0353658941  # bar
# IAPWS R7-97(2012), table 36: saturation temperature at 1 MPa, 453.035632 K.
TEMPERATURE_AT_10_BAR = 453.035632 - 273.15  # degC


@pytest.fixture
def run(capsys, monkeypatch):
    """Run the command with what was typed; give its exit code and what it printed."""

    def run_it(typed, columns=80):
        monkeypatch.setenv("COLUMNS", str(columns))
        with pytest.raises(SystemExit) as left:
            main(["formula", *typed.split()])
        printed = capsys.readouterr()
        return left.value.code or 0, printed.out, printed.err

    return run_it


def refused(result):
    code, out, err = result
    assert code == 2
    assert out == ""
    assert "Traceback" not in err
    return err


def test_the_list_names_every_formula_under_its_module(run):
    code, out, _ = run("", columns=120)
    assert code == 0
    assert out.startswith(f"{len(registry.formulas())} formulas\n")
    lines = [line.strip() for line in out.splitlines()]
    for name in registry.formulas():
        module, short = name.split(".")
        assert module in lines
        assert any(line.split()[:1] == [short] for line in lines), name


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("saturation temperature", "steam.saturation_temperature"),  # by its name
        ("water boils", "steam.saturation_pressure"),  # by its summary
        ("latent heat steam", "steam.latent_heat_fast"),  # by its family
        ("industrial formulation 1997", "steam.water_volume"),  # by the text of its source
    ],
)
def test_a_search_finds_by_name_summary_family_and_source(run, words, expected):
    code, out, _ = run(f"{words} --json")
    found = [entry["name"] for entry in json.loads(out)["formulas"]]
    assert code == 0
    assert expected in found
    assert len(found) < len(registry.formulas())


def test_a_page_says_equation_symbols_validity_source_and_checks(run):
    code, out, _ = run("steam.saturation_temperature")
    formula = registry.formulas()["steam.saturation_temperature"]
    assert code == 0
    assert formula.equation.splitlines()[0] in out
    assert "pressure" in out
    assert "bar abs" in out
    assert "0.00612 to 220.64" in out
    assert "iapws_if97, eq. 31" in out
    assert "read in the source" in out
    assert "179.885632" in out


def test_the_page_of_an_alternative_shows_which_is_the_default_and_why(run):
    _, out, _ = run("steam.latent_heat_fast --json")
    alternatives = json.loads(out)["alternatives"]
    assert {"name": "steam.latent_heat", "default": True}.items() <= alternatives[0].items()
    _, out, _ = run("steam.latent_heat")
    assert "The formula above is the default." in out
    assert "Why this one" in out


def test_the_last_part_of_a_name_is_enough_when_only_one_has_it(run):
    assert run("saturation_temperature --json") == run("steam.saturation_temperature --json")
    _, out, _ = run("saturation_temperature")
    assert out.startswith("steam.saturation_temperature\n")


def test_a_value_with_a_unit_and_one_in_the_formulas_own_agree(run):
    _, with_unit, _ = run("steam.saturation_temperature pressure=1MPa --json")
    _, plain, _ = run("steam.saturation_temperature pressure=10 --json")
    value = json.loads(plain)["value"]
    # Table 36 prints nine digits: half of the last one is 5e-7 K.
    assert value == pytest.approx(TEMPERATURE_AT_10_BAR, abs=1e-6)
    # The conversion of 1 MPa to 10 bar may round in the last bit of a float.
    assert json.loads(with_unit)["value"] == pytest.approx(value, rel=1e-12)


def test_kelvin_is_understood_where_the_formula_takes_degrees_celsius(run):
    _, out, _ = run("steam.saturation_pressure temperature=300K --json")
    # Table 35 prints nine digits.
    assert json.loads(out)["value"] == pytest.approx(PRESSURE_AT_300_K, abs=1e-10)


def test_the_result_is_printed_with_its_unit(run):
    code, out, _ = run("steam.saturation_temperature pressure=2bar")
    assert code == 0
    assert out.startswith("saturation_temperature = 120.212 degC\n")
    assert "Outside" not in out


def test_outside_its_validity_it_still_calculates_and_says_so(run):
    code, out, _ = run("steam.saturation_pressure temperature=-5")
    assert code == 0
    assert "Outside its range: temperature = -5 degC" in out
    _, out, _ = run("steam.saturation_pressure temperature=-5 --json")
    assert len(json.loads(out)["outside"]) == 1


def test_where_a_formula_has_no_value_it_says_so_and_fails(run):
    code, out, _ = run("steam.saturation_temperature pressure=-2")
    assert code == 2
    assert "has no value" in out
    code, out, _ = run("steam.saturation_temperature pressure=-2 --json")
    assert code == 2
    assert json.loads(out)["value"] is None


def test_a_value_shows_what_the_others_of_the_family_give(run):
    _, out, _ = run("steam.latent_heat temperature=100 --json")
    answer = json.loads(out)
    # The cubic is stated to agree within 0.1 % between 40 and 165 degC.
    assert answer["alternatives"]["steam.latent_heat_fast"] == pytest.approx(
        answer["value"], rel=1e-3
    )


def test_a_misspelt_name_gets_the_nearest_ones(run):
    err = refused(run("steam.saturation_temprature"))
    assert "Did you mean steam.saturation_temperature" in err
    assert "steam.latent_heat" in refused(run("steam.latent_heet temperature=5"))


def test_words_that_nothing_speaks_of_are_refused(run):
    assert "No formula is called or speaks of 'zzzz'" in refused(run("zzzz"))


def test_all_problems_are_named_at_once(run):
    err = refused(run("steam.steam_enthalpy presure=2 pressure=1,5"))
    assert "no symbol 'presure'. Did you mean pressure?" in err
    assert "comma" in err
    assert "still needs temperature [degC]" in err


@pytest.mark.parametrize(
    ("value", "complaint"),
    [
        ("much", "'much'"),
        ("2m", "length"),
        ("nan", "not a number"),
        ("inf", "not a number"),
        ("", "number"),
    ],
)
def test_a_value_that_cannot_be_used_is_refused_by_name(run, value, complaint):
    err = refused(run(f"steam.saturation_temperature pressure={value}"))
    assert err.startswith("pressure: ")
    assert complaint in err


def test_a_symbol_given_twice_is_refused(run):
    assert "given twice" in refused(run("steam.saturation_temperature pressure=1 pressure=2"))


def test_values_without_a_name_are_refused(run):
    assert "give one formula's name" in refused(run("pressure=2"))


@pytest.mark.parametrize("columns", [80, 120])
def test_the_list_keeps_to_the_width(run, columns):
    _, out, _ = run("", columns=columns)
    assert max(len(line) for line in out.splitlines()) <= columns
    assert all(line == line.rstrip() for line in out.splitlines())


@pytest.mark.slow
@pytest.mark.parametrize("columns", [80, 120])
@pytest.mark.parametrize("name", registry.formulas())
def test_every_page_keeps_to_the_width_and_loses_nothing(run, name, columns):
    code, out, _ = run(name, columns=columns)
    formula = registry.formulas()[name]
    assert code == 0
    assert max(len(line) for line in out.splitlines()) <= columns
    printed = "".join(out.split())
    for text in (name, formula.equation, formula.uncertainty, formula.note, formula.at):
        assert "".join(text.split()) in printed


def test_it_answers_without_loading_a_solver():
    program = (
        "import sys\n"
        "from canewright.cli.main import main\n"
        "try:\n"
        "    main(sys.argv[1:])\n"
        "except SystemExit:\n"
        "    pass\n"
        "heavy = {'casadi', 'scipy', 'pandas'} & set(sys.modules)\n"
        "sys.exit(f'loaded {sorted(heavy)}' if heavy else 0)\n"
    )
    for typed in (["--help"], ["formula"], ["formula", "steam.latent_heat", "temperature=100"]):
        ended = subprocess.run(
            [sys.executable, "-c", program, *typed], capture_output=True, text=True, check=False
        )
        assert ended.returncode == 0, ended.stderr


def test_piped_output_carries_no_colour_codes():
    ended = subprocess.run(
        [sys.executable, "-c", "from canewright.cli.main import main; main()", "formula", "steam"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert "\x1b" not in ended.stdout
    assert ended.stderr == ""


def test_the_version_is_the_packages(capsys):
    from canewright import __version__

    with pytest.raises(SystemExit) as left:
        main(["--version"])
    assert not left.value.code
    assert capsys.readouterr().out == f"canewright {__version__}\n"
