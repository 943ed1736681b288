"""`canewright new`: a starter for a factory file of one's own."""

from pathlib import Path
from typing import Annotated

import typer

STARTER = "starter.toml"


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("new")
    def command(
        file: Annotated[
            Path, typer.Argument(metavar="FILE.toml", help="The file to write; it must not exist.")
        ],
        as_json: Annotated[
            bool, typer.Option("--json", help="Print the same for another program.")
        ] = False,
    ) -> None:
        """Write a starter for your factory file.

        It is a small invented factory, explained line by line.

        canewright new my-factory.toml
        """
        answer(file, as_json=as_json)


def answer(file: Path, *, as_json: bool) -> None:
    """Write the starter, whole or not at all.

    Raises
    ------
    Refused
        If the file exists, is not named as a factory file, or its folder is not there.
    """
    from canewright.cli import printing
    from canewright.cli.problems import Refused
    from canewright.files.writing import write_whole

    if file.suffix.lower() != ".toml":
        raise Refused(f"{file}: a factory file ends in .toml. Write {file}.toml or another name.")
    if file.exists() or file.is_symlink():
        raise Refused(f"{file} exists already and is not overwritten. Choose another name.")
    if not file.parent.is_dir():
        raise Refused(f"{file}: there is no folder {file.parent}. Make it first.")
    write_whole(file, starter())
    if as_json:
        printing.write_json({"written": str(file), "invented": True})
        return
    typer.echo(f"Wrote {file}: a small invented factory, to be replaced by yours.")
    typer.echo("Next:")
    typer.echo(f"  canewright check {file}")
    typer.echo("  canewright station            what a factory can be made of")


def starter() -> bytes:
    """The starter as it is shipped."""
    from importlib import resources

    return resources.files("canewright.factories").joinpath(STARTER).read_bytes()
