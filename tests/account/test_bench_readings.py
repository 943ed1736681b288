"""A readings file with raw readings of the bench: the balance takes what they make."""

import csv
import json

import numpy as np
import pytest

from canewright.account import balance
from canewright.account.explanation import explanation
from canewright.cli.main import main
from canewright.files.problems import InputRefused
from canewright.properties.brix_corrections import refractometer_reading
from canewright.properties.rotation import schmitz_factor
from tests.account.shift_files import write_files

JUICES = ("mixed_juice", "juice_of_mill_1", "juice_of_mill_5", "clear_juice")
PRISM = 26.0  # degC, of every Brix reading of the made-up shift


def rows_of(path):
    with path.open(encoding="utf-8") as file:
        return list(csv.reader(file))


def write_rows(path, rows):
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)


def as_raw(rows):
    """The same shift with the juices' Brix and pol as they were read at the bench."""
    brix = {row[0]: float(row[2]) for row in rows if row[1] == "brix"}
    made = []
    for row in rows:
        point, analysis = row[0], row[1]
        rest = ["", "", ""]
        if point in JUICES and analysis == "brix":
            reading = refractometer_reading(brix[point], PRISM)
            made.append([point, "brix.reading", repr(float(reading)), "%", *rest])
            made.append([point, "brix.temperature", repr(PRISM + 273.15), "K", *rest])
        elif point in JUICES and analysis == "pol":
            rotation = float(row[2]) / schmitz_factor(brix[point])
            made.append([point, "pol.rotation", repr(float(rotation)), "degZ", *rest])
            made.append([point, "pol.temperature", "20", "degC", *rest])
        else:
            made.append(row)
    return made


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bench")
    factory, readings = write_files(folder)
    raw = folder / "raw.csv"
    write_rows(raw, as_raw(rows_of(readings)))
    return factory, readings, raw


@pytest.fixture(scope="module")
def accounts(files):
    factory, readings, raw = files
    return balance(factory, readings), balance(factory, raw)


def values(account):
    return {line.name: line.value for line in account.readings}


def test_raw_readings_make_the_analyses_they_were_made_from(accounts):
    by_result, by_raw = accounts
    # the correction is inverted in closed form and back: only the last digits may differ
    assert values(by_raw) == pytest.approx(values(by_result), rel=1e-9)


def test_the_balance_is_that_of_the_results_but_for_the_uncertainties(accounts):
    by_result, by_raw = accounts
    for name in ("sucrose_extraction", "boiling_house_recovery"):
        one, other = by_result.statements[name], by_raw.statements[name]
        # the weights differ a little: a tenth of the standard uncertainty is no other finding
        assert other.value == pytest.approx(one.value, abs=0.1 * one.sd)


def test_one_thermometer_moves_all_brix_readings_together(accounts):
    _, by_raw = accounts
    reconciler = by_raw.plain.reconciler
    assert reconciler.instruments.count("refractometer thermometer") == 1
    pairs = [name for name, source in reconciler.shared if source == "refractometer thermometer"]
    assert {f"{point} brix" for point in JUICES} <= set(pairs)
    assert {f"{point} pol" for point in JUICES} <= set(pairs)  # by the Brix of Schmitz's table
    problem, solution = by_raw.plain.reconciler.problem, by_raw.plain.solution
    at = problem.linearise(solution.z, solution.parameters)
    column = problem.variable_names.index("bias of refractometer thermometer")
    moved = {
        channel.name: at.data_jacobian[k, column] for k, channel in enumerate(reconciler.channels)
    }
    # 0.29 K (half a degree either way, rectangular) times 0.075 Brix per K at 26 degC
    for point in JUICES:
        result = by_raw.bench[f"{point} brix"]
        assert moved[f"{point} brix"] == pytest.approx(result.shared["refractometer thermometer"])
        assert 0.015 < moved[f"{point} brix"] < 0.03
    assert moved["syrup brix"] == 0.0  # given as a result


def test_the_uncertainty_of_the_bench_is_that_of_the_balance(accounts):
    _, by_raw = accounts
    reconciler, solution = by_raw.plain.reconciler, by_raw.plain.solution
    for k, channel in enumerate(reconciler.channels):
        result = by_raw.bench.get(channel.name)
        if result is not None:
            assert solution.sd[k] == pytest.approx(result.own)


def test_explain_goes_down_to_the_rotation(files, accounts, capsys):
    _, by_raw = accounts
    found = explanation(by_raw, "sucrose_extraction")
    inputs = found.bench["mixed_juice pol"].determinations[0].worked.inputs
    assert "rotation" in inputs
    factory, _, raw = files
    with pytest.raises(SystemExit) as left:
        main(["explain", str(factory), str(raw), "mixed_juice pol"])
    out = capsys.readouterr().out
    assert not left.value.code
    assert "From the bench" in out
    assert f"rotation {inputs['rotation']:g} degZ" in out
    assert "Schmitz factor" in out
    assert "shares refractometer thermometer" in out
    with pytest.raises(SystemExit):
        main(["explain", str(factory), str(raw), "mixed_juice brix", "--json"])
    answer = json.loads(capsys.readouterr().out)
    bench = {entry["reading"]: entry for entry in answer["raw_readings"]}
    steps = bench["mixed_juice brix"]["determinations"][0]["steps"]
    assert steps[-1]["name"] == "Brix at 20 degC"


def test_several_determinations_make_their_mean(files, tmp_path):
    factory, readings, _ = files
    rows = [
        row for row in as_raw(rows_of(readings)) if row[0] != "clear_juice" or row[1][:4] != "brix"
    ]
    for hour, reading in ((15, 14.0), (17, 14.2), (19, 14.1)):
        rows.append(["clear_juice", "brix.reading", str(reading), "%", "", f"{hour}:00", ""])
    rows.append(["clear_juice", "brix.temperature", "20", "degC", "", "", ""])
    path = tmp_path / "hourly.csv"
    write_rows(path, rows)
    result = balance(factory, path).bench["clear_juice brix"]
    assert len(result.determinations) == 3
    assert result.value == pytest.approx(14.1)  # mean of three, no correction at 20 degC
    alone = [one.own for one in result.determinations]
    assert result.own == pytest.approx(np.sqrt(np.sum(np.square(alone))) / 3)
    shared = [one.shared["refractometer thermometer"] for one in result.determinations]
    assert result.shared["refractometer thermometer"] == pytest.approx(np.mean(shared))


def test_everything_wrong_at_the_bench_is_said_at_once_with_its_row(files, tmp_path):
    factory, readings, _ = files
    rows = as_raw(rows_of(readings))
    for row in rows:
        if row[:2] == ["mixed_juice", "pol.rotation"]:
            row[2] = "99"
        if row[:2] == ["clear_juice", "brix.temperature"]:
            row[2] = "350"
        if row[:2] == ["juice_of_mill_1", "brix.reading"]:
            row[4] = "brix_by_guess"
    rows.append(["syrup", "pol.rotation", "50", "degZ", "", "", ""])
    path = tmp_path / "wrong.csv"
    write_rows(path, rows)
    with pytest.raises(InputRefused) as refused:
        balance(factory, path)
    said = {problem.row: str(problem) for problem in refused.value.problems}
    assert len(said) == 4  # and not again of the pols that would have taken a wrong Brix
    text = " ".join(said.values())
    assert "above what a 200 mm tube allows" in text
    assert "temperature = 76.85 degC" in text
    assert "'brix_by_guess' is no method" in text
    assert "sample_mass is missing" in text
    for row, sentence in said.items():
        assert rows[row - 1][0] in sentence


def test_a_result_and_its_raw_readings_together_are_refused(files, tmp_path):
    factory, readings, _ = files
    rows = rows_of(readings)
    rows.append(["mixed_juice", "brix.reading", "15.1", "%", "", "", ""])
    path = tmp_path / "twice.csv"
    write_rows(path, rows)
    with pytest.raises(InputRefused, match="by raw readings"):
        balance(factory, path)
