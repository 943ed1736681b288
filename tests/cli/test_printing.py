"""Numbers, lines and errors as they reach the screen. Expected texts are written by hand."""

import json
import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from canewright.cli import printing, problems
from canewright.files.problems import InputRefused, Problem


@pytest.mark.parametrize(
    ("value", "uncertainty", "text"),
    [
        (1784.23, 2.3, "1 784.2"),
        (0.00012, 0.00005, "0.000120"),
        (123456.7, 250.0, "123 460"),
        (99.96, 0.13, "99.96"),
        (1.0, 0.0996, "1.00"),  # 0.0996 is 0.10 in two digits
        (-0.004, 0.5, "0.00"),  # no minus sign before a zero
        (12345.6789, None, "12345.7"),
        (12345678.9, None, "12345679"),
        (5.0, 0.0, "5"),
        (math.nan, 1.0, "-"),
        (1.0, math.inf, "-"),
    ],
)
def test_a_number_has_the_digits_its_uncertainty_deserves(value, uncertainty, text):
    assert printing.number(value, uncertainty) == text


def test_a_number_to_be_copied_is_not_parted():
    assert printing.number(1784.23, 2.3, grouped=False) == "1784.2"


def test_a_long_name_breaks_between_its_words_only():
    name = "reduced_boiling_house_recovery_deerr"
    assert printing.folded(name, 40) == name
    lines = printing.folded(name, 20).split("\n")
    assert "".join(line.strip() for line in lines) == name
    assert all(line.endswith("_") for line in lines[:-1])


def test_json_holds_null_for_what_is_not_finite_and_plain_numbers_for_arrays(capsys):
    printing.write_json({"a": math.nan, "b": np.float64(2.5), "c": np.array([1.0, math.inf])})
    assert json.loads(capsys.readouterr().out) == {"a": None, "b": 2.5, "c": [1.0, None]}


def test_progress_is_silent_where_nobody_watches(capsys):
    with printing.progress("Solving", total=2) as step:
        step()
        step()
    printed = capsys.readouterr()
    assert printed.out == printed.err == ""


def test_progress_shows_its_label_on_a_terminal(capsys, monkeypatch):
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    with printing.progress("Solving", total=2) as step:
        step()
    assert "Solving" in capsys.readouterr().err


def test_a_refused_file_is_all_its_sentences_and_no_more():
    refusal = InputRefused(
        [
            Problem("readings.csv", 3, "value", "'15,8' has a comma.", "Write 15.8."),
            Problem("readings.csv", 9, "unit", "No unit is called 'tn'.", "Write t."),
        ]
    )
    lines = problems.sentences(refusal)
    assert len(lines) == 3
    assert "row 3" in lines[1]
    assert "row 9" in lines[2]


def test_a_missing_file_is_a_sentence_with_its_name(tmp_path):
    with pytest.raises(FileNotFoundError) as caught:
        (tmp_path / "readings.csv").open()
    (line,) = problems.sentences(caught.value)
    assert "readings.csv: there is no such file" in line


def test_a_mistake_of_our_own_is_not_dressed_as_a_sentence():
    assert problems.sentences(KeyError("fibre")) == []
    assert problems.sentences(ZeroDivisionError("division by zero")) == []


def test_the_nearest_names_come_best_first_and_only_when_near():
    names = ["mixed_juice", "clear_juice", "juice_heater.heat_loss", "syrup"]
    assert problems.nearest("mixd_juice", names)[0] == "mixed_juice"
    assert problems.nearest("heat_los", names) == ["juice_heater.heat_loss"]
    assert problems.nearest("zzz", names) == []


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
@pytest.mark.parametrize("typed", ["--version", "formula brix", "formula steam --json"])
def test_what_cannot_be_printed_is_a_sentence(typed):
    command = [sys.executable, "-c", "from canewright.cli.main import main; main()"]
    with Path("/dev/full").open("w") as full:
        ran = subprocess.run(
            [*command, *typed.split()], stdout=full, stderr=subprocess.PIPE, text=True, check=False
        )
    assert ran.returncode == 2
    assert ran.stderr.startswith("What is printed could not be written where it was sent")
    assert len(ran.stderr.splitlines()) == 1


def test_a_reader_that_has_read_enough_is_no_error():
    command = [sys.executable, "-c", "from canewright.cli.main import main; main()", "formula"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as running:
        assert running.stdout is not None
        assert running.stderr is not None
        running.stdout.close()
        said = running.stderr.read()
    assert said == b""
