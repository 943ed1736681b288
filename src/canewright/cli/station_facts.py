"""What a kind of station declares, gathered for the screen, for JSON and for the handbook."""

import inspect
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from canewright.model import Balance, Equation, Port, Quantity, Station, Train, stations
from canewright.model.station import StockState
from canewright.streams import CONDITIONS, KINDS, Kind, State

SECTIONS = (
    "cane",
    "milling",
    "juice",
    "evaporation",
    "boiling",
    "curing",
    "sugar",
    "steam",
    "water",
    "pipework",
    "losses",
    "departures",
)
"""Sections in the order of the process; any other comes after them."""

ROLES = {
    "design": "size",
    "setting": "setting",
    "fitted": "estimated",
    "result": "follows",
}
"""How a quantity's role is said to a user of the factory file."""

ROLE_NOTES = (
    "size: always known, written in the factory file. setting: chosen by the operators, or "
    "brought by cane and weather. estimated: a performance parameter, found from the "
    "readings. follows: a result of the equations; a value written for it is a first guess."
)


@dataclass(frozen=True)
class Facts:
    """One kind of station in words.

    `text`, `assumes` and `sources` are the parts of its docstring; `equations` the names of
    its balances and then of its other equations, with every optional port connected.
    """

    kind: str
    section: str
    text: tuple[str, ...]
    assumes: str
    sources: str
    ports: dict[str, Port]
    quantities: dict[str, Quantity]
    stocks: dict[str, str]
    balances: tuple[str, ...]
    equations: tuple[str, ...]
    demands: tuple[str, ...]
    supplies: tuple[str, ...]
    cautions: tuple[str, ...]
    train: bool

    @property
    def summary(self) -> str:
        """The first sentence of the docstring's first line."""
        return self.text[0] if self.text else ""


def every_station() -> dict[str, Facts]:
    """Facts of every kind, section by section in the order of the process."""
    found = [facts_of(cls) for cls in stations().values()]

    def order(facts: Facts) -> tuple[int, str, str]:
        known = facts.section in SECTIONS
        place = SECTIONS.index(facts.section) if known else len(SECTIONS)
        return place, facts.section, facts.kind

    return {facts.kind: facts for facts in sorted(found, key=order)}


def facts_of(cls: type[Station]) -> Facts:
    """Facts of one kind of station."""
    text, assumes, sources = parts_of(inspect.getdoc(cls) or "")
    is_train = issubclass(cls, Train)
    balances, equations = ((), ()) if is_train else equation_names(cls)
    return Facts(
        kind=cls.kind,
        section=cls.section,
        text=text,
        assumes=assumes,
        sources=sources,
        ports=dict(cls.ports),
        quantities=dict(cls.quantities),
        stocks={name: stock.label for name, stock in cls.stocks.items()},
        balances=balances,
        equations=equations,
        demands=cls.demands,
        supplies=cls.supplies,
        cautions=cls.cautions,
        train=is_train,
    )


def parts_of(docstring: str) -> tuple[tuple[str, ...], str, str]:
    """Paragraphs of a station's docstring, then what it assumes, then its sources."""
    paragraphs: list[str] = []
    told: dict[str, list[str]] = {"Assumes": [], "Sources:": []}
    current: list[str] = []
    part = ""
    for line in [*docstring.splitlines(), ""]:
        stripped = line.strip()
        opening = next((word for word in told if stripped.startswith(word)), "")
        if opening or not stripped:
            if current:
                paragraphs.append(" ".join(current))
            current, part = [], opening
        if part:
            told[part].append(stripped)
        elif stripped:
            current.append(stripped)
    return (
        tuple(paragraphs),
        " ".join(told["Assumes"]).strip(),
        " ".join(told["Sources:"]).removeprefix("Sources:").strip(),
    )


def equation_names(cls: type[Station]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Names of a station's balances and of its other equations, in the order written.

    Every port is connected, with a stream of the first kind it takes.
    """
    import casadi

    kinds: dict[str, Kind] = {}
    streams: dict[str, State | Sequence[State]] = {}
    for direction in ("in", "out"):
        for name, port in cls.ports.items():
            if port.direction == direction:
                like = kinds.get(port.like, KINDS["juice"])
                kinds[name] = port.kinds[0] if port.kinds else like
                state = _state(name, kinds[name])
                streams[name] = [state] if port.several else state
    values = {name: casadi.SX.sym(name) for name in cls.quantities}
    stocks = {
        name: StockState(
            _state("opening stock", kinds[stock.like], stock=True),
            _state("closing stock", kinds[stock.like], stock=True),
            casadi.SX.sym("hours"),
        )
        for name, stock in cls.stocks.items()
    }
    station = cls(cls.kind.replace("_", " "), streams, values, stocks, casadi.SX.sym("hours"))
    balances: list[str] = []
    others: list[str] = []
    for item in station.equations():
        equation = item if isinstance(item, Equation) else Equation(*item)
        (balances if isinstance(equation, Balance) else others).append(equation.name)
    return tuple(balances), tuple(others)


def _state(name: str, kind: Kind, stock: bool = False) -> State:
    import casadi

    fields = [item for item in kind.fields if not (stock and item in CONDITIONS)]
    return State(name, kind, {item: casadi.SX.sym(f"{name}.{item}") for item in fields})


def takes(port: Port) -> str:
    """What a port takes or gives, in words."""
    if port.like:
        return f"the same as {port.like}"
    return " or ".join(kind.name for kind in port.kinds) or "any stream"


def port_notes(port: Port) -> str:
    """Whether a port may be left open or takes several streams, and its label."""
    notes = [port.label] if port.label else []
    if port.optional:
        notes.append("may be left out")
    if port.several:
        notes.append("one or several")
    return "; ".join(notes)


def example(facts: Facts) -> str:
    """The entry of a factory file, with every port that must be connected."""
    lines = ["[[station]]", f'name = "{facts.kind.replace("_", " ")}"', f'kind = "{facts.kind}"']
    for name, port in facts.ports.items():
        if not port.optional:
            stream = f'"{_stream_for(name, port)}"'
            lines.append(f"{name} = [{stream}]" if port.several else f"{name} = {stream}")
    for name, quantity in facts.quantities.items():
        if quantity.role == "design":
            lines.append(f'{name} = "{quantity.guess:g} {quantity.unit}"')
    return "\n".join(lines)


def _stream_for(name: str, port: Port) -> str:
    words = re.sub(r"_", " ", name)
    kind = port.kinds[0].name if port.kinds else ""
    return f"name of the {kind}" if kind and kind != words else f"name of {words}"


def for_json(facts: Facts) -> dict[str, Any]:
    """Everything about one kind, with stable keys."""
    return {
        "kind": facts.kind,
        "section": facts.section,
        "summary": facts.summary,
        "text": list(facts.text),
        "assumes": facts.assumes,
        "sources": facts.sources,
        "train": facts.train,
        "ports": [
            {
                "name": name,
                "direction": port.direction,
                "takes": [kind.name for kind in port.kinds],
                "like": port.like,
                "optional": port.optional,
                "several": port.several,
                "label": port.label,
            }
            for name, port in facts.ports.items()
        ],
        "quantities": [
            {
                "name": name,
                "label": quantity.label,
                "unit": quantity.unit,
                "role": quantity.role,
                "typical": list(quantity.typical),
                "bounds": list(quantity.bounds),
                "source": quantity.source,
                "why": quantity.why,
            }
            for name, quantity in facts.quantities.items()
        ],
        "stocks": facts.stocks,
        "balances": list(facts.balances),
        "equations": list(facts.equations),
        "demands": list(facts.demands),
        "supplies": list(facts.supplies),
        "cautions": list(facts.cautions),
        "example": "" if facts.train else example(facts),
    }
