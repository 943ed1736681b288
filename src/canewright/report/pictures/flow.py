"""The flow picture: sucrose from cane to sugar, band width by sucrose, losses as branches.

Readable in grey: what is lost in a stream ends in a filled arrow, what is lost otherwise in
an open one on a broken line, what is undetermined in a dotted one with a question mark.
"""

from __future__ import annotations

from html import escape

from canewright.account import Account
from canewright.report.content import MINUS, Picture
from canewright.report.pictures.drawing import document, line, words
from canewright.report.pictures.flow_graph import THIN, Graph, Loss, graph
from canewright.report.pictures.flow_layout import (
    BOX,
    LINE,
    STUB,
    WIDEST,
    Box,
    Layout,
    Point,
    Route,
    layout,
    loss_lines,
)
from canewright.report.words import _, several, told

LABELLED = 0.5
"""Percentage from which a band carries its number."""
KEY = 66.0


def flow_picture(account: Account) -> Picture | None:
    """The flow picture of a shift; nothing where the factory holds no sucrose."""
    found = graph(account)
    if found is None or not found.places:
        return None
    for place in found.places:
        for loss in place.losses:
            if loss.kind != "stream":
                loss.name = _("stock") if loss.kind == "stock" else told(loss.name)
    placed = layout(found)
    title = _("Sucrose through the factory, % of that in cane")
    svg = document(placed.width, placed.height + KEY, _parts(found, placed), title)
    note = _(
        "Band width is sucrose, crystal included; returns make some bands wider than the cane's "
        "100 %. Stations that only pass it on share a box. A question mark: undetermined; "
        "stock: more (+) or less (−) at the end."
    )
    if found.thin:
        left_out = several(
            "{count} return of less than {least} % is not drawn.",
            "{count} returns of less than {least} % are not drawn.",
            found.thin,
        )
        note += " " + left_out.format(count=found.thin, least=f"{THIN:g}")
    return Picture("flow", title, svg, in_words(found), note, whole_page=True)


def in_words(found: Graph) -> str:
    """What the picture shows, for those who do not see it."""
    largest = sorted(found.bands, key=lambda band: -band.percent)[:8]
    said = [f"{band.name} {band.percent:.1f} %" for band in largest]
    losses = [loss for place in found.places for loss in place.losses if loss.kind == "stream"]
    left = [f"{loss.name} {loss.percent:.2f} %" for loss in losses]
    text = _("Largest bands: {bands}. Leaving: {losses}.")
    return text.format(bands="; ".join(said), losses="; ".join(left))


def _parts(found: Graph, placed: Layout) -> list[str]:
    parts = []
    for route in sorted(placed.routes, key=lambda route: route.width):
        parts += _band(route)
    for box in placed.boxes:
        parts += _box(box)
    for box in placed.boxes:
        parts += _losses(box, found.places[box.place].losses)
    parts += [
        words(x, y, told(name).upper(), size=14, style='font-weight="bold"')
        for name, x, y in placed.sections
    ]
    for route in placed.routes:
        parts += _label(route)
    return [*parts, *_key(placed)]


def _band(route: Route) -> list[str]:
    edge = f'stroke="#333" stroke-width="{route.width + 1.4:.1f}" stroke-linejoin="round"'
    inside = f'stroke="#c4c4c4" stroke-width="{max(route.width, 0.4):.1f}" stroke-linejoin="round"'
    return [line(route.points, edge), line(route.points, inside), _arrow(route)]


def _arrow(route: Route) -> str:
    (x, y), (fx, fy) = route.points[-1], route.points[-2]
    half = max(route.width / 2 + 1, 4.5)
    back = min(max(half, 6.0), 12.0)
    if abs(x - fx) > abs(y - fy):
        way = 1.0 if x > fx else -1.0
        corners = [(x, y), (x - way * back, y - half), (x - way * back, y + half)]
    else:
        way = 1.0 if y > fy else -1.0
        corners = [(x, y), (x - half, y - way * back), (x + half, y - way * back)]
    places = " ".join(f"{a:.1f},{b:.1f}" for a, b in corners)
    return f'<polygon points="{places}" fill="#333"/>'


def _box(box: Box) -> list[str]:
    parts = [
        f'<rect x="{box.x:.1f}" y="{box.y:.1f}" width="{BOX:g}" height="{box.height:.1f}" '
        f'rx="4" fill="white" stroke="black" stroke-width="1.4"/>'
    ]
    first = box.y + box.height / 2 - (len(box.lines) - 1) * LINE / 2 + 5
    for number, text in enumerate(box.lines):
        parts.append(
            f'<text x="{box.x + BOX / 2:.1f}" y="{first + number * LINE:.1f}" '
            f'text-anchor="middle" font-size="14">{escape(text)}</text>'
        )
    return parts


def _losses(box: Box, losses: list[Loss]) -> list[str]:
    if not losses:
        return []
    parts = []
    bottom = box.y + box.height
    step = min(14.0, (BOX - 40) / len(losses))
    y = bottom + STUB + LINE - 3
    for number, loss in enumerate(losses):
        parts += _stub(box.x + 10 + step * number, bottom, loss)
    for loss in losses:
        style = 'font-style="italic"' if loss.kind != "stream" else ""
        for text in loss_lines(loss, box.letters):
            parts.append(words(box.x + 2, y, text, size=13.5, style=style))
            y += LINE
    return parts


def _stub(x: float, top: float, loss: Loss) -> list[str]:
    """A branch down from a box, by the kind of the loss."""
    tip = top + STUB
    if loss.kind == "undetermined":
        return [
            line(
                [(x, top), (x, tip - 11)],
                'stroke="black" stroke-width="1.6" stroke-dasharray="2 2.5"',
            ),
            words(x, tip, "?", anchor="middle", size=14, style='font-weight="bold"'),
        ]
    if loss.kind == "stock":
        return [
            line([(x, top), (x, tip - 8)], 'stroke="black" stroke-width="1.2"'),
            f'<rect x="{x - 4:.1f}" y="{tip - 8:.1f}" width="8" height="7" fill="white" '
            f'stroke="black" stroke-width="1.2"/>',
        ]
    solid = loss.kind == "stream"
    dash = "" if solid else ' stroke-dasharray="4 3"'
    fill = "black" if solid else "white"
    width = 2.4 if solid else 1.4
    corners = f"{x:.1f},{tip:.1f} {x - 4:.1f},{tip - 8:.1f} {x + 4:.1f},{tip - 8:.1f}"
    return [
        line([(x, top), (x, tip - 8)], f'stroke="black" stroke-width="{width}"{dash}'),
        f'<polygon points="{corners}" fill="{fill}" stroke="black" stroke-width="1"/>',
    ]


def _label(route: Route) -> list[str]:
    if route.band.percent < LABELLED:
        return []
    text = f"{route.band.percent:.1f}".replace("-", MINUS)
    stretches = list(zip(route.points, route.points[1:], strict=False))
    flat = [(a, b) for a, b in stretches if abs(a[1] - b[1]) < 0.5]
    (x, y), (ex, _ey) = route.points[0], route.points[-1]
    if abs(y - route.points[1][1]) < 0.5:  # straight to the next box
        return [words((x + ex) / 2, y - route.width / 2 - 4, text, anchor="middle", size=13)]
    longest: tuple[Point, Point] = max(flat, key=lambda pair: abs(pair[0][0] - pair[1][0]))
    (x, y), (ex, _ey) = longest
    up = 4.5 if route.width >= 14 else -route.width / 2 - 2
    middle = (x + ex) / 2
    return [words(middle, y + up, text, anchor="middle", size=13)]


def _key(placed: Layout) -> list[str]:
    """What the signs mean, along the lower edge."""
    y = placed.height + 18
    samples = (
        (Loss("", "stream", 0.0), _("leaves in a stream")),
        (Loss("", "lost", 0.0), _("lost otherwise")),
        (Loss("", "undetermined", 0.0), _("undetermined")),
        (Loss("", "stock", 0.0), _("change of stock")),
    )
    parts = []
    x = 60.0
    for sample, text in samples:
        parts += _stub(x, y, sample)
        parts.append(words(x + 14, y + STUB - 4, text, size=14))
        x += 40 + 7.4 * len(text)
    largest = max((route.band.percent for route in placed.routes), default=100.0)
    width = 100 * WIDEST / largest
    ends = [(x + 14, y + 10), (x + 54, y + 10)]
    parts.append(line(ends, f'stroke="#333" stroke-width="{width + 1.4:.1f}"'))
    parts.append(line(ends, f'stroke="#c4c4c4" stroke-width="{width:.1f}"'))
    parts.append(words(x + 62, y + 15, _("100 % of the sucrose in cane"), size=14))
    return parts
