"""`canewright whatif`: what a change of settings, equipment or cane would do to a shift."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from canewright.account.whatif import WhatIf


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("whatif")
    def command(
        factory: Annotated[
            Path | None,
            typer.Argument(metavar="FACTORY", help="The factory file.", show_default=False),
        ] = None,
        readings: Annotated[
            Path | None,
            typer.Argument(metavar="READINGS", help="The shift to start from.", show_default=False),
        ] = None,
        changes: Annotated[
            list[str] | None,
            typer.Option(
                "--set", metavar="NAME=VALUE", help="240, +10, or -5%; may be given again."
            ),
        ] = None,
        out: Annotated[
            list[str] | None,
            typer.Option(
                "--without", metavar="STATION", help="A mill off, a body out, a heater passed by."
            ),
        ] = None,
        sweep: Annotated[
            list[str] | None,
            typer.Option(
                "--sweep", metavar="NAME=FROM:TO:STEP", help="One or two settings in steps."
            ),
        ] = None,
        figures: Annotated[
            list[str] | None,
            typer.Option("--figure", metavar="NAME", help="A figure to print; may be given again."),
        ] = None,
        csv: Annotated[
            Path | None,
            typer.Option("--csv", metavar="FILE", help="Write all figures.", show_default=False),
        ] = None,
        xlsx: Annotated[
            Path | None,
            typer.Option("--xlsx", metavar="FILE", help="The same.", show_default=False),
        ] = None,
        chart: Annotated[
            Path | None,
            typer.Option("--chart", metavar="FILE.svg", help="Draw a sweep.", show_default=False),
        ] = None,
        draws: Annotated[
            int | None,
            typer.Option(
                "--draws",
                min=0,
                metavar="N",
                help="Factories drawn for the intervals: 200, none in a sweep; 0 for first order.",
            ),
        ] = None,
        first_shift: Annotated[
            bool,
            typer.Option("--first-shift", help="Keep the stocks of now; not as they will settle."),
        ] = False,
        assumed: Annotated[
            bool, typer.Option("--assumed", help="List every assumed response, and stop.")
        ] = False,
        no_assumed: Annotated[
            bool, typer.Option("--no-assumed", help="Let performance stay as it was found.")
        ] = False,
        as_json: Annotated[
            bool, typer.Option("--json", help="Print the same for another program.")
        ] = False,
    ) -> None:
        """Say what a change would do, in figures and money.

        Every difference has its 95 % interval.

        canewright whatif factory.toml readings.csv --set imbibition=240
        """
        from canewright.cli import printing, whatif_pages
        from canewright.cli.problems import Refused
        from canewright.engine.forecasting.forecast_draws import DRAWS, FEWEST

        if assumed:
            whatif_pages.show_assumed(factory, as_json=as_json)
            return
        if factory is None or readings is None:
            raise Refused("Name the factory file and the file of readings to start from.")
        if not (changes or out or sweep):
            raise Refused("Nothing is changed. Add --set imbibition=240, --without or --sweep.")
        if chart is not None and not sweep:
            raise Refused("--chart draws a sweep. Add --sweep imbibition=180:300:10.")
        tables = [path for path in (csv, xlsx) if path is not None]
        for path, kind in ((csv, ".csv"), (xlsx, ".xlsx"), (chart, ".svg")):
            if path is not None and path.suffix.lower() != kind:
                raise Refused(f"{path.name}: its name must end in {kind}.")
        if draws is None:
            draws = 0 if sweep else DRAWS
        if 0 < draws < FEWEST:
            raise Refused(f"--draws {draws}: an interval of 95 % needs {FEWEST} or more, or 0.")
        question = _question(
            factory,
            readings,
            figures or [],
            draws,
            first_shift=first_shift,
            assumed=not no_assumed,
        )
        if sweep:
            from canewright.cli import sweep_pages

            sweep_pages.show(
                question, sweep, changes or [], out or [], figures or [], tables, chart, as_json
            )
            return
        from canewright.account.whatif import payload

        answer = question.ask(changes or [], out or [])
        for table in tables:
            whatif_pages.write(table, answer)
        if as_json:
            printing.write_json(payload(answer, question.account))
            return
        whatif_pages.show(printing.console(), answer, question, first_shift=first_shift)


def _question(
    factory: Path,
    readings: Path,
    figures: list[str],
    draws: int,
    *,
    first_shift: bool,
    assumed: bool,
) -> WhatIf:
    from canewright.account.whatif import WhatIf
    from canewright.cli.balance_command import balanced
    from canewright.cli.problems import Refused

    account = balanced(factory, readings)
    try:
        return WhatIf(
            account,
            figures,
            stocks="as found" if first_shift else "settled",
            assumed=assumed,
            draws=draws,
        )
    except LookupError as unknown:
        raise Refused(str(unknown.args[0])) from unknown
