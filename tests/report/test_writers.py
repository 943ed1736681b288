"""Paper, workbook, page and values say the same: what the one content says."""

import csv
import io
import json
import re
from html.parser import HTMLParser

import pytest
from pypdf import PdfReader
from python_calamine import CalamineWorkbook

from canewright.report.content import Number, Section, Table, cell_text
from canewright.report.page import as_page
from canewright.report.pdf import as_pdf
from canewright.report.same_again import canonical, carried
from canewright.report.separated import as_separated
from canewright.report.workbook import DATA_SHEET, as_workbook
from canewright.report.writers import NotWritten, write_report

KINDS = ("shift", "balance", "laboratory")
EXACT = 1e-8
"""Numbers are kept to nine significant digits."""


def squeezed(text):
    """Text without spaces and line breaks, which paper puts where it likes."""
    return re.sub(r"\s|\N{NO-BREAK SPACE}|\N{SOFT HYPHEN}|-\n", "", text)


def printed(pdf):
    reader = PdfReader(io.BytesIO(pdf))
    return [page.extract_text() for page in reader.pages]


@pytest.fixture(scope="module")
def pages_of(report_of):
    """The text of the pages of a kind of report."""
    known = {}

    def pages(kind):
        if kind not in known:
            known[kind] = printed(as_pdf(report_of(kind)))
        return known[kind]

    return pages


@pytest.mark.parametrize("kind", KINDS)
def test_every_number_of_the_data_stands_on_the_paper(report_of, pages_of, kind):
    report = report_of(kind)
    text = squeezed("".join(pages_of(kind)))
    missing = [
        cell_text(cell)
        for table in report.tables
        for row in table.rows
        for cell in row.cells
        if squeezed(cell_text(cell)) not in text
    ]
    assert not missing


@pytest.mark.parametrize("kind", KINDS)
def test_rows_stand_on_the_paper_as_rows(report_of, pages_of, kind):
    report = report_of(kind)
    lines = {squeezed(line) for page in pages_of(kind) for line in page.splitlines()}
    text = "\n".join(lines)
    rows = [row for table in report.tables for row in table.rows if row.style == "plain"]
    found = sum(squeezed("".join(cell_text(cell) for cell in row.cells)) in text for row in rows)
    # Rows whose words wrap in a narrow column are parted in the text of the page.
    assert found > 0.8 * len(rows)


@pytest.mark.parametrize("kind", KINDS)
def test_invented_stands_on_every_page_and_pages_are_numbered(report_of, pages_of, kind):
    report = report_of(kind)
    pages = pages_of(kind)
    for number, page in enumerate(pages, start=1):
        assert squeezed(report.words["invented"]) in squeezed(page)
        assert squeezed(f"page {number} of {len(pages)}") in squeezed(page)


def test_a_real_factory_is_not_called_invented(report_of):
    report = report_of("shift", invented=False)
    assert squeezed(report.words["invented"]) not in squeezed("".join(printed(as_pdf(report))))
    assert b'class="invented"' not in as_page(report)


def test_head_cautions_sources_and_signatures_stand_on_the_paper(report_of, pages_of):
    report = report_of("shift")
    text = squeezed("".join(pages_of("shift")))
    wanted = [*report.letterhead.lines, *report.letterhead.signatures, *report.cautions]
    wanted += [source.text for source in report.sources]
    wanted += [carried(report)["fingerprint"], report.letterhead.document]
    for words in wanted:
        assert squeezed(words) in text


def test_the_paper_is_a4_and_the_same_each_time(report_of):
    report = report_of("shift")
    pdf = as_pdf(report)
    assert as_pdf(report) == pdf
    box = PdfReader(io.BytesIO(pdf)).pages[0].mediabox
    # ISO 216: A4 is 210 mm x 297 mm; a PDF point is 1/72 inch; half a point is 0.2 mm.
    assert float(box.width) == pytest.approx(210 / 25.4 * 72, abs=0.5)
    assert float(box.height) == pytest.approx(297 / 25.4 * 72, abs=0.5)


def test_the_data_are_attached_to_the_paper(report_of):
    report = report_of("shift")
    attached = PdfReader(io.BytesIO(as_pdf(report))).attachments["report.json"][0]
    assert attached.decode() == canonical(carried(report))


@pytest.mark.parametrize("kind", KINDS)
def test_the_workbook_holds_numbers_as_numbers(report_of, kind):
    report = report_of(kind)
    book = CalamineWorkbook.from_filelike(io.BytesIO(as_workbook(report)))
    sheets = [name for name in book.sheet_names if name != DATA_SHEET]
    for table, name in zip(report.tables, sheets[1:], strict=False):
        rows = book.get_sheet_by_name(name).to_python(skip_empty_area=False)
        headings = [column.heading or column.key.replace("_", " ") for column in table.columns]
        assert rows[0][: len(headings)] == headings
        for row, read in zip(table.rows, rows[1:], strict=False):
            for cell, value in zip(row.cells, read, strict=False):
                if isinstance(cell, Number) and cell.value is not None:
                    assert isinstance(value, int | float)
                    assert value == pytest.approx(cell.value, rel=EXACT)
                else:
                    assert value == cell_text(cell)


def test_the_workbook_has_a_sheet_for_each_table_and_a_hidden_one_for_the_data(report_of):
    report = report_of("balance")
    book = CalamineWorkbook.from_filelike(io.BytesIO(as_workbook(report)))
    visible = [s.name for s in book.sheets_metadata if str(s.visible).endswith("Visible")]
    hidden = [s.name for s in book.sheets_metadata if s.name not in visible]
    assert hidden == [DATA_SHEET]
    assert len(visible) >= 1 + len(report.tables)


@pytest.mark.parametrize("kind", KINDS)
def test_separated_values_are_the_numbers_in_full(report_of, kind):
    report = report_of(kind)
    files = as_separated(report)
    for table in report.tables:
        read = list(csv.reader(io.StringIO(files[f"{table.key}.csv"].decode("utf-8-sig"))))
        assert read[0] == ["under", "level", *[column.key for column in table.columns]]
        rows = [row for row in table.rows if row.style != "group"]
        assert len(read) == 1 + len(rows)
        for row, values in zip(rows, read[1:], strict=True):
            for cell, value in zip(row.cells, values[2:], strict=True):
                if isinstance(cell, Number) and cell.value is not None:
                    assert float(value) == cell.value
                else:
                    assert value == cell_text(cell)
    assert json.loads(files["report.json"]) == json.loads(canonical(carried(report)))


class Fetches(HTMLParser):
    """Collects whatever a page would fetch, and all of its text."""

    FETCHING = ("src", "href", "data", "action", "poster", "srcset", "xlink:href")

    def __init__(self):
        super().__init__()
        self.fetched, self.text, self.tags = [], [], []

    def handle_starttag(self, tag, attributes):
        self.tags.append(tag)
        self.fetched += [value for name, value in attributes if name in self.FETCHING]
        styles = [value for name, value in attributes if name == "style"]
        self.fetched += [style for style in styles if "url(" in style]

    def handle_data(self, data):
        self.text.append(data)


@pytest.mark.parametrize("kind", KINDS)
def test_the_page_fetches_nothing_and_says_the_same(report_of, kind):
    report = report_of(kind)
    page = as_page(report).decode()
    parser = Fetches()
    parser.feed(page)
    assert parser.fetched == []
    assert "url(" not in page
    assert "@import" not in page
    assert not {"link", "img", "iframe", "object", "embed"} & set(parser.tags)
    text = squeezed("".join(parser.text))
    for table in report.tables:
        for row in table.rows:
            for cell in row.cells:
                assert squeezed(cell_text(cell)) in text


def test_words_of_a_file_cannot_become_tags(report_of):
    name = '<script src="http://example.org/x.js"></script> & Sons'
    page = as_page(report_of("shift", factory=name)).decode()
    parser = Fetches()
    parser.feed(page)
    assert parser.fetched == []
    assert "&lt;script src=" in page


def test_a_long_name_and_an_empty_table_do_not_break_the_paper(report_of):
    base = report_of("shift")
    empty = Table(
        "none", "Nothing here", base.tables[0].columns, (), (), "There is nothing to say."
    )
    report = report_of(
        "shift",
        factory="The Very Long Named " * 20 + "Factory #1 [of] *two* $x$ \\ <b>",
        sections=(*base.sections, Section("", (empty,))),
    )
    text = squeezed("".join(printed(as_pdf(report))))
    assert squeezed("Factory #1 [of] *two* $x$ \\ <b>") in text
    assert squeezed("There is nothing to say.") in text
    assert b"There is nothing to say." in as_page(report)
    assert as_workbook(report)


def test_a_folder_that_takes_nothing_is_a_sentence_and_leaves_nothing(
    report_of, tmp_path, monkeypatch
):
    old = tmp_path / "shift.pdf"
    old.write_bytes(b"as it was")

    def full(descriptor):
        raise OSError(28, "No space left on device", str(old))

    monkeypatch.setattr("canewright.files.writing.os.fsync", full)
    with pytest.raises(NotWritten, match=r"shift\.pdf could not be written .No space left"):
        write_report(report_of("shift"), {"pdf": old})
    assert [path.name for path in tmp_path.iterdir()] == ["shift.pdf"]
    assert old.read_bytes() == b"as it was"
