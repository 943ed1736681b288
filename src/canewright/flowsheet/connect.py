"""Connecting stations: every stream is made by one station and used by one.

Steam, vapour, water, condensate and power run in mains: any number of stations may feed
one and draw from it under one name. A main is put in by itself where that happens.
"""

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from canewright.flowsheet.factory import Factory, FactoryRefused, StationEntry
from canewright.model import Port, Station, stations
from canewright.streams import Kind


@dataclass(frozen=True)
class PlacedStation:
    """A station of the flowsheet: its class and the stream at each of its ports."""

    name: str
    cls: type[Station]
    entry: StationEntry
    connections: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True)
class Main:
    """A main: the streams that feed it and the streams drawn from it."""

    name: str
    kind: Kind
    feeds: tuple[str, ...]
    draws: tuple[str, ...]


@dataclass
class Flowsheet:
    """Stations, streams and mains of a factory, in the order written."""

    factory: Factory
    placed: list[PlacedStation] = field(default_factory=list)
    streams: dict[str, Kind] = field(default_factory=dict)
    shares: dict[str, float | None] = field(default_factory=dict)
    mains: list[Main] = field(default_factory=list)


def nearest(word: str, words: Sequence[str]) -> str:
    """A hint naming the nearest known word, or nothing."""
    close = difflib.get_close_matches(word, words, n=1, cutoff=0.5)
    return f" Did you mean '{close[0]}'?" if close else ""


@dataclass
class _End:
    station: str
    port_name: str
    port: Port
    stream: str


def connect(factory: Factory) -> Flowsheet:
    """Resolve names of stations and streams into a flowsheet.

    Raises
    ------
    FactoryRefused
        With every problem of the file as a sentence: an unknown kind of station, a stream
        that no station makes or uses, two stations making one juice, a port left open.
    """
    problems: list[str] = []
    kinds = stations()
    entries = _known_entries(factory, kinds, problems)
    ends: list[_End] = []
    for entry in entries:
        ends += _ends(entry, kinds[entry.kind], problems)
    flowsheet = Flowsheet(factory)
    flowsheet_kinds = _stream_kinds(ends, problems)
    _route(flowsheet, ends, flowsheet_kinds, problems)
    if problems:
        raise FactoryRefused(problems)
    by_port: dict[tuple[str, str], list[str]] = {}
    for end in ends:
        by_port.setdefault((end.station, end.port_name), []).append(end.stream)
    for entry in entries:
        cls = kinds[entry.kind]
        connections = {
            name: tuple(by_port[entry.name, name])
            for name in cls.ports
            if (entry.name, name) in by_port
        }
        flowsheet.placed.append(PlacedStation(entry.name, cls, entry, connections))
    return flowsheet


def _known_entries(
    factory: Factory, kinds: Mapping[str, type[Station]], problems: list[str]
) -> list[StationEntry]:
    entries: list[StationEntry] = []
    for entry in factory.stations:
        if entry.kind not in kinds:
            problems.append(
                f"Station '{entry.name}': there is no kind of station called '{entry.kind}'."
                + nearest(entry.kind, list(kinds))
            )
        else:
            entries.append(entry)
    seen: set[str] = set()
    for entry in entries:
        if entry.name in seen:
            problems.append(f"Two stations are called '{entry.name}'; give each its own name.")
        seen.add(entry.name)
    return entries


def _ends(entry: StationEntry, cls: type[Station], problems: list[str]) -> list[_End]:
    ends = []
    problems += [
        f"Station '{entry.name}' ({entry.kind}) has no port '{name}'."
        + nearest(name, list(cls.ports))
        for name in entry.connections
        if name not in cls.ports
    ]
    for name, port in cls.ports.items():
        connection = entry.connections.get(name)
        if connection is None or connection == []:
            if not port.optional:
                direction = "into" if port.direction == "in" else "out of"
                problems.append(
                    f"Station '{entry.name}' ({entry.kind}): nothing is connected {direction} "
                    f"'{name}'. Write {name} = \"name of the stream\"."
                )
            continue
        names = connection if isinstance(connection, list) else [connection]
        if len(names) > 1 and not port.several:
            problems.append(
                f"Station '{entry.name}': port '{name}' takes one stream, not {len(names)}."
            )
            continue
        ends += [_End(entry.name, name, port, stream) for stream in names]
    return ends


def _stream_kinds(ends: Sequence[_End], problems: list[str]) -> dict[str, Kind]:
    kinds: dict[str, Kind] = {}
    waiting = [end for end in ends if end.port.direction == "out"]
    for end in waiting:
        if end.port.kinds:
            known = kinds.setdefault(end.stream, end.port.kinds[0])
            if known != end.port.kinds[0]:
                problems.append(
                    f"Stream '{end.stream}' is made as {known.name} and, by station "
                    f"'{end.station}', as {end.port.kinds[0].name}."
                )
    waiting = [end for end in waiting if not end.port.kinds]
    inlet_streams: dict[tuple[str, str], list[str]] = {}
    for end in ends:
        inlet_streams.setdefault((end.station, end.port_name), []).append(end.stream)
    while waiting:
        still = []
        for end in waiting:
            feeds = inlet_streams.get((end.station, end.port.like), [])
            kind = next((kinds[name] for name in feeds if name in kinds), None)
            if kind is None:
                still.append(end)
            else:
                kinds.setdefault(end.stream, kind)
        if len(still) == len(waiting):
            problems += [
                f"Stream '{end.stream}' of station '{end.station}': what it is follows from "
                f"'{end.port.like}', which no other station makes (a cycle of stations "
                "that only pass on what they get)."
                for end in still
            ]
            break
        waiting = still
    return kinds


def _route(
    flowsheet: Flowsheet, ends: list[_End], kinds: Mapping[str, Kind], problems: list[str]
) -> None:
    by_stream: dict[str, list[_End]] = {}
    for end in ends:
        by_stream.setdefault(end.stream, []).append(end)
    made = [name for name, group in by_stream.items() if any(_out(e) for e in group)]
    used = [name for name, group in by_stream.items() if any(not _out(e) for e in group)]
    for name, group in by_stream.items():
        makers = [end for end in group if _out(end)]
        users = [end for end in group if not _out(end)]
        if not makers:
            problems.append(
                f"Stream '{name}' goes into station '{users[0].station}' "
                f"({users[0].port_name}), but no station makes it."
                + nearest(name, [other for other in made if other != name])
            )
            continue
        if not users:
            problems.append(
                f"Stream '{name}' comes out of station '{makers[0].station}' "
                f"({makers[0].port_name}) and goes nowhere."
                + nearest(name, [other for other in used if other != name])
                + " If it leaves the factory, give it a station of kind 'departure'."
            )
            continue
        kind = kinds.get(name)
        if kind is None:
            continue
        for end in users:
            if end.port.kinds and kind not in end.port.kinds:
                wanted = " or ".join(accepted.name for accepted in end.port.kinds)
                problems.append(
                    f"Stream '{name}' is {kind.name}, but station '{end.station}' "
                    f"({end.port_name}) takes {wanted}."
                )
        if len(makers) == 1 and len(users) == 1:
            flowsheet.streams[name] = kind
            flowsheet.shares[name] = makers[0].port.share
        elif kind.shared:
            _put_in_main(flowsheet, name, kind, makers, users)
        elif len(makers) > 1:
            names = "', '".join(end.station for end in makers)
            problems.append(
                f"Stream '{name}' ({kind.name}) is made by stations '{names}'. Give each its own "
                "stream and join them in a station of kind 'mixer'."
            )
        else:
            names = "', '".join(end.station for end in users)
            problems.append(
                f"Stream '{name}' ({kind.name}) is used by stations '{names}'. Share it out with "
                "a station of kind 'splitter'."
            )


def _out(end: _End) -> bool:
    return end.port.direction == "out"


def _put_in_main(
    flowsheet: Flowsheet, name: str, kind: Kind, makers: list[_End], users: list[_End]
) -> None:
    feeds: list[str] = []
    draws: list[str] = []
    for ends, word, names in ((makers, "from", feeds), (users, "to", draws)):
        for end in ends:
            branch = f"{name} {word} {end.station}"
            if branch in flowsheet.streams:
                branch = f"{branch} ({end.port_name})"
            flowsheet.streams[branch] = kind
            flowsheet.shares[branch] = end.port.share
            end.stream = branch
            names.append(branch)
    flowsheet.mains.append(Main(name, kind, tuple(feeds), tuple(draws)))
