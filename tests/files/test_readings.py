"""A readings file is taken whole, in internal units, from any usual form and encoding."""

import hashlib
import io
from datetime import datetime, timedelta

import pytest
import xlsxwriter
from hypothesis import given
from hypothesis import strategies as st

from canewright.files.readings import (
    Analysis,
    InputRefused,
    ReadingRow,
    ShiftFacts,
    combine,
    read_readings,
)
from canewright.files.writing import write_readings
from tests.files.small_factory import CATALOGUE, PATIENT, ods

LONG = """# Invented readings
point,analysis,value,unit,method,time,note
shift,start,2026-08-14T14:00,,,,
shift,hours,8,h,,,
shift,name,afternoon,,,,
mixed_juice,brix,15.3,%,refractometer,15:00,
mixed_juice,brix,15.1,%,refractometer,2026-08-14T19:00,after the rain
mixed_juice,pol,12.9,,,,"a note, with a comma"
mixed_juice,flow,,t/h,,,
cane,weight,820000,kg,,16:00,
cane,weight,852,t,,22:00,
exhaust,pressure,1.2,bar g,,,
"""


def read(tmp_path, content, name="readings.csv", encoding="utf-8"):
    path = tmp_path / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode(encoding))
    return read_readings(path, CATALOGUE)


def values(taken):
    return [(row.point, row.analysis, row.value) for row in taken.rows]


def workbook(sheets, percent=()):
    """The bytes of an XLSX workbook; cells named in `percent` are shown as percentages."""
    buffer = io.BytesIO()
    with xlsxwriter.Workbook(buffer, {"in_memory": True}) as book:
        shown = book.add_format({"num_format": "0.0%"})
        for title, rows in sheets.items():
            sheet = book.add_worksheet(title)
            for at, row in enumerate(rows):
                for column, cell in enumerate(row):
                    sheet.write(at, column, cell, shown if (at, column) in percent else None)
    return buffer.getvalue()


def test_a_long_file_is_read_in_internal_units_with_its_places(tmp_path):
    taken = read(tmp_path, LONG)
    first = taken.rows[0]
    assert (first.point, first.analysis, first.value, first.unit) == (
        "mixed_juice",
        "brix",
        15.3,
        "%",
    )
    assert (first.row, first.column, first.file) == (6, "value", "readings.csv")
    assert first.method == "refractometer"
    assert first.time == datetime(2026, 8, 14, 15, 0)
    assert taken.rows[1].note == "after the rain"
    assert taken.rows[2].note == "a note, with a comma"
    weight = taken.rows[3]
    assert (weight.value, weight.unit) == (820.0, "t")
    assert (weight.value_as_read, weight.unit_as_read) == (820000.0, "kg")
    pressure = taken.rows[5]
    assert pressure.value == pytest.approx(2.21325, rel=1e-12)  # 1.2 + 1.01325, rounding only
    assert taken.shift == ShiftFacts(datetime(2026, 8, 14, 14), 8.0, "afternoon")
    assert taken.shift.end == datetime(2026, 8, 14, 22)
    assert taken.fingerprint == hashlib.sha256(LONG.encode()).hexdigest()


def test_a_blank_value_is_a_gap_and_not_a_reading(tmp_path):
    assert ("mixed_juice", "flow") not in [row[:2] for row in values(read(tmp_path, LONG))]


def test_columns_come_in_any_order_and_names_in_any_case(tmp_path):
    text = "Value;#no;ANALYSIS;;Point\n15.3;1;Brix;;Mixed juice\n7.1;2;PH;;mixed-juice\n"
    assert values(read(tmp_path, text)) == [
        ("mixed_juice", "brix", 15.3),
        ("mixed_juice", "pH", 7.1),
    ]


def test_a_time_of_day_belongs_to_the_shift_even_after_midnight(tmp_path):
    text = (
        "point,analysis,value,time\nshift,start,2026-08-14 22:00,\n"
        "syrup,brix,60,23:30\nsyrup,brix,61,01:30:30\n"
    )
    times = [row.time for row in read(tmp_path, text).rows]
    assert times == [datetime(2026, 8, 14, 23, 30), datetime(2026, 8, 15, 1, 30, 30)]


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"]
)
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_encodings_and_delimiters_are_found_out(tmp_path, encoding, delimiter):
    lines = ["point,analysis,value,unit,note", "syrup,temperature,61.5,°C,café", "syrup,brix,60,%,"]
    text = "\r\n".join(lines).replace(",", delimiter)
    taken = read(tmp_path, text, encoding=encoding)
    assert values(taken) == [("syrup", "temperature", 61.5), ("syrup", "brix", 60.0)]
    assert taken.rows[0].note == "café"


def test_a_spreadsheet_program_may_name_the_delimiter_itself(tmp_path):
    text = "sep=;\npoint;analysis;value\nsyrup;brix;60\n"
    assert values(read(tmp_path, text)) == [("syrup", "brix", 60.0)]


def test_commas_are_decimal_signs_where_the_whole_file_has_them(tmp_path):
    text = "point;analysis;value\nmixed_juice;brix;15,3\nmixed_juice;pol;12,9\ncane;weight;1 672\n"
    assert [row[2] for row in values(read(tmp_path, text))] == [15.3, 12.9, 1672.0]


WIDE = (
    "time,mixed_juice brix [%],Mixed juice.pol,mixed_juice flow [kg/h],exhaust pressure (kPa g),"
    "note,shift start,shift hours\n"
    "15:00,15.3,12.9,190000,120,,2026-08-14T14:00,8\n"
    "19:00,15.1,,,118,rain,2026-08-14T14:00,\n"
)


def test_a_wide_sheet_is_read_as_the_long_one(tmp_path):
    taken = read(tmp_path, WIDE)
    assert taken.shift == ShiftFacts(datetime(2026, 8, 14, 14), 8.0, "")
    assert [(row.point, row.analysis, row.row) for row in taken.rows] == [
        ("mixed_juice", "brix", 2),
        ("mixed_juice", "pol", 2),
        ("mixed_juice", "flow", 2),
        ("exhaust", "pressure", 2),
        ("mixed_juice", "brix", 3),
        ("exhaust", "pressure", 3),
    ]
    assert taken.rows[2].value == 190.0
    assert taken.rows[2].column == "mixed_juice flow [kg/h]"
    assert taken.rows[4].note == "rain"
    assert taken.rows[4].time == datetime(2026, 8, 14, 19)


def test_raw_readings_of_the_bench_are_analyses_with_a_dot(tmp_path):
    wide = read(tmp_path, "time,mixed_juice.pol.rotation [°Z]\n,45.2\n")
    long = read(tmp_path, "point,analysis,value,unit\nmixed_juice,pol.rotation,45.2,°Z\n")
    assert values(wide) == values(long) == [("mixed_juice", "pol.rotation", 45.2)]


TABLE = [
    ["point", "analysis", "value", "unit"],
    ["mixed_juice", "brix", 15.3, "%"],
    ["cane", "weight", "820000", "kg"],
    ["mixed_juice", "flow", None, "t/h"],
]


def test_an_xlsx_workbook_is_read(tmp_path):
    content = workbook({"cover": [["a title"]], "Readings": [[], ["# invented"], *TABLE]})
    taken = read(tmp_path, content, "shift.xlsx")
    assert values(taken) == [("mixed_juice", "brix", 15.3), ("cane", "weight", 820.0)]
    assert [row.row for row in taken.rows] == [4, 5]


def test_an_ods_workbook_is_read(tmp_path):
    moment = '<table:table-cell office:value-type="date" office:date-value="2026-08-14T15:00:00"/>'
    rows = [[*TABLE[0], "time"], [*TABLE[1], moment], TABLE[2]]
    taken = read(tmp_path, ods({"anything": rows, "notes": [["spare"]]}), "shift.ods")
    assert values(taken) == [("mixed_juice", "brix", 15.3), ("cane", "weight", 820.0)]
    assert taken.rows[0].time == datetime(2026, 8, 14, 15)


def test_the_content_decides_and_not_the_name(tmp_path):
    assert values(read(tmp_path, workbook({"any": TABLE}), "shift.csv"))[0][2] == 15.3
    assert values(read(tmp_path, "point,analysis,value\nsyrup,brix,60\n", "shift.xlsx"))[0][2] == 60


def test_a_percentage_format_on_an_empty_cell_does_no_harm(tmp_path):
    content = workbook({"readings": [*TABLE, ["syrup", "brix", None, "%"]]}, percent={(4, 2)})
    assert len(read(tmp_path, content, "shift.xlsx").rows) == 2


ROWS = (
    ReadingRow.of("mixed_juice", "brix", 15.3, "%", time=datetime(2026, 8, 14, 15, 5), note="=1+1"),
    ReadingRow.of("mixed_juice", "pol", 12.345678901234, "%", method="by polarimeter, as usual"),
    ReadingRow("cane", "weight", 0.82, "t", 820.0, "kg", note='a "quoted" word\nand a second line'),
)
SHIFT = ShiftFacts(datetime(2026, 8, 14, 14), 8.0, "afternoon")


@pytest.mark.parametrize("name", ["out.csv", "out.xlsx"])
def test_what_is_written_is_read_back_unchanged(tmp_path, name):
    path = tmp_path / name
    write_readings(path, ROWS, SHIFT, comments=["Invented.\nPlay with it."])
    taken = read_readings(path, CATALOGUE)
    assert taken.shift == SHIFT

    def kept(row):
        as_read = (row.value_as_read, row.unit_as_read)
        return (row.point, row.analysis, row.value, *as_read, row.method, row.time, row.note)

    assert [kept(row) for row in taken.rows] == [kept(row) for row in ROWS]
    assert [each.name for each in tmp_path.iterdir()] == [name]


def test_a_file_that_cannot_be_written_leaves_the_old_one_whole(tmp_path):
    path = tmp_path / "out.csv"
    write_readings(path, ROWS)
    before = path.read_bytes()
    with pytest.raises(TypeError):
        write_readings(path, [*ROWS, ReadingRow("cane", "weight", 1.0, "t", [], "t")])
    assert path.read_bytes() == before
    with pytest.raises(ValueError, match=r"\.csv or \.xlsx"):
        write_readings(tmp_path / "out.ods", ROWS)


finite = st.floats(0, 100).map(lambda value: value + 0.0)  # no negative zero
texts = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), max_size=12)


@PATIENT
@given(value=finite, note=texts, hour=st.integers(0, 200))
def test_any_number_and_note_survives_the_round_trip(tmp_path_factory, value, note, hour):
    moment = datetime(2026, 8, 14) + timedelta(hours=hour)
    path = tmp_path_factory.mktemp("round") / "out.csv"
    write_readings(path, [ReadingRow.of("syrup", "brix", value, "%", time=moment, note=note)])
    (row,) = read_readings(path, CATALOGUE).rows
    assert (row.value, row.time, row.note) == (value, moment, note)


def test_concentrations_are_averaged_and_totals_added(tmp_path):
    combined = {
        (each.point, each.analysis): each for each in combine(read(tmp_path, LONG).rows, CATALOGUE)
    }
    brix = combined["mixed_juice", "brix"]
    assert brix.value == pytest.approx(15.2, rel=1e-12)  # mean of 15.3 and 15.1, rounding only
    assert (brix.count, brix.unit, len(brix.rows)) == (2, "%", 2)
    assert combined["cane", "weight"].value == pytest.approx(1672.0, rel=1e-12)  # 820 + 852


def test_what_exists_once_a_shift_is_not_combined():
    rows = [ReadingRow.of("syrup_tank", "level", value, "%") for value in (40.0, 60.0)]
    with pytest.raises(InputRefused, match="level of syrup_tank is read 2 times"):
        combine(rows, CATALOGUE)


def test_an_analysis_without_limits_takes_any_number():
    assert Analysis("t").low < -1e300
    assert Analysis("t").high > 1e300
