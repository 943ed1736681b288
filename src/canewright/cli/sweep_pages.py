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
from canewright.engine.advising.marginal import regime
from canewright.engine.equations.changes import Change, limits, resolve, unit_of
from canewright.engine.forecasting.difference import Difference

MOST = 2000
"""Points of a sweep; `canewright study` is for more."""
WIDTHS = 3.92
"""Standard deviations that an interval of 95 % spans."""
_SPAN = re.compile(r"^\s*([^:]+):([^:]+):([^:]+?)\s*$")

Point = dict[str, Difference] | str
"""Every figure at a point of a sweep, or why the factory cannot run so."""


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
        found: list[Point] = []
        width = len(axes[-1][1])
        for first in range(0, count, width):
            found += question.forecaster.sweep(sets[first : first + width], out)
            step(width)
    wanted = list(figures) or _usual(question)
    names = [name for name in question.forecaster.names if not name.startswith(WORTH)]
    heading = [name for name, _ in axes]
    for name in names:
        heading += [name, f"{name} low", f"{name} high"]
    rows = [[*point, *_cells(a, names)] for point, a in zip(points, found, strict=True)]
    for table in tables:
        write_table(table, [*heading, "failed"], rows)
    if chart is not None:
        _draw(chart, question, axes, wanted[0], found)
    if as_json:
        printing.write_json(_payload(question, axes, points, wanted, found))
        return
    _print(question, axes, points, wanted, found)


def _usual(question: WhatIf) -> list[str]:
    names = question.forecaster.names
    usual = (EARNED, "overall_recovery", "sucrose_extraction", "process_steam_percent_cane")
    return [name for name in usual if name in names] or names[:3]


def _cells(answer: Point, names: Sequence[str]) -> list[object]:
    cells: list[object] = []
    for name in names:
        cells += [value(answer, name), *ends(answer, name)]
    return [*cells, answer if isinstance(answer, str) else ""]


def value(answer: Point, name: str) -> float:
    """A figure at a point; not a number where there is none."""
    one = None if isinstance(answer, str) else answer.get(name)
    return float("nan") if one is None else one.after


def ends(answer: Point, name: str) -> tuple[float, float]:
    """A figure at a point, 95 %: as found, with the interval of its change from there."""
    one = None if isinstance(answer, str) else answer.get(name)
    if one is None:
        return float("nan"), float("nan")
    low, high = one.interval
    return one.before + low, one.before + high


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
    found: list[Point],
) -> None:
    screen = printing.console()
    printing.paragraph(screen, question.account.factory.name, style="bold")
    for name, values in axes:
        unit = unit_of(question.model, name)
        printing.paragraph(screen, f"{name}: {values[0]:g} to {values[-1]:g} {unit}")
    first = wanted[0]
    label, unit = question.label(first)
    series = [value(answer, first) for answer in found]
    known = [one for one in series if np.isfinite(one)]
    low, high = (min(known), max(known)) if known else (0.0, 0.0)
    shown, bar = _fitting(screen.width, question, [name for name, _ in axes], wanted)
    columns = [
        *(_column(_short(name)) for name, _ in axes),
        _column("\n".join(question.label(first))),
        Column("at least", "right"),
        Column("at most", "right"),
        *(_column("\n".join(question.label(name))) for name in shown),
        Column(""),
    ]
    rows = []
    for k, point in enumerate(points):
        answer = found[k]
        if isinstance(answer, str):
            empty = ["" for _ in range(len(shown) + 3)]
            rows.append((*(f"{v:g}" for v in point), *empty, "cannot run"))
            continue
        share = (series[k] - low) / (high - low) if high > low else 1.0
        line = "#" * max(1, round(bar * share))
        rows.append(
            (
                *(f"{v:g}" for v in point),
                _number(answer, first),
                *_ends_in_words(answer, first),
                *(_number(answer, name) for name in shown),
                line,
            )
        )
    printing.table(screen, columns, rows)
    reasons: dict[str, list[str]] = {}
    for answer in found:
        if isinstance(answer, str):
            reasons.setdefault(answer.partition(" would be")[0], []).append(answer)
    for said in list(reasons.values())[:5]:
        times = "" if len(said) == 1 else f" So or alike {len(said)} times."
        printing.paragraph(screen, f"{said[0]}{times}")
    if known:
        best = int(np.nanargmax(series))
        at = " and ".join(
            f"{_in_words(question, name)} {v:g} {unit_of(question.model, name)}"
            for (name, _), v in zip(axes, points[best], strict=True)
        )
        printing.paragraph(
            screen,
            f"Of the points tried, {label} is largest at {at}: "
            f"{_number(found[best], first)} {unit}.",
        )
        way = "of first order; --draws 200 is surer and takes longer"
        if question.forecaster.draws:
            way = f"of {question.forecaster.draws} factories drawn from what the balance knows"
        printing.paragraph(
            screen,
            f"At least and at most: {label}, 95 %, taking the factory as found for known: what is "
            f"unsure is the change from there, {way}.",
        )
    told = regime(question.model, question.forecaster.before.values)
    printing.paragraph(screen, f"As found: {told.sentence}")


def _in_words(question: WhatIf, setting: str) -> str:
    model = question.model
    return model.variables[model.position(setting)].label or setting


def _column(heading: str) -> Column:
    return Column(heading, "right", wrap=True, narrowest=max(map(len, heading.split())))


def _fitting(
    width: int, question: WhatIf, axes: Sequence[str], wanted: Sequence[str]
) -> tuple[list[str], int]:
    """Figures that fit beside the first, and the length of the longest bar."""

    def taken(words: str) -> int:
        return max(9, *map(len, words.split())) + 2

    room = width - 2 - 2 * 10 - 12
    room -= sum(taken(_short(name)) for name in axes)
    room -= taken(" ".join(question.label(wanted[0])))
    shown = []
    for name in wanted[1:]:
        need = taken(" ".join(question.label(name)))
        if room < need:
            break
        room -= need
        shown.append(name)
    return shown, 12 + min(room, 12)


def _number(answer: Point, name: str) -> str:
    low, high = ends(answer, name)
    return number(value(answer, name), (high - low) / WIDTHS)


def _ends_in_words(answer: Point, name: str) -> list[str]:
    low, high = ends(answer, name)
    if not high > low:
        return ["", ""]
    return [number(end, (high - low) / WIDTHS) for end in (low, high)]


def _short(name: str) -> str:
    return name.rpartition(".")[2].replace("_", " ")


def _draw(
    path: Path,
    question: WhatIf,
    axes: list[tuple[str, list[float]]],
    name: str,
    found: list[Point],
) -> None:
    label, unit = question.label(name)
    across, steps = axes[-1]
    curves = []
    others = axes[0][1] if len(axes) == 2 else [None]
    for k, other in enumerate(others):
        part = found[k * len(steps) : (k + 1) * len(steps)]
        named = "" if other is None else f"{other:g} {unit_of(question.model, axes[0][0])}"
        low, high = zip(*(ends(answer, name) for answer in part), strict=True)
        up = [value(answer, name) for answer in part]
        curves.append(Curve(named, steps, up, low, high))
    title = f"{label} by {_short(across)}"
    if len(axes) == 2:
        title += f", for {_short(axes[0][0])}"
    content = line_chart(
        curves,
        title=title,
        across=f"{across.replace('.', ', ').replace('_', ' ')}, {unit_of(question.model, across)}",
        up=f"{label}, {unit}",
        note=f"{question.account.factory.name}. Shaded: 95 % of the change from what was found.",
    )
    from canewright.files.writing import write_whole

    write_whole(path, content.encode("utf-8"))


def _payload(
    question: WhatIf,
    axes: list[tuple[str, list[float]]],
    points: list[tuple[float, ...]],
    wanted: list[str],
    found: list[Point],
) -> dict[str, Any]:
    told = regime(question.model, question.forecaster.before.values)
    return {
        "factory": question.account.factory.name,
        "invented": question.account.factory.invented,
        "axes": [{"setting": n, "unit": unit_of(question.model, n), "values": v} for n, v in axes],
        "points": [
            {
                "at": list(point),
                "figures": {name: value(answer, name) for name in wanted},
                "intervals": {name: list(ends(answer, name)) for name in wanted},
                "failed": answer if isinstance(answer, str) else "",
            }
            for point, answer in zip(points, found, strict=True)
        ],
        "draws": question.forecaster.draws,
        "regime": told.regime,
        "regime_words": told.sentence,
    }
