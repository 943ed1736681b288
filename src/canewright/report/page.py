"""A report as one page for a browser, with nothing fetched from anywhere."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from importlib import resources

from canewright.report.citations import mark
from canewright.report.content import Picture, Report, Row, Table, Text, cell_text
from canewright.report.pdf import for_page
from canewright.report.same_again import canonical, carried

DATA = '<script type="application/json" id="report-data">'
END = "</script>"


def as_page(report: Report) -> bytes:
    """The report as HTML; its data are in it as JSON."""
    data = carried(report)
    page = for_page(report, data)
    words, head = report.words, report.letterhead
    parts: list[str] = []
    if report.invented:
        parts.append(f'<p class="invented">{escape(words["invented"])}</p>')
    if head.name:
        lines = "<br>".join(escape(line) for line in head.lines)
        parts.append(
            f'<div class="letterhead"><strong>{escape(head.name)}</strong>'
            f"<span>{lines}</span></div>"
        )
    parts.append(f"<h1>{escape(report.title)}</h1>")
    parts.append(f"<p><strong>{escape(report.factory)}</strong><br>")
    parts.append(f"{escape(', '.join(report.facts))}</p>")
    for section in report.sections:
        if section.title:
            parts.append(f"<h2>{escape(section.title)}</h2>")
        for block in section.blocks:
            if isinstance(block, Text):
                parts.append(_text(block))
            elif isinstance(block, Table):
                parts.append(_table(block))
            else:
                parts.append(_picture(block))
    parts += _ending(report, page)
    body = "\n".join(parts)
    title = escape(f"{report.title}, {report.factory}")
    style = resources.files("canewright.report").joinpath("page.css").read_text(encoding="utf-8")
    carried_text = canonical(data).replace("<", "\\u003c")
    return (
        f'<!DOCTYPE html>\n<html lang="{escape(page["lang"])}">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}</title>\n<style>\n{style}</style>\n</head>\n<body>\n{body}\n"
        f"{DATA}{carried_text}{END}\n</body>\n</html>\n"
    ).encode()


def _text(block: Text) -> str:
    if not block.label:
        kind = ' class="small"' if block.weight == "small" else ""
        return f"<p{kind}>{escape(block.text)}</p>"
    return f'<dl class="said"><dt>{escape(block.label)}</dt><dd>{escape(block.text)}</dd></dl>'


def _row(row: Row, table: Table) -> str:
    if row.style == "group":
        text, count = escape(cell_text(row.cells[0])), len(table.columns)
        return f'<tr class="group"><th colspan="{count}" scope="colgroup">{text}</th></tr>'
    cells = []
    for place, (cell, column) in enumerate(zip(row.cells, table.columns, strict=True)):
        kind = "number" if column.kind == "number" else ""
        if place == 0:
            kind = f"{kind} level{row.level}".strip() if row.level else kind
            cells.append(_cell("th", cell_text(cell), kind, ' scope="row"'))
        else:
            cells.append(_cell("td", cell_text(cell), kind))
    kind = ' class="total"' if row.style == "total" else ""
    return f"<tr{kind}>{''.join(cells)}</tr>"


def _cell(name: str, text: str, kind: str, more: str = "") -> str:
    said = f' class="{kind}"' if kind else ""
    return f"<{name}{said}{more}>{escape(text)}</{name}>"


def _table(table: Table) -> str:
    notes = "".join(f'<p class="note">{escape(note)}</p>' for note in table.notes)
    if not table.rows:
        title = f"<h2>{escape(table.title)}</h2>" if table.title else ""
        return f"{title}<p><em>{escape(table.empty)}</em></p>{notes}"
    heads = "".join(
        _cell("th", c.heading, "number" if c.kind == "number" else "", ' scope="col"')
        for c in table.columns
    )
    rows = "\n".join(_row(row, table) for row in table.rows)
    return (
        f'<div class="wide"><table><caption>{escape(table.title)}</caption>\n'
        f"<thead><tr>{heads}</tr></thead>\n<tbody>\n{rows}\n</tbody></table></div>\n{notes}"
    )


def _picture(picture: Picture) -> str:
    kind = "" if picture.whole_page else ' class="narrow"'
    return (
        f"<figure{kind}><h2>{escape(picture.title)}</h2>\n{picture.svg}\n"
        f'<figcaption class="note">{escape(picture.note)} {escape(picture.words)}</figcaption>'
        f"</figure>"
    )


def _ending(report: Report, page: dict[str, object]) -> list[str]:
    words = report.words
    parts: list[str] = []
    if report.definitions:
        parts.append(f"<h2>{escape(words['definitions'])}</h2><table><tbody>")
        for item in report.definitions:
            unit = f", {escape(item.unit)}" if item.unit else ""
            parts.append(
                f"<tr><th scope='row'><strong>{escape(item.label)}</strong>{unit}</th>"
                f"<td>{escape(item.text)}</td><td><em>{escape(item.formula)}</em></td>"
                f"<td>{mark(item.sources)}</td></tr>"
            )
        parts.append(f"</tbody></table><p class='note'>{escape(words['intervals'])}</p>")
    if report.sources:
        parts.append(f"<h2>{escape(words['sources'])}</h2>")
        parts += [
            f"<p class='note'>[{s.number}] {escape(s.text)} ({escape(s.known)})</p>"
            for s in report.sources
        ]
    parts.append(f"<h2>{escape(words['cautions'])}</h2><div class='caution'>")
    parts += [f"<p>{escape(caution)}</p>" for caution in report.cautions]
    parts.append(f"</div><h2>{escape(words['same_again'])}</h2>")
    files = page["files"]
    assert isinstance(files, Sequence)
    said = [
        *files,
        page["engine"],
        f"{words['fingerprint']}: {page['fingerprint']}",
        words["verify"],
    ]
    parts += [f"<p class='note'><code>{escape(str(line))}</code></p>" for line in said]
    head = report.letterhead
    if head.signatures:
        names = "".join(
            f"<div>{escape(name)}<br>"
            f"<span class='note'>{escape(words['name_and_date'])}</span></div>"
            for name in head.signatures
        )
        parts.append(f"<h2>{escape(words['signatures'])}</h2><div class='signatures'>{names}</div>")
    return parts
