"""Can the equations of a factory be solved, and if not, where and why, in words.

A factory can be connected and still not be determined: a main that nobody makes up, two
stations that both take what comes, a cycle that nothing enters. Counting says that there is
a fault; these functions say where.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from canewright.engine.equations.model import Model
from canewright.engine.equations.simulate import unmatched, usually_fixed
from canewright.flowsheet import Flowsheet, PlacedStation
from canewright.streams import MASS, Kind

AMOUNTS = (*MASS, "power")
"""Fields of a port by which a station says how much it takes or gives."""

SHOWN = 6
"""How many names a sentence lists."""


def quoted(names: Iterable[str]) -> str:
    """Names as a list in words: 'a', 'b' and 'c'."""
    listed = [f"'{name}'" for name in dict.fromkeys(names)]
    if len(listed) > SHOWN:
        listed = [*listed[:SHOWN], f"{len(listed) - SHOWN} more"]
    return listed[0] if len(listed) == 1 else f"{', '.join(listed[:-1])} and {listed[-1]}"


def cycles(flowsheet: Flowsheet) -> list[str]:
    """Cycles of stations that sugar or solids cannot enter, or cannot leave.

    Water, steam, vapour, condensate, power and gases are left out: they run in circuits.
    """
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import connected_components

    numbers = {placed.name: number for number, placed in enumerate(flowsheet.placed)}
    makers: dict[str, int] = {}
    users: dict[str, int] = {}
    for placed in flowsheet.placed:
        for port, streams in placed.connections.items():
            ends = makers if placed.cls.ports[port].direction == "out" else users
            ends.update(dict.fromkeys(streams, numbers[placed.name]))
    links = [
        (makers[stream], users[stream])
        for stream, kind in flowsheet.streams.items()
        if stream in makers and stream in users and _carries_solids(kind)
    ]
    if not links:
        return []
    rows, columns = (np.array(side) for side in zip(*links, strict=True))
    count = len(flowsheet.placed)
    graph = csr_array((np.ones(len(links)), (rows, columns)), shape=(count, count))
    _, parts = connected_components(graph, directed=True, connection="strong")
    problems = []
    for part in dict.fromkeys(parts[row] for row, column in links if parts[row] == parts[column]):
        around = [link for link in links if part in (parts[link[0]], parts[link[1]])]
        inside = {number for number in range(count) if parts[number] == part}
        enters = any(parts[row] != part for row, _ in around)
        leaves = any(parts[column] != part for _, column in around)
        if enters and leaves:
            continue
        names = quoted(placed.name for placed in flowsheet.placed if numbers[placed.name] in inside)
        if not enters and not leaves:
            fault = (
                "nothing comes in and nothing leaves, so that nothing decides how much goes round"
            )
        elif not enters:
            fault = "nothing comes in from outside, so that nothing decides how much goes round"
        else:
            fault = "nothing leaves, so that what comes in has nowhere to go"
        problems.append(
            f"Stations {names} pass what they get to each other, and {fault}. Give the cycle a "
            "stream in from outside and one out of it; a stock to hold ('tank') does not replace "
            "either."
        )
    return problems


def _carries_solids(kind: Kind) -> bool:
    return any(component in kind.fields for component in ("sucrose", "fibre", "soil", "ash"))


@dataclass
class _Joint:
    """Streams (or one main) whose flow and pressure are decided together."""

    names: list[str] = field(default_factory=list)
    excess: int = 0
    makes_up: list[str] = field(default_factory=list)
    takes_what_comes: list[str] = field(default_factory=list)
    takes_what_it_needs: list[str] = field(default_factory=list)
    gives_what_it_has: list[str] = field(default_factory=list)
    sets_pressure: list[str] = field(default_factory=list)
    has_pressure: bool = False
    shares: list[str] = field(default_factory=list)

    def add(self, other: "_Joint") -> None:
        """Take another in."""
        for name, value in vars(other).items():
            if isinstance(value, list):
                getattr(self, name).extend(value)
        self.excess += other.excess
        self.has_pressure = self.has_pressure or other.has_pressure

    @property
    def set_twice(self) -> bool:
        """Whether more than one station sets the pressure."""
        return self.has_pressure and len(self.sets_pressure) > 1

    def sentences(self) -> list[str]:
        """What is wrong, where, and what to do; empty where all is decided once."""
        names = quoted(self.names)
        told = []
        if self.set_twice:
            told.append(
                f"The pressure of {names} is set by stations {quoted(self.sets_pressure)}. "
                "Leave it to one of them."
            )
        excess = self.excess + (len(self.sets_pressure) - 1 if self.set_twice else 0)
        if not excess:
            return told
        if self.shares:
            return [*told, self._about_shares(names, excess)]
        if excess > 0:
            return [*told, self._undecided(names)]
        return [
            *told,
            f"Too much is decided about {names}: {self._needs()}{self._given()}, and nothing "
            "takes up the difference. Add a station that makes up what is lacking or takes what "
            "is left.",
        ]

    def _undecided(self, names: str) -> str:
        if len(self.makes_up) > 1:
            return (
                f"Stations {quoted(self.makes_up)} all make up what {names} lacks: nothing "
                "decides between them. Let all but one give a set flow."
            )
        if len(self.takes_what_comes) > 1:
            return (
                f"Stations {quoted(self.takes_what_comes)} all take what comes of {names}: "
                "nothing decides how it is shared. Let one stream go through a 'splitter', or "
                "give each its own stream."
            )
        if self.makes_up and self.takes_what_comes:
            return (
                f"Station {quoted(self.makes_up)} gives as much {names} as is drawn, and station "
                f"{quoted(self.takes_what_comes)} takes what comes: nothing decides how much. "
                "Connect it to what needs it, or take it away."
            )
        if self.has_pressure and not self.sets_pressure:
            return (
                f"Nothing sets the pressure of {names}. Lead it to a station that does (a "
                "'condenser', a 'desuperheater'), or to one that takes just what it needs."
            )
        return f"Nothing decides how much {names} there is. Let a station need it or set it."

    def _about_shares(self, names: str, excess: int) -> str:
        stations = f"Station{'s' if len(self.shares) > 1 else ''} {quoted(self.shares)}"
        verb = "leave" if len(self.shares) > 1 else "leaves"
        opening = f"{stations} {verb} the sharing out to those who draw {names}, "
        if excess > 0:
            return (
                f"{opening}but too many of them ({quoted(self.takes_what_comes)}) take what "
                "comes. Let all but one need a certain amount, or use a 'splitter'."
            )
        return (
            f"{opening}and all of them take what they need ({quoted(self.takes_what_it_needs)}), "
            "so that nothing takes up the difference. Let one take what is left, such as a "
            "'departure'."
        )

    def _needs(self) -> str:
        if not self.takes_what_it_needs:
            return ""
        names = quoted(self.takes_what_it_needs)
        return f"what {names} need" if "," in names or " and " in names else f"what {names} needs"

    def _given(self) -> str:
        if not self.gives_what_it_has:
            return ""
        joined = " and " if self.takes_what_it_needs else ""
        return f"{joined}what {quoted(self.gives_what_it_has)} gives"


def decided_twice(model: Model) -> list[str]:
    """Settings and performances that the flowsheet makes one quantity, as sentences.

    Only one of their values could count, and the other would be lost without a word.
    """
    said = []
    for variable in model.variables:
        own = [
            name
            for name in (variable.name, *variable.other_names)
            if _role(model, name) in ("setting", "fitted")
        ]
        if len(own) > 1:
            stations = [name.rpartition(".")[0] for name in own]
            said.append(
                f"{quoted(own)} are each set on their own, yet the flowsheet makes them the same "
                f"quantity. Let only one of the stations {quoted(stations)} decide it: lead the "
                "other's stream elsewhere."
            )
    return said


def _role(model: Model, name: str) -> str:
    """Role of a station's quantity; empty for a stream's."""
    station, _, quantity = name.rpartition(".")
    owner = model.stations.get(station)
    found = owner.quantities.get(quantity) if owner is not None else None
    return found.role if found is not None else ""


def open_ends(model: Model) -> list[str]:
    """Streams and mains of which too little or too much is decided, as sentences.

    Every station says which of its inlets it draws from at need (`demands`) and what it
    leaves to those who draw (`supplies`). On each stream or main exactly one thing must be
    left over to be found from all the rest: an amount, or, where all amounts are decided, the
    pressure.
    """
    return [sentence for joint in joints(model) for sentence in joint.sentences()]


def joints(model: Model) -> list[_Joint]:
    """What is decided together, with the excess of open quantities over equations."""
    flowsheet = model.flowsheet
    ends: dict[str, tuple[PlacedStation, str]] = {}
    drawn: dict[str, tuple[PlacedStation, str]] = {}
    for placed in flowsheet.placed:
        for port, streams in placed.connections.items():
            side = ends if placed.cls.ports[port].direction == "out" else drawn
            side.update(dict.fromkeys(streams, (placed, port)))
    groups: dict[str, _Joint] = {}
    of_stream: dict[str, str] = {}
    for main in flowsheet.mains:
        groups[main.name] = _joint(model, main.name, main.kind, main.feeds, main.draws, ends, drawn)
        of_stream.update(dict.fromkeys((*main.feeds, *main.draws), main.name))
    for stream, kind in flowsheet.streams.items():
        if stream not in of_stream:
            groups[stream] = _joint(model, stream, kind, (stream,), (stream,), ends, drawn)
            of_stream[stream] = stream
    _join_shares(model, groups, of_stream)
    return list({id(joint): joint for joint in groups.values()}.values())


def _joint(
    model: Model,
    name: str,
    kind: Kind,
    feeds: Sequence[str],
    draws: Sequence[str],
    ends: Mapping[str, tuple[PlacedStation, str]],
    drawn: Mapping[str, tuple[PlacedStation, str]],
) -> _Joint:
    joint = _Joint([name], has_pressure="pressure" in kind.fields)
    for stream in feeds:
        placed, port = ends[stream]
        supplied = _supplied(model, placed, port, stream)
        (joint.makes_up if supplied & set(AMOUNTS) else joint.gives_what_it_has).append(placed.name)
        if joint.has_pressure and "pressure" not in supplied:
            joint.sets_pressure.append(placed.name)
    for stream in draws:
        placed, port = drawn[stream]
        wanted = {
            item.partition(".")[2] for item in placed.cls.demands if item.startswith(f"{port}.")
        }
        needs = wanted & set(AMOUNTS)
        (joint.takes_what_it_needs if needs else joint.takes_what_comes).append(placed.name)
        if "pressure" in wanted:
            joint.sets_pressure.append(placed.name)
    joint.excess = len(joint.makes_up) + len(joint.takes_what_comes) - 1
    if joint.has_pressure:
        joint.excess += 1 - len(joint.sets_pressure)
    return joint


def _supplied(model: Model, placed: PlacedStation, port: str, stream: str) -> set[str]:
    """Fields of an outlet that the station leaves open, by name or through a result."""
    supplied = set()
    for item in placed.cls.supplies:
        owner, dot, component = item.partition(".")
        if dot and owner == port:
            supplied.add(component)
        elif not dot:
            position = model.index.get(f"{placed.name}.{item}")
            for component in model.flowsheet.streams[stream].fields:
                if model.index[f"{stream}.{component}"] == position:
                    supplied.add(component)
    return supplied


def _join_shares(model: Model, groups: dict[str, _Joint], of_stream: Mapping[str, str]) -> None:
    """Join what hangs together by a station that shares out as others draw."""
    for placed in model.flowsheet.placed:
        outlets = [
            stream
            for port, streams in placed.connections.items()
            if placed.cls.ports[port].direction == "out"
            for stream in streams
        ]
        shares = [
            item
            for item in placed.cls.supplies
            if "." not in item
            and not any(item_is_field(model, placed.name, item, stream) for stream in outlets)
        ]
        if not shares:
            continue
        names = [of_stream[s] for streams in placed.connections.values() for s in streams]
        first, *others = {id(groups[name]): groups[name] for name in names}.values()
        first.shares.append(placed.name)
        first.excess += len(shares)
        for other in others:
            first.add(other)
            for name, joint in groups.items():
                if joint is other:
                    groups[name] = first


def item_is_field(model: Model, station: str, item: str, stream: str) -> bool:
    """Whether a station's quantity is, by an equation, a field of a stream."""
    position = model.index.get(f"{station}.{item}")
    fields = model.flowsheet.streams[stream].fields
    return any(model.index[f"{stream}.{component}"] == position for component in fields)


def structure(model: Model) -> list[str]:
    """Why the equations cannot be solved for the free quantities, as sentences; empty if they can.

    First what can be said of single streams and mains, then holds that cannot work, and
    what is then still left over equation by equation.
    """
    said = cycles(model.flowsheet) + open_ends(model) or decided_twice(model)
    if said:
        return said
    fixed = set(usually_fixed(model))
    free = [position for position in range(len(model.variables)) if position not in fixed]
    left_over = unmatched(model, free)
    if not left_over and len(free) == model.residuals.numel():
        return []
    return _holds(model) or _in_words(left_over)


def _holds(model: Model) -> list[str]:
    """Holds without which the equations could be solved."""
    faults = []
    for hold in model.factory.holds:
        others = tuple(other for other in model.factory.holds if other is not hold)
        without = replace(model, factory=replace(model.factory, holds=others))
        fixed = set(usually_fixed(without))
        free = [position for position in range(len(model.variables)) if position not in fixed]
        if len(free) == model.residuals.numel() and not unmatched(without, free):
            faults.append(
                f"'{hold.what}' cannot be held by moving '{hold.by}': the one does not depend on "
                "the other. Move a setting that it depends on."
            )
    return faults


def _in_words(left_over: Sequence[str]) -> list[str]:
    sentences = []
    for told in left_over:
        name = told.split("'", 1)[1].rstrip("'")
        if told.startswith("no quantity"):
            station, _, equation = name.partition(": ")
            sentences.append(
                f"Station '{station}': its equation '{equation}' has nothing left to decide; "
                "something it speaks of is given twice. Take one of the two away."
            )
        else:
            owner, _, item = name.rpartition(".")
            sentences.append(
                f"'{owner}': nothing decides its {item.replace('_', ' ')}. Connect it to "
                "something that does, or take it away."
            )
    return sentences
