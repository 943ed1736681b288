"""Control charts drawn: as a line of text for the terminal, and as SVG for paper and page.

Both are readable in black and white: a signal is a filled square with a number, an ordinary
point an open circle, a limit a broken line.
"""

import math
from collections.abc import Callable, Sequence
from html import escape

import numpy as np

from canewright.laboratory.control_charts import Chart

BARS = "▁▂▃▄▅▆▇█"
PLAIN_BARS = "12345678"
MARK = "!"

LIMITS = ("upper limit", "centre", "lower limit")
CHART = "Chart of {kind}: {count} points, centre {centre}, limits {low} to {high}."
NO_SIGNAL = "No signal."
HALO = 'stroke="white" stroke-width="4" paint-order="stroke"'
"""White around a number that may stand on a line."""
SIGNALS = "Signals at point {numbers}."
POINT = "point {number}: {value}"

WIDTH, HEIGHT = 720, 300
_LEFT, _RIGHT, _TOP, _BOTTOM = 78, 78, 40, 46


def sparkline(chart: Chart, *, plain: bool = False, widest: int = 72) -> str:
    """The newest points of a chart as bars between its limits, with a mark below each signal.

    Parameters
    ----------
    chart : Chart
    plain : bool
        Digits 1 to 8 for a terminal without block characters.
    widest : int
        Columns; older points are left out.

    Returns
    -------
    str
        Two lines of the same length. A point outside the limits takes the lowest or highest
        bar.
    """
    bars = PLAIN_BARS if plain else BARS
    first = max(0, chart.plotted.size - widest)
    marked = set(chart.signalled)
    upper, lower, marks = "", "", ""
    for k in range(first, chart.plotted.size):
        low, high = float(chart.lower[k]), float(chart.upper[k])
        upper += _bar(bars, float(chart.plotted[k]), low, high)
        if chart.below is not None:
            lower += _bar(bars, float(chart.below[k]), low, high)
        marks += MARK if k in marked else "."
    return "\n".join(line for line in (upper, lower, marks) if line)


def _bar(bars: str, value: float, low: float, high: float) -> str:
    share = 0.5 if high == low else (value - low) / (high - low)
    return bars[min(len(bars) - 1, max(0, int(share * len(bars))))]


def svg(
    chart: Chart,
    *,
    title: str,
    unit: str = "",
    labels: Sequence[str] = (),
    headed: bool = True,
    told: Callable[[str], str] = str,
) -> str:
    """The chart as an SVG document of its own.

    Parameters
    ----------
    chart : Chart
    title : str
        What is charted.
    unit : str
        Of what is plotted.
    labels : sequence of str
        A word for each point, such as its date: the first and the last are written out, each
        is told when pointed at.
    headed : bool
        Whether the title is written above; not where it stands beside the picture.
    told : callable
        Translates the words.
    """
    across, down = _scales(chart)
    unit_shown = f" {unit}" if unit and unit != "1" else ""
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
        f'aria-label="{escape(title, quote=True)}" font-family="sans-serif" font-size="12" '
        'fill="black" stroke="none">',
        f"<title>{escape(title)}</title>",
        f"<desc>{escape(in_words(chart, unit, told))}</desc>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="white"/>',
    ]
    if headed:
        parts.append(
            f'<text x="{_LEFT}" y="22" font-size="15" font-weight="bold">{escape(title)}</text>'
        )
    middle = np.full(chart.plotted.size, chart.centre)
    lines = (chart.upper, middle, chart.lower)
    for name, line, dash in zip(LIMITS, lines, ("6 4", "", "6 4"), strict=True):
        stroke = f' stroke-dasharray="{dash}"' if dash else ""
        parts.append(_line([*line], across, down, f'stroke="black" stroke-width="1"{stroke}'))
        at = down(float(line[-1]))
        parts.append(f'<text x="{WIDTH - _RIGHT + 8}" y="{at + 4:.1f}">{escape(told(name))}</text>')
        parts.append(
            f'<text x="{_LEFT - 8}" y="{at + 4:.1f}" text-anchor="end">'
            f"{_shown(float(line[-1]), chart)}{escape(unit_shown)}</text>"
        )
    parts += [
        _line([*plotted], across, down, 'stroke="black" stroke-width="1.6"')
        for plotted in (chart.plotted, chart.below)
        if plotted is not None
    ]
    parts += _points(chart, across, down, labels, unit_shown, told)
    if labels:
        foot = HEIGHT - 14
        parts.append(f'<text x="{_LEFT}" y="{foot}">{escape(labels[0])}</text>')
        parts.append(
            f'<text x="{WIDTH - _RIGHT}" y="{foot}" text-anchor="end">{escape(labels[-1])}</text>'
        )
    return "\n".join([*parts, "</svg>"]) + "\n"


def in_words(chart: Chart, unit: str = "", told: Callable[[str], str] = str) -> str:
    """What a chart shows, for those who do not see it."""
    shown = f" {unit}" if unit and unit != "1" else ""
    text = told(CHART).format(
        kind=told(chart.kind),
        count=chart.plotted.size,
        centre=_shown(chart.centre, chart) + shown,
        low=_shown(chart.lower[-1], chart),
        high=_shown(chart.upper[-1], chart) + shown,
    )
    if chart.in_control:
        return f"{text} {told(NO_SIGNAL)}"
    numbers = ", ".join(str(at + 1) for at in chart.signalled)
    return f"{text} {told(SIGNALS).format(numbers=numbers)}"


def _shown(value: float, chart: Chart) -> str:
    """A value to three digits of the distance between the limits."""
    apart = abs(float(chart.upper[-1]) - float(chart.lower[-1]))
    decimals = max(0, 2 - math.floor(math.log10(apart))) if apart > 0 else 4
    text = f"{float(value):.{decimals}f}"
    return text.replace("-", "\N{MINUS SIGN}") if text.strip("-0.") else text.lstrip("-")


def _scales(chart: Chart) -> tuple["_Scale", "_Scale"]:
    lines = [chart.plotted, chart.lower, chart.upper]
    lines += [chart.below] if chart.below is not None else []
    low = min(float(line.min()) for line in lines)
    high = max(float(line.max()) for line in lines)
    room = 0.06 * (high - low) or 1.0
    across = _Scale(0, max(1, chart.plotted.size - 1), _LEFT, WIDTH - _RIGHT)
    return across, _Scale(low - room, high + room, HEIGHT - _BOTTOM, _TOP)


class _Scale:
    """A straight line from values to places on the paper."""

    def __init__(self, low: float, high: float, start: float, end: float) -> None:
        self.low, self.high, self.start, self.end = low, high, start, end

    def __call__(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)


def _line(values: Sequence[float], across: _Scale, down: _Scale, style: str) -> str:
    places = " ".join(f"{across(k):.1f},{down(float(v)):.1f}" for k, v in enumerate(values))
    if len(values) == 1:
        at = down(float(values[0]))
        places = f"{_LEFT},{at:.1f} {WIDTH - _RIGHT},{at:.1f}"
    return f'<polyline points="{places}" fill="none" {style}/>'


def _points(
    chart: Chart,
    across: _Scale,
    down: _Scale,
    labels: Sequence[str],
    unit: str,
    told: Callable[[str], str],
) -> list[str]:
    marked = {
        at: "; ".join(told(s.words) for s in chart.signals if s.at == at) for at in chart.signalled
    }
    parts = []
    for k, value in enumerate(chart.plotted):
        number = f"{_shown(float(value), chart)}{unit}"
        said = told(POINT).format(number=k + 1, value=number)
        if k < len(labels):
            said = f"{labels[k]}: {number}"
        x, y = across(k), down(float(value))
        if chart.below is not None and k in marked and -chart.below[k] > value:
            y = down(float(chart.below[k]))
        if k in marked:
            shape = (
                f'<rect x="{x - 4:.1f}" y="{y - 4:.1f}" width="8" height="8"/>'
                f'<text x="{x:.1f}" y="{y - 9:.1f}" text-anchor="middle" {HALO}>{k + 1}</text>'
            )
            said += f" - {marked[k]}"
        else:
            shape = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3" fill="white" stroke="black"/>'
        parts.append(f"<g><title>{escape(said)}</title>{shape}</g>")
    return parts
