"""What is wrong with a readings file is said in full: file, row, column and remedy."""

import io
import zipfile

import pytest

from canewright.files import tables
from canewright.files.readings import InputRefused, read_readings
from tests.files.small_factory import CATALOGUE, ods
from tests.files.test_readings import TABLE, workbook

HEADER = "point,analysis,value,unit,time\n"


def refused(tmp_path, content, name="readings.csv"):
    path = tmp_path / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(InputRefused) as refusal:
        read_readings(path, CATALOGUE)
    return refusal.value.problems


def only(tmp_path, content, name="readings.csv"):
    """The one problem of a file, as (row, column, sentence)."""
    problems = refused(tmp_path, content, name)
    assert len(problems) == 1, [str(problem) for problem in problems]
    (problem,) = problems
    assert problem.file == name
    assert problem.what.endswith((".", ")."))
    assert problem.remedy.endswith((".", ".)"))
    return problem.row, problem.column, str(problem)


@pytest.mark.parametrize(
    ("line", "column", "facts"),
    [
        ("mixd_juice,brix,15.3,%,", "point", ["'mixd_juice'", "mixed_juice"]),
        ("mixed_juice,brics,15.3,%,", "analysis", ["'brics'", "at mixed_juice", "brix"]),
        ("mixed_juice,flow,190,tt/h,", "unit", ["'tt/h'", "'t/h'"]),
        ("mixed_juice,flow,190,t,", "unit", ["mass", "'t/h'", "mass flow"]),
        ("mixed_juice,brix,clear,%,", "value", ["'clear' is not a number", "Leave the cell empty"]),
        ("mixed_juice,brix,nan,%,", "value", ["'nan' is not a number"]),
        ("mixed_juice,brix,1e999,%,", "value", ["too large"]),
        ('mixed_juice,brix,"11,93",%,', "value", ["'11,93' is written with a comma", "11.93"]),
        ('mixed_juice,flow,"1,190.5",t/h,', "value", ["with a comma", "1190.5"]),
        ("mixed_juice,brix,15,3,%,", "", ["6 cells", "15.3"]),
        ("mixed_juice,brix,15,3,", "unit", ["'3'", "15.3"]),
        ("mixed_juice,brix,158,%,", "value", ["158 %", "0 to 100 %", "15.8", "decimal point"]),
        ("mixed_juice,brix,15800,%,", "value", ["15800 %", "0 to 100 %"]),
        ("mixed_juice,flow,-190,t/h,", "value", ["negative", "-190 t/h", "If 190", "the sign"]),
        ("mixed_juice,flow,700000,kg/h,", "value", ["700000 kg/h (700 t/h)", "0 to 600 t/h"]),
        ("exhaust,pressure,800,mmHg vacuum,", "unit", ["below an absolute vacuum"]),
        (",brix,15.3,%,", "point", ["point is missing"]),
        ("mixed_juice,,15.3,%,", "analysis", ["analysis is missing"]),
        ("mixed_juice,brix,15.3,%,14/08/2026 15:00", "time", ["day", "month", "2026-08-14T14:00"]),
        ("mixed_juice,brix,15.3,%,2026-02-30T15:00", "time", ["does not exist", "2026-02-30"]),
        ("mixed_juice,brix,15.3,%,25:00", "time", ["'25:00'", "exists"]),
        ("mixed_juice,brix,15.3,%,2026-08-14", "time", ["without a time"]),
        ("mixed_juice,brix,15.3,%,2026-08-14T15:00+02:00", "time", ["time zone"]),
        ("mixed_juice,brix,15.3,%,15:00", "time", ["no date", "shift, start"]),
        ("mixed_juice,brix,15.3,%,noon", "time", ["'noon'"]),
        ("shift,start,14:00,,", "value", ["no date", "2026-08-14T14:00"]),
        ("shift,hours,-8,,", "value", ["-8 h is not possible"]),
        ("shift,hours,8,kg,", "value", ["mass", "'h'"]),
        ("shift,foreman,Ada,,", "analysis", ["'foreman'", "start, hours, name"]),
        ("point,analysis,value,unit,time", "", ["header of row 1", "second time"]),
    ],
)
def test_one_wrong_line_is_named_with_row_column_and_remedy(tmp_path, line, column, facts):
    row, found, sentence = only(tmp_path, f"{HEADER}syrup,brix,60,%,\n\n{line}\n")
    assert (row, found) == (4, column)
    assert sentence.startswith("readings.csv, row 4")
    facts = ["exist" if fact == "does not exist" else fact for fact in facts]
    assert [fact for fact in facts if fact not in sentence] == []


def test_every_problem_of_a_file_is_told_at_once_and_nothing_is_taken(tmp_path):
    text = HEADER + (
        "mixd_juice,brix,15.3,%,\nsyrup,brix,60,%,\nsyrup,pol,abc,tt/h,yesterday\n"
        "exhaust,pressure,-1,bar,\n"
    )
    problems = refused(tmp_path, text)
    assert [(each.row, each.column) for each in problems] == [
        (2, "point"),
        (4, "time"),
        (4, "value"),
        (4, "unit"),
        (5, "value"),
    ]
    told = str(InputRefused(problems))
    assert told.startswith("5 problems; nothing was taken from the file.\n")
    assert told.count("readings.csv, row ") == 5
    assert problems[0].as_dict()["remedy"] == problems[0].remedy


def test_a_gap_with_a_misspelt_name_is_still_named(tmp_path):
    row, column, _ = only(tmp_path, f"{HEADER}syrup,brix,60,%,\nsyrup,bricks,,,\n")
    assert (row, column) == (3, "analysis")


def test_the_same_reading_twice(tmp_path):
    text = HEADER + "syrup,brix,60,%,\nsyrup,pol,50,%,\nsyrup,brix,61,%,\n"
    row, column, sentence = only(tmp_path, text)
    assert (row, column) == (4, "value")
    assert "row 2 (61 against 60 %)" in sentence
    assert "its own time" in sentence


def test_what_exists_once_a_shift_given_twice(tmp_path):
    text = HEADER + (
        "syrup_tank,level,40,%,2026-08-14T15:00\nsyrup_tank,level,60,%,2026-08-14T16:00\n"
    )
    row, _, sentence = only(tmp_path, text)
    assert row == 3
    assert "rows 2, 3" in sentence


def test_pol_above_brix_at_the_same_time_and_on_average(tmp_path):
    text = HEADER + "syrup,brix,50,%,\nsyrup,pol,61,%,\n"
    row, _, sentence = only(tmp_path, text)
    assert row == 3
    assert "61 %, above its brix of 50 % (row 2)" in sentence
    assert "exchanged" in sentence
    text = HEADER + (
        "syrup,brix,60,%,2026-08-14T15:00\nsyrup,brix,62,%,2026-08-14T16:00\n"
        "syrup,pol,61.5,%,2026-08-14T17:00\n"
    )
    assert "on average 61.5 %, above its brix of 61 %" in only(tmp_path, text)[2]


def test_facts_of_the_shift_told_in_two_ways(tmp_path):
    text = HEADER + "shift,hours,8,,\nshift,hours,12,,\nsyrup,brix,60,%,\n"
    row, _, sentence = only(tmp_path, text)
    assert row == 3
    assert "told otherwise in row 2" in sentence


def test_a_date_far_from_the_shift(tmp_path):
    text = HEADER + (
        "shift,start,2026-08-14T14:00,,\nshift,hours,8,,\nsyrup,brix,60,%,2025-08-14T15:00\n"
    )
    assert "2025-08-14 15:00 lies more than 24 h outside" in only(tmp_path, text)[2]


def test_commas_in_a_file_that_also_has_points(tmp_path):
    text = "point;analysis;value\nsyrup;brix;60,5\nsyrup;pol;50.5\n"
    row, column, sentence = only(tmp_path, text)
    assert (row, column) == (2, "value")
    assert "60.5" in sentence
    assert "Other numbers of this file have a decimal point" in sentence


@pytest.mark.parametrize(
    ("header", "column", "facts"),
    [
        ("point,analysis,unit", "value", ["'value' is missing"]),
        ("point,analysis,valeu", "value", ["'value' is missing"]),
        ("point,analysis,value,value", "value", ["comes twice"]),
        ("point,analysis,value,notes", "notes", ["'notes' is not known", "Did you mean 'note'?"]),
        ("point,analysis,value,weather", "weather", ["not known", "with #"]),
    ],
)
def test_a_header_that_is_not_right(tmp_path, header, column, facts):
    problems = refused(tmp_path, f"{header}\nsyrup,brix,60\n")
    told = [str(each) for each in problems if each.column == column and each.row == 1]
    assert told
    assert [fact for fact in facts if fact not in told[0]] == []


def test_a_title_above_the_header_and_no_header_at_all(tmp_path):
    row, _, sentence = only(tmp_path, f"Daily sheet\n{HEADER}syrup,brix,60,%,\n")
    assert row == 1
    assert "above the header" in sentence
    row, _, sentence = only(tmp_path, "syrup,brix,60\nsyrup,pol,50\n")
    assert row == 1
    assert "'syrup, brix, 60'" in sentence
    assert "point, analysis, value" in sentence


@pytest.mark.parametrize(
    ("header", "fact"),
    [
        ("time,syrup brics [%]", "no analysis known there. Analyses at syrup: brix"),
        ("time,sirup brix [%]", "begins with no point of the factory"),
        ("time,syrup brix [%],syrup.brix", "repeats 'syrup brix [%]'"),
    ],
)
def test_a_wide_header_that_names_nothing_known(tmp_path, header, fact):
    row, column, sentence = only(tmp_path, f"{header}\n,60,61\n"[: len(header) + 4] + "\n")
    assert row == 1
    assert column == header.rsplit(",", 1)[1]
    assert fact in sentence


def test_a_wrong_cell_of_a_wide_sheet_is_named_by_its_heading(tmp_path):
    text = "time,syrup brix [%],syrup.pol [t]\n2026-08-14T15:00,abc,\n2026-08-14T16:00,,50\n"
    problems = refused(tmp_path, text)
    assert [(each.row, each.column) for each in problems] == [
        (2, "syrup brix [%]"),
        (3, "syrup.pol [t]"),
    ]
    assert "3 columns" in only(tmp_path, "time,syrup brix,syrup pol\n,15,3,12\n")[2]


@pytest.mark.parametrize(
    "content", [HEADER, HEADER + "syrup,brix,,%,\n", "time,syrup brix\n15:00,\n"]
)
def test_a_file_without_a_reading(tmp_path, content):
    assert "no reading" in only(tmp_path, content)[2]


def test_an_empty_file_a_folder_and_no_file(tmp_path):
    assert "The file is empty." in only(tmp_path, b"")[2]
    assert "The file is empty." in only(tmp_path, " \n\n")[2]
    assert "no rows" in only(tmp_path, "# only a comment\n")[2]
    for name, fact in (
        (tmp_path, "a folder"),
        (tmp_path / "no.csv", "no such file"),
        ("\0", "name"),
    ):
        with pytest.raises(InputRefused, match=fact):
            read_readings(name, CATALOGUE)


def test_a_file_of_50_mb_is_refused_before_it_is_read(tmp_path, monkeypatch):
    path = tmp_path / "readings.csv"
    with path.open("wb") as opened:
        opened.truncate(50 * 1024 * 1024)
    monkeypatch.setattr(tables, "decode", None)
    with pytest.raises(InputRefused, match="has 50 MB; at most 20 MB are read"):
        read_readings(path, CATALOGUE)


@pytest.mark.parametrize(
    "content",
    [
        bytes(range(256)) * 40,
        b"\x7fELF\x02\x01\x01" + b"\0" * 400,
        b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR",
        b"point,analysis,value\nsyrup,brix,\x81\n",
        b"point,analysis,value\nsyrup,\0brix,60\n",
    ],
)
def test_a_binary_file(tmp_path, content):
    sentence = only(tmp_path, content)[2]
    assert "not a text file" in sentence
    assert "UTF-8" in sentence


def test_a_quotation_mark_that_is_never_closed(tmp_path):
    row, _, sentence = only(tmp_path, f'{HEADER}syrup,brix,60,%,\nsyrup,pol,"50,%,\n')
    assert row == 3
    assert "quotation mark" in sentence


def test_a_workbook_with_several_sheets_says_which(tmp_path):
    content = workbook({"morning": TABLE, "evening": TABLE, "cover": [["x"]]})
    sentence = only(tmp_path, content, "shift.xlsx")[2]
    assert "2 sheets hold readings: 'morning', 'evening'" in sentence
    assert "'readings'" in sentence
    sentence = only(tmp_path, workbook({"a": [["x"]], "b": [["y"]]}), "shift.xlsx")[2]
    assert "None of the sheets 'a', 'b' has a header" in sentence
    sentence = only(tmp_path, workbook({"a": TABLE, "readings": [["y"]]}), "shift.xlsx")[2]
    assert "'readings' has no header" in sentence


def test_a_spreadsheet_error_and_a_percentage_format_are_no_readings(tmp_path):
    table = [*TABLE, ["syrup", "brix", "=1/0", "%"], ["syrup", "pol", 0.503, "%"]]
    buffer = workbook({"readings": table}, percent={(5, 2)})
    problems = refused(tmp_path, _with_error(buffer), "shift.xlsx")
    assert [(each.row, each.column) for each in problems] == [(5, "value"), (6, "value")]
    assert "#DIV/0!" in problems[0].what
    assert "formatted as a percentage" in problems[1].what


def _with_error(content):
    """XlsxWriter stores 0 as a formula's result; put the error a spreadsheet would store."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w") as new:
        for part in old.namelist():
            data = old.read(part)
            if part == "xl/worksheets/sheet1.xml":
                before = b'<c r="C5"><f>1/0</f><v>0</v></c>'
                assert before in data
                data = data.replace(before, b'<c r="C5" t="e"><f>1/0</f><v>#DIV/0!</v></c>')
            new.writestr(part, data)
    return out.getvalue()


def test_the_same_in_an_ods_workbook(tmp_path):
    error = (
        '<table:table-cell table:formula="of:=1/0" office:value-type="string" '
        'office:string-value="" calcext:value-type="error"><text:p>#DIV/0!</text:p>'
        "</table:table-cell>"
    )
    percent = '<table:table-cell office:value-type="percentage" office:value="0.503"/>'
    table = [*TABLE, ["syrup", "brix", error, "%"], ["syrup", "pol", percent, "%"]]
    problems = refused(tmp_path, ods({"readings": table}), "shift.ods")
    assert [(each.row, each.column) for each in problems] == [(5, "value"), (6, "value")]
    assert "#DIV/0!" in problems[0].what
    assert "formatted as a percentage" in problems[1].what


OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


@pytest.mark.parametrize(
    ("content", "fact"),
    [
        (workbook({"readings": TABLE})[:-200], "damaged"),
        (b"PK\x03\x04 and then nothing that unpacks", "damaged"),
        (OLE + b"\0" * 2000, "damaged"),
        (OLE + b"\0" * 2000 + "EncryptedPackage".encode("utf-16-le"), "password"),
    ],
)
def test_a_damaged_or_protected_workbook(tmp_path, content, fact):
    sentence = only(tmp_path, content, "shift.xlsx")[2]
    assert fact in sentence
    assert "CSV" in sentence


def test_a_protected_ods_and_another_packed_file(tmp_path):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as parts:
        parts.writestr("content.xml", "x")
        parts.writestr("META-INF/manifest.xml", "<m:encryption-data/>")
    assert "password" in only(tmp_path, packed.getvalue(), "shift.ods")[2]
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as parts:
        parts.writestr("letter.txt", "x")
    assert "no XLSX or ODS workbook" in only(tmp_path, packed.getvalue(), "shift.zip")[2]


@pytest.mark.parametrize(
    ("before", "after", "fact"),
    [
        (b'r="C2"', b'r="XFD1048576"', "row 1048576 and over 16384 columns"),
        (b'<row r="2"', b"<row r = '9999999'", "row 9999999"),
    ],
)
def test_a_workbook_that_would_exhaust_the_machine(tmp_path, before, after, fact):
    content = workbook({"readings": TABLE})
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w") as new:
        for part in old.namelist():
            data = old.read(part)
            assert part != "xl/worksheets/sheet1.xml" or before in data
            new.writestr(part, data.replace(before, after))
    assert fact in only(tmp_path, out.getvalue(), "shift.xlsx")[2]


@pytest.mark.parametrize(
    "told",
    ['office:value-type="float" office:value="1"/>', "><text:p>x</text:p></table:table-cell>"],
)
def test_the_same_of_an_ods_workbook(tmp_path, told):
    cell = f'<table:table-cell table:number-columns-repeated="16384" {told}'
    wide = ods({"readings": [TABLE[0], *[[cell]] * 130]})
    assert "16384 columns" in only(tmp_path, wide, "shift.ods")[2]
