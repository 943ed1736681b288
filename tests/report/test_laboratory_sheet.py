"""The laboratory sheet: what is odd in the analyses, the bench, instruments and their checks."""

import csv

import pytest

from canewright.account import balance
from canewright.cli.main import main
from canewright.report.content import Picture, Table
from canewright.report.laboratory_sheet import laboratory_sections
from canewright.report.same_again import checks_used
from tests.account.test_instrument_checks import CHECKS, shift

ROWS = [
    ["mixed_juice", "acidity.reading", "5.3", "pH", "", "", "", ""],
    ["mixed_juice", "acidity.temperature", "24", "degC", "", "", "", ""],
    ["syrup", "brix", "16.2", "%", "", "20:00", "", "bottle of the A molasses"],
]


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The folder, and the account of its shift."""
    folder = tmp_path_factory.mktemp("sheet")
    factory, readings = shift(folder, CHECKS)
    with readings.open(encoding="utf-8") as file:
        head, *rows = csv.reader(file)
    with readings.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([[*head, "excluded"], *([*row, ""] for row in rows), *ROWS])
    return folder, balance(factory, readings)


def blocks(account, kind):
    sections = laboratory_sections(account)
    return [b for section in sections for b in section.blocks if isinstance(b, kind)]


def test_the_sheet_says_what_is_to_be_looked_at(made):
    tables = {table.key: table for table in blocks(made[1], Table)}
    rows = {row.cells[0]: row for row in tables["remarks"].rows}
    row = rows["does not count"]
    assert "bottle of the A molasses" in row.cells[1]
    (analysis,) = tables["bench"].rows
    assert analysis.cells[0] == "mixed juice acidity"
    assert analysis.cells[-1] == "beside the balance"
    assert "It has drifted" in tables["instruments"].notes[0]


def test_the_checks_of_an_instrument_are_drawn(made):
    (picture,) = blocks(made[1], Picture)
    assert "bench refractometer" in picture.title
    assert picture.svg.startswith("<svg")
    assert "24 points" in picture.words


def test_a_check_of_the_file_says_it_before_the_shift_is_over(made, capsys):
    folder = made[0]
    with pytest.raises(SystemExit) as left:
        main(["check", str(folder / "factory.toml"), str(folder / "readings.csv")])
    out = " ".join(capsys.readouterr().out.split())
    assert not left.value.code
    assert "To be looked at before the shift is over" in out
    assert "bottle of the A molasses" in out
    assert "bench refractometer reads 0.39" in out


def test_checks_that_are_added_later_are_no_change(made):
    folder, account = made
    (before,) = checks_used(account, folder)
    record = folder / "refractometer.csv"
    record.write_text(
        record.read_text(encoding="utf-8") + "2026-08-20T07:00,20.9,20\n", encoding="utf-8"
    )
    again = balance(folder / "factory.toml", folder / "readings.csv")
    assert checks_used(again, folder) == [before]
    assert again.instruments[0].mean == account.instruments[0].mean
