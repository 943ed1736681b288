"""Sweeps: one or two settings in steps, to a table, a chart, and the screen."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from canewright.account.whatif import EARNED, WORTH, WhatIf
from canewright.cli import printing
from canewright.cli.printing import Column, number
from canewright.cli.problems import Refused
from canewright.cli.svg_chart import Curve, line_chart
from canewright.cli.tables import write_table
from canewright.engine.changes import Change, limits, resolve, unit_of

MOST = 2000
"""Points of a sweep; `canewright study` is for more."""
BAR = 24
_SPAN = re.compile(r"^\s*([^:]+):([^:]+):([^:]+?)\s*$")


def show(
    question: WhatIf,
    sweeps: Sequence[str],
    changes: Sequence[str],
    out: Sequence[str],
    figures: Sequence[str],
    tables: Sequence[Path],
    chart: Path | None,
    as_json: bool,
) -> None:
    """Run a sweep and print, write and draw it.

    Raises
    ------
    Refused
        For a sweep that cannot be understood, or too many points.
    """
    axes = [axis(question, text) for text in sweeps]
    if len(axes) > 2:
        raise Refused("At most two settings can be swept at a time; a study takes more.")
    count = int(np.prod([len(values) for _, values in axes]))
    if count > MOST:
        raise Refused(f"{count} points are too many for a sweep ({MOST}). Use canewright study.")
    fixed = question.forecaster.changes(changes)
    points = list(itertools.product(*[values for _, values in axes]))
    sets = [
        [*fixed, *(Change(n, "set", v, n in question.model.parameter_names) for n, v in zip_up)]
        for zip_up in ([(n, v) for (n, _), v in zip(axes, p, strict=True)] for p in points)
    ]
    with printing.progress("Sweeping", count) as step:
        found: list[Any] = []
        width = len(axes[-1][1])
        for first in range(0, count, width):
            found += question.forecaster.states(sets[first : first + width], out)
            step(width)
    wanted = list(figures) or _usual(question)
    names = [name for name in question.forecaster.names if not name.startswith(WORTH)]
    place = {name: i for i, name in enumerate(question.forecaster.names)}
    heading = [name for name, _ in axes]
    rows = [
        [*point, *_cells(answer, [place[name] for name in names])]
        for point, answer in zip(points, found, strict=True)
    ]
    for table in tables:
        write_table(table, [*heading, *names, "failed"], rows)
    series = {
        name: [float("nan") if isinstance(a, str) else float(a[place[name]]) for a in found]
        for name in wanted
    }
    if chart is not None:
        _draw(chart, question, axes, wanted[0], series[wanted[0]])
    if as_json:
        printing.write_json(_payload(question, axes, points, series, found))
        return
    _print(question, axes, points, wanted, series, found)


def _usual(question: WhatIf) -> list[str]:
    names = question.forecaster.names
    usual = (EARNED, "overall_recovery", "sucrose_extraction", "process_steam_percent_cane")
    return [name for name in usual if name in names] or names[:3]


def _cells(answer: Any, places: list[int]) -> list[object]:
    if isinstance(answer, str):
        return [*([None] * len(places)), answer]
    return [*(float(answer[i]) for i in places), ""]


def axis(question: WhatIf, text: str) -> tuple[str, list[float]]:
    """A swept setting and its values, from `name=from:to:step`.

    Raises
    ------
    Refused
        If it cannot be understood, runs backwards or leaves the setting's limits.
    """
    name, _, span = text.partition("=")
    matched = _SPAN.match(span)
    try:
        start, stop, step = (float(part) for part in matched.groups()) if matched else (1, 0, 0)
    except ValueError:
        start, stop, step = 1, 0, 0
    if not (step > 0 and stop >= start and np.isfinite([start, stop, step]).all()):
        raise Refused(f"'{text}' is no sweep. Write it as imbibition=180:300:10, step above 0.")
    full = resolve(question.model, name)
    low, high = limits(question.model, full)
    if start < low or stop > high:
        unit = unit_of(question.model, full)
        raise Refused(f"{full} can be {low:g} to {high:g} {unit}, not {start:g} to {stop:g}.")
    count = int(np.floor((stop - start) / step * (1 + 1e-12) + 1e-9)) + 1
    if count > MOST:
        raise Refused(f"{count} points are too many for a sweep ({MOST}). Use a larger step.")
    return full, [start + k * step for k in range(count)]


def _print(
    question: WhatIf,
    axes: list[tuple[str, list[float]]],
    points: list[tuple[float, ...]],
    wanted: list[str],
    series: dict[str, list[float]],
    found: list[Any],
) -> None:
    screen = printing.console()
    printing.paragraph(screen, question.account.factory.name, style="bold")
    for name, values in axes:
        unit = unit_of(question.model, name)
        printing.paragraph(screen, f"{name}: {values[0]:g} to {values[-1]:g} {unit}")
    first = wanted[0]
    label, unit = question.label(first)
    known = [value for value in series[first] if np.isfinite(value)]
    low, high = (min(known), max(known)) if known else (0.0, 0.0)
    columns = [
        *(Column(name.rpartition(".")[2].replace("_", " "), "right") for name, _ in axes),
        *(Column("\n".join(question.label(name)), "right", wrap=True) for name in wanted),
        Column(f"{number(low)} to {number(high)}"),
    ]
    rows = []
    for k, point in enumerate(points):
        if isinstance(found[k], str):
            rows.append((*(f"{v:g}" for v in point), *("" for _ in wanted), "cannot run"))
            continue
        share = (series[first][k] - low) / (high - low) if high > low else 1.0
        bar = "#" * max(1, round(BAR * share))
        rows.append((*(f"{v:g}" for v in point), *(number(series[n][k]) for n in wanted), bar))
    printing.table(screen, columns, rows)
    reasons: dict[str, int] = {}
    for answer in found:
        if isinstance(answer, str):
            reasons[answer] = reasons.get(answer, 0) + 1
    for reason, times in list(reasons.items())[:5]:
        printing.paragraph(screen, f"{times} x: {reason}")
    if known:
        best = int(np.nanargmax(series[first]))
        at = ", ".join(f"{n} = {v:g}" for (n, _), v in zip(axes, points[best], strict=True))
        printing.paragraph(screen, f"{label} is largest, {number(high)} {unit}, at {at}.")


def _draw(
    path: Path,
    question: WhatIf,
    axes: list[tuple[str, list[float]]],
    name: str,
    series: list[float],
) -> None:
    label, unit = question.label(name)
    across, steps = axes[-1]
    curves = []
    others = axes[0][1] if len(axes) == 2 else [None]
    for k, value in enumerate(others):
        part = series[k * len(steps) : (k + 1) * len(steps)]
        named = "" if value is None else f"{axes[0][0].rpartition('.')[2]} {value:g}"
        curves.append(Curve(named.replace("_", " "), steps, part))
    content = line_chart(
        curves,
        title=f"{label} by {across.rpartition('.')[2].replace('_', ' ')}",
        across=f"{across.replace('.', ', ').replace('_', ' ')}, {unit_of(question.model, across)}",
        up=f"{label}, {unit}",
        note=question.account.factory.name,
    )
    from canewright.files.writing import write_whole

    write_whole(path, content.encode("utf-8"))


def _payload(
    question: WhatIf,
    axes: list[tuple[str, list[float]]],
    points: list[tuple[float, ...]],
    series: dict[str, list[float]],
    found: list[Any],
) -> dict[str, Any]:
    return {
        "factory": question.account.factory.name,
        "invented": question.account.factory.invented,
        "axes": [{"setting": n, "unit": unit_of(question.model, n), "values": v} for n, v in axes],
        "points": [
            {
                "at": list(point),
                "figures": {name: values[k] for name, values in series.items()},
                "failed": found[k] if isinstance(found[k], str) else "",
            }
            for k, point in enumerate(points)
        ],
    }
