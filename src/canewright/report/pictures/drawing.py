"""Pieces of SVG that the pictures share."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

FONT = "Libertinus Serif, Georgia, serif"


def document(width: float, height: float, parts: Iterable[str], title: str) -> str:
    """A whole SVG document."""
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {height:.0f}" '
            f'font-family="{FONT}" font-size="15" role="img">',
            f"<title>{escape(title)}</title>",
            f'<rect width="{width:.0f}" height="{height:.0f}" fill="white"/>',
            *parts,
            "</svg>",
        ]
    )


def words(
    x: float, y: float, text: str, *, anchor: str = "start", size: float = 15, style: str = ""
) -> str:
    """A line of text with a white edge, so that it can be read over anything."""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size:g}" '
        f'stroke="white" stroke-width="3.5" paint-order="stroke" {style}>{escape(text)}</text>'
    )


def line(points: Iterable[tuple[float, float]], style: str) -> str:
    """A line through points."""
    places = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polyline points="{places}" fill="none" {style}/>'


def folded(text: str, letters: int) -> list[str]:
    """Text in lines of at most so many letters, broken at plain spaces."""
    lines: list[str] = []
    for word in text.split(" "):
        if lines and len(lines[-1]) + 1 + len(word) <= letters:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines
