"""`canewright study`: many scenarios of a factory, drawn or in a grid, to a table."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from rich.console import Console

    from canewright.account.study import Results
    from canewright.account.study_work import Work

MOST_POINTS = 24
"""Points of a grid up to which each is printed."""
REASONS = 5
"""Reasons of failed scenarios that are printed."""


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("study")
    def command(
        plan: Annotated[Path, typer.Argument(metavar="PLAN", help="The plan (TOML).")],
        out: Annotated[
            Path | None,
            typer.Option(
                "--out", metavar="DIR", help="For results; beside the plan.", show_default=False
            ),
        ] = None,
        workers: Annotated[
            int,
            typer.Option("--workers", metavar="N", min=0, help="Processes; 0 takes every core."),
        ] = 0,
        scheduler: Annotated[
            str | None,
            typer.Option("--scheduler", metavar="ADDRESS", help="Of Dask, to use other machines."),
        ] = None,
        resume: Annotated[
            bool, typer.Option("--resume", help="Go on with a study that was stopped.")
        ] = False,
        no_compiler: Annotated[
            bool, typer.Option("--no-compiler", help="Do without a C compiler.")
        ] = False,
        as_json: Annotated[
            bool, typer.Option("--json", help="Print the summary for another program.")
        ] = False,
    ) -> None:
        """Work out many scenarios: Monte Carlo, grids, or both.

        canewright study plan.toml --workers 4

        A plan to start from stands in docs/what-if-and-advice.md.
        """
        from canewright.account.study import Study
        from canewright.account.study_start import start
        from canewright.cli import printing

        with printing.progress("Making the study ready"):
            work = start(plan, may_compile=not no_compiler)
        study = Study(work, out or plan.with_name(f"{plan.stem}-results"), resume=resume)
        done = study.count - sum(last - first for first, last in study.missing)
        with printing.progress("Scenarios", study.count) as step:
            step(done)
            results = study.run(workers or os.cpu_count() or 1, scheduler, step)
        study.clear()
        if as_json:
            printing.write_json(summary(results))
            return
        _print(printing.console(), work, results)


def summary(results: Results) -> dict[str, object]:
    """Counts and spreads with stable keys."""
    import numpy as np

    figures = {}
    for name, column in results.columns.items():
        if name in ("scenario", "draw", "reason"):
            continue
        known = column[np.isfinite(column)]
        if known.size:
            low, middle, high = np.percentile(known, [2.5, 50, 97.5])
            figures[name] = {
                "mean": float(known.mean()),
                "sd": float(known.std(ddof=1)) if known.size > 1 else 0.0,
                "percentile_2_5": float(low),
                "median": float(middle),
                "percentile_97_5": float(high),
            }
    return {
        "scenarios": results.count,
        "failed": results.failed,
        "solved_by_ipopt": results.rescued,
        "parquet": str(results.parquet),
        "csv": str(results.csv),
        "figures": figures,
    }


def _print_grid(screen: Console, work: Work, results: Results) -> None:
    """The first figure at every point of the grid, over the draws that closed."""
    import numpy as np

    from canewright.cli import printing
    from canewright.cli.printing import Column, number

    varied = {vary.name for vary in work.plan.vary}
    told_of = {"scenario", "draw", "reason", *varied}
    first = next(name for name in results.columns if name not in told_of)
    values = results.columns[first].reshape(work.plan.points, work.plan.draws)
    names = [vary.name for vary in work.plan.grid]
    columns = [Column(name, "right", wrap=True) for name in names]
    columns += [Column(h, "right") for h in ("mean", "2.5 %", "97.5 %", "closed")]
    rows = []
    for point, own in zip(work.grid, values, strict=True):
        known = own[np.isfinite(own)]
        told = ["-", "-", "-"]
        if known.size > 1:
            low, high = np.percentile(known, [2.5, 97.5])
            told = [number(float(v), float(known.std())) for v in (known.mean(), low, high)]
        rows.append((*(f"{value:g}" for value in point), *told, str(known.size)))
    printing.heading(screen, f"{first}, by the steps")
    printing.table(screen, columns, rows)


def _print(screen: Console, work: Work, results: Results) -> None:
    import numpy as np

    from canewright.cli import printing
    from canewright.cli.printing import Column, number

    told = summary(results)
    printing.paragraph(
        screen,
        f"{results.count} scenarios: {results.count - results.failed} closed, {results.failed} "
        f"failed, {results.rescued} needed the careful solver.",
        style="bold",
    )
    reasons = results.columns["reason"]
    words, counts = np.unique(reasons[reasons != ""], return_counts=True)
    kinds: dict[str, int] = {}
    for word, count in zip(words.tolist(), counts.tolist(), strict=True):
        kind = word.split(" would be")[0]
        kinds[kind] = kinds.get(kind, 0) + count
    for kind, count in sorted(kinds.items(), key=lambda item: -item[1])[:REASONS]:
        told_so = kind if kind.endswith(".") else f"{kind} would be outside what it can be."
        printing.paragraph(screen, f"{count} x: {told_so}", indent=2)
    figures = told["figures"]
    assert isinstance(figures, dict)
    columns = [Column("", wrap=True)]
    columns += [Column(h, "right") for h in ("mean", "sd", "2.5 %", "median", "97.5 %")]
    stepped = {vary.name for vary in work.plan.grid}
    rows = [
        (name, *(number(value, max(spread["sd"], 0.0)) for value in spread.values()))
        for name, spread in figures.items()
        if name not in stepped
    ]
    printing.emit(screen, "")
    printing.table(screen, columns, rows)
    if 1 < work.plan.points <= MOST_POINTS and work.plan.draws > 1:
        _print_grid(screen, work, results)
    if work.answering:
        printing.paragraph(
            screen,
            "Performance answered the varied settings by assumed responses; canewright whatif "
            "--assumed lists them.",
        )
    printing.paragraph(screen, f"{results.parquet} and {results.csv} hold every scenario.")
