"""What `canewright advise` prints: the finding first, then its grounds."""

from __future__ import annotations

import math

from rich.console import Console

from canewright.account.advice_parts import Advice, Effect, Move
from canewright.cli import printing
from canewright.cli.measure_pages import show_candidates
from canewright.cli.printing import Column, number
from canewright.engine.advising.binding import Binding, Coming

BINDING_SHOWN = 8
SMALLEST_STEP = 1e-4
"""Of room whose worth is told, where a whole unit would be worth more than all the moves."""
TOLD = {"performance": 2, "figure": 2, "money": 3}
"""Effects of each kind told in a chain, at most."""
FOLLOWS = {"performance": "by assumption ", "figure": "then ", "money": "in money "}


def show(screen: Console, advice: Advice, *, first_shift: bool = False) -> None:
    """Print an advice."""
    printing.paragraph(screen, advice.account.factory.name, style="bold")
    _finding(screen, advice, first_shift)
    _moves(screen, advice)
    _lagging(screen, advice)
    _chains(screen, advice)
    _binding(screen, advice)
    _regime(screen, advice)
    _kept(screen, advice)
    _rest(screen, advice)


def _finding(screen: Console, advice: Advice, first_shift: bool) -> None:
    printing.emit(screen, "")
    if advice.moves:
        low, high = advice.gain_interval
        sd = (high - low) / 4
        worse = 100 * (1 - advice.chance_better)
        printing.paragraph(
            screen,
            f"{len(advice.moves)} moves together earn {number(advice.gain, sd)} a day more "
            f"({number(low, sd)} to {number(high, sd)}, 95 %). Chance that doing nothing is "
            f"better: {f'{worse:.0f}' if worse >= 1 else 'under 1'} %; that at least four fifths "
            f"of it come: {100 * advice.chance_of_most:.0f} %.",
            style="bold",
        )
        printing.paragraph(
            screen,
            "In the first shift, with the stocks of now."
            if first_shift
            else "Once the stocks have settled.",
        )
    for note in advice.notes:
        printing.paragraph(screen, note, style="" if advice.sure else "bold")
    if advice.measure:
        printing.heading(screen, "What to measure first")
        show_candidates(screen, advice.measure)


def _moves(screen: Console, advice: Advice) -> None:
    if not advice.moves:
        return
    printing.heading(screen, "Moves for the next shift")
    printing.table(
        screen,
        [
            Column("", wrap=True, narrowest=24),
            Column("from", "right"),
            Column("to", "right"),
            Column("alone", "right"),
            Column("with the others", "right"),
            Column("chance", "right"),
            Column(""),
        ],
        [_move(move) for move in advice.moves],
    )
    for move in advice.moves:
        if move.for_limit:
            what = f" {move.keeps}" if move.keeps else "s its limits"
            printing.paragraph(
                screen,
                f"l: {move.label} earns nothing itself. It lets the others keep{what}.",
                2,
            )
    if any(not move.known for move in advice.moves):
        printing.paragraph(
            screen,
            "u: the readings do not tell where it stands. Move it by the difference.",
            2,
        )
    if advice.dropped:
        said = "; ".join(
            f"{name.replace('.', ', ').replace('_', ' ')} ({value:+.0f} a day)"
            for name, value in advice.dropped
        )
        printing.paragraph(screen, f"Not worth moving: {said}.", 2)


def _move(move: Move) -> tuple[str, ...]:
    width = abs(move.after - move.before) / 10
    return (
        f"{move.label}, {move.unit}",
        number(move.before, width),
        number(move.after, width),
        f"{move.gain_alone:+.0f}",
        f"{move.gain_together:+.0f}",
        f"{100 * move.chance:.0f} %",
        ("l" if move.for_limit else "") + ("" if move.known else "u"),
    )


def _lagging(screen: Console, advice: Advice) -> None:
    if not advice.lagging:
        return
    printing.heading(screen, "Performance worse than your file calls usual")
    for one in advice.lagging:
        width = abs(one.usual - one.found) / 10
        sd = (one.interval[1] - one.interval[0]) / 4
        low, high = (number(end, sd) for end in one.interval)
        printing.paragraph(
            screen,
            f"{one.label}: {number(one.found, width)} where {number(one.usual, width)} {one.unit} "
            f"is usual. Back there it would earn {number(one.gain, sd)} a day more ({low} to "
            f"{high}, 95 %): {one.remedy}.",
            2,
        )
    if any(one.name.endswith(".coefficient") for one in advice.lagging):
        printing.paragraph(screen, "canewright advise --cleaning says when a stop pays.", 2)


def _chains(screen: Console, advice: Advice) -> None:
    if not advice.moves:
        return
    printing.heading(screen, "Why, each move by itself")
    for move in advice.moves:
        printing.paragraph(screen, f"{move.label}: {_chain(move.effects)}.", 2)


def _chain(effects: tuple[Effect, ...]) -> str:
    parts = []
    for kind, words in FOLLOWS.items():
        own = [one for one in effects if one.kind == kind]
        if own:
            parts.append(words + ", ".join(_effect(one) for one in own[: TOLD[kind]]))
    return "; ".join(parts)


def _effect(one: Effect) -> str:
    change = one.after - one.before
    told = f"{one.label} {number(change, abs(change) / 20)} {one.unit}"
    if change > 0:
        told = f"{one.label} +{number(change, abs(change) / 20)} {one.unit}"
    return told if one.money_per_day is None else f"{told} ({one.money_per_day:+.0f} a day)"


def _binding(screen: Console, advice: Advice) -> None:
    if not advice.binding:
        return
    printing.heading(screen, "What holds more money back")
    limits = [one for one in advice.binding if one.kind in ("limit", "quality")]
    ends = [one for one in advice.binding if one not in limits]
    for one in limits:
        printing.paragraph(screen, f"{one.words}: {_price(advice, one)}.", 2)
    if ends:
        told = "; ".join(f"{one.label}, {_price(advice, one)}" for one in ends[:BINDING_SHOWN])
        printing.paragraph(screen, f"How far settings are moved in a shift: {told}.", 2)
    if advice.coming is not None:
        printing.paragraph(screen, _coming(advice.coming), 2)


def _coming(coming: Coming) -> str:
    if coming.eased is None:
        return (
            f"Next comes {coming.limit}, if all moves went on by {coming.further:.0f} % of "
            "themselves."
        )
    gain = number(coming.gain, max(coming.gain / 50, 0.5))
    how = "without" if coming.eased.kind in ("limit", "quality") else "moved twice as far"
    return f"{coming.eased.label}, {how}: {gain} a day more; then comes {coming.limit}."


def _price(advice: Advice, one: Binding) -> str:
    """What room is worth, in the words that a shift uses."""
    price, unit = one.price, one.unit
    if one.per_period and unit == "t":
        price, unit = price * advice.account.hours, "t/h"
    step = 1.0
    while price * step > max(advice.gain, 1.0) and step > SMALLEST_STEP:
        step /= 10
    worth = f"is worth {number(price * step, price * step / 20)} a day"
    if step < 1:
        more = "more" if one.side == "at most" else "less"
        return f"{step:g} {unit} {more} {worth}"
    if unit == "t/h":
        more = "one more tonne" if one.side == "at most" else "one tonne less"
        return f"{more} an hour {worth}"
    more = "more" if one.side == "at most" else "less"
    return f"one {'point' if unit == '%' else unit} {more} {worth}"


def _regime(screen: Console, advice: Advice) -> None:
    printing.heading(screen, "What a tonne is worth at the margin, by your prices")
    printing.paragraph(screen, advice.told.sentence, 2)
    printing.table(
        screen,
        [Column("", wrap=True), Column("money a tonne", "right")],
        [(one.words.removeprefix("a tonne of "), f"{one.value:.2f}") for one in advice.worths],
    )


def _kept(screen: Console, advice: Advice) -> None:
    outcome = advice.outcome
    if outcome is None or not advice.kept:
        return
    count = len(outcome.gains)
    # One standard error of a share of so many draws.
    doubt = math.sqrt(advice.keep * (1 - advice.keep) / count)
    weak = [(words, chance) for words, chance in advice.kept if chance < advice.keep - doubt]
    for words, chance in weak:
        printing.paragraph(
            screen,
            f"Limit: {words}: kept with a probability of {100 * chance:.0f} % only, not "
            f"{100 * advice.keep:.0f} %; the moves cannot bring it nearer.",
            style="bold",
        )
    printing.emit(screen, "")
    printing.paragraph(
        screen,
        f"{'Each other' if weak else 'Each'} limit is kept with a probability of "
        f"{100 * advice.keep:.0f} % or more, as far as {count} drawn factories can tell.",
    )


def _rest(screen: Console, advice: Advice) -> None:
    if advice.assumed:
        printing.heading(screen, "Assumed responses behind it")
        for response in advice.assumed:
            printing.paragraph(
                screen,
                f"{response.words} Slope {response.slope:g} +/- {2 * response.sd:g}.",
                indent=2,
            )
    if advice.cautions:
        printing.emit(screen, "")
        printing.paragraph(screen, f"Caution. {' '.join(advice.cautions)}")
