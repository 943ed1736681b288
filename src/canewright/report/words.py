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
from functools import cache
from pathlib import Path

from canewright.account import words
from canewright.account.words import ENGLISH, Form, _, dated, several, told

__all__ = ["NoTranslation", "_", "dated", "forms", "several", "speaking", "told", "translation"]

DOMAIN = "canewright"
LANGUAGES = Path(__file__).with_name("languages")
FORM = "#. names and numbers stand in it"
"""Written in the catalogue above a string that is known by its form."""


class NoTranslation(ValueError):
    """A translation that was asked for cannot be had."""


@cache
def forms() -> tuple[Form, ...]:
    """The forms of what the layers below say, from the catalogue."""
    found, marked = [], False
    for row in (LANGUAGES / f"{DOMAIN}.pot").read_text(encoding="utf-8").splitlines():
        if row.startswith("msgid ") and marked:
            found.append(Form.of(row[7:-1].replace('\\"', '"').replace("\\\\", "\\")))
        marked = row == FORM or (marked and row.startswith("#"))
    return tuple(found)


@contextmanager
def speaking(language: gettext.NullTranslations) -> Iterator[None]:
    """Speak a language while the block runs."""
    with words.speaking(language, () if language is ENGLISH else forms()):
        yield


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
        return ENGLISH
    found = gettext.translation(DOMAIN, LANGUAGES, [language], fallback=True)
    if type(found) is gettext.NullTranslations:
        raise NoTranslation(
            f"There is no translation into '{language}'. Leave language out for English, or "
            f'translate {DOMAIN}.pot and name the compiled catalogue: translation = "own.mo".'
        )
    return found
