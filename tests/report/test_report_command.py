"""`canewright report` as it is typed: what it refuses, and what is then not there."""

import pytest

from canewright.cli.main import main


def refused(capsys, *arguments):
    with pytest.raises(SystemExit) as ended:
        main(["report", *[str(argument) for argument in arguments]])
    assert ended.value.code == 2
    return capsys.readouterr().err


@pytest.fixture
def files(made_up):
    return made_up / "factory.toml", made_up / "readings.csv"


def test_it_asks_for_files_and_for_a_place(files, capsys):
    assert "Name the factory file and the readings" in refused(capsys)
    assert "--pdf FILE" in refused(capsys, *files)


def test_a_kind_that_is_not_there_or_not_on_such_readings(files, tmp_path, capsys):
    pdf = tmp_path / "x.pdf"
    assert "There is no report 'shft'" in refused(capsys, *files, "--kind", "shft", "--pdf", pdf)
    said = refused(capsys, *files, "--kind", "week", "--pdf", pdf)
    assert "is one file" in said
    folder = files[0].parent / "season"
    said = refused(capsys, files[0], folder, "--kind", "balance", "--pdf", pdf)
    assert "is a folder" in said
    assert not pdf.exists()


def test_places_that_cannot_be(files, tmp_path, capsys):
    _factory, readings = files
    said = refused(capsys, *files, "--pdf", tmp_path / "x.txt")
    assert "ends in .pdf" in said
    said = refused(capsys, *files, "--html", tmp_path / "none" / "x.html")
    assert "there is no folder" in said
    said = refused(capsys, *files, "--csv", readings)
    assert "is a file; --csv takes a folder" in said
    letterhead = tmp_path / "paper.html"
    letterhead.write_text("", encoding="utf-8")
    said = refused(capsys, *files, "--letterhead", letterhead, "--html", letterhead)
    assert "is a file that the report is made from" in said


def test_a_balance_that_fails_makes_no_report(files, tmp_path, capsys):
    factory, readings = files
    broken = tmp_path / "readings.csv"
    text = readings.read_text(encoding="utf-8")
    broken.write_text(text.replace("cane,weight,", "cane,wieght,", 1), encoding="utf-8")
    out = tmp_path / "out"
    out.mkdir()
    said = refused(capsys, factory, broken, "--pdf", out / "x.pdf", "--csv", out / "values")
    assert "wieght" in said
    assert list(out.iterdir()) == []


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name = 5", "name takes one line of words"),
        ('lines = "one"', "lines takes lines"),
        ('nmae = "x"', "has no setting 'nmae'"),
        ('lines = ["1","2","3","4","5","6","7","8","9"]', "8 are enough"),
        ("name = ", "is not written as TOML"),
        ('language = "xx"', "There is no translation into 'xx'"),
        ('translation = "none.mo"', "cannot be read as a compiled catalogue"),
    ],
)
def test_a_letterhead_is_refused_in_a_sentence(files, tmp_path, capsys, text, said):
    letterhead = tmp_path / "letterhead.toml"
    letterhead.write_text(text, encoding="utf-8")
    pdf = tmp_path / "x.pdf"
    assert said in refused(capsys, *files, "--letterhead", letterhead, "--pdf", pdf)
    assert not pdf.exists()
