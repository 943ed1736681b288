"""`canewright report`: the same figures on paper, as a workbook, as a page, as values."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from canewright.account.season import SeasonAccount
    from canewright.report.content import Report
    from canewright.report.verify import Verified

SHOWN = 40
"""Things that moved, named at most; --json tells all."""


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("report")
    def command(
        factory: Annotated[
            Path | None, typer.Argument(metavar="FACTORY", help="The factory file.")
        ] = None,
        readings: Annotated[
            Path | None,
            typer.Argument(metavar="READINGS", help="A shift's readings, or a season of shifts."),
        ] = None,
        kind: Annotated[
            str,
            typer.Option(
                "--kind",
                help="shift, balance, laboratory; on a folder: day, week, fortnight, month, "
                "season, time.",
            ),
        ] = "",
        of: Annotated[
            str, typer.Option("--of", metavar="NAME", help="Which day or week; else the last.")
        ] = "",
        last_season: Annotated[
            Path | None,
            typer.Option(
                "--last-season", metavar="FOLDER", help="Put the same days of last season beside."
            ),
        ] = None,
        pdf: Annotated[
            Path | None, typer.Option("--pdf", metavar="FILE", help="Write it as PDF, A4.")
        ] = None,
        workbook: Annotated[
            Path | None,
            typer.Option("--xlsx", metavar="FILE", help="Write a workbook, one sheet a table."),
        ] = None,
        page: Annotated[
            Path | None,
            typer.Option("--html", metavar="FILE", help="Write a page that needs no network."),
        ] = None,
        separated: Annotated[
            Path | None,
            typer.Option("--csv", metavar="FOLDER", help="Write a CSV file for each table."),
        ] = None,
        letterhead: Annotated[
            Path | None,
            typer.Option("--letterhead", metavar="FILE", help="Your name, lines, signatures."),
        ] = None,
        verify: Annotated[
            Path | None,
            typer.Option("--verify", metavar="FILE", help="Make a report again and compare."),
        ] = None,
        as_json: Annotated[
            bool, typer.Option("--json", help="Print the same for another program.")
        ] = False,
    ) -> None:
        """Write a report to be signed, or verify one.

        canewright report factory.toml readings.csv --kind shift --pdf shift.pdf

        canewright report --verify shift.pdf
        """
        if verify is not None:
            verify_report(verify, factory, readings, as_json=as_json)
            return
        places = {"pdf": pdf, "xlsx": workbook, "html": page}
        wanted = {form: path for form, path in places.items() if path is not None}
        write(
            factory,
            readings,
            kind=kind,
            options={
                name: str(value)
                for name, value in (("of", of), ("last_season", last_season))
                if value
            },
            places=wanted,
            folder=separated,
            letterhead=letterhead,
            as_json=as_json,
        )


def write(
    factory: Path | None,
    readings: Path | None,
    *,
    kind: str,
    options: dict[str, str],
    places: dict[str, Path],
    folder: Path | None,
    letterhead: Path | None,
    as_json: bool,
) -> None:
    """Make a report and put it where it was asked for.

    Raises
    ------
    InputRefused, Refused
        If the files are refused or the shift cannot be balanced: then nothing is written.
    """
    from canewright.cli import printing
    from canewright.cli.problems import Refused

    if factory is None or readings is None:
        raise Refused("Name the factory file and the readings: canewright report FACTORY READINGS.")
    if not places and folder is None and not as_json:
        raise Refused(
            "Say where the report goes: --pdf FILE, --xlsx FILE, --html FILE, --csv FOLDER."
        )
    _refuse_places(places, folder, (factory, readings, letterhead))
    from canewright.report.letterhead import read_letterhead
    from canewright.report.making import report_on
    from canewright.report.same_again import carried
    from canewright.report.writers import write_report

    head = read_letterhead(letterhead) if letterhead is not None else None
    asked = kind or ("week" if readings.is_dir() else "shift")
    report = report_on(
        asked, factory, readings, head, options, balanced=_balanced, seasoned=_seasoned
    )
    done = write_report(report, places, folder)
    if as_json:
        printing.write_json(carried(report))
        return
    _said(report, done)


def _refuse_places(
    places: dict[str, Path], folder: Path | None, inputs: tuple[Path | None, ...]
) -> None:
    from canewright.cli.problems import Refused

    problems = []
    for form, path in places.items():
        if path.suffix.lower() != f".{form}":
            problems.append(
                f"{path}: a report written with --{form} has a name that ends in .{form}."
            )
        if any(path.resolve() == other.resolve() for other in inputs if other is not None):
            problems.append(f"{path} is a file that the report is made from. Choose another name.")
        if not path.parent.is_dir():
            problems.append(
                f"{path}: there is no folder {path.parent}. Make it, or choose another."
            )
    if folder is not None and folder.exists() and not folder.is_dir():
        problems.append(f"{folder} is a file; --csv takes a folder.")
    if folder is not None and not folder.parent.is_dir():
        problems.append(
            f"{folder}: there is no folder {folder.parent}. Make it, or choose another."
        )
    if problems:
        raise Refused(*problems)


def _balanced(factory: Path, readings: Path):  # type: ignore[no-untyped-def] # noqa: ANN202
    from canewright.cli.balance_command import balanced

    return balanced(factory, readings)


def _seasoned(factory: Path, folder: Path, last_season: Path | None) -> SeasonAccount:
    """Balance a season, as far as `canewright season` has not written down the same."""
    from canewright.cli.season_command import balanced

    return balanced(factory, folder, last_season, resume=True, keep=False)


def _seasoned_anew(factory: Path, folder: Path, last_season: Path | None) -> SeasonAccount:
    from canewright.cli.season_command import balanced

    return balanced(factory, folder, last_season, resume=False, keep=False)


def _said(report: Report, done: list[Path]) -> None:
    from canewright.cli import printing
    from canewright.report.same_again import SHORT, carried

    screen = printing.console()
    printing.paragraph(screen, f"{report.title}, {report.factory}", style="bold")
    printing.paragraph(screen, ", ".join(report.facts))
    for path in done:
        printing.verbatim(screen, f"  {path}")
    printing.paragraph(screen, f"fingerprint {carried(report)['fingerprint'][:SHORT]}")
    if report.invented:
        printing.paragraph(screen, report.words["invented"])


def verify_report(
    path: Path, factory: Path | None, readings: Path | None, *, as_json: bool
) -> None:
    """Make a report again from its files, and say whether it is the same.

    Raises
    ------
    Exit
        With code 2 where it is not the same.
    """
    from canewright.cli import printing
    from canewright.cli.problems import EXIT_CODE
    from canewright.report.making import made_again
    from canewright.report.verify import carried_by

    data = carried_by(path)
    beside = path if path.is_dir() else path.parent
    found = made_again(data, beside, factory, readings, balanced=_balanced, seasoned=_seasoned_anew)
    if as_json:
        from dataclasses import asdict

        printing.write_json({"report": str(path), "holds": found.holds, **asdict(found)})
    else:
        _tell(path, found)
    if not found.holds:
        raise typer.Exit(EXIT_CODE)


def _tell(path: Path, found: Verified) -> None:
    from canewright.cli import printing
    from canewright.cli.printing import Column
    from canewright.report.same_again import SHORT

    screen = printing.console()
    short = found.fingerprint[:SHORT]
    if found.holds:
        said = f"{path} reproduces: the same data byte for byte, fingerprint {short}."
    elif not found.whole:
        said = (
            f"{path} was altered after it was written: its data do not have the fingerprint "
            f"{short} that stands in it."
        )
    elif found.same_as_printed:
        said = (
            f"{path} reproduces as printed: every word and number reads the same, but the data "
            f"differ in digits that are not printed."
        )
    else:
        count = len(found.moved)
        what = "one entry reads" if count == 1 else f"{count} entries read"
        said = f"{path} does not reproduce: {what} otherwise now."
    printing.paragraph(screen, said)
    for sentence in (*found.files, *found.engine):
        printing.paragraph(screen, sentence, indent=2)
    if not found.moved:
        return
    printing.heading(screen, "What moved")
    columns = [Column("", wrap=True), Column("was", wrap=True), Column("is", wrap=True)]
    rows = [(moved.where, moved.before, moved.after) for moved in found.moved[:SHOWN]]
    printing.table(screen, columns, rows)
    if len(found.moved) > SHOWN:
        printing.paragraph(
            screen, f"and {len(found.moved) - SHOWN} more; --json tells all.", indent=2
        )
