"""How far instruments that were called stood from their calibration, shift by shift."""

from __future__ import annotations

from canewright.account.season import SeasonAccount
from canewright.engine.adjusting.explain import COVERAGE
from canewright.report.content import MINUS, Picture
from canewright.report.pictures.drawing import document, line, words
from canewright.report.pictures.trend import steps
from canewright.report.words import _, dated, told

WIDTH, HEIGHT = 720.0, 250.0
LEFT, RIGHT, TOP, BOTTOM = 64.0, 24.0, 18.0, 46.0
FEWEST = 3
MOST = 3
"""Instruments drawn at most; the text names them all."""


def bias_pictures(account: SeasonAccount) -> list[Picture]:
    """A picture for each instrument that stepped or drifted, by all shifts of the season."""
    instruments = list(dict.fromkeys(call.instrument for call in account.calls))[:MOST]
    found = [_picture(account, instrument) for instrument in instruments]
    return [picture for picture in found if picture is not None]


def _picture(account: SeasonAccount, instrument: str) -> Picture | None:
    place = account.chain.carried.names.index(instrument)
    later = account.corrected.shifts
    points = []
    for result in account.results:
        smoothed = later.get(result.number)
        value, sd = (
            (result.carried[place], result.carried_sd[place])
            if smoothed is None
            else (smoothed.carried[place], smoothed.carried_sd[place])
        )
        points.append((result.number, float(value), float(sd)))
    if len(points) < FEWEST:
        return None
    title = _("Bias of the {instrument}, in its standard uncertainties").format(
        instrument=told(instrument)
    )
    number, value, sd = points[-1]
    said = _("At {shift}: {value} ± {half}.").format(
        shift=account.named(number), value=f"{value:+.1f}", half=f"{COVERAGE * sd:.1f}"
    )
    note = _(
        "Line: bias by all shifts of the season; grey: its 95 % interval; triangles: where a step "
        "or drift began; squares: where it was called."
    )
    key = f"bias_of_{instrument.replace(' ', '_')}"
    return Picture(key, title, _drawn(account, instrument, points, title), said, note)


def _drawn(
    account: SeasonAccount, instrument: str, points: list[tuple[int, float, float]], title: str
) -> str:
    ends = [value + sign * COVERAGE * sd for _number, value, sd in points for sign in (1, -1)]
    low, high = min(*ends, 0.0), max(*ends, 0.0)
    room = 0.08 * (high - low) or 1.0
    low, high = low - room, high + room
    place = {number: k for k, (number, _value, _sd) in enumerate(points)}

    def across(k: int) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * k / (len(points) - 1)

    def down(value: float) -> float:
        return HEIGHT - BOTTOM - (value - low) / (high - low) * (HEIGHT - TOP - BOTTOM)

    def edge(sign: int) -> list[tuple[float, float]]:
        return [
            (across(k), down(value + sign * COVERAGE * sd))
            for k, (_number, value, sd) in enumerate(points)
        ]

    places = " ".join(f"{x:.1f},{y:.1f}" for x, y in [*edge(1), *reversed(edge(-1))])
    parts = [f'<polygon points="{places}" fill="#d8d8d8" stroke="#888" stroke-width="0.8"/>']
    for mark in steps(low, high):
        heavy = "1.1" if abs(mark) < 1e-12 else "0.5"
        ends_of = [(LEFT, down(mark)), (WIDTH - RIGHT, down(mark))]
        parts.append(line(ends_of, f'stroke="#777" stroke-width="{heavy}"'))
        text = f"{mark:.6g}".replace("-", MINUS)
        parts.append(words(LEFT - 8, down(mark) + 5, text, anchor="end", size=14))
    middle = [(across(k), down(value)) for k, (_number, value, _sd) in enumerate(points)]
    parts.append(line(middle, 'stroke="black" stroke-width="2"'))
    for call in account.calls:
        if call.instrument != instrument:
            continue
        for number, is_start in ((call.start, True), (call.called, False)):
            if number in place:
                x, y = middle[place[number]]
                shape = (
                    f"{x - 7:.1f},{y + 6:.1f} {x + 7:.1f},{y + 6:.1f} {x:.1f},{y - 7:.1f}"
                    if is_start
                    else f"{x - 5:.1f},{y - 5:.1f} {x + 5:.1f},{y - 5:.1f} "
                    f"{x + 5:.1f},{y + 5:.1f} {x - 5:.1f},{y + 5:.1f}"
                )
                parts.append(f'<polygon points="{shape}" fill="white" stroke="black"/>')
    starts = {result.number: result.start for result in account.results}
    for k, anchor in ((0, "start"), (len(points) // 2, "middle"), (len(points) - 1, "end")):
        start = starts.get(points[k][0])
        text = dated(start, "%d %b") if start is not None else str(points[k][0] + 1)
        parts.append(words(across(k), HEIGHT - BOTTOM + 20, text, anchor=anchor, size=14))
    return document(WIDTH, HEIGHT, parts, title)
