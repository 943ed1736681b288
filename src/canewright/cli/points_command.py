"""`canewright points`: what can be read in a factory, where, and how well."""

from pathlib import Path
from typing import Annotated

import typer


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("points")
    def command(
        factory: Annotated[Path, typer.Argument(metavar="FACTORY", help="The factory file.")],
        point: Annotated[
            str | None,
            typer.Argument(
                metavar="[POINT]", help="One point in full, or a part of names.", show_default=False
            ),
        ] = None,
        as_json: Annotated[
            bool, typer.Option("--json", help="Print the same for another program.")
        ] = False,
    ) -> None:
        """List what can be read where, or explain one point.

        canewright points factory.toml mixed_juice
        """
        answer(factory, point, as_json=as_json)


def answer(factory: Path, point: str | None, *, as_json: bool) -> None:
    """Print the points of a factory.

    Raises
    ------
    Refused
        If no point has this name.
    InputRefused
        With everything that is wrong with the factory file.
    """
    from canewright.cli import point_pages, printing
    from canewright.cli.problems import Refused
    from canewright.engine.equations.cache import model_of
    from canewright.engine.equations.points import Points, point_name
    from canewright.files.factory import read_factory
    from canewright.files.problems import known_names

    points = Points(model_of(read_factory(factory)))
    found = point_pages.described(points)
    wanted = point_name(point or "")
    if point is not None:
        chosen = {name: entry for name, entry in found.items() if wanted in name}
        if wanted in found:
            chosen = {wanted: found[wanted]}
        if not chosen:
            hint = known_names(point, list(found), "points")
            raise Refused(f"{factory.name} has no point '{point}'. {hint}")
        found = chosen
    screen = printing.console()
    if as_json:
        printing.write_json(
            {
                "factory": points.model.factory.name,
                "invented": points.model.factory.invented,
                "points": point_pages.for_json(points, found),
            }
        )
    elif point is not None and len(found) == 1:
        name, entry = next(iter(found.items()))
        point_pages.print_point(screen, points, name, entry)
    else:
        point_pages.print_list(screen, points, found)
