"""`canewright explain`: what a figure rests on."""

from pathlib import Path
from typing import Annotated, Any

import typer


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("explain")
    def command(
        factory: Annotated[Path, typer.Argument(metavar="FACTORY", help="The factory file.")],
        readings: Annotated[
            Path, typer.Argument(metavar="READINGS", help="The shift's readings: CSV, XLSX, ODS.")
        ],
        figure: Annotated[
            str,
            typer.Argument(
                metavar="FIGURE",
                help="A figure's name, a reading ('mixed_juice weight') or a quantity "
                "('boiler.efficiency').",
            ),
        ],
        as_json: Annotated[
            bool, typer.Option("--json", help="Print the same for another program.")
        ] = False,
        everything: Annotated[
            bool, typer.Option("--all", help="Every contribution, the smallest too.")
        ] = False,
    ) -> None:
        """Say where a figure comes from: readings, equations, source.

        canewright explain factory.toml readings.csv sucrose_extraction
        """
        answer(factory, readings, figure, as_json=as_json, everything=everything)


def answer(
    factory: Path, readings: Path, asked: str, *, as_json: bool, everything: bool = False
) -> None:
    """Print what a figure rests on.

    Raises
    ------
    InputRefused
        With everything that is wrong with either file.
    Refused
        If the shift cannot be balanced or nothing is called so.
    """
    from canewright.account.explanation import explanation
    from canewright.cli import bench_pages, explain_pages, printing
    from canewright.cli.balance_command import balanced
    from canewright.cli.problems import Refused

    account = balanced(factory, readings)
    if asked.strip() in account.beside:
        name = asked.strip()
        if as_json:
            printing.write_json(bench_pages.analysis_for_json(name, account.bench[name]))
        else:
            bench_pages.print_analysis(printing.console(), account, name)
        return
    try:
        found: Any = explanation(account, asked)
    except (LookupError, ValueError) as error:
        raise Refused(str(error.args[0])) from error
    if as_json:
        printing.write_json(explain_pages.for_json(found))
    else:
        explain_pages.print_explanation(printing.console(), account, found, everything=everything)
