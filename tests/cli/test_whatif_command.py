"""`canewright whatif` as it is typed, on one shift of the demonstration factory."""

import csv
import json
import xml.etree.ElementTree as ElementTree

import pytest
from python_calamine import CalamineWorkbook

from canewright.account import balance
from canewright.cli import balance_command
from canewright.cli.main import main
from canewright.cli.svg_chart import Curve, line_chart, round_steps
from canewright.demo.factory import WELL_RUN, write_demonstration


@pytest.fixture(scope="module")
def shift(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demonstration")
    write_demonstration(WELL_RUN, folder, 1)
    return folder


@pytest.fixture(scope="module")
def account(shift):
    return balance(shift / "factory.toml", shift / "readings.csv")


@pytest.fixture
def run(capsys, monkeypatch, shift, account):
    """Type the command; the shift is balanced once for all of them."""
    monkeypatch.setattr(balance_command, "balanced", lambda factory, readings: account)
    monkeypatch.setenv("COLUMNS", "80")

    def run_it(*typed):
        files = [str(shift / "factory.toml"), str(shift / "readings.csv")]
        with pytest.raises(SystemExit) as left:
            main(["whatif", *files, *typed])
        printed = capsys.readouterr()
        return left.value.code or 0, printed.out, printed.err

    return run_it


def test_before_and_after_stand_side_by_side(run):
    code, out, _ = run("--set", "imbibition=240", "--figure", "syrup brix")
    assert code == 0
    assert "imbibition.imbibition_percent_fibre: " in out
    assert "to 240 %" in out
    assert "a day more" in out or "a day less" in out
    for heading in ("before", "after", "change", "at least", "at most", "money"):
        assert heading in out
    # What steam saved is worth stands beside the saving, and how sure it is was drawn.
    assert "let-down is open" in " ".join(out.split())
    assert "factories drawn from what the balance knows" in " ".join(out.split())
    assert "refractometer Brix, syrup brix" in out
    assert "Assumed responses" in out
    assert "More water mixes less well" in out
    assert max(len(line) for line in out.splitlines()) <= 80


def test_json_has_its_stable_keys(run):
    code, out, _ = run("--set", "imbibition=+10", "--json")
    answer = json.loads(out)
    assert code == 0
    assert answer["invented"] is True
    money = [row["money_per_day"] for row in answer["changes"]]
    for row in answer["changes"]:
        keys = {"figure", "unit", "before", "after", "difference", "interval", "money_per_day"}
        assert keys <= set(row)
        low, high = row["interval"]
        assert low <= row["difference"] <= high
    paid = [abs(value) for value in money if value is not None]
    assert paid == sorted(paid, reverse=True)
    # Money of the rows adds up to what is earned: the same sum, in another order.
    assert sum(value for value in money if value is not None) == pytest.approx(
        answer["earned"]["difference"], rel=1e-6
    )


def test_cautions_stand_where_a_change_touches_a_hazard(run):
    _, out, _ = run("--set", "sulphur_rate=+3%", "--draws", "0")
    assert "Sulphur dioxide is toxic" in out
    assert "Local codes and licensed practice" in " ".join(out.split())
    _, out, _ = run("--without", "evaporator body 2", "--draws", "0")
    assert "confined spaces" in " ".join(out.split())
    assert "Without evaporator body 2." in out


def test_limits_that_would_be_passed_stand_beside_the_money(run):
    _, out, _ = run("--set", "imbibition=300", "--draws", "0")
    said = " ".join(out.split())
    assert "Limit: live steam from boilers, water would be" in said
    assert "its limit is at least 54.5 % (thinner and the pans lose time" in said
    assert said.index("Limit:") < said.index("Most changed in money")


def test_a_missing_price_is_said(run, account, monkeypatch):
    prices = {name: p for name, p in account.factory.prices.items() if name != "final_molasses"}
    fewer = type(account.factory)(**{**vars(account.factory), "prices": {**prices, "molases": 1.0}})
    monkeypatch.setattr(account.estimate.model, "factory", fewer)
    _, out, _ = run("--set", "C crystallisers.temperature=-2", "--draws", "0")
    said = " ".join(out.split())
    assert "final molasses has no price" in said
    assert "is not in the money" in said
    assert "[prices] has 'molases', which is nothing that this factory sells" in said


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        (["--set", "imbibtion=240"], "no setting called 'imbibtion'. Did you mean"),
        (["--set", "imbibition=2400"], "can be 0 to 600 %, not 2400"),
        (["--set", "turbine.steam_flow=200"], "The factory cannot run so"),
        (["--without", "boiler"], "no station called 'boiler'"),
        ([], "Nothing is changed"),
        (["--set", "imbibition=240", "--draws", "20"], "an interval of 95 % needs 50 or more"),
        (["--set", "imbibition=240", "--figure", "extrction"], "No figure is called 'extrction'"),
        (["--sweep", "imbibition=300:150:10"], "is no sweep"),
        (["--sweep", "imbibition=150:300:0"], "is no sweep"),
        (["--sweep", "imbibition=150:3000:10"], "can be 0 to 600 %"),
        (["--sweep", "imbibition=150:300:0.001"], "too many"),
        (["--sweep", "imbibition=150:300:10", "--csv", "out.txt"], "must end in .csv"),
        (["--set", "imbibition=240", "--chart", "out.svg"], "--chart draws a sweep"),
    ],
)
def test_refusals_are_sentences(run, typed, sentence):
    code, out, err = run(*typed)
    assert code == 2
    assert out == ""
    assert sentence in " ".join(err.split())
    assert "Traceback" not in err


def test_a_sweep_goes_to_screen_table_workbook_and_chart(run, tmp_path):
    table, book, chart = (tmp_path / f"sweep.{kind}" for kind in ("csv", "xlsx", "svg"))
    code, out, _ = run(
        *("--sweep", "imbibition=150:300:25", "--csv", str(table)),
        *("--xlsx", str(book), "--chart", str(chart)),
    )
    assert code == 0
    assert "is largest" in out
    with table.open(newline="") as opened:
        rows = list(csv.DictReader(opened))
    assert [float(r["imbibition.imbibition_percent_fibre"]) for r in rows] == [
        150,
        175,
        200,
        225,
        250,
        275,
        300,
    ]
    earned = [float(row["earned"]) for row in rows]
    assert max(earned) not in (earned[0], earned[-1])
    assert all(row["failed"] == "" for row in rows)
    sheet = CalamineWorkbook.from_path(book).get_sheet_by_index(0).to_python()
    assert len(sheet) == len(rows) + 1
    column = sheet[0].index("earned")
    # A workbook keeps sixteen digits.
    assert [line[column] for line in sheet[1:]] == pytest.approx(earned, rel=1e-14)
    root = ElementTree.parse(chart).getroot()
    assert root.tag.endswith("svg")
    assert [one.tag for one in root].count(root.tag[: -len("svg")] + "polygon") == 1
    for row in rows:
        low, middle, high = (float(row[name]) for name in ("earned low", "earned", "earned high"))
        assert low < middle < high


@pytest.mark.slow
def test_the_band_of_a_sweep_is_the_interval_of_its_points(run):
    options = ("--figure", "sucrose_extraction", "--json", "--draws")
    for draws in ("0", "60"):
        _, swept, _ = run("--sweep", "imbibition=230:240:10", *options, draws)
        _, asked, _ = run("--set", "imbibition=240", *options, draws)
        answer = json.loads(asked)
        row = next(r for r in answer["changes"] if r["figure"] == "sucrose_extraction")
        band = json.loads(swept)["points"][1]["intervals"]["sucrose_extraction"]
        # Both are solved to 1e-9 of the equations' terms; a difference of 0.3 of 96 loses three.
        assert band == pytest.approx([row["before"] + end for end in row["interval"]], rel=1e-6)
        assert answer["regime"] == json.loads(swept)["regime"] == "let-down open"
        counted = None if draws == "0" else answer["draws"]["count"]
        assert counted == (None if draws == "0" else 60)


def test_two_settings_are_swept_in_a_grid_and_a_failed_point_is_a_row(run, tmp_path):
    table = tmp_path / "grid.csv"
    typed = ("--sweep", "turbine.steam_flow=60:160:50", "--sweep", "imbibition=200:240:20")
    code, out, _ = run(*typed, "--csv", str(table))
    with table.open(newline="") as opened:
        rows = list(csv.DictReader(opened))
    assert code == 0
    assert len(rows) == 9
    failed = [row for row in rows if row["failed"]]
    assert failed
    assert all("cannot run so" in row["failed"] and row["earned"] == "" for row in failed)
    assert "cannot run" in out


def test_a_sweep_agrees_with_asking_one_by_one(run):
    _, swept, _ = run(
        "--sweep", "imbibition=230:250:10", "--figure", "sucrose_extraction", "--json"
    )
    _, asked, _ = run("--set", "imbibition=240", "--draws", "0", "--json")
    middle = json.loads(swept)["points"][1]["figures"]["sucrose_extraction"]
    row = next(r for r in json.loads(asked)["changes"] if r["figure"] == "sucrose_extraction")
    # Both are solved to 1e-9 of the equations' terms.
    assert middle == pytest.approx(row["after"], rel=1e-7)


def test_the_first_shift_differs_from_the_settled_factory(run):
    colder = ("--set", "C crystallisers.temperature=-3", "--draws", "0", "--json")
    _, settled, _ = run(*colder)
    _, first, _ = run(*colder, "--first-shift")
    gains = [abs(json.loads(text)["earned"]["difference"]) for text in (settled, first)]
    # Most of the cooled massecuite is still in the crystallisers after one shift.
    assert gains[1] < 0.5 * gains[0]


def test_assumed_responses_are_listed(capsys):
    with pytest.raises(SystemExit):
        main(["whatif", "--assumed", "--json"])
    listed = json.loads(capsys.readouterr().out)["responses"]
    assert {"cause", "effect", "slope", "sd", "source", "words"} <= set(listed[0])
    with pytest.raises(SystemExit):
        main(["whatif", "--assumed"])
    assert "common practice, not a measurement" in " ".join(capsys.readouterr().out.split())


def test_ticks_are_round_and_a_gap_breaks_the_line():
    assert round_steps(150.0, 300.0) == [150, 175, 200, 225, 250, 275, 300]
    assert round_steps(-0.1, 0.1, 4) == pytest.approx([-0.1, -0.05, 0, 0.05, 0.1], abs=1e-12)
    gap = Curve("a & b", [1.0, 2.0, 3.0, 4.0], [1.0, float("nan"), 2.0, 3.0])
    text = line_chart([gap], title="<t>", across="x", up="y", note="")
    root = ElementTree.fromstring(text)
    assert len(root.findall("{http://www.w3.org/2000/svg}polyline")) == 2
    assert "a &amp; b" in text
