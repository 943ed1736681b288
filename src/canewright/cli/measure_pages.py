"""What `canewright measure` prints: what each reading or calibration would tell."""

from __future__ import annotations

from rich.console import Console

from canewright.account.measure import Measured
from canewright.cli import printing
from canewright.cli.printing import Column, number
from canewright.engine.measuring.value_of_readings import Candidate

POINT = 24


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
        show_candidates(screen, found.plan)
    printing.heading(screen, "Each by itself, the most per hour first")
    show_candidates(screen, found.candidates[:first])
    shown = [*found.plan, *found.candidates[:first]]
    best = [one for one in found.candidates if one.kind == "calibration"][:1]
    if best and best[0] not in shown:
        printing.paragraph(
            screen,
            f"Of calibrations the {best[0].point} would tell most: +/- "
            f"{number(2 * best[0].sd_after, best[0].sd_before / 5)} then, for "
            f"{best[0].cost_hours:g} h.",
        )
    if found.cautions:
        printing.emit(screen, "")
        printing.paragraph(screen, f"Caution. {' '.join(found.cautions)}")


def show_candidates(screen: Console, candidates: list[Candidate]) -> None:
    """Print candidates with what is known now and what would be known then."""
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
                printing.folded(one.point, POINT),
                "" if one.kind == "calibration" else one.analysis,
                f"{one.cost_hours:g}",
                number(2 * one.sd_before, one.sd_before / 5),
                number(2 * one.sd_after, one.sd_before / 5),
            )
            for one in candidates
        ],
    )
