"""A factory with one station out of the way: a mill off, a body being cleaned, a heater passed by.

What came to the station goes where its product went. Vapour that an evaporator body would
have made is taken from the main that heats it. Nothing else is rebuilt: what remains keeps
its names and its performance.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from canewright.engine.equations.changes import ChangeRefused
from canewright.flowsheet import Factory, StationEntry
from canewright.flowsheet.connect import nearest
from canewright.model import stations

PASSES: Mapping[str, Mapping[str, str]] = {
    "mill": {"feed": "bagasse", "imbibition": "juice"},
    "evaporator_body": {"juice_in": "juice_out"},
}
"""Kind -> inlet -> the outlet whose stream it takes over; others pass `x_in` on as `x_out`."""

Connections = dict[str, str | list[str]]


def without(factory: Factory, names: list[str]) -> Factory:
    """The factory with stations taken out of the way.

    Parameters
    ----------
    factory : Factory
    names : list of str
        Of stations, as in `canewright check`; a train's parts are "mill 4", "evaporator body 3".

    Raises
    ------
    ChangeRefused
        If there is no such station, or nothing can pass it by.
    """
    for name in names:
        factory = _one(factory, name)
    return factory


def _one(factory: Factory, wanted: str) -> Factory:
    entries = {entry.name: entry for entry in factory.stations}
    name = next((known for known in entries if known.lower() == wanted.strip().lower()), "")
    if not name:
        raise ChangeRefused(
            f"The factory has no station called '{wanted}'.{nearest(wanted, list(entries))}"
        )
    entry = entries[name]
    passes = PASSES.get(entry.kind) or _in_out(entry)
    if not passes:
        raise ChangeRefused(
            f"'{name}' ({entry.kind}) cannot be passed by: what it makes comes from nowhere else. "
            "A mill, a heater, a body of the evaporator, a cooler or a crystalliser can."
        )
    others = [other for other in factory.stations if other is not entry]
    moved, gone = _streams(entry, passes)
    if entry.kind == "evaporator_body":
        others, more = _vapour(entry, others)
        moved |= more
    gone = gone - _made_by(others) - set(moved)
    kept = _without_idle([_reconnected(other, moved, gone) for other in others])
    return replace(
        factory,
        stations=tuple(kept),
        instruments=(),
        points={},
        holds=tuple(h for h in factory.holds if not _speaks_of((h.what, h.by), name)),
        limits=tuple(limit for limit in factory.limits if not _speaks_of((limit.what,), name)),
    )


def _speaks_of(names: tuple[str, ...], station: str) -> bool:
    return any(name.rpartition(".")[0] == station for name in names)


def _in_out(entry: StationEntry) -> dict[str, str]:
    return {
        port: f"{port.removesuffix('_in')}_out"
        for port in entry.connections
        if port.endswith("_in")
        and f"{port.removesuffix('_in')}_out" in entry.connections
        and port != "water_in"
    }


def _list(connection: str | list[str] | None) -> list[str]:
    if connection is None:
        return []
    return list(connection) if isinstance(connection, list) else [connection]


def _streams(
    entry: StationEntry, passes: Mapping[str, str]
) -> tuple[dict[str, list[str]], set[str]]:
    """Names of streams that become others, and streams no longer made."""
    ports = stations()[entry.kind].ports
    outlets = {
        stream
        for port, connection in entry.connections.items()
        if ports[port].direction == "out"
        for stream in _list(connection)
    }
    moved: dict[str, list[str]] = {}
    for inlet, outlet in passes.items():
        coming, going = _list(entry.connections.get(inlet)), _list(entry.connections.get(outlet))
        if not coming or not going:
            continue
        (left,) = going
        outlets.discard(left)
        if len(coming) == 1:
            moved[coming[0]] = [left]
        else:
            moved[left] = coming
    return moved, outlets


def _vapour(
    body: StationEntry, others: list[StationEntry]
) -> tuple[list[StationEntry], dict[str, list[str]]]:
    """Mains and condensate of an evaporator whose one body is out."""
    heating, made, own = (str(body.connections[p]) for p in ("heating", "vapour", "condensate"))
    others_make = any(
        str(other.connections.get("vapour")) == made
        for other in others
        if other.kind == "evaporator_body"
    )
    if others_make:
        return others, {}
    moved = {made: [heating]}
    flashing = {
        str(other.connections["condensate_in"])
        for other in others
        if other.kind == "condensate_flash"
    }
    after = next(
        (
            str(other.connections["condensate"])
            for other in others
            if other.kind == "evaporator_body" and other.connections.get("heating") == made
        ),
        None,
    )
    if after is not None:
        moved[after] = [own]
    kept = []
    for other in others:
        if other.kind == "condensate_flash":
            ends = [str(other.connections[p]) for p in ("condensate_in", "condensate_out")]
            first, last = (moved.get(end, [end])[0] for end in ends)
            if first == last or (first == own and own not in flashing):
                continue
        kept.append(other)
    return kept, moved


def _made_by(entries: list[StationEntry]) -> set[str]:
    kinds = stations()
    return {
        stream
        for entry in entries
        for port, connection in entry.connections.items()
        if kinds[entry.kind].ports[port].direction == "out"
        for stream in _list(connection)
    }


def _reconnected(
    entry: StationEntry, moved: Mapping[str, list[str]], gone: set[str]
) -> StationEntry:
    """A station with streams under their new names, and without those no longer made."""
    connections: Connections = {}
    ports = stations()[entry.kind].ports
    for port, connection in entry.connections.items():
        streams = [
            new
            for old in _list(connection)
            if old not in gone
            for new in (
                [old]
                if len(moved.get(old, ())) > 1 and not ports[port].several
                else moved.get(old, [old])
            )
        ]
        if isinstance(connection, list) or len(streams) > 1:
            connections[port] = streams
        elif streams:
            connections[port] = streams[0]
    if entry.kind == "mixer" and "first" not in connections and connections.get("others"):
        first, *rest = _list(connections["others"])
        connections["first"], connections["others"] = first, list(rest)
    return replace(entry, connections=connections)


def _without_idle(entries: list[StationEntry]) -> list[StationEntry]:
    """Leave out departures of nothing, and mixers to which one stream is left."""
    idle = [e for e in entries if e.kind == "departure" and not e.connections]
    alone = [e for e in entries if e.kind == "mixer" and not e.connections.get("others")]
    moved = {str(e.connections["first"]): [str(e.connections["mixture"])] for e in alone}
    return [_reconnected(e, moved, set()) for e in entries if e not in idle and e not in alone]
