"""Words ready to be translated: sentences of the account, and of the reports made from it.

A sentence is written `_("...")`, or `several("...", "...", count)` where its form goes by a
number. What the layers below say, with names and numbers of the factory already in it, goes
through `told`, which knows it by its form: "purity of {name}" is the form of "purity of syrup".
Without a translation all stay as they are written. `canewright.report.catalogue` lists them.
"""

from __future__ import annotations

import gettext
import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import date

_speaking: ContextVar[gettext.NullTranslations] = ContextVar("_speaking")
_known: ContextVar[Sequence[Form]] = ContextVar("_known", default=())
ENGLISH = gettext.NullTranslations()

FIELD = re.compile(r"\{(\w+)\}")
WITHIN = r"(?:(?![.?!] ).)"
"""What stands in a field: names and numbers, never the end of a sentence."""
SENTENCES = re.compile(r"(?<=[.?!;:]) ")
PLAIN = 4
"""Letters that a form has at least to be looked for inside another: shorter ones would be found
in names that the user gave. Our choice."""

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
MONTH = re.compile(rf"(?<=\d\d )({'|'.join(MONTHS)})\b")


@dataclass(frozen=True)
class Form:
    """A string of the layers below with places for names and numbers."""

    text: str
    pattern: re.Pattern[str]
    letters: int

    @classmethod
    def of(cls, text: str) -> Form:
        """The form of a text with `{fields}`."""
        parts, seen = [], set()
        for place, part in enumerate(FIELD.split(text)):
            if place % 2 == 0:
                parts.append(re.escape(part))
            else:
                parts.append(f"(?P={part})" if part in seen else f"(?P<{part}>{WITHIN}+?)")
                seen.add(part)
        letters = sum(map(str.isalpha, FIELD.sub("", text)))
        return cls(text, re.compile("".join(parts), re.DOTALL), letters)


def _(text: str) -> str:
    """A string of our own in the language spoken."""
    return _speaking.get(ENGLISH).gettext(text)


def several(one: str, many: str, count: int) -> str:
    """One of two strings, by how many there are, in the language spoken."""
    return _speaking.get(ENGLISH).ngettext(one, many, count)


def told(text: str) -> str:
    """What a layer below says, in the language spoken; unchanged where it is not known."""
    words = _speaking.get(ENGLISH)
    if not text or words is ENGLISH:
        return text
    return _told(text, words, 0)


def _told(text: str, words: gettext.NullTranslations, letters: int) -> str:
    whole = _whole(text, words, letters)
    if whole is not None:
        return whole
    parts = SENTENCES.split(text)
    if letters and len(parts) == 1:
        return MONTH.sub(lambda month: words.gettext(month[0]), text)
    for count in range(len(parts) - 1, 0, -1):
        first = _whole(" ".join(parts[:count]), words, letters)
        if first is not None or count == 1:
            said = parts[0] if first is None else first
            return f"{said} {_told(' '.join(parts[count:]), words, letters)}"
    return text


def _whole(text: str, words: gettext.NullTranslations, letters: int) -> str | None:
    """A string by itself or by its form; nothing where neither is known."""
    found = words.gettext(text)
    if found != text:
        return found
    small = text[0].lower() + text[1:]
    found = words.gettext(small)
    if found != small:
        return found[0].upper() + found[1:]
    for form in _known.get():
        if form.letters < letters:
            return None
        fitted = form.pattern.fullmatch(text)
        if fitted is not None:
            filled = {name: _told(part, words, PLAIN) for name, part in fitted.groupdict().items()}
            return _filled(words.gettext(form.text), filled)
    return None


def _filled(text: str, fields: Mapping[str, str]) -> str:
    """A form with its fields filled; a field that nobody knows stays as it is written."""
    return FIELD.sub(lambda field: fields.get(field[1], field[0]), text)


def dated(moment: date, form: str) -> str:
    """A day or moment as `strftime` writes it, with the month in the language spoken."""
    return moment.strftime(form.replace("%b", _(MONTHS[moment.month - 1])))


@contextmanager
def speaking(words: gettext.NullTranslations, forms: Sequence[Form] = ()) -> Iterator[None]:
    """Speak a language while the block runs; `forms` are those of the layers below."""
    token = _speaking.set(words)
    known = _known.set(sorted(forms, key=lambda form: -form.letters))
    try:
        yield
    finally:
        _speaking.reset(token)
        _known.reset(known)
