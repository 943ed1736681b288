"""Words ready to be translated: sentences of the account, and of the reports made from it.

A sentence is written `_("...")`, or `several("...", "...", count)` where its form goes by a
number; a label of the layers below goes through `told`. Without a translation they stay as they
are written. `canewright.report.catalogue` lists them all.
"""

from __future__ import annotations

import gettext
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_speaking: ContextVar[gettext.NullTranslations] = ContextVar("_speaking")
ENGLISH = gettext.NullTranslations()


def _(text: str) -> str:
    """A string of our own in the language spoken."""
    return _speaking.get(ENGLISH).gettext(text)


def several(one: str, many: str, count: int) -> str:
    """One of two strings, by how many there are, in the language spoken."""
    return _speaking.get(ENGLISH).ngettext(one, many, count)


def told(text: str) -> str:
    """A label of the layers below in the language spoken; unchanged where none is known."""
    return _speaking.get(ENGLISH).gettext(text) if text else text


@contextmanager
def speaking(words: gettext.NullTranslations) -> Iterator[None]:
    """Speak a language while the block runs."""
    token = _speaking.set(words)
    try:
        yield
    finally:
        _speaking.reset(token)
