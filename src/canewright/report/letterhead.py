"""The letterhead's settings: a short TOML file of the user's own.

name = "Halcyon Bend"
lines = ["Invented Road 1", "Telephone 000"]
document = "F-12, issue 3"
signatures = ["Shift chemist", "Chief chemist", "Manufacturing manager"]
language = "es"                # where there is a translation
translation = "own.mo"         # or a compiled catalogue of your own
"""

from __future__ import annotations

import tomllib
from pathlib import Path

from canewright.files.problems import known_names
from canewright.report.content import Letterhead

LISTS = ("lines", "signatures")
WORDS = ("name", "document", "language", "translation")
LONGEST = 200
"""Letters in a line, beyond which it is a mistake; our choice."""
MOST_LINES = 8


class LetterheadRefused(ValueError):
    """The settings of the letterhead do not make sense; each line a sentence."""


def read_letterhead(path: Path) -> Letterhead:
    """The letterhead of a file of settings.

    Raises
    ------
    LetterheadRefused
        With everything that is wrong with it.
    """
    try:
        found = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except UnicodeDecodeError:
        raise LetterheadRefused(f"{path} is not text in UTF-8; save it as such.") from None
    except tomllib.TOMLDecodeError as error:
        raise LetterheadRefused(f"{path} is not written as TOML: {error}.") from None
    problems = []
    for key, value in found.items():
        if key in LISTS:
            if not isinstance(value, list) or not all(_is_line(entry) for entry in value):
                problems.append(
                    f"{path}: {key} takes lines of at most {LONGEST} letters, "
                    f'{key} = ["...", "..."].'
                )
            elif len(value) > MOST_LINES:
                problems.append(f"{path}: {key} has {len(value)} lines; {MOST_LINES} are enough.")
        elif key in WORDS:
            if not _is_line(value):
                problems.append(f'{path}: {key} takes one line of words, {key} = "...".')
        else:
            known = known_names(key, [*WORDS, *LISTS], "settings")
            problems.append(f"{path}: the letterhead has no setting '{key}'. {known}")
    if problems:
        raise LetterheadRefused("\n".join(problems))
    translation = found.get("translation", "")
    return Letterhead(
        name=found.get("name", ""),
        lines=tuple(found.get("lines", ())),
        document=found.get("document", ""),
        signatures=tuple(found.get("signatures", ())),
        language=found.get("language", ""),
        translation=(path.parent / translation).as_posix() if translation else "",
    )


def _is_line(value: object) -> bool:
    return isinstance(value, str) and len(value) <= LONGEST and value.isprintable()
