"""A report as a workbook: one sheet a table, numbers as numbers, ready to print."""

from __future__ import annotations

import io
import re
from datetime import datetime
from importlib import import_module
from typing import Any

from canewright.report.content import Cell, Moment, Number, Report, Row, Table, Text
from canewright.report.pdf import for_page
from canewright.report.same_again import canonical, carried

PIECE = 30000
"""Characters of the carried data in a cell; a cell takes 32,767."""
DATA_SHEET = "report data"
LONGEST_NAME = 31
PAPER_A4 = 9
WIDEST = 60


def as_workbook(report: Report) -> bytes:
    """The report as a workbook; its data are in a hidden sheet."""
    file = io.BytesIO()
    module: Any = import_module("xlsxwriter")
    book = module.Workbook(file, {"in_memory": True})
    moment = report.dated or datetime(2000, 1, 1)
    book.set_properties(
        {
            "title": f"{report.title}, {report.factory}",
            "comments": f"canewright {report.made_with['canewright']}",
            "created": moment.replace(tzinfo=None),
        }
    )
    writer = _Writer(book, report)
    writer.summary()
    for table in report.tables:
        writer.table(table)
    writer.definitions()
    writer.data()
    book.close()
    return file.getvalue()


class _Writer:
    def __init__(self, book: Any, report: Report) -> None:
        self.book, self.report = book, report
        self.data_carried = carried(report)
        self.page = for_page(report, self.data_carried)
        self.names: set[str] = {DATA_SHEET}
        self.bold = book.add_format({"bold": True})
        self.title = book.add_format({"bold": True, "font_size": 14})
        self.heading = book.add_format(
            {"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"}
        )
        self.right = book.add_format(
            {"bold": True, "bottom": 1, "align": "right", "text_wrap": True, "valign": "top"}
        )
        self.wrapped = book.add_format({"text_wrap": True, "valign": "top"})
        self.boxed = book.add_format({"bold": True, "border": 1, "text_wrap": True})
        self._formats: dict[tuple[str, str, int], Any] = {}

    def _sheet(self, name: str, columns: int, *, landscape: bool = False) -> Any:
        clean = re.sub(r"[\[\]:*?/\\']", " ", name).strip()[:LONGEST_NAME] or "table"
        unique, count = clean, 2
        while unique.lower() in {used.lower() for used in self.names}:
            unique = f"{clean[: LONGEST_NAME - 3]} {count}"
            count += 1
        self.names.add(unique)
        sheet = self.book.add_worksheet(unique)
        sheet.set_paper(PAPER_A4)
        sheet.set_margins(left=0.7, right=0.6, top=0.8, bottom=0.8)
        sheet.fit_to_pages(1, 0)
        if landscape or columns > 7:
            sheet.set_landscape()
        words = self.report.words
        warned = f"&C{words['invented']}" if self.report.invented else ""
        sheet.set_header(f"&L{_plain(self.report.title)}{warned}"[:255])
        sheet.set_footer(
            f"&L{words['fingerprint']} {self.page['short']}&R{words['page']} &P {words['of']} &N"[
                :255
            ]
        )
        return sheet

    def _number(self, cell: Number, style: str) -> Any:
        key = ("number", style, cell.decimals)
        if key not in self._formats:
            form = "#,##0" + ("." + "0" * cell.decimals if cell.decimals else "")
            self._formats[key] = self.book.add_format(
                {"num_format": form, "bold": style == "total", "top": int(style == "total")}
            )
        return self._formats[key]

    def _text(self, style: str, level: int, *, right: bool = False) -> Any:
        key = ("right" if right else "text", style, level)
        if key not in self._formats:
            self._formats[key] = self.book.add_format(
                {
                    "bold": style != "plain",
                    "indent": level,
                    "top": int(style == "total"),
                    "align": "right" if right else "left",
                }
            )
        return self._formats[key]

    def summary(self) -> None:
        """The first sheet: head, findings, cautions, files, signatures."""
        report, words = self.report, self.report.words
        sheet = self._sheet(report.title, 2)
        sheet.set_column(0, 0, 24)
        sheet.set_column(1, 1, 90)
        at = 0

        def put(label: str, text: str, form: Any = None) -> None:
            nonlocal at
            sheet.write_string(at, 0, label, self.bold)
            sheet.write_string(at, 1, text, form or self.wrapped)
            at += 1

        head = report.letterhead
        if head.name:
            put("", ", ".join([head.name, *head.lines]))
        put("", report.title, self.title)
        if report.invented:
            put("", words["invented"], self.boxed)
        put("", report.factory, self.bold)
        put("", ", ".join(report.facts))
        for section in report.sections:
            texts = [block for block in section.blocks if isinstance(block, Text)]
            if texts:
                at += 1
                put(section.title, "")
            for text in texts:
                put(text.label, text.text)
        at += 1
        for caution in report.cautions:
            put(words["cautions"], caution)
        at += 1
        for line in (*self.page["files"], self.page["engine"]):
            put(words["same_again"], line)
        put(words["fingerprint"], self.data_carried["fingerprint"])
        put("", words["verify"])
        for name in head.signatures:
            at += 2
            put(name, f"{'_' * 40}  {words['name_and_date']}")

    def table(self, table: Table) -> None:
        """One table on a sheet of its own."""
        sheet = self._sheet(table.title or table.key, len(table.columns))
        for place, column in enumerate(table.columns):
            form = self.right if column.kind == "number" else self.heading
            sheet.write_string(0, place, column.heading or column.key.replace("_", " "), form)
            sheet.set_column(place, place, self._width(table, place))
        sheet.freeze_panes(1, 1)
        sheet.repeat_rows(0)
        for number, row in enumerate(table.rows, start=1):
            self._row(sheet, number, row, table)
        after = len(table.rows) + 1
        if not table.rows:
            sheet.write_string(1, 0, table.empty)
        for note in table.notes:
            after += 1
            sheet.write_string(after, 0, note)

    def _row(self, sheet: Any, number: int, row: Row, table: Table) -> None:
        for place, cell in enumerate(row.cells):
            if isinstance(cell, Number) and cell.value is not None:
                sheet.write_number(number, place, cell.value, self._number(cell, row.style))
            elif isinstance(cell, Moment):
                form = self.book.add_format({"num_format": "yyyy-mm-dd hh:mm", "align": "left"})
                sheet.write_datetime(number, place, cell.value.replace(tzinfo=None), form)
            else:
                text = _shown(cell)
                right = table.columns[place].kind == "number"
                if text or row.style == "total":
                    form = self._text(row.style, row.level if place == 0 else 0, right=right)
                    sheet.write_string(number, place, text, form)

    def _width(self, table: Table, place: int) -> int:
        longest = max(
            (len(_shown(row.cells[place])) + 2 * row.level for row in table.rows), default=8
        )
        return min(max(longest + 2, len(table.columns[place].heading) // 2 + 4, 9), WIDEST)

    def definitions(self) -> None:
        """Definitions of the figures and the list of sources."""
        report, words = self.report, self.report.words
        if report.definitions:
            sheet = self._sheet(words["definitions"], 5, landscape=True)
            for place, (name, width) in enumerate(
                (
                    (words["figure"], 36),
                    (words["unit"], 18),
                    (words["definition"], 60),
                    (words["formula"], 50),
                    (words["source"], 8),
                )
            ):
                sheet.write_string(0, place, name, self.heading)
                sheet.set_column(place, place, width)
            sheet.freeze_panes(1, 1)
            sheet.repeat_rows(0)
            for number, item in enumerate(report.definitions, start=1):
                source = ", ".join(str(n) for n in item.sources)
                cells = (item.label, item.unit, item.text, item.formula, source)
                for place, text in enumerate(cells):
                    sheet.write_string(number, place, text, self.wrapped)
        if report.sources:
            sheet = self._sheet(words["sources"], 3, landscape=True)
            for place, (name, width) in enumerate(
                ((words["number"], 8), (words["source"], 100), (words["known"], 40))
            ):
                sheet.write_string(0, place, name, self.heading)
                sheet.set_column(place, place, width)
            sheet.freeze_panes(1, 0)
            for number, cited in enumerate(report.sources, start=1):
                sheet.write_number(number, 0, cited.number)
                sheet.write_string(number, 1, cited.text, self.wrapped)
                sheet.write_string(number, 2, cited.known, self.wrapped)

    def data(self) -> None:
        """What the report carries, in pieces, on a hidden sheet."""
        sheet = self.book.add_worksheet(DATA_SHEET)
        text = canonical(self.data_carried)
        for number, start in enumerate(range(0, len(text), PIECE)):
            sheet.write_string(number, 0, text[start : start + PIECE])
        sheet.hide()


def _shown(cell: Cell) -> str:
    if isinstance(cell, Number):
        return cell.text
    if isinstance(cell, Moment):
        return f"{cell.value:%Y-%m-%d %H:%M}"
    return cell or ""


def _plain(text: str) -> str:
    return text.replace("&", "&&")
