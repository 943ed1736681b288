"""`canewright measure`: which reading or calibration would tell most per hour of the analyst."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("measure")
    def command(
        factory: Annotated[Path, typer.Argument(metavar="FACTORY", help="The factory file.")],
        readings: Annotated[
            Path, typer.Argument(metavar="READINGS", help="The shift's readings: CSV, XLSX, ODS.")
        ],
        hours: Annotated[
            float, typer.Option("--hours", help="Hours of an analyst to spend.", min=0.0)
        ] = 4.0,
        figure: Annotated[
            str,
            typer.Option(
                "--figure", metavar="NAME", help="What is to be known better; gain for advice."
            ),
        ] = "undetermined_loss",
        first: Annotated[int, typer.Option("--first", help="How many to list.", min=1)] = 12,
        as_json: Annotated[
            bool, typer.Option("--json", help="Print the same for another program.")
        ] = False,
    ) -> None:
        """Rank what to measure next by what it tells per hour.

        Extra readings, repeats and calibrations.

        canewright measure factory.toml readings.csv --hours 4
        """
        from canewright.account.measure import payload, what_to_read
        from canewright.cli import measure_pages, printing
        from canewright.cli.balance_command import balanced
        from canewright.cli.problems import Refused

        account = balanced(factory, readings)
        try:
            found = what_to_read(account, hours, figure)
        except LookupError as unknown:
            raise Refused(str(unknown.args[0])) from unknown
        if as_json:
            printing.write_json(payload(found))
            return
        measure_pages.show_measured(printing.console(), found, first)
