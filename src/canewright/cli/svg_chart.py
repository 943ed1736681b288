"""A line chart as SVG, written by hand: axes with round numbers, each curve named at its end."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

WIDTH, HEIGHT = 760, 440
LEFT, RIGHT, TOP, BOTTOM = 84, 150, 44, 66
COLOURS = ("#1b5e8a", "#b3541e", "#3c7a3c", "#7a3c7a", "#8a6d1b", "#444444")
DASHES = ("", "7 4", "2 3", "9 3 2 3")
"""Colour is never the only sign."""
_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)


@dataclass(frozen=True)
class Curve:
    """One line: its name, and its points; a point that is not a number breaks it.

    `low` and `high` are the ends of a band around it, where there is one.
    """

    name: str
    across: Sequence[float]
    up: Sequence[float]
    low: Sequence[float] = ()
    high: Sequence[float] = ()


def round_steps(low: float, high: float, about: int = 6) -> list[float]:
    """Round numbers between two ends, about as many as asked."""
    if not high > low:
        return [low]
    rough = (high - low) / about
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(s * power for s in _STEPS if s * power >= rough * (1 - 1e-12))
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [k * step for k in range(first, last + 1)]


def line_chart(curves: Sequence[Curve], *, title: str, across: str, up: str, note: str) -> str:
    """Draw curves over a common axis.

    Parameters
    ----------
    curves : sequence of Curve
    title, across, up, note : str
        Words above, below, at the side, and at the foot.

    Returns
    -------
    str
        A whole SVG document.
    """
    points = [
        (x, y)
        for curve in curves
        for heights in (curve.up, curve.low, curve.high)
        for x, y in zip(curve.across, heights, strict=False)
        if math.isfinite(y)
    ]
    if not points:
        points = [(0.0, 0.0)]
    x_low, x_high = _widened(min(x for x, _ in points), max(x for x, _ in points), 0.0)
    y_low, y_high = _widened(min(y for _, y in points), max(y for _, y in points), 0.05)

    def place(x: float, y: float) -> tuple[float, float]:
        return (
            LEFT + (x - x_low) / (x_high - x_low) * (WIDTH - LEFT - RIGHT),
            HEIGHT - BOTTOM - (y - y_low) / (y_high - y_low) * (HEIGHT - TOP - BOTTOM),
        )

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" '
        f'width="{WIDTH}" height="{HEIGHT}" font-family="sans-serif" font-size="13" role="img">',
        f"<title>{escape(title)}</title>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#ffffff"/>',
        _text(LEFT, 24, title, size=16, weight="bold"),
    ]
    bottom, right = HEIGHT - BOTTOM, WIDTH - RIGHT
    for x in round_steps(x_low, x_high):
        at, _ = place(x, y_low)
        parts.append(_line(at, TOP, at, bottom, "#e0e0e0"))
        parts.append(_text(at, bottom + 18, f"{x:g}", anchor="middle"))
    for y in round_steps(y_low, y_high):
        _, at = place(x_low, y)
        parts.append(_line(LEFT, at, right, at, "#e0e0e0"))
        parts.append(_text(LEFT - 8, at + 4, f"{y:.6g}", anchor="end"))
    parts.append(_line(LEFT, bottom, right, bottom, "#333333"))
    parts.append(_line(LEFT, TOP, LEFT, bottom, "#333333"))
    parts.append(_text((LEFT + right) / 2, bottom + 40, across, anchor="middle"))
    parts.append(
        f'<text transform="translate(18 {(TOP + bottom) / 2:.1f}) rotate(-90)" '
        f'text-anchor="middle">{escape(up)}</text>'
    )
    parts.append(_text(LEFT, HEIGHT - 8, note, size=11))
    for number, curve in enumerate(curves):
        parts += _band(curve, number, place)
    for number, curve in enumerate(curves):
        parts += _curve(curve, number, place)
    return "\n".join([*parts, "</svg>", ""])


def _widened(low: float, high: float, share: float) -> tuple[float, float]:
    room = share * (high - low) if high > low else max(abs(low) * 0.05, 0.5)
    return low - room, high + room


def _band(curve: Curve, number: int, place: object) -> list[str]:
    """The band around a curve, in a piece for each stretch without a gap."""
    assert callable(place)
    colour = COLOURS[number % len(COLOURS)]
    runs: list[list[tuple[float, float, float]]] = [[]]
    for x, low, high in zip(curve.across, curve.low, curve.high, strict=False):
        if math.isfinite(low) and math.isfinite(high):
            runs[-1].append((x, low, high))
        else:
            runs.append([])
    parts = []
    for run in runs:
        if len(run) > 1:
            edge = [place(x, high) for x, _, high in run]
            edge += [place(x, low) for x, low, _ in reversed(run)]
            path = " ".join(f"{x:.1f},{y:.1f}" for x, y in edge)
            parts.append(
                f'<polygon points="{path}" fill="{colour}" fill-opacity="0.12" stroke="{colour}" '
                'stroke-opacity="0.5" stroke-dasharray="1 3"/>'
            )
    return parts


def _curve(curve: Curve, number: int, place: object) -> list[str]:
    assert callable(place)
    colour, dash = COLOURS[number % len(COLOURS)], DASHES[number % len(DASHES)]
    style = f' stroke-dasharray="{dash}"' if dash else ""
    runs: list[list[tuple[float, float]]] = [[]]
    for x, y in zip(curve.across, curve.up, strict=True):
        if math.isfinite(y):
            runs[-1].append(place(x, y))
        elif runs[-1]:
            runs.append([])
    parts = []
    for run in runs:
        if run:
            path = " ".join(f"{x:.1f},{y:.1f}" for x, y in run)
            parts.append(
                f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="2"{style}/>'
            )
            parts += [
                f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.5" fill="{colour}"/>' for x, y in run
            ]
    ends = [run[-1] for run in runs if run]
    if curve.name and ends:
        x, y = ends[-1]
        parts.append(_text(x + 8, y + 4, curve.name, colour=colour))
    return parts


def _line(x1: float, y1: float, x2: float, y2: float, colour: str) -> str:
    return f'<path d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}" stroke="{colour}" fill="none"/>'


def _text(
    x: float,
    y: float,
    words: str,
    *,
    size: int = 13,
    anchor: str = "start",
    weight: str = "normal",
    colour: str = "#222222",
) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" text-anchor="{anchor}" '
        f'font-weight="{weight}" fill="{colour}">{escape(words)}</text>'
    )
