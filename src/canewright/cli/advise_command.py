"""`canewright advise`: the settings that earn most within their limits, and how sure that is."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from canewright.account.advice import Adviser
    from canewright.engine.advising.cleaning import Body


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("advise")
    def command(
        factory: Annotated[Path, typer.Argument(metavar="FACTORY", help="The factory file.")],
        readings: Annotated[
            Path, typer.Argument(metavar="READINGS", help="The shift to start from.")
        ],
        reach: Annotated[
            float | None,
            typer.Option(
                "--reach",
                help="How far a setting is moved in a shift, % of its typical range.",
                min=0.0,
            ),
        ] = None,
        accept: Annotated[
            list[str] | None,
            typer.Option(
                "--accept", metavar="NAME=MOVE", help="The same for one setting, in its unit."
            ),
        ] = None,
        draws: Annotated[
            int, typer.Option("--draws", help="Drawn factories; 0 for none.", min=0)
        ] = 200,
        probability: Annotated[
            float,
            typer.Option(
                "--sure", help="Probability with which limits are kept.", min=0.5, max=0.999
            ),
        ] = 0.9,
        least: Annotated[
            float | None,
            typer.Option("--least", help="Money a day below which a move is not worth making."),
        ] = None,
        first_shift: Annotated[
            bool,
            typer.Option("--first-shift", help="Keep the stocks of now; not as they will settle."),
        ] = False,
        no_assumed: Annotated[
            bool, typer.Option("--no-assumed", help="Let performance stay as it was found.")
        ] = False,
        cleaning: Annotated[
            bool, typer.Option("--cleaning", help="When to stop to clean the evaporator.")
        ] = False,
        since: Annotated[
            list[str] | None,
            typer.Option("--cleaned", metavar="[BODY=]HOURS", help="Hours since it was cleaned."),
        ] = None,
        clean: Annotated[
            list[str] | None,
            typer.Option("--clean", metavar="[BODY=]COEFFICIENT", help="Coefficient when clean."),
        ] = None,
        season: Annotated[
            Path | None,
            typer.Option(
                "--season",
                metavar="FOLDER",
                help="Take both from how coefficients fell over these shifts.",
                show_default=False,
            ),
        ] = None,
        stop_hours: Annotated[
            float, typer.Option("--stop-hours", help="Length of a stop.", min=0.1)
        ] = 12.0,
        chemicals: Annotated[
            float, typer.Option("--chemicals", help="Cost of one cleaning.", min=0.0)
        ] = 0.0,
        lost_hour: Annotated[
            float | None,
            typer.Option(
                "--lost-hour",
                help="Cost of an hour without crushing where the season can be made longer.",
            ),
        ] = None,
        ledger: Annotated[
            Path | None,
            typer.Option(
                "--keep",
                metavar="FILE.json",
                help="Add the advice to a ledger.",
                show_default=False,
            ),
        ] = None,
        review: Annotated[
            Path | None,
            typer.Option(
                "--review",
                metavar="FILE.json",
                help="Say what came of the last advice in a ledger.",
                show_default=False,
            ),
        ] = None,
        as_json: Annotated[
            bool, typer.Option("--json", help="Print the same for another program.")
        ] = False,
    ) -> None:
        """Say which settings to change, and what each is worth.

        It says too what binds, and how sure all this is.

        canewright advise factory.toml readings.csv
        """
        from canewright.account import advice_ledger, advice_payload
        from canewright.cli import advice_pages, cleaning_pages, printing, review_pages
        from canewright.cli.balance_command import balanced
        from canewright.cli.problems import Refused
        from canewright.engine.advising.cleaning import plan_cleaning
        from canewright.engine.forecasting.forecast_draws import FEWEST

        screen = printing.console()
        accepted = dict(_pair(text, "--accept") for text in accept or [])
        if "" in accepted:
            raise Refused("--accept needs a setting. Write --accept imbibition=10.")
        if 0 < draws < FEWEST:
            raise Refused(f"--draws {draws}: an interval of 95 % needs {FEWEST} or more, or 0.")
        account = balanced(factory, readings)
        if review is not None:
            found = advice_ledger.review(review, account)
            if as_json:
                printing.write_json(advice_ledger.payload(found))
            else:
                review_pages.show_review(screen, found)
            return
        adviser = _adviser(account, reach, accepted, first_shift, no_assumed)
        if cleaning:
            if season is not None:
                bodies = _from_season(adviser, factory, season, stop_hours)
            else:
                bodies = _from_words(adviser, since or [], clean or [], stop_hours)
            plan = plan_cleaning(
                adviser.optimiser, bodies, stop_hours, chemicals=chemicals, lost_hour=lost_hour
            )
            if as_json:
                printing.write_json(cleaning_pages.cleaning_payload(plan))
            else:
                cleaning_pages.show_cleaning(screen, plan)
            return
        answer = adviser.advise(draws, probability, least)
        if ledger is not None:
            count = advice_ledger.keep(ledger, answer)
            if not as_json:
                printing.paragraph(screen, f"Kept in {ledger}, which has {count} now.")
        if as_json:
            printing.write_json(advice_payload.payload(answer))
            return
        advice_pages.show(screen, answer, first_shift=first_shift)


def _adviser(
    account: Any,
    reach: float | None,
    accepted: dict[str, float],
    first_shift: bool,
    no_assumed: bool,
) -> Adviser:
    from canewright.account.advice import Adviser
    from canewright.cli.problems import Refused
    from canewright.engine.equations.changes import resolve

    model = account.estimate.model
    try:
        return Adviser(
            account,
            stocks="as found" if first_shift else "settled",
            assumed=not no_assumed,
            reach=reach,
            accepted={resolve(model, name): amount for name, amount in accepted.items()},
        )
    except KeyError as unknown:
        raise Refused(str(unknown.args[0])) from unknown


def _from_words(
    adviser: Adviser, since: list[str], clean: list[str], stop_hours: float
) -> list[Body]:
    from canewright.engine.advising.cleaning import bodies_of

    return bodies_of(
        adviser.optimiser,
        dict(_pair(text, "--cleaned") for text in since),
        dict(_pair(text, "--clean") for text in clean),
        stop_hours,
    )


def _from_season(adviser: Adviser, factory: Path, folder: Path, stop_hours: float) -> list[Body]:
    from canewright.account.scaling import season_scaling
    from canewright.cli.season_command import balanced as season_balanced
    from canewright.engine.advising.scaling import bodies_with

    account = season_balanced(factory, folder, None, resume=True, keep=False)
    return bodies_with(adviser.optimiser, season_scaling(account), stop_hours)


def _pair(text: str, option: str) -> tuple[str, float]:
    from canewright.cli.problems import Refused

    name, _, number = text.rpartition("=")
    try:
        return name.strip(), float(number)
    except ValueError as error:
        raise Refused(f"{option} {text}: '{number}' is no number.") from error
