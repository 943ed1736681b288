"""Whatever the bytes of a file, the reader takes it or refuses it; it never breaks."""

import csv
import io
import zipfile

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from canewright.files.readings import InputRefused, ReadingsFile, combine, read_readings
from tests.files.small_factory import CATALOGUE, PATIENT, ods
from tests.files.test_readings import LONG, TABLE, WIDE, workbook

WORKBOOKS = {
    "xlsx": workbook({"readings": TABLE, "b": [["x"]]}, percent={(1, 3)}),
    "ods": ods({"readings": TABLE, "b": [["x"]]}),
}


def take(folder, content):
    """Read a file of these bytes; anything but a result or a refusal fails the test."""
    path = folder / "any.bin"
    path.write_bytes(content)
    taken = taken_or_refused(path)
    if isinstance(taken, InputRefused):
        assert taken.problems
        assert all(each.what and each.remedy and str(each) for each in taken.problems)
        return
    assert isinstance(taken, ReadingsFile)
    assert taken.rows
    for row in taken.rows:
        known = CATALOGUE.analyses(row.point)[row.analysis]
        assert row.unit == known.unit
        assert known.low <= row.value <= known.high
    assert combine(taken.rows, CATALOGUE)


def taken_or_refused(path):
    try:
        return read_readings(path, CATALOGUE)
    except InputRefused as refusal:
        return refusal


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("any")


@PATIENT
@given(content=st.binary(max_size=400))
@example(b"\xff\xfe\x00")
@example(b"\xff\xfe\x00\x00abc")
@example(b"PK")
@example(b"#\n#\n")
@example(b'"')
@example(b"sep=;")
def test_any_bytes(folder, content):
    take(folder, content)


@PATIENT
@given(content=st.text(max_size=300), encoding=st.sampled_from(["utf-8", "utf-16", "utf-32"]))
def test_any_text(folder, content, encoding):
    take(folder, content.encode(encoding, errors="replace"))


words = st.sampled_from(
    [
        "point", "analysis", "value", "unit", "time", "note", "method", "#no", "shift", "start",
        "hours", "name", "mixed_juice", "Mixed Juice", "syrup", "brix", "pol", "pol.rotation",
        "flow", "%", "t/h", "kg/h", "bar g", "11,93", "15.3", "1 234.5", "-1", "1e999", "nan",
        "2026-08-14T14:00", "14:00", "9999-12-31T23:59:59.9", "0001-01-01 00:00", "#REF!", "",
        "syrup brix [%]", "mixed_juice.pol (%)", "]", "[", ")", "\u00b2", "\u0660", "１5",
    ]
)  # fmt: skip
cells = st.one_of(words, words, words, st.text(max_size=8))
rows = st.lists(st.lists(cells, max_size=7), max_size=8)
headers = st.sampled_from(
    [
        ["point", "analysis", "value", "unit", "time", "note"],
        ["point", "analysis", "value"],
        ["time", "syrup brix [%]", "syrup pol", "shift start", "shift hours", "note"],
    ]
)


@PATIENT
@given(header=headers, body=rows, delimiter=st.sampled_from([",", ";", "\t"]))
def test_any_table_as_text(folder, header, body, delimiter):
    text = io.StringIO()
    csv.writer(text, delimiter=delimiter).writerows([header, *body])
    take(folder, text.getvalue().encode("utf-8", errors="replace"))


@PATIENT
@given(point=words, analysis=words, value=words, unit=words, time=words)
def test_any_words_in_one_line(folder, point, analysis, value, unit, time):
    text = io.StringIO()
    csv.writer(text).writerows(
        [["point", "analysis", "value", "unit", "time"], [point, analysis, value, unit, time]]
    )
    take(folder, text.getvalue().encode("utf-8"))


number = st.floats(allow_nan=False, allow_infinity=False)
workbook_cells = st.one_of(st.none(), st.booleans(), number, words)


@settings(PATIENT, max_examples=40)
@given(header=headers, body=st.lists(st.lists(workbook_cells, max_size=6), max_size=5))
def test_any_table_as_a_workbook(folder, header, body):
    take(folder, workbook({"readings": [header, *body]}))


digits = st.integers(0, 10**7).map(lambda number: str(number).encode())


@pytest.mark.parametrize("kind", WORKBOOKS)
@settings(PATIENT, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_a_workbook_with_damaged_bytes(folder, kind, data):
    content = bytearray(WORKBOOKS[kind])
    places = st.integers(0, len(content) - 1)
    for at, byte in data.draw(st.lists(st.tuples(places, st.integers(0, 255)), max_size=12)):
        content[at] = byte
    cut = data.draw(st.one_of(st.just(len(content)), places))
    take(folder, bytes(content[:cut]))


@pytest.mark.parametrize("kind", WORKBOOKS)
@settings(PATIENT, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_a_workbook_with_damaged_parts(folder, kind, data):
    with zipfile.ZipFile(io.BytesIO(WORKBOOKS[kind])) as good:
        parts = {name: bytearray(good.read(name)) for name in good.namelist()}
    for name in data.draw(st.lists(st.sampled_from(sorted(parts)), max_size=6)):
        at = data.draw(st.integers(0, len(parts[name])))
        length = data.draw(st.integers(0, 30))
        parts[name][at : at + length] = data.draw(st.one_of(st.binary(max_size=4), digits))
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as bad:
        for name, content in parts.items():
            bad.writestr(name, bytes(content))
    take(folder, packed.getvalue())


@pytest.mark.parametrize("text", [LONG, WIDE])
@PATIENT
@given(data=st.data())
def test_a_good_file_with_one_sign_changed(folder, text, data):
    at = data.draw(st.integers(0, len(text) - 1))
    sign = data.draw(st.characters(codec="utf-8"))
    take(folder, (text[:at] + sign + text[at + 1 :]).encode())


@pytest.mark.parametrize("sign", ["9", ",", " ", "[", "(", ".", '"', "9,", "9 "])
def test_a_very_long_cell_takes_no_long_time(folder, sign):
    cell = (sign * 100_000)[:100_000].replace('"', '""')
    take(folder, f'point,analysis,value,unit,time\n"{cell}",brix,60,%,\n'.encode())
    take(
        folder, f'point,analysis,value,unit,time\nsyrup,brix,"{cell}","{cell}","{cell}"\n'.encode()
    )
    take(folder, f'time,"syrup brix {cell}"\n,60\n'.encode())
    take(folder, f'point;analysis;value\nsyrup;brix;"{cell}"\n'.encode())
