"""`canewright check`: what is wrong with a factory file, or that nothing is."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from canewright.cli.checked import Checked

if TYPE_CHECKING:
    from canewright.engine.equations.points import Points
    from canewright.flowsheet import Factory


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("check")
    def command(
        factory: Annotated[Path, typer.Argument(metavar="FACTORY", help="The factory file.")],
        readings: Annotated[
            Path | None,
            typer.Argument(
                metavar="[READINGS]", help="A file of readings to check too.", show_default=False
            ),
        ] = None,
        as_json: Annotated[
            bool, typer.Option("--json", help="Print the same for another program.")
        ] = False,
    ) -> None:
        """Say what is wrong with a factory file, or with readings.

        Where nothing is, say what the factory has and whether its usual figures make sense.
        """
        answer(factory, readings, as_json=as_json)


def answer(factory: Path, readings: Path | None, *, as_json: bool) -> None:
    """Check and print.

    Raises
    ------
    InputRefused
        With everything that is wrong.
    typer.Exit
        With code 2 where something is wrong and the answer was given as JSON.
    """
    from canewright.cli import check_pages, printing
    from canewright.cli.problems import EXIT_CODE
    from canewright.files.problems import InputRefused

    checked = check(factory, readings, date.today())
    if as_json:
        printing.write_json(check_pages.for_json(checked))
        if checked.problems:
            raise typer.Exit(EXIT_CODE)
        return
    if checked.problems:
        raise InputRefused(checked.problems)
    check_pages.print_summary(printing.console(), checked)


def check(factory: Path, readings: Path | None, today: date) -> Checked:
    """Read, connect, compile and solve a factory, and read its readings.

    Parameters
    ----------
    factory, readings : Path
        The files.
    today : date
        Day on which an instrument is overdue, where the readings do not tell their own.
    """
    from canewright.cli import printing
    from canewright.engine.equations.points import Points
    from canewright.files.factory import read_factory
    from canewright.files.problems import InputRefused

    checked = Checked(factory.name)
    try:
        checked.factory = read_factory(factory)
    except InputRefused as refusal:
        checked.problems += refusal.problems
        return checked
    with printing.progress("Solving the factory at its usual figures"):
        _solve(checked, checked.factory)
    if checked.model is not None:
        checked.points = Points(checked.model)
        if readings is not None:
            _read(checked, checked.points, readings, factory.parent)
    day = today
    if checked.readings is not None and checked.readings.shift.start is not None:
        day = checked.readings.shift.start.date()
    checked.overdue = [
        instrument
        for instrument in checked.factory.instruments
        if instrument.due is not None and instrument.due < day
    ]
    _instruments(checked, factory.parent, day)
    return checked


def _instruments(checked: Checked, folder: Path, day: date) -> None:
    """What certificates and checks say of the instruments, on a day or in the shift read."""
    from datetime import datetime, time

    from canewright.account.instruments import read_checks, standings
    from canewright.files.problems import InputRefused
    from canewright.files.rows import ShiftFacts

    assert checked.factory is not None
    facts = ShiftFacts(datetime.combine(day, time()))
    hours = 24.0
    if checked.readings is not None and checked.readings.shift.start is not None:
        facts = checked.readings.shift
        hours = facts.hours or checked.factory.shift_hours
    try:
        checks = read_checks(checked.factory, folder)
        checked.standings = standings(checked.factory, facts, hours, checks)
    except InputRefused as refusal:
        checked.problems += refusal.problems


def _solve(checked: Checked, factory: "Factory") -> None:
    """Compile and simulate; keep what is wrong, or what came out."""
    from canewright.engine.equations import plausibility
    from canewright.engine.equations.cache import prepared
    from canewright.engine.equations.simulate import SolveFailed
    from canewright.flowsheet import FactoryRefused

    try:
        made = prepared(factory)
    except (FactoryRefused, SolveFailed):
        _say_why(checked, factory)
        return
    checked.model, checked.solved = made.model, made.usual
    checked.givens = plausibility.strange_givens(made.model)
    checked.results = plausibility.strange_results(made.usual)
    checked.empty = plausibility.empty_streams(made.usual)


def _say_why(checked: Checked, factory: "Factory") -> None:
    """Compile and simulate once more, step by step, and keep what does not work."""
    from canewright.engine.equations import plausibility, soundness
    from canewright.engine.equations.model import compile
    from canewright.engine.equations.nominal import usual_point
    from canewright.engine.equations.simulate import Simulator, SolveFailed, usually_fixed
    from canewright.files.factory_reader import FactoryProblem

    def refuse(sentences: list[str], remedy: str = "") -> None:
        checked.problems += [
            FactoryProblem(checked.factory_file, None, "", sentence, remedy)
            for sentence in sentences
        ]

    model = compile(factory)
    checked.model = model
    checked.givens = plausibility.strange_givens(model)
    refuse(soundness.structure(model))
    if checked.problems:
        return
    try:
        checked.solved = usual_point(model, Simulator(model, usually_fixed(model)))
    except SolveFailed as failure:
        impossible = plausibility.cannot_be(model)
        refuse(
            impossible or [f"{failure.sentence} Open: {'; '.join(failure.open_equations[:5])}."],
            "Check the sizes, settings and ranges that this depends on.",
        )


def _read(checked: Checked, points: "Points", readings: Path, folder: Path) -> None:
    from canewright.account.remarks import remarks
    from canewright.files.catalogue import FactoryCatalogue
    from canewright.files.problems import InputRefused
    from canewright.files.readings import combine_all, read_readings
    from canewright.files.table_files import own_methods

    assert checked.factory is not None
    try:
        tables = own_methods(checked.factory.tables, folder)
        catalogue = FactoryCatalogue(points, tables)
        checked.readings = read_readings(readings, catalogue)
        readings_taken, beside = combine_all(checked.readings.rows, catalogue)
        checked.combined = [*readings_taken, *beside]
        checked.remarks = [
            remark.words
            for remark in remarks(
                checked.factory, checked.combined, checked.readings.rows, checked.readings.shift
            )
        ]
    except InputRefused as refusal:
        checked.problems += refusal.problems
