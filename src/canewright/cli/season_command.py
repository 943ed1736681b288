"""`canewright season`: every shift of a folder, and the figures to date."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from canewright.account.season import SeasonAccount

INTERRUPTED = 130
"""Exit code of a command that was interrupted."""


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("season")
    def command(
        factory: Annotated[Path, typer.Argument(metavar="FACTORY", help="The factory file.")],
        folder: Annotated[
            Path, typer.Argument(metavar="FOLDER", help="A folder of shifts, or a file of several.")
        ],
        as_json: Annotated[
            bool, typer.Option("--json", help="Print the same for another program.")
        ] = False,
        parquet: Annotated[
            Path | None,
            typer.Option("--parquet", metavar="FILE", help="Write every figure by shift here."),
        ] = None,
        workbook: Annotated[
            Path | None,
            typer.Option("--xlsx", metavar="FILE", help="Write a workbook, one sheet a table."),
        ] = None,
        resume: Annotated[
            bool, typer.Option("--resume", help="Go on from an earlier run of the same files.")
        ] = False,
        keep: Annotated[
            bool,
            typer.Option("--keep/--no-keep", help="Write down how far the run is, in FOLDER."),
        ] = True,
        against: Annotated[
            Path | None,
            typer.Option(
                "--against", metavar="FILE", help="Name what moved since this --json was printed."
            ),
        ] = None,
        last_season: Annotated[
            Path | None,
            typer.Option(
                "--last-season", metavar="FOLDER", help="Put the same days of last season beside."
            ),
        ] = None,
        everything: Annotated[
            bool, typer.Option("--all", help="Every figure and ledger, not the chief ones.")
        ] = False,
    ) -> None:
        """Balance a season: to date, drifts, instruments, time.

        canewright season factory.toml season
        """
        answer(
            factory,
            folder,
            as_json=as_json,
            parquet=parquet,
            workbook=workbook,
            resume=resume,
            keep=keep,
            against=against,
            last_season=last_season,
            everything=everything,
        )


def answer(
    factory: Path,
    folder: Path,
    *,
    as_json: bool = False,
    parquet: Path | None = None,
    workbook: Path | None = None,
    resume: bool = False,
    keep: bool = True,
    against: Path | None = None,
    last_season: Path | None = None,
    everything: bool = False,
) -> None:
    """Balance a season and print or write what can be said of it.

    Raises
    ------
    InputRefused
        If the factory file, or every file of readings, is refused.
    Refused
        If a result cannot be written.
    """
    earlier = None if against is None else _earlier(against)
    account = balanced(factory, folder, last_season, resume=resume, keep=keep)
    from canewright.account.corrections import corrections
    from canewright.account.season_payload import payload
    from canewright.cli import correction_pages, printing, season_pages

    _write(account, parquet, workbook)
    told = payload(account)
    moved = None if earlier is None else corrections(earlier, told)
    if as_json:
        if moved is not None:
            told["corrections"] = asdict(moved)
        printing.write_json(told)
        return
    screen = printing.console()
    season_pages.print_season(screen, account, everything=everything)
    if moved is not None:
        correction_pages.print_corrections(screen, moved)


def _earlier(path: Path) -> dict[str, Any]:
    from canewright.cli.problems import Refused

    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (UnicodeDecodeError, json.JSONDecodeError):
        found = None
    if not isinstance(found, dict) or not {"to_date", "shifts"} <= set(found):
        raise Refused(
            f"{path} is not what `canewright season --json` printed. Keep its output in a file "
            f"and name that."
        )
    return found


def balanced(
    factory: Path, folder: Path, last_season: Path | None, *, resume: bool, keep: bool
) -> SeasonAccount:
    """Balance a season, with last season beside where its folder is named, showing progress."""
    for setting in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"):
        # Matrices of a few hundred rows are slower on several threads, several times so where
        # other programs want the cores; this has no effect once the library is loaded.
        os.environ.setdefault(setting, "1")
    from canewright.account.season import balance_season, put_last_season_beside
    from canewright.account.season_keeping import EVERY, NotKept
    from canewright.cli import printing
    from canewright.cli.problems import Refused

    with ExitStack() as stack:
        bars = [stack.enter_context(ExitStack())]

        def count(words: str, total: int) -> Callable[[], None]:
            bars[0].close()
            step = bars[0].enter_context(printing.progress(words, max(total, 1)))
            return lambda: step()

        try:
            account = balance_season(factory, folder, resume=resume, keep=keep, count=count)
            if last_season is not None:
                put_last_season_beside(account, factory, last_season, keep=keep, count=count)
            return account
        except NotKept as error:
            raise Refused(str(error)) from None
        except KeyboardInterrupt:
            if not keep:
                raise
            sentence = (
                f"Interrupted. The run is written down every {EVERY} shifts: the same command "
                f"with --resume goes on from there."
            )
            typer.echo(sentence, err=True)
            raise SystemExit(INTERRUPTED) from None


def _write(account: SeasonAccount, parquet: Path | None, workbook: Path | None) -> None:
    from canewright.account.season_sheets import tables, write_parquet, write_workbook
    from canewright.cli.problems import Refused

    if parquet is None and workbook is None:
        return
    found = tables(account)
    for path in (parquet, workbook):
        if path is None:
            continue
        try:
            if path is parquet:
                write_parquet(found[0], path)
            else:
                write_workbook(found, path)
        except OSError as error:
            raise Refused(
                f"{path} could not be written ({error.strerror or error}). Nothing is half "
                f"written; choose a folder that is there and has room."
            ) from None
