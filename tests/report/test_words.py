"""Every string of a report can be translated, and the catalogue names them all."""

import gettext
import re
from types import SimpleNamespace

import pytest

from canewright.account.sentences import headline, why
from canewright.report import catalogue
from canewright.report.content import Picture, Table, Text
from canewright.report.sheets import shift_report
from canewright.report.words import DOMAIN, LANGUAGES, speaking, translation

OPEN, CLOSE = (
    "\N{MATHEMATICAL LEFT WHITE SQUARE BRACKET}",
    "\N{MATHEMATICAL RIGHT WHITE SQUARE BRACKET}",
)
SIGNS = re.compile(r"[±95 %,]*(t|GJ|h)?")
"""Headings that are the same in every language."""


class Marked(gettext.NullTranslations):
    """Puts a mark around whatever is translated."""

    def gettext(self, message):
        return f"{OPEN}{message}{CLOSE}"

    def ngettext(self, one, many, count):
        return self.gettext(one if count == 1 else many)


@pytest.fixture(scope="module", params=["shift", "balance", "laboratory"])
def marked(request, account):
    from canewright.report.content import Letterhead

    with speaking(Marked()):
        return shift_report(request.param, account, (), Letterhead())


def is_marked(text):
    return OPEN in text or not text or SIGNS.fullmatch(text) is not None


def test_all_that_is_not_a_name_is_translated(marked):
    assert is_marked(marked.title)
    assert all(is_marked(text) for text in marked.words.values())
    assert all(is_marked(section.title) for section in marked.sections)
    assert all(is_marked(caution) for caution in marked.cautions)
    for item in marked.definitions:
        assert is_marked(item.label)
        assert is_marked(item.text)
    assert all(is_marked(source.known) for source in marked.sources)
    for section in marked.sections:
        for block in section.blocks:
            if isinstance(block, Text):
                assert is_marked(block.label)
                assert is_marked(block.text)
            elif isinstance(block, Picture):
                assert is_marked(block.title)
                assert is_marked(block.words)
                assert is_marked(block.note)
            else:
                assert isinstance(block, Table)
                assert is_marked(block.title)
                assert all(is_marked(note) for note in (*block.notes, block.empty))
                unmarked = [c.heading for c in block.columns if not is_marked(c.heading)]
                assert unmarked == []


def test_every_sentence_on_a_suspect_is_translated():
    """Whatever is doubted: between the marks there is nothing but names and numbers."""
    usual = {"bias": 1.0, "sd": 0.2, "interval": (0.6, 1.4), "unit": "t", "place": "juice scale"}
    cases = [
        {"kind": "bias", "readings": ("cane weight",), "reading": 61.0, "estimate": 16.0},
        {"kind": "bias", "readings": ("syrup brix",), "unit": "%", "agreeing": ("a pol", "b pol")},
        {"kind": "shared bias", "readings": ("a brix", "b brix"), "unit": "% of value"},
        {"kind": "swapped samples", "readings": ("a brix", "b brix")},
        {"kind": "loss", "equivalents": ("a swapped", "calibration of b"), "readings": ()},
        {"kind": "sucrose loss", "next_best": "bias of c", "readings": ()},
    ]
    with speaking(Marked()):
        for case in cases:
            suspect = SimpleNamespace(
                **{
                    "reading": 5.0,
                    "estimate": 4.0,
                    "agreeing": (),
                    "equivalents": (),
                    "next_best": "",
                    "less_likely": 4.0,
                    "check_first": "the zero",
                    **usual,
                    **case,
                }
            )
            assert headline(suspect).startswith(OPEN)
            assert headline(suspect).endswith(CLOSE)
            parts = re.split(f"{CLOSE} (?={OPEN})", why(suspect))
            assert all(part.startswith(OPEN) for part in parts)


def test_the_catalogue_is_as_the_source(tmp_path):
    kept = (LANGUAGES / f"{DOMAIN}.pot").read_text(encoding="utf-8")
    assert kept == catalogue.template(), "run python -m canewright.report.catalogue"


def test_a_compiled_catalogue_of_ones_own_is_taken(tmp_path, account):
    # The format of compiled catalogues is that of the manual of GNU gettext, section 10.3:
    # magic number, revision, count, offsets of the two tables, then lengths and offsets.
    import struct

    texts = [(b"", b"Content-Type: text/plain; charset=UTF-8\n"), (b"Finding", b"Befund")]
    keys = b"".join(key + b"\0" for key, _value in texts)
    values = b"".join(value + b"\0" for _key, value in texts)
    start = 28 + 16 * len(texts)
    tables, at_key, at_value = ([], []), start, start + len(keys)
    for key, value in texts:
        tables[0].append(struct.pack("<II", len(key), at_key))
        tables[1].append(struct.pack("<II", len(value), at_value))
        at_key, at_value = at_key + len(key) + 1, at_value + len(value) + 1
    head = struct.pack("<7I", 0x950412DE, 0, len(texts), 28, 28 + 8 * len(texts), 0, start)
    path = tmp_path / "own.mo"
    path.write_bytes(head + b"".join(tables[0]) + b"".join(tables[1]) + keys + values)
    from canewright.report.content import Letterhead

    with speaking(translation("de", path)):
        report = shift_report("shift", account, (), Letterhead())
    assert report.sections[0].title == "Befund"
    assert report.title == "Shift report"
