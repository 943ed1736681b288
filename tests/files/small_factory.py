"""A small catalogue of points for the tests of the readings file; no factory of the world."""

import io
import zipfile
from datetime import timedelta
from xml.sax.saxutils import escape, quoteattr

from hypothesis import settings

from canewright.files.readings import Analysis

PATIENT = settings(deadline=timedelta(seconds=10))
"""Ten seconds for one example: the first one imports pint; a hang is still found."""

BRIX = Analysis("%", 0, 100, "mean", "refractometer Brix")
POL = Analysis("%", 0, 100, "mean", "pol")


class Catalogue:
    """Five points, with a total that is summed and a dip that is read once."""

    table = {
        "cane": {"weight": Analysis("t", 0, 5000, "sum", "cane over the weighbridge")},
        "mixed_juice": {
            "brix": BRIX,
            "pol": POL,
            "pol.rotation": Analysis("degZ", -100, 120),
            "flow": Analysis("t/h", 0, 600),
            "weight": Analysis("t", 0, 5000, "sum", "mixed juice over the scale"),
            "pH": Analysis("pH", 0, 14),
        },
        "syrup": {"brix": BRIX, "pol": POL, "temperature": Analysis("degC", -10, 200)},
        "exhaust": {"pressure": Analysis("bar abs", 0, 20)},
        "syrup_tank": {"level": Analysis("%", 0, 100, "refuse", "dip at the end of the shift")},
    }

    def points(self):
        return tuple(self.table)

    def analyses(self, point):
        return self.table[point]


CATALOGUE = Catalogue()

_SPACES = {
    "office": "urn:oasis:names:tc:opendocument:xmlns:office:1.0",
    "table": "urn:oasis:names:tc:opendocument:xmlns:table:1.0",
    "text": "urn:oasis:names:tc:opendocument:xmlns:text:1.0",
    "calcext": "urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0",
}
_KIND = "application/vnd.oasis.opendocument.spreadsheet"


def ods(sheets):
    """The bytes of an ODS workbook; a cell is a number, a text, None, or raw cell XML."""
    body = "".join(
        f"<table:table table:name={quoteattr(title)}>"
        + "".join(
            f"<table:table-row>{''.join(map(_ods_cell, row))}</table:table-row>" for row in rows
        )
        + "</table:table>"
        for title, rows in sheets.items()
    )
    names = " ".join(f'xmlns:{key}="{value}"' for key, value in _SPACES.items())
    content = (
        f'<?xml version="1.0" encoding="UTF-8"?><office:document-content {names}><office:body>'
        f"<office:spreadsheet>{body}</office:spreadsheet></office:body></office:document-content>"
    )
    manifest = (
        '<?xml version="1.0"?><m:manifest xmlns:m="urn:oasis:names:tc:opendocument:xmlns:'
        f'manifest:1.0"><m:file-entry m:full-path="/" m:media-type="{_KIND}"/></m:manifest>'
    )
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as parts:
        parts.writestr("mimetype", _KIND, zipfile.ZIP_STORED)
        parts.writestr("META-INF/manifest.xml", manifest)
        parts.writestr("content.xml", content)
    return packed.getvalue()


def _ods_cell(cell):
    if cell is None:
        return "<table:table-cell/>"
    if isinstance(cell, str) and cell.startswith("<table:"):
        return cell
    if isinstance(cell, str):
        return (
            '<table:table-cell office:value-type="string">'
            f"<text:p>{escape(cell)}</text:p></table:table-cell>"
        )
    return f'<table:table-cell office:value-type="float" office:value="{cell!r}"/>'
