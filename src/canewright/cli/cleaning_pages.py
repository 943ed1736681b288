"""What `canewright advise --cleaning` prints: when to stop, and what each body says of it."""

from __future__ import annotations

from typing import Any

from rich.console import Console

from canewright.cli import printing
from canewright.cli.printing import Column
from canewright.engine.advising.cleaning import Plan


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
