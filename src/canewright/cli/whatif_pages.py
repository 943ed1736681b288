"""What `canewright whatif` prints: what it is worth, what changes, what is only assumed."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console

from canewright.account.whatif import FIRST, Answer, Changed, WhatIf
from canewright.cli import printing
from canewright.cli.printing import Column, number
from canewright.engine.equations.responses import Response, links, responses
from canewright.engine.forecasting.forecast_draws import Drawing

ALSO = 12
"""Chief figures printed beside those of money and those asked for."""
MARK = "a"
"""Beside what an assumed response moves."""
WIDTHS = 3.92
"""Standard deviations that an interval of 95 % spans."""
LEAST = 0.5
"""Money a day below which a change is not worth a line."""
SURE = 1e-9
"""Relative uncertainty of a difference that is only rounding."""
NOTABLE = 3e-4
"""Relative change from which a chief figure is printed unasked."""


def show(screen: Console, answer: Answer, question: WhatIf, *, first_shift: bool) -> None:
    """Print an answer."""
    printing.paragraph(screen, question.account.factory.name, style="bold")
    for line in _asked(answer):
        printing.paragraph(screen, line)
    printing.paragraph(
        screen,
        "In the first shift after the change, with the stocks of now."
        if first_shift
        else "Once the stocks have settled: tanks hold what the new settings make, and gain a "
        "shift what they gained in this one.",
    )
    _money(screen, answer)
    for sentence in answer.limits:
        printing.paragraph(screen, f"Limit: {sentence}", style="bold")
    _figures(screen, answer)
    _notes(screen, answer)


def _asked(answer: Answer) -> list[str]:
    lines = [
        f"{name}: {number(before)} to {number(after)} {unit}"
        for name, unit, before, after in answer.settings
    ]
    return [*lines, *(f"Without {name}." for name in answer.forecast.without)]


def _money(screen: Console, answer: Answer) -> None:
    earned = answer.earned
    printing.emit(screen, "")
    if earned is None:
        printing.paragraph(screen, "Nothing can be said in money: the factory file has no prices.")
        _steam(screen, answer)
        return
    low, high = earned.interval
    sd = (high - low) / WIDTHS
    way = "more" if earned.difference > 0 else "less"
    sure = "" if low * high > 0 else " The sign is not sure."
    printing.paragraph(
        screen,
        f"It earns {number(abs(earned.difference), sd)} a day {way} "
        f"({number(low, sd)} to {number(high, sd)}, 95 %).{sure}",
        style="bold",
    )
    _steam(screen, answer)


def _steam(screen: Console, answer: Answer) -> None:
    """What steam saved is worth, and whether the change has changed that."""
    printing.paragraph(screen, answer.told_after.sentence)
    if answer.told.regime != answer.told_after.regime:
        printing.paragraph(screen, f"That is new. Before: {answer.told.sentence}")


def _figures(screen: Console, answer: Answer) -> None:
    paid = [row for row in answer.rows if row.changes and _worth(row) >= LEAST]
    first = paid[:FIRST]
    asked = [row for row in answer.rows if row.asked and row not in first]
    also = [row for row in answer.rows if row.headline and row not in [*first, *asked]]
    groups = (
        ("Most changed in money", first),
        ("Asked for", asked),
        (
            "Changed beside that" if first or asked else "What changes",
            [row for row in also if _notable(row)][:ALSO],
        ),
    )
    for title, rows in groups:
        if rows:
            printing.heading(screen, title)
            money = rows is first
            columns = [Column("", wrap=True, narrowest=22), *_numbers(money)]
            printing.table(screen, columns, [_row(row, money) for row in rows])


def _notable(row: Changed) -> bool:
    values = row.values
    return abs(values.difference) > NOTABLE * max(abs(values.before), abs(values.after))


def _worth(row: Changed) -> float:
    return 0.0 if row.money is None else abs(row.money.difference)


def _numbers(money: bool) -> list[Column]:
    headings = ["before", "after", "change", "at least", "at most", *(["money"] if money else [])]
    return [*(Column(heading, "right") for heading in headings), Column("")]


def _row(row: Changed, money: bool) -> tuple[str, ...]:
    values = row.values
    low, high = values.interval
    sd = (high - low) / WIDTHS
    sd = sd if sd > SURE * max(abs(values.before), abs(values.after)) else 0.0
    cells = [
        f"{row.label}, {row.unit}",
        number(values.before, sd),
        number(values.after, sd),
        _signed(values.difference, sd),
        *([_signed(low, sd), _signed(high, sd)] if sd > 0 else ["", ""]),
    ]
    if money and row.money is not None:
        cells.append(f"{row.money.difference:+,.0f}".replace(",", " "))
    return (*cells, MARK if values.assumed else "")


def _signed(value: float, sd: float) -> str:
    text = number(value, sd)
    return text if text.startswith("-") else f"+{text}"


def _drawn(drawing: Drawing | None) -> list[str]:
    """How the intervals came about."""
    if drawing is None:
        return ["At least and at most: the change with 95 %, to first order; --draws 200 is surer."]
    if not drawing.enough:
        return [
            f"Only {drawing.counted} of {drawing.count} drawn factories can run so: the readings "
            "do not say enough of how it runs. At least and at most are of first order."
        ]
    told = [
        f"At least and at most: the change with 95 %, of {drawing.counted} factories drawn from "
        "what the balance knows."
    ]
    if drawing.failed_after:
        share = 100 * drawing.failed_after / (drawing.count - drawing.failed_before)
        told.append(f"Chance that the factory cannot run so: {max(share, 0.5):.1g} %.")
    return told


def _notes(screen: Console, answer: Answer) -> None:
    for sentence in _drawn(answer.forecast.drawing):
        printing.paragraph(screen, sentence)
    for sentence in answer.missing:
        printing.paragraph(screen, sentence)
    if answer.assumed:
        printing.heading(screen, f"Assumed responses, which move the figures marked {MARK}")
        for response in answer.assumed:
            printing.paragraph(screen, _told(response), indent=2)
    if answer.cautions:
        printing.emit(screen, "")
        printing.paragraph(screen, f"Caution. {' '.join(answer.cautions)}")


def _told(response: Response) -> str:
    return f"{response.words} Slope {response.slope:g} +/- {2 * response.sd:g}."


def show_assumed(factory: Path | None, *, as_json: bool) -> None:
    """List every assumed response, or those that a factory's stations can show."""
    known = list(responses())
    if factory is not None:
        from canewright.engine.equations.cache import model_of
        from canewright.files.factory import read_factory

        shown = {link.response for link in links(model_of(read_factory(factory)))}
        known = [response for response in known if response in shown]
    if as_json:
        printing.write_json({"responses": [vars(response) for response in known]})
        return
    screen = printing.console()
    printing.paragraph(
        screen,
        "Where no published law stands in the stations yet, performance is taken to answer "
        "settings like this. Each slope is common practice, not a measurement; its uncertainty "
        "(95 %) is counted in every forecast that it moves.",
    )
    printing.emit(screen, "")
    printing.table(
        screen,
        [
            Column("setting", wrap=True),
            Column("performance", wrap=True),
            Column("slope", "right"),
            Column("+/- 95 %", "right"),
            Column("in words", wrap=True),
        ],
        [(r.cause, r.effect, f"{r.slope:g}", f"{2 * r.sd:g}", r.words) for r in known],
        indent=0,
    )


def write(path: Path, answer: Answer) -> None:
    """Write every figure before and after to a table.

    Raises
    ------
    Refused
        If the file's name ends neither in .csv nor in .xlsx.
    """
    from canewright.cli.tables import write_table

    heading = [
        "figure",
        "label",
        "unit",
        "before",
        "after",
        "difference",
        "low",
        "high",
        "money_per_day",
        "assumed",
    ]
    lines: list[list[object]] = [
        [
            row.name,
            row.label,
            row.unit,
            row.values.before,
            row.values.after,
            row.values.difference,
            *row.values.interval,
            None if row.money is None else row.money.difference,
            "; ".join(response.name for response in row.values.assumed),
        ]
        for row in answer.rows
    ]
    write_table(path, heading, lines)
