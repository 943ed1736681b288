"""`canewright chart` as it is typed: charts of a record, its drawing, and how it refuses."""

import json
import xml.etree.ElementTree as ElementTree
from datetime import datetime, timedelta

import numpy as np
import pytest

from canewright.cli.main import main
from canewright.files.check_records import read_check_file
from canewright.files.problems import InputRefused

START = datetime(2026, 5, 1, 6)


@pytest.fixture
def run(capsys, monkeypatch):
    """Run the command with what was typed; give its exit code and what it printed."""

    def run_it(*typed):
        monkeypatch.setenv("COLUMNS", "80")
        with pytest.raises(SystemExit) as left:
            main(["chart", *map(str, typed)])
        printed = capsys.readouterr()
        return left.value.code or 0, printed.out, printed.err

    return run_it


@pytest.fixture
def record(tmp_path):
    """A file of checks, one every eight hours, of a standard of 20 %."""

    def write(readings, heading="time,value,expected", name="bench_refractometer.csv"):
        lines = [heading]
        for k, value in enumerate(readings):
            moment = START + timedelta(hours=8 * k)
            lines.append(f"{moment:%Y-%m-%dT%H:%M},{value:.3f},20.000")
        file = tmp_path / name
        file.write_text("\n".join(lines) + "\n", encoding="utf-8")
        return file

    return write


def steady(count=40):
    """Readings without drift, drawn so that no chart signals by chance."""
    return 20 + np.random.default_rng(33).normal(0, 0.05, count)


def test_a_drift_is_told_first_and_drawn(run, record, tmp_path):
    drawing = tmp_path / "chart.svg"
    file = record(steady() + np.maximum(0, np.arange(40) - 20) * 0.008)
    code, out, _ = run(file, "--unit", "%", "--svg", drawing)
    assert code == 0
    assert out.splitlines()[0] == "bench refractometer"
    assert out.splitlines()[1].startswith("It has drifted.")
    assert "For the balance: bias 0.1" in out
    assert max(map(len, out.splitlines())) <= 80
    root = ElementTree.fromstring(drawing.read_text(encoding="utf-8"))
    assert "moving average" in root.find("{http://www.w3.org/2000/svg}title").text


def test_a_steady_instrument_is_in_control(run, record):
    code, out, _ = run(record(steady()), "--rules", "limits_only")
    assert code == 0
    assert "It is in control" in out
    assert "Signals" not in out


def test_json_holds_every_chart_and_the_bias(run, record):
    code, out, _ = run(record(steady()), "--json", "--standard-uncertainty", "0.02")
    told = json.loads(out)
    assert code == 0
    assert [chart["name"] for chart in told["charts"]] == ["single", "average", "range", "sums"]
    assert all(len(chart["plotted"]) in (39, 40) for chart in told["charts"])
    assert told["bias"]["sd"] > 0.02
    assert told["against_standard"] is True


def test_without_an_expected_value_the_mean_is_the_centre(run, record):
    code, out, _ = run(record(steady() + 5, heading="time,value,note"))
    assert code == 0
    assert "no column 'expected'" in out


def test_repeats_at_one_moment_make_a_chart_of_ranges(run, tmp_path):
    drawn = 20 + np.random.default_rng(32).normal(0, 0.05, (10, 2))
    lines = ["time;value;expected"]
    for k, pair in enumerate(drawn):
        moment = START + timedelta(hours=8 * k)
        lines += [f"{moment:%Y-%m-%d %H:%M};{value:.3f};20,000".replace(".", ",") for value in pair]
    file = tmp_path / "pairs.csv"
    file.write_text("\n".join(lines), encoding="utf-8")
    code, out, _ = run(file, "--json")
    charts = {chart["name"]: chart for chart in json.loads(out)["charts"]}
    assert code == 0
    assert charts["range"]["kind"] == "ranges"
    # Values are written with three decimals, so a range is rounded by up to 0.001.
    assert charts["range"]["plotted"] == pytest.approx(np.ptp(drawn, axis=1), abs=1.1e-3)
    assert charts["single"]["plotted"] == pytest.approx(drawn.mean(axis=1) - 20, abs=1e-3)


def test_rows_are_put_in_order_of_time(tmp_path):
    file = tmp_path / "late.csv"
    file.write_text("time,value\n2026-05-02 06:00,2\n2026-05-01 06:00,1\n", encoding="utf-8")
    assert read_check_file(file).values == (1.0, 2.0)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "empty"),
        ("time,value\n", "no reading"),
        ("when,amount\n2026-05-01 06:00,1\n", "No column is 'value'"),
        ("time,value,reading\n2026-05-01 06:00,1,2\n", "Two columns are the value"),
        ("time,value\n06:00,1\n", "has no date"),
        ("time,value\n2026-05-01 06:00,abc\n", "row 2, column value"),
        ("time,value\n2026-05-01 06:00,\n", "The cell is empty"),
    ],
)
def test_a_record_that_cannot_be_read_is_refused_with_its_row(tmp_path, text, told):
    file = tmp_path / "record.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(InputRefused, match=told):
        read_check_file(file)


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--rules", "western"], "no set of rules"),
        (["--draw", "pie"], "no chart called"),
    ],
)
def test_an_unknown_choice_is_refused_in_a_sentence(run, record, options, told):
    code, out, err = run(record(steady()), *options)
    assert (code, out) == (2, "")
    assert told in err


def test_too_few_checks_ask_for_the_repeatability(run, record):
    file = record(steady(3))
    code, _, err = run(file)
    assert code == 2
    assert "give the repeatability" in err
    code, out, _ = run(file, "--repeatability", "0.05")
    assert code == 0
    assert "For the balance" in out


def test_a_missing_file_is_said_in_a_sentence(run, tmp_path):
    code, _, err = run(tmp_path / "nowhere.csv")
    assert code == 2
    assert "There is no such file" in err
    assert "Traceback" not in err
