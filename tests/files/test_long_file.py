"""One file of many shifts is parted into its shifts, and a bad one does not take the rest."""

import pytest

from canewright.files.long_file import parted, read_shifts
from canewright.files.problems import InputRefused
from canewright.files.rows import Analysis
from canewright.files.season_folder import read_season
from canewright.files.tables import read_tables

LONG = """point,analysis,value,unit
shift,name,first
shift,start,2026-07-06T06:00
shift,hours,8
cane,weight,1600,t
syrup,brix,61,%
shift,hours,7
shift,start,2026-07-06T14:00
cane,weight,1400,t
shift,start,2026-07-06T21:00
cane,wieght,1500,t
shift,start,2026-07-07T06:00
cane,weight,1550,t
"""
WIDE = """time,shift start,shift hours,cane weight [t],syrup brix [%]
2026-07-06T10:00,2026-07-06T06:00,8,1600,61
2026-07-06T14:00,,,,62
2026-07-06T18:00,2026-07-06T14:00,8,1500,60
"""


class Small:
    """A factory in which two things are read."""

    def points(self):
        return ("cane", "syrup")

    def analyses(self, point):
        if point == "cane":
            return {"weight": Analysis("t", 0.0, 1e5, "sum")}
        return {"brix": Analysis("%", 0.0, 100.0)}


def written(folder, text, name="long.csv"):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_each_start_begins_a_shift_with_the_facts_above_it(tmp_path):
    found = dict(read_shifts(written(tmp_path, LONG), Small()))
    assert len(found) == 4
    first, second, third, fourth = found.values()
    assert (first.shift.name, first.shift.hours, len(first.rows)) == ("first", 8, 2)
    assert (second.shift.hours, [row.value for row in second.rows]) == (7, [1400])
    assert isinstance(third, InputRefused)
    assert "wieght" in str(third)
    assert [row.value for row in fourth.rows] == [1550]
    assert fourth.rows[0].row == 13  # as a person counts the rows of the file
    assert "rows 7 to 9" in list(found)[1]


def test_a_wide_sheet_is_parted_where_its_start_changes(tmp_path):
    found = [shift for _, shift in read_shifts(written(tmp_path, WIDE), Small())]
    assert [len(shift.rows) for shift in found] == [3, 2]
    assert [f"{shift.shift.start:%H}" for shift in found] == ["06", "14"]


def test_a_file_of_one_shift_is_left_as_it_is(tmp_path):
    path = written(tmp_path, LONG.split("shift,hours,7", maxsplit=1)[0])
    tables = read_tables(path)
    assert parted(tables) == [tables]


def test_a_shift_keeps_its_fingerprint_when_others_change(tmp_path):
    def prints(text):
        return [part.fingerprint for part in parted(read_tables(written(tmp_path, text)))]

    before, after = prints(LONG), prints(LONG.replace("1400", "1401"))
    assert [a == b for a, b in zip(after, before, strict=True)] == [True, False, True, True]


def test_a_season_takes_what_holds_and_says_what_does_not(tmp_path):
    paths = [written(tmp_path, LONG), written(tmp_path, "no readings\n", "other.csv")]
    season = read_season(paths, Small(), 8.0)
    assert [shift.shift.start.hour for shift in season.shifts] == [6, 14, 6]
    left = {item.file: " ".join(item.sentences) for item in season.left}
    assert "wieght" in left["long.csv (rows 10 to 11)"]
    assert "no header" in left["other.csv"]


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("shift,start,2026-07-06T06:00\ncane,weight,1600,t\n", "is the same shift"),
        ("shift,start,2026-07-06T09:00\ncane,weight,1600,t\n", "before the shift of"),
    ],
)
def test_shifts_that_come_twice_or_overlap_are_left_out_and_said(tmp_path, more, said):
    season = read_season([written(tmp_path, LONG + more)], Small(), 8.0)
    assert any(said in sentence for item in season.left for sentence in item.sentences)
    assert any("not in the order of their starts" in note for note in season.notes)
    assert len(season.shifts) == 3
