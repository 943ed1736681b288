"""Errors as sentences: what is wrong, where, and what to do about it."""

import difflib
import errno
from collections.abc import Iterable

EXIT_CODE = 2


class Refused(Exception):
    """The command cannot answer what it was asked; each problem is a sentence.

    Parameters
    ----------
    problems : str
        One sentence each, all problems at once and not the first only.
    """

    def __init__(self, *problems: str) -> None:
        super().__init__("\n".join(problems))
        self.problems = problems


def sentences(error: BaseException) -> list[str]:
    """Sentences for an error that was to be expected; none for a mistake of our own.

    An error whose class belongs to this package was raised for the user to read: its text
    is one sentence or several, a line each. A file that cannot be opened is said in words.

    Parameters
    ----------
    error : exception
        Whatever ended the command.

    Returns
    -------
    list of str
        One line each. An empty list says that the error is ours and needs its traceback.
    """
    if type(error).__module__.split(".", 1)[0] == "canewright":
        return [line for line in str(error).splitlines() if line.strip()]
    if isinstance(error, OSError) and error.filename is not None:
        return [_about_a_file(error)]
    if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return [
            f"What is printed could not be written where it was sent ({error.strerror}): it ends "
            "in the middle. Make room, or send it elsewhere, and do it again."
        ]
    return []


def _about_a_file(error: OSError) -> str:
    name = error.filename
    if isinstance(error, FileNotFoundError):
        return f"{name}: there is no such file or folder. Check the name and the folder."
    if isinstance(error, IsADirectoryError):
        return f"{name} is a folder; name a file in it."
    if isinstance(error, NotADirectoryError):
        return f"{name}: a part of this path is a file, not a folder."
    if isinstance(error, FileExistsError):
        return f"{name} exists already and is not overwritten. Choose another name."
    if isinstance(error, PermissionError):
        return (
            f"{name} may not be opened. It may be open in another program, or belong to "
            f"someone else."
        )
    if error.errno == errno.ENOSPC:
        return f"{name}: the disk is full. Nothing was changed; make room and do it again."
    return f"{name}: {error.strerror or error}."


def nearest(word: str, names: Iterable[str], how_many: int = 3) -> list[str]:
    """Names that look most like a misspelt one, the last part of a dotted name included."""
    by_form: dict[str, str] = {}
    for name in names:
        by_form.setdefault(name.lower(), name)
        by_form.setdefault(name.lower().rsplit(".", 1)[-1], name)
    close = difflib.get_close_matches(word.lower(), by_form, n=2 * how_many, cutoff=0.7)
    return list(dict.fromkeys(by_form[form] for form in close))[:how_many]


def did_you_mean(word: str, names: Iterable[str]) -> str:
    """End of a sentence that offers the nearest names; empty when none is near."""
    close = nearest(word, names)
    return f" Did you mean {' or '.join(close)}?" if close else ""
