"""What `canewright advise` and `canewright measure` print: the finding first, then its grounds."""

from __future__ import annotations

from typing import Any

from rich.console import Console

from canewright.account.advice_ledger import Review
from canewright.account.advice_parts import Advice, Effect, Move
from canewright.account.measure import Measured
from canewright.cli import printing
from canewright.cli.printing import Column, number
from canewright.engine.binding import Binding, Coming
from canewright.engine.cleaning import Plan
from canewright.engine.value_of_readings import Candidate

BINDING_SHOWN = 8
FOLLOWS = {"performance": "answers, assumed", "figure": "then", "money": "in money"}


def show(screen: Console, advice: Advice, *, first_shift: bool = False) -> None:
    """Print an advice."""
    printing.paragraph(screen, advice.account.factory.name, style="bold")
    _finding(screen, advice, first_shift)
    _moves(screen, advice)
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
        printing.paragraph(
            screen,
            f"{len(advice.moves)} moves together earn {number(advice.gain, sd)} a day more "
            f"({number(low, sd)} to {number(high, sd)}, 95 %). Chance that doing nothing is "
            f"better: {100 * (1 - advice.chance_better):.0f} %.",
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
        _candidates(screen, advice.measure)


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
    if any(move.for_limit for move in advice.moves):
        printing.paragraph(screen, "l: earns nothing itself; it keeps a limit for the others.", 2)
    if any(not move.known for move in advice.moves):
        printing.paragraph(
            screen,
            "u: the readings do not tell where it stands. Move it by the difference.",
            2,
        )
    for name, value in advice.dropped:
        printing.paragraph(screen, f"Not worth moving: {name} ({value:+.0f} a day).", 2)


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
            parts.append(f"{words}: " + ", ".join(_effect(one) for one in own[:3]))
    return "; ".join(parts)


def _effect(one: Effect) -> str:
    width = abs(one.after - one.before) / 10
    change = f"{one.label} {number(one.before, width)} to {number(one.after, width)} {one.unit}"
    return change if one.money_per_day is None else f"{change} ({one.money_per_day:+.0f} a day)"


def _binding(screen: Console, advice: Advice) -> None:
    if not advice.binding:
        return
    printing.heading(screen, "What holds more money back")
    for one in advice.binding[:BINDING_SHOWN]:
        printing.paragraph(screen, f"{one.words}: {_price(advice, one)}.", 2)
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
    if one.per_period and one.unit == "t":
        rate = one.price * advice.account.hours
        return f"one more tonne an hour is worth {number(rate, rate / 50)} a day"
    return f"one {one.unit} of room is worth {number(one.price, one.price / 50)} a day"


def _regime(screen: Console, advice: Advice) -> None:
    printing.heading(screen, "What a tonne is worth at the margin")
    printing.paragraph(screen, advice.told.sentence, 2)
    for one in advice.worths:
        said = f"{one.words}: {number(one.value, max(abs(one.value) / 50, 0.05))}"
        printing.paragraph(screen, f"{said}, by the prices of your factory file.", 2)


def _kept(screen: Console, advice: Advice) -> None:
    weak = [(words, chance) for words, chance in advice.kept if chance < advice.keep]
    for words, chance in weak:
        printing.paragraph(
            screen,
            f"Limit: {words}: kept with a probability of {100 * chance:.0f} % only, as near to "
            f"{100 * advice.keep:.0f} % as the moves can bring it.",
            style="bold",
        )
    if advice.kept and not weak:
        printing.emit(screen, "")
        printing.paragraph(
            screen, f"Each limit is kept with a probability of {100 * advice.keep:.0f} % or more."
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


def show_measured(screen: Console, found: Measured, first: int) -> None:
    """Print what to measure."""
    printing.paragraph(screen, found.account.factory.name, style="bold")
    printing.paragraph(
        screen,
        f"{found.label}: {number(found.value, found.sd)} +/- {number(2 * found.sd, found.sd)} "
        f"{found.unit} (95 %).",
    )
    if not found.candidates:
        printing.paragraph(
            screen,
            "No reading or calibration would narrow it by much."
            + (
                " What is unsure comes from assumed responses: only a trial narrows those."
                if found.assumed > 0
                else ""
            ),
        )
        return
    if found.plan:
        printing.heading(screen, f"With {found.hours:g} hours of an analyst, in this order")
        _candidates(screen, found.plan)
    printing.heading(screen, "Each by itself, the most per hour first")
    _candidates(screen, found.candidates[:first])
    if found.cautions:
        printing.emit(screen, "")
        printing.paragraph(screen, f"Caution. {' '.join(found.cautions)}")


def _candidates(screen: Console, candidates: list[Candidate]) -> None:
    printing.table(
        screen,
        [
            Column(""),
            Column("point", wrap=True),
            Column("analysis", wrap=True),
            Column("hours", "right"),
            Column("+/- now", "right"),
            Column("+/- then", "right"),
        ],
        [
            (
                one.kind,
                one.point,
                "" if one.kind == "calibration" else one.analysis,
                f"{one.cost_hours:g}",
                number(2 * one.sd_before, one.sd_before / 5),
                number(2 * one.sd_after, one.sd_before / 5),
            )
            for one in candidates
        ],
    )


def show_cleaning(screen: Console, plan: Plan) -> None:
    """Print a plan of cleaning."""
    days = plan.horizon / 24
    if plan.stops:
        when = ", ".join(f"in {hours:.0f} h" for hours in plan.stops)
        printing.paragraph(
            screen,
            f"Stop to clean {when}: over {days:.0f} days that earns {plan.gain:.0f} more than not "
            f"stopping and {plan.gain_over_now:.0f} more than stopping at once."
            if plan.gain < float("inf")
            else f"Stop to clean {when}: without it the factory cannot run on for {days:.0f} days.",
            style="bold",
        )
    else:
        printing.paragraph(screen, f"No stop within {days:.0f} days pays for itself.", style="bold")
    printing.paragraph(
        screen,
        f"A stop of {plan.stop_hours:g} h costs {plan.lost_hour * plan.stop_hours:.0f} of crushing "
        "and its chemicals.",
    )
    if plan.runs_until < float("inf"):
        printing.paragraph(
            screen,
            f"With scale older than {plan.runs_until:.0f} h the factory cannot run so, or breaks a "
            "limit.",
        )
    printing.heading(screen, "Bodies")
    printing.table(
        screen,
        [
            Column(""),
            Column("now", "right"),
            Column("clean", "right"),
            Column("h since", "right"),
            Column("best run alone, h", "right"),
        ],
        [
            (
                body.name,
                f"{body.now:.3g}",
                f"{body.clean:.3g}",
                f"{body.hours:g}",
                f"{body.best_run:.0f}",
            )
            for body in plan.bodies
        ],
    )
    from canewright.account.cautions import sentences_of

    said = sentences_of(["steam and vacuum", "confined spaces"])
    printing.emit(screen, "")
    printing.paragraph(screen, f"Caution. {' '.join(said)}")


def cleaning_payload(plan: Plan) -> dict[str, Any]:
    """A plan of cleaning as plain data."""
    from canewright.account.cautions import sentences_of

    return {
        "stops_in_hours": plan.stops,
        "gain": plan.gain,
        "gain_over_stopping_now": plan.gain_over_now,
        "horizon_hours": plan.horizon,
        "stop_hours": plan.stop_hours,
        "lost_hour": plan.lost_hour,
        "runs_until_hours": plan.runs_until,
        "bodies": [vars(body) for body in plan.bodies],
        "money_by_age": [
            {"hours": float(age), "money_per_day": float(money)}
            for age, money in zip(plan.ages, plan.money, strict=True)
        ],
        "cautions": sentences_of(["steam and vacuum", "confined spaces"]),
    }


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
        ],
        [
            (
                f"{move.setting}, {move.unit}",
                number(move.before, abs(move.advised - move.before) / 10),
                number(move.advised, abs(move.advised - move.before) / 10),
                number(move.found, abs(move.advised - move.before) / 10),
                f"{move.forecast:+.0f}",
                f"{move.earned:+.0f}",
            )
            for move in found.moves
        ],
    )
    printing.heading(screen, "The whole change, by causes")
    printing.table(
        screen,
        [Column("", wrap=True), Column("a day", "right")],
        [(words, f"{money:+.0f}") for words, money in [*found.groups, ("together", found.change)]],
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
            (name, f"{before:.4g}", f"{after:.4g}", f"{money:+.0f}")
            for name, before, after, money in found.largest
        ],
    )
