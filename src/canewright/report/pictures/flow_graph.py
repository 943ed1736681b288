"""What the flow picture shows: stations joined into places, bands of sucrose, losses.

Taken from the flowsheet and the balanced shift alone. Stations that only pass sucrose on are
joined with the next, so that a factory of ninety stations fits a page.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field

from canewright.account import Account
from canewright.figures.ledgers import balances_by_station
from canewright.report.mass_balance import SUCROSE, total, values_of

PASSING = ("pipework", "losses")
ALONE = ("mill",)
"""Kinds of stations that are never joined with another."""
SECTIONS = ("cane", "milling", "juice", "evaporation", "boiling", "curing", "sugar")
ROWS = (("cane", "milling"), ("juice",), ("evaporation",), ("boiling", "curing"), ("sugar",))
"""Sections that share rows of the picture, in the order of the process."""
THIN = 0.5
"""Percentage of the sucrose in cane below which a band is not drawn."""
SHOWN = 0.05
"""Percentage of the sucrose in cane below which a loss is not written."""


@dataclass
class Loss:
    """Sucrose that leaves a place: `kind` is "stream", "lost", "undetermined" or "stock"."""

    name: str
    kind: str
    percent: float


@dataclass
class Place:
    """One or several stations drawn as one box."""

    stations: list[str]
    section: str
    passing: bool
    alone: bool
    losses: list[Loss] = field(default_factory=list)

    @property
    def label(self) -> str:
        """Names of its stations, numbers of the same kind drawn together."""
        groups: dict[str, list[str]] = {}
        for name in self.stations:
            match = re.fullmatch(r"(.*\D) (\d+)", name)
            groups.setdefault(match[1] if match else name, []).append(match[2] if match else "")
        told = []
        for stem, numbers in groups.items():
            if len(numbers) > 2 and numbers[0]:
                told.append(f"{stem} {numbers[0]}–{numbers[-1]}")
            else:
                told.append(f"{stem} {', '.join(numbers)}".strip())
        return ", ".join(told)


@dataclass
class Band:
    """Sucrose that goes from one place to another, % of that in cane."""

    source: int
    target: int
    name: str
    percent: float


@dataclass
class Graph:
    """Places in the order of the process, the bands between them, and how many are too thin."""

    places: list[Place]
    bands: list[Band]
    thin: int = 0


def graph(account: Account) -> Graph | None:
    """Places and bands of a balanced shift; nothing where no station holds sucrose."""
    model = account.estimate.model
    placed = model.flowsheet.placed
    streams = {
        name: total(model.states[name], SUCROSE)
        for name in model.flowsheet.streams
        if any(part in model.states[name].values for part in SUCROSE)
    }
    if not streams or "sucrose" not in account.ledgers:
        return None
    own = balances_by_station(model)
    rows = []
    for station in placed:
        balance = own.get(station.name, {}).get("sucrose")
        if balance is not None:
            rows += [(station.name, row, amount) for row, amount in balance.less.items()]
            rows.append((station.name, "stock", balance.stock))
    wanted = [*streams.values(), *[amount for _station, _row, amount in rows]]
    values = values_of(account, wanted)
    per_hour = 100 * account.hours / account.ledgers["sucrose"].base
    percents = [float(value) * per_hour for value in values]
    flow = dict(zip(streams, percents, strict=False))
    makers, users = _ends(account)
    joined = _Joining(account, flow, makers, users)
    found = joined.result()
    for (owner, row, _amount), percent in zip(rows, percents[len(streams) :], strict=True):
        at = joined.place_of.get(owner)
        if at is None or percent == 0.0:
            continue
        kind = row if row in ("stock", "undetermined") else "lost"
        if kind == "lost" and percent < 0:
            continue
        _add(found.places[at], Loss(row, kind, percent))
    for place in found.places:
        place.losses = [
            loss
            for loss in place.losses
            if loss.kind in ("undetermined", "stream") or abs(loss.percent) >= SHOWN
        ]
    return found


def _add(place: Place, loss: Loss) -> None:
    same = next((o for o in place.losses if (o.name, o.kind) == (loss.name, loss.kind)), None)
    if same is None:
        place.losses.append(loss)
    else:
        same.percent += loss.percent


def _ends(account: Account) -> tuple[dict[str, str], dict[str, str]]:
    makers: dict[str, str] = {}
    users: dict[str, str] = {}
    for placed in account.estimate.model.flowsheet.placed:
        for port, names in placed.connections.items():
            side = makers if placed.cls.ports[port].direction == "out" else users
            side.update(dict.fromkeys(names, placed.name))
    return makers, users


class _Joining:
    """Joins stations that pass sucrose on with their neighbours."""

    def __init__(
        self,
        account: Account,
        flow: dict[str, float],
        makers: dict[str, str],
        users: dict[str, str],
    ) -> None:
        placed = account.estimate.model.flowsheet.placed
        gives = {makers[name] for name in flow if name in makers}
        takes = {users[name] for name in flow if name in users}
        self.section = {p.name: p.cls.section for p in placed}
        self.kind = {p.name: p.cls.kind for p in placed}
        self.keeps = {p.name for p in placed if p.cls.stocks}
        names = [p.name for p in placed if p.name in gives | takes]
        self.sinks = {name for name in names if name not in gives}
        self.edges = [(makers[s], users[s], s, share) for s, share in flow.items()]
        self.end_of: dict[str, str] = {}
        self._dead_ends(names)
        self.group = {name: name for name in names if name not in self.sinks}
        self.inner = [e for e in self.edges if e[1] not in self.sinks]
        self.place_of: dict[str, int] = {}
        self.order = [name for name in names if name in self.group]
        self.members = {name: [name] for name in self.order}
        for rule in (self._onward, self._in_line, self._back):
            while rule():
                pass

    def _dead_ends(self, names: list[str]) -> None:
        """What only passes on to one departure counts as that departure."""
        for name in reversed(names):
            onward = [user for maker, user, *_rest in self.edges if maker == name]
            if self.section[name] not in PASSING or name in self.keeps:
                continue
            if len(onward) == 1 and onward[0] in self.sinks:
                self.sinks.add(name)
                self.end_of[name] = self.end_of.get(onward[0], onward[0])

    def _root(self, name: str) -> str:
        while self.group[name] != name:
            name = self.group[name]
        return name

    def _members(self, root: str) -> list[str]:
        return self.members[root]

    def _join(self, name: str, root: str) -> bool:
        self.group[name] = root
        both = {*self.members.pop(name), *self.members[root]}
        self.members[root] = [member for member in self.order if member in both]
        return True

    def _passing(self, root: str) -> bool:
        return all(self.section[name] in PASSING for name in self._members(root))

    def _between(self) -> list[tuple[str, str]]:
        ends = {(self._root(a), self._root(b)) for a, b, *_rest in self.inner}
        return sorted((a, b) for a, b in ends if a != b)

    @staticmethod
    def _counts(ends: list[tuple[str, str]]) -> tuple[Counter[str], Counter[str]]:
        """How many places each feeds, and by how many each is fed."""
        return Counter(a for a, _b in ends), Counter(b for _a, b in ends)

    def _alone(self, *roots: str) -> bool:
        return any(self.kind[name] in ALONE for r in roots for name in self._members(r))

    def _onward(self) -> bool:
        """Join what only passes on with the one place it goes to."""
        ends = self._between()
        onward, _fed = self._counts(ends)
        for a, b in ends:
            if onward[a] == 1 and self._passing(a) and not self._alone(a, b):
                return self._join(a, b)
        return False

    def _in_line(self) -> bool:
        """Join two places of a section where one feeds only the other, and that only from it."""
        ends = self._between()
        onward, fed = self._counts(ends)
        for a, b in ends:
            if onward[a] == fed[b] == 1 and self._near(a, b) and not self._alone(a, b):
                return self._join(b, a)
        return False

    def _near(self, a: str, b: str) -> bool:
        one, other = self._section(a), self._section(b)
        same = any(one in row and other in row for row in ROWS)
        syrup = one == "evaporation" and other == "juice"  # syrup is sulphited after it
        return (same or syrup) and (one, other) != ("boiling", "curing")

    def _back(self) -> bool:
        """Join a divider with the one place that it comes from."""
        ends = self._between()
        _onward, fed = self._counts(ends)
        for a, b in ends:
            if fed[b] == 1 and self._passing(b):
                return self._join(b, a)
        return False

    def _section(self, root: str) -> str:
        members = self._members(root)
        real = [n for n in members if self.section[n] in SECTIONS]
        return self.section[real[0]] if real else ""

    def result(self) -> Graph:
        """Places in the order of the process, with what leaves them for good."""
        roots = list(dict.fromkeys(self._root(name) for name in self.order))
        places = []
        for root in roots:
            members = self._members(root)
            real = [n for n in members if self.section[n] not in PASSING] or members
            places.append(Place(real, self._section(root), self._passing(root), self._alone(root)))
            self.place_of.update(dict.fromkeys(members, len(places) - 1))
        before = SECTIONS[0]
        for place in places:
            if not place.passing:
                place.section = place.section or before
            before = place.section or before
        following = SECTIONS[-1]
        for place in reversed(places):
            place.section = following = place.section or following
        bands: dict[tuple[int, int], Band] = {}
        for maker, user, stream, percent in self.edges:
            if maker not in self.place_of:
                continue
            source = self.place_of[maker]
            if user in self.sinks:
                _add(places[source], Loss(self.end_of.get(user, user), "stream", percent))
                continue
            target = self.place_of[user]
            if source != target:
                band = bands.setdefault((source, target), Band(source, target, stream, 0.0))
                band.percent += percent
        drawn = [band for band in bands.values() if band.percent >= THIN]
        return Graph(places, drawn, len(bands) - len(drawn))
