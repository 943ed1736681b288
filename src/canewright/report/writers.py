"""Writing reports down: every form made in memory first, then put in place whole."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from canewright.files.writing import write_whole
from canewright.report.content import Report
from canewright.report.page import as_page
from canewright.report.separated import as_separated
from canewright.report.workbook import as_workbook

FORMS = ("pdf", "xlsx", "html")


class NotWritten(OSError):
    """A report could not be put in its place; nothing of it is half written."""


def written(report: Report, form: str) -> bytes:
    """The report in one of `FORMS`."""
    if form == "pdf":
        from canewright.report.pdf import as_pdf

        return as_pdf(report)
    return as_workbook(report) if form == "xlsx" else as_page(report)


def write_report(
    report: Report, places: Mapping[str, Path], folder: Path | None = None
) -> list[Path]:
    """Write a report in several forms.

    Parameters
    ----------
    report : Report
    places : mapping of str to Path
        Form ("pdf", "xlsx", "html") -> where it goes.
    folder : Path, optional
        Where the separated values go; made where it is not there.

    Returns
    -------
    list of Path
        What was written.

    Raises
    ------
    NotWritten
        With a sentence; a file that is there already stays as it was.
    NotTypeset
        If the PDF cannot be typeset.
    """
    contents = {path: written(report, form) for form, path in places.items()}
    if folder is not None:
        contents |= {folder / name: text for name, text in as_separated(report).items()}
    done: list[Path] = []
    for path, content in contents.items():
        try:
            if folder is not None and path.parent == folder:
                folder.mkdir(exist_ok=True)
            write_whole(path, content)
        except OSError as error:
            before = f" Already written: {', '.join(str(p) for p in done)}." if done else ""
            raise NotWritten(
                f"{path} could not be written ({error.strerror or error}). Nothing is half "
                f"written; choose a folder that is there and has room.{before}"
            ) from error
        done.append(path)
    return done
