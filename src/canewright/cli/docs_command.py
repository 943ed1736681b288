"""`canewright docs`: write the pages that are made from declarations."""

from pathlib import Path
from typing import Annotated

import typer

from canewright.cli import docs_pages


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("docs")
    def command(
        folder: Annotated[
            Path, typer.Option("--write", metavar="DIR", help="Folder to write the pages into.")
        ],
    ) -> None:
        """Write the pages of formulas, sources and stations.

        Those of readings and points too.
        """
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in docs_pages.pages().items():
            path = folder / name
            path.write_text(text, encoding="utf-8")
            typer.echo(f"Wrote {path}.")
