"""What `canewright advise --review` prints: whether the gain came, and why not."""

from __future__ import annotations

from rich.console import Console

from canewright.account.advice_ledger import Review
from canewright.cli import printing
from canewright.cli.printing import Column, number


def show_review(screen: Console, found: Review) -> None:
    """Print what came of an advice."""
    for sentence in found.sentences:
        printing.paragraph(screen, sentence)
    printing.heading(screen, "The moves")
    printing.table(
        screen,
        [
            Column("", wrap=True, narrowest=20),
            Column("was", "right"),
            Column("advised", "right"),
            Column("found", "right"),
            Column("forecast", "right"),
            Column("earned", "right"),
            Column("made"),
        ],
        [
            (
                f"{move.label}, {move.unit}",
                number(move.before, abs(move.advised - move.before) / 10),
                number(move.advised, abs(move.advised - move.before) / 10),
                number(move.found, abs(move.advised - move.before) / 10),
                _signed(move.forecast),
                _signed(move.earned),
                "yes" if move.made else "no" if move.left else "?",
            )
            for move in found.moves
        ],
    )
    printing.heading(screen, "The whole change, by causes")
    printing.table(
        screen,
        [Column("", wrap=True), Column("a day", "right")],
        [(words, _signed(money)) for words, money in [*found.groups, ("together", found.change)]],
    )
    printing.heading(screen, "What else moved money most")
    printing.table(
        screen,
        [
            Column("", wrap=True),
            Column("was", "right"),
            Column("is", "right"),
            Column("a day", "right"),
        ],
        [
            (name, f"{before:.4g}", f"{after:.4g}", _signed(money))
            for name, before, after, money in found.largest
        ],
    )


def _signed(money: float) -> str:
    return f"{round(money):+,}".replace(",", " ")
