"""Trends of a season: the undetermined loss to date, and the control chart of its shifts."""

from __future__ import annotations

import math

from canewright.account.season import UNDETERMINED, SeasonAccount, ToDate
from canewright.engine.adjusting.explain import COVERAGE
from canewright.laboratory import chart_drawing
from canewright.laboratory.control_charts import individuals
from canewright.report.content import MINUS, Picture
from canewright.report.pictures.drawing import document, line, words
from canewright.report.words import _, dated, told

WIDTH, HEIGHT = 720.0, 320.0
LEFT, RIGHT, TOP, BOTTOM = 64.0, 24.0, 18.0, 66.0
FEWEST = 2


def steps(low: float, high: float) -> list[float]:
    """Four to eight round numbers between two ends."""
    rough = (high - low) / 6
    size = 10.0 ** math.floor(math.log10(rough))
    step = next(f * size for f in (1, 2, 2.5, 5, 10) if f * size >= rough)
    first = math.ceil(low / step)
    return [k * step for k in range(first, math.floor(high / step) + 1)]


def to_date_picture(account: SeasonAccount) -> Picture | None:
    """The undetermined loss to date with its interval, beside the naive one."""
    points = account.undetermined
    if len(points) < FEWEST:
        return None
    title = _("Undetermined loss to date, % of sucrose in cane")
    last = points[-1]
    said = _("After {count} shifts {value} ± {half} % of sucrose in cane.").format(
        count=len(points),
        value=f"{last.value:.2f}",
        half=f"{COVERAGE * last.sd:.2f}",
    )
    note = _(
        "Line: to date; grey: its 95 % interval; broken lines: the interval if each shift's errors "
        "were its own."
    )
    return Picture("to_date", title, _drawn(points, account, title), said, note)


def _drawn(points: list[ToDate], account: SeasonAccount, title: str) -> str:
    settled = points[min(2, len(points) - 1) :]
    ends = [p.value + sign * COVERAGE * p.sd for p in settled for sign in (1, -1)]
    low, high = min(*ends, 0.0), max(*ends, 0.0)
    room = 0.08 * (high - low) or 1.0
    low, high = low - room, high + room

    def across(k: int) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * k / (len(points) - 1)

    def down(value: float) -> float:
        share = (min(max(value, low), high) - low) / (high - low)
        return HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)

    upper = [(across(k), down(p.value + COVERAGE * p.sd)) for k, p in enumerate(points)]
    lower = [(across(k), down(p.value - COVERAGE * p.sd)) for k, p in enumerate(points)]
    places = " ".join(f"{x:.1f},{y:.1f}" for x, y in [*upper, *reversed(lower)])
    parts = [f'<polygon points="{places}" fill="#d8d8d8" stroke="#888" stroke-width="0.8"/>']
    for mark in steps(low, high):
        y = down(mark)
        heavy = "1.1" if abs(mark) < 1e-12 else "0.5"
        parts.append(line([(LEFT, y), (WIDTH - RIGHT, y)], f'stroke="#777" stroke-width="{heavy}"'))
        text = f"{mark:.6g}".replace("-", MINUS)
        parts.append(words(LEFT - 8, y + 5, text, anchor="end", size=14))
    for sign in (1, -1):
        naive = [
            (across(k), down(p.value + sign * COVERAGE * p.independent_sd))
            for k, p in enumerate(points)
        ]
        parts.append(line(naive, 'stroke="black" stroke-width="1.1" stroke-dasharray="6 4"'))
    middle = [(across(k), down(p.value)) for k, p in enumerate(points)]
    parts.append(line(middle, 'stroke="black" stroke-width="2"'))
    starts = {result.number: result.start for result in account.results}
    for k, anchor in ((0, "start"), (len(points) // 2, "middle"), (len(points) - 1, "end")):
        start = starts.get(points[k].number)
        text = dated(start, "%d %b") if start is not None else str(points[k].number + 1)
        parts.append(words(across(k), HEIGHT - BOTTOM + 20, text, anchor=anchor, size=14))
    y = HEIGHT - 16
    parts.append(line([(LEFT, y - 5), (LEFT + 30, y - 5)], 'stroke="black" stroke-width="2"'))
    parts.append(words(LEFT + 36, y, _("to date"), size=14))
    parts.append(
        f'<rect x="{LEFT + 130:.0f}" y="{y - 11:.0f}" width="30" height="12" fill="#d8d8d8" '
        f'stroke="#888"/>'
    )
    parts.append(words(LEFT + 166, y, _("95 % interval"), size=14))
    dashed = 'stroke="black" stroke-width="1.1" stroke-dasharray="6 4"'
    parts.append(line([(LEFT + 290, y - 5), (LEFT + 322, y - 5)], dashed))
    parts.append(words(LEFT + 328, y, _("if each shift's errors were its own"), size=14))
    return document(WIDTH, HEIGHT, parts, title)


def shift_chart(account: SeasonAccount) -> Picture | None:
    """Control chart of the undetermined loss of each shift; nothing where it cannot be had."""
    names = list(account.figures_of_shift)
    if UNDETERMINED not in names:
        return None
    place = names.index(UNDETERMINED)
    known = [r for r in account.results if math.isfinite(float(r.figures[place]))]
    values = [float(r.figures[place]) for r in known]
    try:
        chart = individuals(values)
    except ValueError:
        return None
    title = _("Undetermined loss, shift by shift")
    labels = [dated(r.start, "%d %b %H:%M") if r.start is not None else r.name for r in known]
    note = _(
        "Shewhart chart of single values, % of sucrose in cane; a filled square with a number is a "
        "signal, broken lines are the limits."
    )
    svg = chart_drawing.svg(chart, title=title, unit="%", labels=labels, headed=False, told=told)
    return Picture("control_chart", title, svg, chart_drawing.in_words(chart, "%", told), note)
