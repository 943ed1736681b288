"""The Brix curve of the mills: Brix of each mill's juice, on a logarithmic scale.

Mills in counterflow thin the juice by about the same factor each, so that the curve of a
train that works evenly is near a straight line on this scale [common practice].
"""

from __future__ import annotations

import math

from canewright.account import Account
from canewright.engine.adjusting.explain import Statement, statements
from canewright.engine.equations.points import point_name
from canewright.report.content import Picture
from canewright.report.mass_balance import SOLIDS, total
from canewright.report.pictures.drawing import document, line, words
from canewright.report.words import _

WIDTH, HEIGHT = 720.0, 330.0
LEFT, RIGHT, TOP, BOTTOM = 70.0, 30.0, 20.0, 62.0
FEWEST = 2
MARKS = (0.5, 1, 2, 3, 4, 5, 6, 8, 10, 15, 20, 25)


def brix_curve(account: Account) -> Picture | None:
    """The curve of a shift; nothing where the factory has fewer than two mills."""
    model = account.estimate.model
    juices = [
        (placed.name, placed.connections["juice"][0])
        for placed in model.flowsheet.placed
        if placed.cls.kind == "mill" and placed.connections.get("juice")
    ]
    if len(juices) < FEWEST:
        return None
    states = [model.states[stream] for _mill, stream in juices]
    wanted = [100 * total(s, SOLIDS) / (total(s, SOLIDS) + s.sum("water")) for s in states]
    known = statements(account.estimate, wanted)
    if not all(item.value > 0 for item in known):
        return None
    read = {line.point: line.value for line in account.readings if line.analysis == "brix"}
    points = [read.get(point_name(stream)) for _mill, stream in juices]
    mills = [mill for mill, _stream in juices]
    title = _("Brix curve of the mills")
    svg = _drawn(mills, known, points, title)
    said = ", ".join(f"{mill} {item.value:.2f}" for mill, item in zip(mills, known, strict=True))
    note = _(
        "Dissolved solids in the juice of each mill, %, on a logarithmic scale: open circles and "
        "line as balanced with 95 % intervals, crosses as read."
    )
    words_ = _("Brix by mill, as balanced: {said}.").format(said=said)
    return Picture("brix_curve", title, svg, words_, note)


def _drawn(mills: list[str], known: list[Statement], read: list[float | None], title: str) -> str:
    shown = [item.value for item in known] + [v for v in read if v is not None and v > 0]
    shown += [end for item in known for end in item.interval if 0 < end < math.inf]
    low, high = math.log10(min(shown) / 1.12), math.log10(max(shown) * 1.12)

    def across(number: int) -> float:
        return LEFT + 40 + (WIDTH - LEFT - RIGHT - 80) * number / (len(mills) - 1)

    def down(value: float) -> float:
        share = (math.log10(max(value, 10**low)) - low) / (high - low)
        return HEIGHT - BOTTOM - share * (HEIGHT - TOP - BOTTOM)

    parts = []
    for mark in MARKS:
        if low <= math.log10(mark) <= high:
            y = down(mark)
            parts.append(line([(LEFT, y), (WIDTH - RIGHT, y)], 'stroke="#bbb" stroke-width="0.8"'))
            parts.append(words(LEFT - 8, y + 5, f"{mark:g}", anchor="end"))
    corners = [(LEFT, TOP), (LEFT, HEIGHT - BOTTOM), (WIDTH - RIGHT, HEIGHT - BOTTOM)]
    parts.append(line(corners, 'stroke="black" stroke-width="1.2"'))
    curve = [(across(k), down(item.value)) for k, item in enumerate(known)]
    parts.append(line(curve, 'stroke="black" stroke-width="1.8"'))
    for k, (item, value) in enumerate(zip(known, read, strict=True)):
        x, (bottom, top) = across(k), item.interval
        if bottom > 0 and math.isfinite(top):
            parts.append(
                line([(x, down(bottom)), (x, down(top))], 'stroke="black" stroke-width="1"')
            )
            parts += [
                line([(x - 5, down(end)), (x + 5, down(end))], 'stroke="black" stroke-width="1"')
                for end in (bottom, top)
            ]
        y = down(item.value)
        parts.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.5" fill="white" stroke="black" '
            f'stroke-width="1.5"/>'
        )
        parts.append(words(x + 9, y - 8, f"{item.value:.2f}", size=14))
        if value is not None and value > 0:
            at = down(value)
            for sign in (1, -1):
                ends = [(x - 5, at - 5 * sign), (x + 5, at + 5 * sign)]
                parts.append(line(ends, 'stroke="black" stroke-width="1.6"'))
        parts.append(words(x, HEIGHT - BOTTOM + 20, mills[k], anchor="middle"))
    middle = (TOP + HEIGHT - BOTTOM) / 2
    parts.append(
        f'<text x="18" y="{middle:.0f}" text-anchor="middle" '
        f'transform="rotate(-90 18 {middle:.0f})">{_("Brix, %")}</text>'
    )
    y = HEIGHT - 14
    parts.append(line([(LEFT, y - 5), (LEFT + 30, y - 5)], 'stroke="black" stroke-width="1.8"'))
    parts.append(
        f'<circle cx="{LEFT + 15:.0f}" cy="{y - 5:.0f}" r="4.5" fill="white" stroke="black" '
        f'stroke-width="1.5"/>'
    )
    parts.append(words(LEFT + 38, y, _("as balanced"), size=14))
    for sign in (1, -1):
        ends = [(LEFT + 175, y - 5 - 5 * sign), (LEFT + 185, y - 5 + 5 * sign)]
        parts.append(line(ends, 'stroke="black" stroke-width="1.6"'))
    parts.append(words(LEFT + 195, y, _("as read (mean of the shift)"), size=14))
    return document(WIDTH, HEIGHT, parts, title)
