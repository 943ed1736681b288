"""Every word of a report, ready to be translated.

The report's own strings are written `_("...")`; labels that come from the layers below
(figures, definitions, rows of ledgers) go through `told`. `languages/canewright.pot` lists
both. A translation is a compiled catalogue named in the letterhead's settings; without one
the words are English.
"""

from __future__ import annotations

import gettext
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

DOMAIN = "canewright"
LANGUAGES = Path(__file__).with_name("languages")

_speaking: ContextVar[gettext.NullTranslations] = ContextVar("_speaking")
_ENGLISH = gettext.NullTranslations()


class NoTranslation(ValueError):
    """A translation that was asked for cannot be had."""


def _(text: str) -> str:
    """The report's own string in the language spoken."""
    return _speaking.get(_ENGLISH).gettext(text)


def several(one: str, many: str, count: int) -> str:
    """One of two strings, by how many there are, in the language spoken."""
    return _speaking.get(_ENGLISH).ngettext(one, many, count)


def told(text: str) -> str:
    """A label of the layers below in the language spoken; unchanged where none is known."""
    return _speaking.get(_ENGLISH).gettext(text) if text else text


def translation(language: str, catalogue: Path | None = None) -> gettext.NullTranslations:
    """The translation of a language.

    Parameters
    ----------
    language : str
        Such as "es"; "en" or nothing for the words as they are written here.
    catalogue : Path, optional
        A compiled catalogue (.mo) of the user's own.

    Raises
    ------
    NoTranslation
        If the catalogue cannot be read, or none is known for the language.
    """
    if catalogue is not None:
        try:
            with catalogue.open("rb") as opened:
                return gettext.GNUTranslations(opened)
        except (OSError, UnicodeDecodeError, ValueError, EOFError) as error:
            raise NoTranslation(
                f"{catalogue} cannot be read as a compiled catalogue of words ({error}). Make it "
                f"with msgfmt from a translation of {DOMAIN}.pot."
            ) from None
    if language in ("", "en"):
        return _ENGLISH
    found = gettext.translation(DOMAIN, LANGUAGES, [language], fallback=True)
    if type(found) is gettext.NullTranslations:
        raise NoTranslation(
            f"There is no translation into '{language}'. Leave language out for English, or "
            f'translate {DOMAIN}.pot and name the compiled catalogue: translation = "own.mo".'
        )
    return found


@contextmanager
def speaking(words: gettext.NullTranslations) -> Iterator[None]:
    """Make reports in a language while the block runs."""
    token = _speaking.set(words)
    try:
        yield
    finally:
        _speaking.reset(token)
