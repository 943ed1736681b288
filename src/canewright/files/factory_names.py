"""The names a factory file may use: what can be read, held or limited, and in which unit."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from canewright.engine.equations.points import point_name
from canewright.flowsheet import Flowsheet
from canewright.laboratory.readings import READINGS
from canewright.model import Quantity
from canewright.streams import COMPONENTS, CONDITIONS, Kind


@dataclass
class Names:
    """Streams, mains, stocks and stations of a flowsheet by the names of their points."""

    flowsheet: Flowsheet
    kinds: dict[str, tuple[Kind, bool]] = field(default_factory=dict)
    """Point -> what it holds, and whether it is a stock."""
    stations: dict[str, Mapping[str, Quantity]] = field(default_factory=dict)
    """Point -> quantities of the station."""
    owners: dict[str, str] = field(default_factory=dict)
    """Point -> the name as written in the factory file."""
    clashes: list[tuple[str, str]] = field(default_factory=list)
    """Pairs of names that would be one point."""

    def __post_init__(self) -> None:
        for name, kind in self.flowsheet.streams.items():
            self._add(name, kind, stock=False)
        for main in self.flowsheet.mains:
            self._add(main.name, main.kind, stock=False)
        for placed in self.flowsheet.placed:
            for declaration in placed.cls.stocks.values():
                stream = placed.connections[declaration.like][0]
                for side in ("opening", "closing"):
                    self._add(f"{placed.name} {side}", self.flowsheet.streams[stream], stock=True)
            point = point_name(placed.name)
            if point in self.stations:
                self.clashes.append((self.owners[point], placed.name))
            self.stations[point] = placed.cls.quantities
            self.owners.setdefault(point, placed.name)

    def _add(self, name: str, kind: Kind, stock: bool) -> None:
        point = point_name(name)
        if point in self.kinds:
            self.clashes.append((self.owners[point], name))
        self.kinds[point] = (kind, stock)
        self.owners[point] = name

    def add_point(self, point: str, stream: str) -> None:
        """Give a stream a second name, for the file of readings."""
        self.kinds[point_name(point)] = self.kinds[point_name(stream)]
        self.owners[point_name(point)] = self.owners[point_name(stream)]

    def analyses(self, owner: str) -> dict[str, str]:
        """What can be read there, with the internal unit; empty for an unknown name."""
        point = point_name(owner)
        found: dict[str, str] = {}
        if point in self.kinds:
            kind, stock = self.kinds[point]
            found = {
                reading.name: reading.unit
                for reading in READINGS.values()
                if reading.suits(kind, stock)
            }
        for name, quantity in self.stations.get(point, {}).items():
            if quantity.role != "design":
                found.setdefault(name, quantity.unit)
        return found

    def quantity(self, owner: str, name: str) -> Quantity | None:
        """A station's quantity."""
        return self.stations.get(point_name(owner), {}).get(name)

    def component_unit(self, owner: str, name: str) -> str | None:
        """Unit of a component or condition of a stream, by the stream's exact name."""
        kind = self.flowsheet.streams.get(owner)
        if kind is None or name not in kind.fields:
            return None
        return COMPONENTS.get(name) or CONDITIONS[name]
