"""The `canewright` command: its list of commands, and what happens when one fails."""

import importlib
import io
import os
import sys
from collections.abc import Sequence
from typing import Annotated

import typer

from canewright import __version__
from canewright.cli import problems

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # read when numpy is first imported
"""Many small solves: a second thread in each costs more than it brings, twentyfold when busy."""

COMMANDS = (
    "demo",
    "balance",
    "explain",
    "whatif",
    "advise",
    "measure",
    "study",
    "season",
    "report",
    "new",
    "formula",
    "lab",
    "docs",
    "station",
    "points",
    "check",
    "specification",
    "chart",
)
"""Each is a file `NAME_command.py` in this folder with a function `register(app)`."""

EPILOG = "Demonstration data are invented. Advice defers to local codes and licensed practice."


def application(asked: str = "") -> typer.Typer:
    """Build the command line from the list of commands, or with the one that is asked for.

    A command starts sooner where the others are not read first.
    """
    app = typer.Typer(
        name="canewright",
        help="Balances a whole cane sugar factory with one set of equations.",
        epilog=EPILOG,
        no_args_is_help=True,
        add_completion=False,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
    )

    def say_version(wanted: bool) -> None:
        if wanted:
            typer.echo(f"canewright {__version__}")
            raise typer.Exit

    @app.callback()
    def options(
        version: Annotated[
            bool,
            typer.Option(
                "--version", help="Say which version this is.", callback=say_version, is_eager=True
            ),
        ] = False,
    ) -> None:
        del version  # answered by its callback

    for name in (asked,) if asked in COMMANDS else COMMANDS:
        importlib.import_module(f"canewright.cli.{name}_command").register(app)
    return app


def main(arguments: Sequence[str] | None = None) -> None:
    """Run one command and leave with its exit code.

    Parameters
    ----------
    arguments : sequence of str, optional
        What was typed after `canewright`; taken from the process when left out.

    Raises
    ------
    SystemExit
        Always: 0 when the command gave its answer, 2 when it was refused with a sentence,
        130 when it was interrupted. An error that is our own mistake keeps its traceback.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        typed = sys.argv[1:] if arguments is None else list(arguments)
        try:
            application(typed[0] if typed else "")(args=typed, prog_name="canewright")
        finally:
            # What is still to be written is written here, where an error becomes a sentence.
            sys.stdout.flush()
    except KeyboardInterrupt:
        typer.echo("Interrupted; nothing was changed.", err=True)
        raise SystemExit(130) from None
    except BrokenPipeError:
        sys.stdout = io.StringIO()  # whoever read it has read enough, as `head` does
        raise SystemExit(1) from None
    except Exception as error:
        sentences = problems.sentences(error)
        if not sentences:
            raise
        if isinstance(error, OSError) and error.filename is None:
            sys.stdout = io.StringIO()  # nothing more goes where nothing can be written
        for sentence in sentences:
            typer.echo(sentence, err=True)
        raise SystemExit(problems.EXIT_CODE) from None
