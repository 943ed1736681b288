"""What can be read in a factory, as the reader of readings asks for it."""

from collections.abc import Collection, Mapping

from canewright.engine.points import Points
from canewright.files.rows import Analysis


class FactoryCatalogue:
    """The points of a compiled factory, for `canewright.files.readings.read_readings`."""

    def __init__(self, points: Points) -> None:
        self._points = points
        self._known: dict[str, dict[str, Analysis]] = {}

    def points(self) -> Collection[str]:
        """Names of all points."""
        return tuple(self._points.owners)

    def analyses(self, point: str) -> Mapping[str, Analysis]:
        """What can be read at a point, by name."""
        if point not in self._known:
            self._known[point] = {
                name: Analysis(
                    channel.unit, channel.low, channel.high, channel.several, channel.label
                )
                for name, channel in self._points.analyses(point).items()
            }
        return self._known[point]
