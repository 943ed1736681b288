"""The page of the laboratory: what it shows is taken, and makes what it says."""

import pytest

from canewright.account.remarks import remarks
from canewright.cli.new_command import starter
from canewright.engine.equations.model import compile
from canewright.engine.equations.points import Points
from canewright.files.catalogue import FactoryCatalogue
from canewright.files.check_records import read_check_file
from canewright.files.factory import read_text
from canewright.files.readings import combine_all, read_readings
from canewright.files.table_files import read_table
from canewright.laboratory.specifications import read_specification
from tests.test_docs import snippets


@pytest.fixture(scope="module")
def sheet(tmp_path_factory):
    path = tmp_path_factory.mktemp("page") / "bench.csv"
    path.write_text(snippets("laboratory.md", "csv")[0], encoding="utf-8")
    factory = read_text(starter().decode())
    catalogue = FactoryCatalogue(Points(compile(factory)))
    taken = read_readings(path, catalogue)
    readings, beside = combine_all(taken.rows, catalogue)
    told = remarks(factory, [*readings, *beside], taken.rows, taken.shift)
    return {f"{one.point} {one.analysis}": one for one in (*readings, *beside)}, beside, told


def test_the_bench_sheet_of_the_page_is_worked(sheet):
    found, beside, _ = sheet
    assert [one.analysis for one in beside] == ["acidity", "mud_volume"]
    assert found["mixed_juice mud_volume"].value == pytest.approx(20.0)  # 80 of 400 mm
    assert found["syrup brix"].value == 61.2  # the second bottle does not count
    # Weighed 1 to 2: (50.50 + 2 x 49.04)/3 by hand, from the weighings on the page.
    first, second = (1500.0 - 1005.0) / 10, 100 * (1498.9 - 1008.1) / (1498.9 - 498.2)
    assert found["bagasse moisture"].value == pytest.approx((first + 2 * second) / 3)
    # 701 mg/L of CaO [laboratory reference, section 5] on the juice's Brix.
    assert found["clear_juice lime"].value > 0
    one, other = found["mixed_juice brix"].bench.determinations[:2]
    assert (one.time, one.worked.value) != (other.time, other.worked.value)


def test_the_bench_sheet_of_the_page_is_remarked(sheet):
    kinds = [remark.kind for remark in sheet[2]]
    assert kinds.count("excluded") == 1
    assert kinds.count("late") == 1


def test_the_record_of_checks_on_the_page_is_taken(tmp_path):
    path = tmp_path / "refractometer.csv"
    path.write_text(snippets("laboratory.md", "csv")[1], encoding="utf-8")
    assert read_check_file(path).values == (20.02, 20.05, 20.04)


def test_the_specification_on_the_page_is_taken(tmp_path):
    path = tmp_path / "own.toml"
    path.write_text(snippets("laboratory.md", "toml")[0], encoding="utf-8")
    assert read_specification(path).limits[0].at_most == 100


def test_the_table_on_the_page_is_taken(tmp_path):
    path = tmp_path / "spindle.toml"
    path.write_text(snippets("laboratory.md", "toml")[1], encoding="utf-8")
    assert read_table(path).at(25.0, 15.0) == 0.34
