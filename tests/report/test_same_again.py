"""A report is made again from its files: the same, or what moved."""

import json
import zipfile

import pytest

from canewright.cli.main import main
from canewright.report.making import made_again
from canewright.report.page import as_page
from canewright.report.same_again import canonical, carried
from canewright.report.verify import NoReport, carried_by, compare, is_whole
from canewright.report.writers import write_report


def run(capsys, *arguments):
    with pytest.raises(SystemExit) as ended:
        main([str(argument) for argument in arguments])
    said = capsys.readouterr()
    return ended.value.code, said.out, said.err


@pytest.fixture(scope="module")
def folder(report_of, tmp_path_factory):
    """The shift report in every form."""
    place = tmp_path_factory.mktemp("written")
    places = {form: place / f"shift.{form}" for form in ("pdf", "xlsx", "html")}
    write_report(report_of("shift"), places, place / "values")
    return place


@pytest.mark.parametrize("name", ["shift.pdf", "shift.xlsx", "shift.html", "values"])
def test_every_form_gives_its_data_back(folder, report_of, name):
    data = carried_by(folder / name)
    assert canonical(data) == canonical(carried(report_of("shift")))
    assert is_whole(data)


def test_an_unchanged_shift_reproduces_byte_for_byte(folder, made_up):
    data = carried_by(folder / "shift.pdf")
    found = made_again(data, folder)
    assert found.holds
    assert found.same_as_printed
    assert found.moved == []
    assert found.files == found.engine == []


def test_a_changed_reading_is_named_with_what_moved(folder, made_up, tmp_path):
    text = (made_up / "readings.csv").read_text(encoding="utf-8")
    line = next(row for row in text.splitlines() if row.startswith("imbibition_water,weight,"))
    cells = line.split(",")
    cells[2] = f"{float(cells[2]) * 1.004:.1f}"
    (tmp_path / "readings.csv").write_text(text.replace(line, ",".join(cells)), encoding="utf-8")
    found = made_again(
        carried_by(folder / "shift.xlsx"),
        folder,
        made_up / "factory.toml",
        tmp_path / "readings.csv",
    )
    assert not found.holds
    assert found.whole
    assert any("readings.csv is not what it was" in sentence for sentence in found.files)
    moved = {item.where: item for item in found.moved}
    figure = moved["figures: Milling, imbibition, this shift"]
    assert float(figure.after) > float(figure.before)
    assert not any(where.startswith("figures: Sugar, raw sugar, unit") for where in moved)


def test_altered_data_do_not_fit_their_fingerprint(report_of, tmp_path):
    report = report_of("shift")
    page = as_page(report).decode()
    number = next(
        cell.value
        for row in report.tables[1].rows
        for cell in row.cells
        if getattr(cell, "value", None) is not None
    )
    forged = page.replace(f'"value":{number!r}', '"value":1.0')
    assert forged != page
    (tmp_path / "forged.html").write_text(forged, encoding="utf-8")
    data = carried_by(tmp_path / "forged.html")
    assert not is_whole(data)
    found = compare(data, report, [])
    assert not found.holds


def test_digits_that_are_not_printed_are_told_apart(report_of):
    report = report_of("shift")
    data = json.loads(canonical(carried(report)))
    cell = next(
        cell
        for section in data["content"]["sections"]
        for block in section["blocks"]
        if block["block"] == "table"
        for row in block["rows"]
        for cell in row["cells"]
        if isinstance(cell, dict) and cell.get("value")
    )
    cell["value"] *= 1 + 1e-8
    found = compare(data, report, [])
    assert not found.same
    assert found.same_as_printed


def test_another_engine_and_another_table_of_sources_are_said(report_of):
    report = report_of("shift")
    data = json.loads(canonical(carried(report)))
    data["made_with"] = {"canewright": "0.0.1", "sources_sha256": "0" * 64}
    found = compare(data, report, [])
    assert len(found.engine) == 2
    assert "0.0.1" in found.engine[0]


def test_a_file_that_is_no_report_is_refused(tmp_path, made_up):
    with pytest.raises(NoReport, match="carries no report"):
        carried_by(made_up / "readings.csv")
    with zipfile.ZipFile(tmp_path / "other.xlsx", "w") as book:
        book.writestr("nothing", "")
    with pytest.raises(NoReport):
        carried_by(tmp_path / "other.xlsx")
    (tmp_path / "other.pdf").write_bytes(b"%PDF-1.7\nstream\nnothing\nendstream")
    with pytest.raises(NoReport):
        carried_by(tmp_path / "other.pdf")


def test_the_command_writes_and_verifies(made_up, tmp_path, capsys):
    pdf = tmp_path / "shift.pdf"
    factory, readings = made_up / "factory.toml", made_up / "readings.csv"
    code, out, _err = run(capsys, "report", factory, readings, "--pdf", pdf)
    assert code == 0
    assert "Shift report" in out
    assert pdf.read_bytes().startswith(b"%PDF")
    code, out, _err = run(capsys, "report", "--verify", pdf)
    assert code == 0
    assert "reproduces" in out
    code, _out, err = run(capsys, "report", "--verify", pdf, factory, factory)
    assert code == 2
    assert "factory.toml" in err


def test_a_report_whose_files_are_gone_says_so(report_of, tmp_path, capsys):
    report = report_of("shift", inputs=())
    data = carried(report)
    data["inputs"] = [
        {"part": "factory", "path": "gone/factory.toml", "sha256": "0" * 64},
        {"part": "readings", "path": "gone/readings.csv", "sha256": "0" * 64},
    ]
    (tmp_path / "report.json").write_text(json.dumps(data), encoding="utf-8")
    code, _out, err = run(capsys, "report", "--verify", tmp_path / "report.json")
    assert code == 2
    assert "gone/factory.toml: the factory that the report was made from is not there" in err
    assert "gone/readings.csv" in err
