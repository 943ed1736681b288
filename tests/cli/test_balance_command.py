"""`canewright balance` and `canewright explain` on a made-up shift of the small factory."""

import json
import re

import pytest

from canewright.account import balance
from canewright.cli import balance_pages, printing
from canewright.cli.main import main
from tests.account.shift_files import write_files


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("shift")
    return write_files(folder, off={"mixed_juice weight": 200.0})


@pytest.fixture(scope="module")
def account(files):
    return balance(*files)


def run(capsys, *arguments):
    with pytest.raises(SystemExit) as left:
        main([str(argument) for argument in arguments])
    said = capsys.readouterr()
    return left.value.code or 0, said.out, said.err


def printed(capsys, account, width, monkeypatch, **options):
    monkeypatch.setenv("COLUMNS", str(width))
    balance_pages.print_account(printing.console(), account, **{"everything": False, **options})
    return capsys.readouterr().out


def test_the_finding_comes_first_and_says_what_to_do(capsys, files):
    code, out, err = run(capsys, "balance", *files)
    assert code == 0
    assert err == ""
    flat = re.sub(r"\s+", " ", out)
    assert flat.index("Doubtful") < flat.index("Where the sucrose went") < flat.index("Figures")
    assert "mixed juice weight reads 13" in flat
    assert "Check first: zero and tare of the scale" in flat
    assert "Caution: rotating machinery" in flat
    assert "Invented data." in flat
    assert "licensed practice" in flat
    assert "canewright explain" in flat


@pytest.mark.parametrize("width", [80, 120])
def test_no_line_is_wider_than_the_screen(capsys, account, width, monkeypatch):
    out = printed(capsys, account, width, monkeypatch, everything=True)
    assert max(map(len, out.splitlines())) <= width


def test_a_wide_screen_shows_formulas_and_what_each_reading_would_see(capsys, account, monkeypatch):
    narrow = printed(capsys, account, 80, monkeypatch)
    wide = printed(capsys, account, 120, monkeypatch)
    assert "would see" in narrow
    assert "would see" in wide
    assert "reduced extraction deerr" in wide


def test_all_shows_every_reading_and_figure(capsys, account, monkeypatch):
    few = printed(capsys, account, 120, monkeypatch)
    everything = printed(capsys, account, 120, monkeypatch, everything=True)
    for line in account.readings:
        assert line.name in everything
    assert "reduced extraction, proportional" in everything
    assert "reduced extraction, proportional" not in few
    assert few.count("set aside") == everything.count("set aside")


def test_stations_show_both_sides_of_each_equation(capsys, account):
    balance_pages.print_stations(printing.console(), account)
    out = capsys.readouterr().out
    rows = re.findall(r"^  \S.*?  +(-?[\d.e+-]+)  +(-?[\d.e+-]+)$", out, re.MULTILINE)
    assert len(rows) > 300
    for left, right in rows:
        # six digits are printed; traces are near nothing on both sides
        assert float(left) == pytest.approx(float(right), rel=1e-5, abs=1e-5)


def test_json_is_the_same_account(capsys, files, account):
    code, out, _ = run(capsys, "balance", *files, "--json")
    assert code == 0
    said = json.loads(out)
    assert said["verdict"] == account.verdict
    assert said["suspects"][0]["point"] == "mixed_juice"
    assert said["figures"]["sugar_percent_cane"]["value"] == pytest.approx(
        account.statements["sugar_percent_cane"].value, rel=1e-6
    )  # another solve of the same problem
    assert {row["side"] for row in said["ledgers"]["sucrose"]["rows"]} == {"in", "out"}


def test_explain_lists_readings_shares_formula_and_source(capsys, files):
    code, out, err = run(capsys, "explain", *files, "pol_percent_fibre_in_bagasse")
    assert (code, err) == (0, "")
    flat = re.sub(r"\s+", " ", out)
    assert "bagasse pol" in flat
    assert "extraction_formulas.pol_percent_fibre_in_bagasse" in flat
    assert "[issct1971]" in flat
    assert "Invented data." in flat


def test_explain_as_json_has_shares_that_make_up_the_whole(capsys, files):
    code, out, _ = run(capsys, "explain", *files, "mixed_juice weight", "--json")
    assert code == 0
    said = json.loads(out)
    assert sum(part["share"] for part in said["contributions"]) == pytest.approx(1.0, rel=1e-9)
    assert {part["kind"] for part in said["contributions"]} == {"reading", "calibration", "prior"}


def test_a_misspelt_figure_is_refused_with_the_nearest_names(capsys, files):
    code, out, err = run(capsys, "explain", *files, "sucrose_extration")
    assert code == 2
    assert out == ""
    assert "sucrose_extraction" in err
    assert "Traceback" not in err


def test_bad_readings_are_all_named_and_nothing_is_printed(capsys, files, tmp_path):
    factory, _ = files
    readings = tmp_path / "readings.csv"
    readings.write_text(
        "point,analysis,value,unit\nmixed_juice,brix,158,%\nnowhere,pol,3,%\n", encoding="utf-8"
    )
    code, out, err = run(capsys, "balance", factory, readings)
    assert code == 2
    assert out == ""
    assert "row 2" in err
    assert "row 3" in err
    assert "nowhere" in err


def test_a_factory_that_is_not_there_is_said_in_a_sentence(capsys, files, tmp_path):
    code, out, err = run(capsys, "balance", tmp_path / "none.toml", files[1])
    assert code == 2
    assert out == ""
    assert "none.toml" in err


def test_a_real_factory_is_not_called_invented(capsys, tmp_path):
    factory, readings = write_files(tmp_path, invented=False)
    code, out, _ = run(capsys, "balance", factory, readings)
    assert code == 0
    assert "Invented data" not in out
    assert "licensed practice" in re.sub(r"\s+", " ", out)


def test_a_demonstration_is_not_written_over_another(tmp_path, capsys):
    folder = tmp_path / "my factory"
    folder.mkdir()
    (folder / "factory.toml").write_text("mine", encoding="utf-8")
    code, out, err = run(capsys, "demo", "--write", str(folder), "--shifts", "1")
    assert (code, out) == (2, "")
    assert "factory.toml exists already and is not overwritten" in " ".join(err.split())
    assert [path.name for path in folder.iterdir()] == ["factory.toml"]
