"""Where the flow picture puts boxes and bands: rows of boxes, and tracks between the rows.

Bands run in straight lines: to the next box through the gap, else through tracks in the
channel above or below a row, and from row to row through the gaps between the columns.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from canewright.report.content import BLANK, MINUS
from canewright.report.pictures.drawing import folded
from canewright.report.pictures.flow_graph import ROWS, Band, Graph, Loss

MOST, FEWEST = 7, 3
"""Boxes in a row, and of a section that begins in the row of the one before it."""
BOX, GAP, MARGIN = 118.0, 38.0, 46.0
WIDEST = 30.0
THINNEST = 1.2
LINE = 15.0
SPACE = 8.0
"""Between two tracks of a channel."""
LABEL_LETTERS = 17
LETTER = 6.3
"""Usual width of a letter of a loss."""
NARROWEST = 11
STUB = 20.0
PADDING = 6.0

Point = tuple[float, float]


@dataclass
class Box:
    """A place on the paper."""

    place: int
    row: int
    column: int
    lines: list[str]
    x: float = 0.0
    y: float = 0.0
    height: float = 0.0
    letters: int = 22


@dataclass
class Route:
    """A band on the paper: its width and the points that it runs through."""

    band: Band
    width: float
    points: list[Point] = field(default_factory=list)


@dataclass
class Run:
    """A horizontal stretch of a band in a channel."""

    route: int
    channel: int
    start: float
    end: float
    width: float
    y: float = 0.0


def loss_lines(loss: Loss, letters: int) -> list[str]:
    """A loss as it is written under its box, in lines of so many letters."""
    sign = f"{loss.percent:+.2f}" if loss.kind == "stock" else f"{loss.percent:.2f}"
    sign = sign.replace("-", MINUS)
    return folded(f"{loss.name} {sign}{BLANK}%", letters)


@dataclass
class Layout:
    """Everything in its place.

    Attributes
    ----------
    sections : list of (str, float, float)
        Name of a section and where it is written.
    """

    boxes: list[Box]
    routes: list[Route]
    sections: list[tuple[str, float, float]]
    width: float
    height: float


def layout(graph: Graph) -> Layout:
    """Lay a graph out."""
    return _Layout(graph).finished()


class _Layout:
    def __init__(self, graph: Graph) -> None:
        self.graph = graph
        largest = max((band.percent for band in graph.bands), default=1.0)
        self.scale = WIDEST / largest
        self.boxes: list[Box] = []
        self.heads: list[tuple[str, Box]] = []
        self._rows()
        self.by_place = {box.place: box for box in self.boxes}
        self.count = max(box.row for box in self.boxes) + 1
        columns = max(box.column for box in self.boxes) + 1
        self.width = 2 * MARGIN + columns * BOX + (columns - 1) * GAP
        self.routes = [
            Route(band, max(band.percent * self.scale, THINNEST)) for band in graph.bands
        ]

    def _rows(self) -> None:
        row = column = 0
        for names in ROWS:
            members = [i for i, p in enumerate(self.graph.places) if p.section in names]
            if not members:
                continue
            if column > MOST - FEWEST:
                row, column = row + 1, 0
            first = True
            for place in members:
                if column == MOST:
                    row, column = row + 1, 0
                lines = folded(self.graph.places[place].label, LABEL_LETTERS)
                box = Box(place, row, column, lines)
                self.boxes.append(box)
                if first:
                    self.heads.append((names[-1] if len(names) == 1 else " and ".join(names), box))
                    first = False
                column += 1

    def finished(self) -> Layout:
        """Boxes and bands with their places on the paper."""
        self._heights()
        for box in self.boxes:
            box.x = MARGIN + box.column * (BOX + GAP)
        ports = self._ports()
        runs, plans = self._plan(ports)
        depth = self._tracks(runs)
        top = 0.0
        starts = []
        for row in range(self.count):
            top += depth[row] + (44 if self._headed(row) else 12)
            starts.append(top)
            tallest = max(box.height for box in self.boxes if box.row == row)
            for box in self.boxes:
                if box.row == row:
                    box.y, box.height = top, tallest
            top += tallest + self._strip(row)
        for run in runs:
            below = run.channel == self.count
            base = top if below else starts[run.channel] - depth[run.channel] - 6
            run.y += base + (0 if not below else 4)
        for number, route in enumerate(self.routes):
            route.points = self._points(number, plans[number], ports, runs)
        sections = [(name, box.x, box.y - 10) for name, box in self.heads]
        return Layout(self.boxes, self.routes, sections, self.width, top + depth[self.count] + 16)

    def _headed(self, row: int) -> bool:
        return any(box.row == row for _, box in self.heads)

    def _heights(self) -> None:
        for box in self.boxes:
            sides = [0.0, 0.0]
            for route in self.routes:
                if self._next(route):
                    sides[0] += (route.width + 3) * (route.band.source == box.place)
                    sides[1] += (route.width + 3) * (route.band.target == box.place)
            box.height = max(len(box.lines) * LINE + 2 * PADDING + 4, max(sides) + 8, 48.0)

    def _strip(self, row: int) -> float:
        """Height of the losses written under a row."""
        most = 0
        for box in self.boxes:
            if box.row == row:
                losses = self.graph.places[box.place].losses
                most = max(most, sum(len(loss_lines(loss, box.letters)) for loss in losses))
        return STUB + most * LINE + 8 if most else 12.0

    def _ends(self, route: Route) -> tuple[Box, Box]:
        return self.by_place[route.band.source], self.by_place[route.band.target]

    def _next(self, route: Route) -> bool:
        source, target = self._ends(route)
        return source.row == target.row and target.column == source.column + 1

    def _sides(self, route: Route) -> tuple[str, str]:
        source, target = self._ends(route)
        if self._next(route):
            return "right", "left"
        if source.row == target.row:
            side = "top" if target.column > source.column else "bottom"
            return side, side
        return ("bottom", "top") if target.row > source.row else ("top", "bottom")

    def _ports(self) -> dict[tuple[int, str], float]:
        """Where on a side each band begins and ends: (route, "out" or "in") -> offset."""
        found: dict[tuple[int, str], float] = {}
        at_side: dict[tuple[int, str], list[tuple[float, int, str]]] = {}
        for number, route in enumerate(self.routes):
            source, target = self._ends(route)
            out, into = self._sides(route)
            leaving = at_side.setdefault((source.place, out), [])
            leaving.append((target.column + 0.1, number, "out"))
            at_side.setdefault((target.place, into), []).append((source.column, number, "in"))
        for box in self.boxes:
            for side in ("left", "right", "top", "bottom"):
                here = at_side.get((box.place, side), [])
                here.sort()
                length = sum(self.routes[n].width for _, n, _ in here) + 7 * (len(here) - 1)
                if side == "bottom":
                    at = BOX - length - 8
                    if here:
                        box.letters = max(int((at - 8) / LETTER), NARROWEST)
                elif side == "top":
                    at = (BOX - length) / 2
                else:
                    at = -length / 2
                for _, number, end in here:
                    width = self.routes[number].width
                    found[number, end] = at + width / 2
                    at += width + 7
        return found

    def _plan(self, ports: dict[tuple[int, str], float]) -> tuple[list[Run], list[list[int]]]:
        runs: list[Run] = []
        plans: list[list[int]] = []

        def run(route: int, channel: int, one: float, other: float) -> int:
            start, end = sorted((one, other))
            runs.append(Run(route, channel, start, end, self.routes[route].width))
            return len(runs) - 1

        for number, route in enumerate(self.routes):
            source, target = self._ends(route)
            if self._next(route):
                plans.append([])
                continue
            out, into = self._sides(route)
            begins = source.x + ports[number, "out"]
            ends = target.x + ports[number, "in"]
            leaving = source.row + (out == "bottom")
            arriving = target.row + (into == "bottom")
            if leaving == arriving:
                plans.append([run(number, leaving, begins, ends)])
            else:
                between = target.x - GAP / 2
                plans.append(
                    [run(number, leaving, begins, between), run(number, arriving, between, ends)]
                )
        return runs, plans

    def _tracks(self, runs: list[Run]) -> list[float]:
        """Depth of each channel, with every run on a track of its own where they overlap."""
        depth = [0.0] * (self.count + 1)
        for channel in range(self.count + 1):
            tracks: list[list[Run]] = []
            for run in sorted(
                (r for r in runs if r.channel == channel), key=lambda r: r.end - r.start
            ):
                for track in tracks:
                    if all(run.end + 12 < o.start or o.end + 12 < run.start for o in track):
                        track.append(run)
                        break
                else:
                    tracks.append([run])
            at = SPACE if tracks else 0.0
            for track in tracks:
                width = max(max(run.width for run in track), 9.0)
                for run in track:
                    run.y = at + width / 2
                at += width + SPACE
            depth[channel] = at
        return depth

    def _points(
        self,
        number: int,
        plan: list[int],
        ports: dict[tuple[int, str], float],
        runs: list[Run],
    ) -> list[Point]:
        source, target = self._ends(self.routes[number])
        out, into = self._sides(self.routes[number])
        if not plan:
            y_out = source.y + source.height / 2 + ports[number, "out"]
            y_in = target.y + target.height / 2 + ports[number, "in"]
            start, end = source.x + BOX, target.x
            if abs(y_out - y_in) < 0.5:
                return [(start, y_out), (end, y_in)]
            middle = (start + end) / 2
            return [(start, y_out), (middle, y_out), (middle, y_in), (end, y_in)]
        begins = source.x + ports[number, "out"]
        ends = target.x + ports[number, "in"]
        first = source.y + (source.height if out == "bottom" else 0)
        last = target.y + (target.height if into == "bottom" else 0)
        points: list[Point] = [(begins, first), (begins, runs[plan[0]].y)]
        if len(plan) == 2:
            between = target.x - GAP / 2
            points += [(between, runs[plan[0]].y), (between, runs[plan[1]].y)]
        return [*points, (ends, runs[plan[-1]].y), (ends, last)]
