"""`canewright station`: the kinds of station, and one of them in full."""

from typing import Annotated

import typer


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("station")
    def command(
        asked: Annotated[
            list[str] | None,
            typer.Argument(
                metavar="[KIND|WORDS]...",
                help="A kind as written in the factory file, or words to look for.",
                show_default=False,
            ),
        ] = None,
        as_json: Annotated[
            bool, typer.Option("--json", help="Print the same for another program.")
        ] = False,
    ) -> None:
        """List the kinds of station, look for one, or explain it.

        Its ports, quantities and equations.

        canewright station juice_heater
        """
        answer(asked or [], as_json=as_json)


def answer(asked: list[str], *, as_json: bool) -> None:
    """Print the list, what a search finds, or one kind of station.

    Raises
    ------
    Refused
        If nothing fits.
    """
    from canewright.cli import printing, station_facts, station_pages
    from canewright.cli.problems import Refused, did_you_mean

    everything = station_facts.every_station()
    named = "_".join(asked).lower().replace(" ", "_").replace("-", "_")
    screen = printing.console()
    if named in everything:
        found = [everything[named]]
    else:
        words = [word.lower() for word in asked]
        found = [
            facts
            for facts in everything.values()
            if all(
                word in f"{facts.kind} {facts.section} {facts.summary}".lower() for word in words
            )
        ]
    if not found:
        raise Refused(
            f"No kind of station is called or speaks of '{' '.join(asked)}'."
            f"{did_you_mean(named, everything)} `canewright station` lists all."
        )
    if as_json:
        one = bool(asked) and len(found) == 1
        shown = station_facts.for_json(found[0]) if one else None
        listed = [
            {"kind": facts.kind, "section": facts.section, "summary": facts.summary}
            for facts in found
        ]
        printing.write_json(shown or {"stations": listed})
    elif asked and len(found) == 1:
        station_pages.print_page(screen, found[0])
    else:
        station_pages.print_list(screen, found)
