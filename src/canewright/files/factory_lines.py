"""Where each table and key of a TOML text is written, so that a problem can name its line.

The text is known to be TOML when it comes here; this only looks for places in it.
"""

import re
from dataclasses import dataclass, field

_KEY = r"(?:\"(?:[^\"\\]|\\.)*\"|'[^']*'|[A-Za-z0-9_-]+)"
_HEADER = re.compile(rf"\s*(\[\[?)\s*({_KEY}(?:\s*\.\s*{_KEY})*)\s*\]")
_ASSIGNMENT = re.compile(rf"\s*({_KEY})\s*(?:=|\.)")
_QUOTES = ('"""', "'''", '"', "'")


@dataclass(frozen=True)
class Place:
    """A place in a factory file.

    Parameters
    ----------
    table : str
        Name of the table: station, instrument, factory.
    number : int
        Which of the tables of that name, from 0.
    words : str
        How a person would say it: "station 'juice heater 1'".
    key : str
        Key in the table.
    item : int
        Which of the tables in a list of tables (`mills`, `bodies`), from 1; 0 for none.
    """

    table: str = ""
    number: int = 0
    words: str = ""
    key: str = ""
    item: int = 0

    def at(self, key: str) -> "Place":
        """The place of a key of this table."""
        return Place(self.table, self.number, self.words, key, self.item)

    @property
    def in_words(self) -> str:
        """The place as said in a message, without file and line."""
        return ", ".join(part for part in (self.words, self.key) if part)


@dataclass
class _Reading:
    """Where the scan has come to."""

    table: str = ""
    number: int = 0
    key: str = ""
    nested: str = ""
    depth: int = 0
    quote: str = ""
    items: dict[tuple[str, int, str], int] = field(default_factory=dict)


class Lines:
    """Line numbers, from 1, of the tables, keys and list items of a TOML text."""

    def __init__(self, text: str) -> None:
        self._found: dict[tuple[str, int, str, int], int] = {}
        self._tables: dict[str, int] = {}
        at = _Reading()
        for number, line in enumerate(text.splitlines(), start=1):
            self._line(line, number, at)

    def of(self, place: Place) -> int | None:
        """Line of a place, or of the smallest thing around it that has one."""
        table, number = place.table, place.number
        if place.item:
            lists = {key for t, n, key, item in self._found if (t, n) == (table, number) and item}
            for key in sorted(lists):
                if (table, number, key, place.item) in self._found:
                    return self._found[table, number, key, place.item]
        for key in (place.key, ""):
            if (table, number, key, 0) in self._found:
                return self._found[table, number, key, 0]
        return None

    def _line(self, line: str, number: int, at: _Reading) -> None:
        rest = line
        if not at.depth and not at.quote:
            header = _HEADER.match(line)
            if header:
                self._header(header[1], header[2], number, at)
                return
            assignment = _ASSIGNMENT.match(line)
            if assignment:
                at.key = at.nested or assignment[1].strip("\"'")
                if at.nested:
                    rest = line[assignment.end() :]
                else:
                    self._found.setdefault((at.table, at.number, at.key, 0), number)
                    rest = line[assignment.end() :]
        self._value(rest, number, at)

    def _header(self, brackets: str, name: str, number: int, at: _Reading) -> None:
        parts = [part.strip().strip("\"'") for part in re.findall(_KEY, name)]
        at.table = parts[0]
        if len(parts) > 1:
            at.number = self._tables.get(at.table, 0)
            at.nested = parts[1]
            self._found.setdefault((at.table, at.number, at.nested, 0), number)
            if brackets == "[[":
                self._item(at, number, at.nested)
            return
        at.nested = ""
        self._tables[at.table] = self._tables.get(at.table, -1) + 1
        at.number = self._tables[at.table]
        self._found[at.table, at.number, "", 0] = number

    def _item(self, at: _Reading, number: int, key: str) -> None:
        counted = at.items.get((at.table, at.number, key), 0) + 1
        at.items[at.table, at.number, key] = counted
        self._found[at.table, at.number, key, counted] = number

    def _value(self, text: str, number: int, at: _Reading) -> None:
        position = 0
        while position < len(text):
            if at.quote:
                if at.quote in ('"', '"""') and text[position] == "\\":
                    position += 2
                elif text.startswith(at.quote, position):
                    position += len(at.quote)
                    at.quote = ""
                else:
                    position += 1
                continue
            sign = text[position]
            if sign == "#":
                break
            opened = next((quote for quote in _QUOTES if text.startswith(quote, position)), "")
            if opened:
                at.quote = opened
                position += len(opened)
                continue
            if sign in "[{":
                if sign == "{" and at.depth == 1 and not at.nested:
                    self._item(at, number, at.key)
                at.depth += 1
            elif sign in "]}":
                at.depth = max(at.depth - 1, 0)
            position += 1
        if at.quote in ('"', "'"):
            at.quote = ""
