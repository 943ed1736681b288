"""`canewright balance`: what happened in a shift, from its readings."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from canewright.account import Account


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("balance")
    def command(
        factory: Annotated[Path, typer.Argument(metavar="FACTORY", help="The factory file.")],
        readings: Annotated[
            Path, typer.Argument(metavar="READINGS", help="The shift's readings: CSV, XLSX, ODS.")
        ],
        as_json: Annotated[
            bool, typer.Option("--json", help="Print the same for another program.")
        ] = False,
        everything: Annotated[
            bool, typer.Option("--all", help="Every reading, figure and row, not the chief ones.")
        ] = False,
        stations: Annotated[
            bool, typer.Option("--stations", help="Both sides of each balance, by station.")
        ] = False,
    ) -> None:
        """Balance a shift: suspects, ledgers, figures, readings.

        canewright balance factory.toml readings.csv
        """
        show_balance(factory, readings, as_json=as_json, everything=everything, stations=stations)


def show_balance(
    factory: Path,
    readings: Path,
    *,
    as_json: bool = False,
    everything: bool = False,
    stations: bool = False,
    demo: bool = False,
) -> None:
    """Balance a shift and print its account.

    Parameters
    ----------
    factory, readings : Path
        The two files.
    as_json : bool
        For another program instead of a person.
    everything : bool
        Every reading, figure and row.
    stations : bool
        Both sides of every equation, station by station.
    demo : bool
        The files are made up for a moment and will be gone: name the way to keep them.

    Raises
    ------
    InputRefused
        With everything that is wrong with either file.
    Refused
        If the shift cannot be balanced, with the equations that did not close.
    """
    from canewright.account.payload import payload
    from canewright.cli import balance_pages, printing

    account = balanced(factory, readings)
    if as_json:
        printing.write_json(payload(account))
        return
    screen = printing.console()
    balance_pages.print_account(screen, account, everything=everything)
    if stations:
        balance_pages.print_stations(screen, account)
    names = ("FACTORY", "READINGS") if demo else (str(factory), str(readings))
    balance_pages.print_next(screen, account, *names, demo=demo)


def balanced(factory: Path, readings: Path) -> Account:
    """The account of a shift, showing progress on a terminal.

    Raises
    ------
    Refused
        If the shift cannot be balanced, with the equations that did not close.
    """
    from canewright.account import balance
    from canewright.cli import printing
    from canewright.cli.problems import Refused
    from canewright.engine.equations.simulate import SolveFailed

    steps = 6
    with printing.progress("Balancing the shift", steps) as step:
        try:
            return balance(factory, readings, lambda words: step())
        except SolveFailed as failure:
            said = [f"  {name}" for name in failure.open_equations]
            heading = ["Equations that did not close, and readings that pull at them:"]
            raise Refused(
                f"{readings}: {failure.sentence}", *(heading if said else []), *said
            ) from failure
