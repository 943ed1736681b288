"""`canewright station` and `points`, as a person or a program uses them."""

import json
import os

import pytest

from canewright.cli.main import main
from canewright.cli.new_command import starter
from canewright.model import stations

STARTER = starter().decode()


def run(capsys, *arguments):
    """Exit code, what was printed, and what was said on standard error."""
    with pytest.raises(SystemExit) as left:
        main([str(argument) for argument in arguments])
    printed = capsys.readouterr()
    return left.value.code or 0, printed.out, printed.err


def written(folder, text):
    path = folder / "mine.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_stations_are_listed_and_found(capsys):
    code, out, _ = run(capsys, "station")
    assert code == 0
    for kind in stations():
        assert kind in out
    _, out, _ = run(capsys, "station", "massecuite")
    assert "vacuum_pan" in out
    assert "juice_heater" not in out
    code, _, err = run(capsys, "station", "juise_heater")
    assert code == 2
    assert "juice_heater" in err


@pytest.mark.parametrize("kind", ["juice_heater", "tank", "multiple_effect", "departure"])
def test_a_station_is_explained_in_80_columns(capsys, kind):
    code, out, _ = run(capsys, "station", kind)
    assert code == 0
    assert max(len(line) for line in out.splitlines()) <= 80
    words = " ".join(out.split())
    for name, port in stations()[kind].ports.items():
        assert f"{name} {port.direction}" in words
    for quantity in stations()[kind].quantities.values():
        assert quantity.unit in words
    assert "Assumes" in out
    assert "Sources" in out


def test_a_station_is_told_to_a_program(capsys):
    _, out, _ = run(capsys, "station", "juice_heater", "--json")
    told = json.loads(out)
    assert [port["name"] for port in told["ports"]] == [
        "juice_in",
        "juice_out",
        "vapour",
        "condensate",
    ]
    assert {each["name"]: each["role"] for each in told["quantities"]}["surface"] == "design"
    assert "heat" in told["equations"]
    assert "sucrose" in told["balances"]
    assert told["demands"] == ["vapour.water"]
    assert "steam and vacuum" in told["cautions"]
    _, out, _ = run(capsys, "station", "--json")
    assert {each["kind"] for each in json.loads(out)["stations"]} == set(stations())


def test_points_are_listed_and_explained(tmp_path, capsys):
    path = written(tmp_path, STARTER)
    code, out, _ = run(capsys, "points", path)
    assert code == 0
    assert "syrup_tank_closing" in out
    _, out, _ = run(capsys, "points", path, "mixed juice")
    assert "juice scale" in out
    assert "0.1 %" in out
    code, _, err = run(capsys, "points", path, "mixed_juise")
    assert code == 2
    assert "mixed_juice" in err


def test_points_are_told_to_a_program(tmp_path, capsys):
    _, out, _ = run(capsys, "points", written(tmp_path, STARTER), "--json")
    told = json.loads(out)
    points = {each["point"]: each for each in told["points"]}
    readings = {each["analysis"]: each for each in points["mixed_juice"]["readings"]}
    assert readings["weight"]["instrument"] == "juice scale"
    assert readings["weight"]["instrument_named"] is True
    assert readings["weight"]["random"] == 0.1
    assert readings["weight"]["random_relative"] is True
    assert readings["brix"]["unit"] == "%"
    assert {each["analysis"] for each in points["a_pans"]["readings"]} >= {"solids", "purity"}


def test_no_output_is_wider_than_the_screen(tmp_path, capsys, monkeypatch):
    path = written(tmp_path, STARTER)
    for width in (80, 120):
        monkeypatch.setitem(os.environ, "COLUMNS", str(width))
        for arguments in (("check", path), ("points", path), ("points", path, "syrup")):
            _, out, _ = run(capsys, *arguments)
            assert max(len(line) for line in out.splitlines()) <= width
