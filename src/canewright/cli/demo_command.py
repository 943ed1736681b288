"""`canewright demo`: the main job on the demonstration factory."""

import tempfile
from pathlib import Path
from typing import Annotated

import typer


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("demo")
    def command(
        folder: Annotated[
            Path | None,
            typer.Option("--write", metavar="DIR", help="Write the factory and its season here."),
        ] = None,
        shifts: Annotated[
            int, typer.Option("--shifts", min=1, max=2000, help="Shifts of the season to make up.")
        ] = 90,
        poorly: Annotated[
            bool, typer.Option("--poorly", help="Take the poorly instrumented factory instead.")
        ] = False,
        as_json: Annotated[bool, typer.Option("--json", help="Print the balance as JSON.")] = False,
    ) -> None:
        """Balance a shift of an invented factory, or write it out."""
        from canewright.cli import printing
        from canewright.cli.balance_command import show_balance
        from canewright.demo.factory import POORLY_READ, WELL_RUN, write_demonstration

        demonstration = POORLY_READ if poorly else WELL_RUN
        if folder is not None:
            with printing.progress("Making up the season", shifts) as step:
                paths = write_demonstration(demonstration, folder, shifts, lambda shift: step())
            typer.echo(f"Wrote {folder / 'factory.toml'}, {folder / 'readings.csv'} (last shift)")
            typer.echo(
                f"and {len(paths) - 2} shifts in {folder / 'season'}. All of it is invented."
            )
            typer.echo("Next:")
            typer.echo(f"  canewright balance {folder / 'factory.toml'} {folder / 'readings.csv'}")
            return
        with tempfile.TemporaryDirectory() as place:
            made = Path(place) / "demo"
            with printing.progress("Making up the season", shifts) as step:
                write_demonstration(demonstration, made, shifts, lambda shift: step())
            show_balance(made / "factory.toml", made / "readings.csv", as_json=as_json, demo=True)
