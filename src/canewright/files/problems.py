"""What is wrong with a file a user wrote, in sentences; a file is taken whole or refused whole."""

import difflib
import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import ClassVar

SHOWN = 100
"""How many problems `str` of a refusal prints; `problems` always holds all of them."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong in one place of a file, and what to do about it.

    Parameters
    ----------
    file : str
        Name of the file as the user gave it.
    row : int or None
        Row in the file, counted from 1 as a spreadsheet or an editor counts; None where
        the problem is not in one row.
    column : str
        Name of the column, or of the key in a factory file; empty where there is none.
    what, remedy : str
        A sentence each.
    """

    ROW: ClassVar[str] = "row "
    COLUMN: ClassVar[str] = "column "

    file: str
    row: int | None
    column: str
    what: str
    remedy: str

    @property
    def where(self) -> str:
        """The place in words: file, row and column, as far as known."""
        place = [self.file]
        if self.row is not None:
            place.append(f"{self.ROW}{self.row}")
        if self.column:
            place.append(f"{self.COLUMN}{self.column}")
        return ", ".join(part for part in place if part)

    def as_dict(self) -> dict[str, object]:
        """The problem with stable keys, for `--json`."""
        return asdict(self)

    def __str__(self) -> str:
        return f"{self.where}: {self.what} {self.remedy}".rstrip()


class KeyProblem(Problem):
    """One thing wrong with a key of a TOML file, its `column`."""

    COLUMN = "key "


class InputRefused(ValueError):
    """A file was refused whole; `problems` lists everything that is wrong with it."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: list[Problem] = list(problems)
        super().__init__(self.sentences())

    def sentences(self, shown: int = SHOWN) -> str:
        """One line per problem under a heading that says how many there are."""
        count = len(self.problems)
        if count == 1:
            return f"{self.problems[0]} Nothing was taken from the file."
        lines = [f"{count} problems; nothing was taken from the file."]
        lines += [f"  {problem}" for problem in self.problems[:shown]]
        if count > shown:
            lines.append(f"  and {count - shown} more.")
        return "\n".join(lines)


@lru_cache(maxsize=8192)
def normal(name: str) -> str:
    """A name without regard to case, and with spaces, hyphens and underscores alike."""
    text = unicodedata.normalize("NFKC", name).casefold().strip()
    return re.sub(r"[\s_\-]+", "_", text).strip("_")


def nearest(name: str, known: Iterable[str], count: int = 3) -> list[str]:
    """The known names most like `name`, best first; empty when none is at all like it."""
    by_normal: dict[str, str] = {}
    for candidate in known:
        by_normal.setdefault(normal(candidate), candidate)
    wanted = normal(name)[:80]
    close = difflib.get_close_matches(wanted, list(by_normal), n=count, cutoff=0.55)
    within = [
        key
        for key in sorted(by_normal)
        if key not in close
        and len(wanted) > 2
        and (wanted in key or (len(key) > 2 and key in wanted))
    ]
    return [by_normal[key] for key in [*close, *within][:count]]


def known_names(name: str, known: Sequence[str], what: str = "names", shown: int = 12) -> str:
    """The sentence that offers the nearest known names, or failing that lists some."""
    close = nearest(name, known)
    if close:
        return f"The nearest known {what}: {', '.join(close)}."
    listed = sorted(known)
    if not listed:
        return f"There are no known {what} here."
    more = f" and {len(listed) - shown} more" if len(listed) > shown else ""
    return f"Known {what}: {', '.join(listed[:shown])}{more}."
