"""What can be read in a factory, as the reader of readings asks for it."""

from collections.abc import Collection, Mapping

from canewright.engine.equations.points import Channel, Points
from canewright.files.rows import Analysis
from canewright.laboratory.bench import raw_readings
from canewright.laboratory.method import Method, beside_the_balance
from canewright.laboratory.readings import stream_class


class FactoryCatalogue:
    """The points of a compiled factory, for `canewright.files.readings.read_readings`.

    Beside each analysis of a stream stand the raw readings of the bench it can be worked
    from, such as `pol.rotation`; and those of methods whose results no balance takes, such as
    `acidity.reading`. `own_methods` take the place of those of the same name.
    """

    def __init__(self, points: Points, own_methods: Mapping[str, Method] | None = None) -> None:
        self._points = points
        self.own_methods = dict(own_methods or {})
        self.rule = points.model.factory.repeats
        self._known: dict[str, dict[str, Analysis]] = {}

    def points(self) -> Collection[str]:
        """Names of all points."""
        return tuple(self._points.owners)

    def analyses(self, point: str) -> Mapping[str, Analysis]:
        """What can be read at a point, by name."""
        if point not in self._known:
            channels = self._points.analyses(point)
            self._known[point] = {
                name: Analysis(
                    channel.unit,
                    channel.low,
                    channel.high,
                    channel.several,
                    channel.label,
                    random=channel.random,
                    random_relative=channel.random_relative,
                    rule=self.rule,
                )
                for name, channel in channels.items()
            }
            for name, channel in channels.items():
                self._known[point].update(self._raw(point, name, channel))
            for name in beside_the_balance(self.stream_class(point)):
                self._known[point].update(self._of_bench(point, name))
        return self._known[point]

    def stream_class(self, point: str) -> str:
        """Class of what is sampled at a point, as the methods of the laboratory name them."""
        state = self._points.model.states.get(self._points.owners[point])
        return "" if state is None else stream_class(state.kind)

    def _raw(self, point: str, name: str, channel: Channel) -> dict[str, Analysis]:
        return {} if channel.kind == "quantity" else self._of_bench(point, name)

    def _of_bench(self, point: str, name: str) -> dict[str, Analysis]:
        return {
            f"{name}.{raw.name}": Analysis(
                raw.unit, text=raw.label, raw=True, unit_required=raw.unit_required
            )
            for raw in raw_readings(name, self.stream_class(point)).values()
        }
