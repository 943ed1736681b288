"""Ledgers: where sucrose, solids, fibre, water and steam came from and where they went.

Rows come from the equations alone: streams made by a station that writes no balance of the
component enter, streams taken by such a station leave, and every balance adds what it says
is lost otherwise and what stays in stock. The sum over all balances is the ledger, so that
it closes whenever the equations do.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from canewright.figures.ledger import Ledger, LedgerRow, Place, hours_of, nothing, places
from canewright.figures.steam_ledgers import heating_ledger, steam_ledger
from canewright.model import Balance
from canewright.ops import Numeric
from canewright.streams import DISSOLVED, MASS

if TYPE_CHECKING:
    from canewright.engine.equations.model import Model

LEDGERS: dict[str, tuple[str, ...]] = {
    "sucrose": ("sucrose", "crystal"),
    "solids": (*DISSOLVED, "crystal"),
    "fibre": ("fibre",),
    "water": ("water",),
}
"""Ledger -> the components it adds up. Solids are dissolved solids and crystal."""

BAGASSE = "bagasse"
STOCK = "more in stock at the end"
UNDETERMINED = "undetermined"
BROUGHT_IN = 1e-9
"""Mass of a row relative to the largest number of the factory below which it is nothing."""


def ledgers(model: Model) -> dict[str, Ledger]:
    """Every ledger that the factory's equations give, by name.

    Sucrose, solids, fibre and water in t, steam in t and heating in MJ, over the period.

    Parameters
    ----------
    model : Model
        The compiled factory; the expressions are of its symbols and parameters.
    """
    found: dict[str, Ledger] = {}
    for name, members in LEDGERS.items():
        ledger = component_ledger(model, name, members)
        if ledger is not None:
            found[name] = ledger
    for ledger in (steam_ledger(model), heating_ledger(model)):
        if ledger is not None:
            found[ledger.component] = ledger
    return found


class _Collector:
    """Amounts by row and place, in the order of first appearance."""

    def __init__(self) -> None:
        self.rows: dict[tuple[str, str], dict[str, Numeric]] = {}

    def add(self, kind: str, row: str, place: str, amount: Numeric) -> None:
        by_place = self.rows.setdefault((kind, row), {})
        by_place[place] = by_place.get(place, 0.0) + amount

    def finished(self, kinds: Sequence[str], hours: Numeric) -> tuple[LedgerRow, ...]:
        """Rows of these kinds, in the order of the kinds."""
        found = []
        for kind in kinds:
            for (row_kind, name), amounts in self.rows.items():
                if row_kind != kind:
                    continue
                parts = tuple(
                    LedgerRow(place, kind, hours * amount) for place, amount in amounts.items()
                )
                total = hours * sum(amounts.values())
                several = len(parts) > 1 or (kind == UNDETERMINED)
                found.append(LedgerRow(name, kind, total, parts if several else ()))
        return tuple(found)


def balances_by_station(model: Model) -> dict[str, dict[str, Balance]]:
    """Station or main -> component -> its balance."""
    found: dict[str, dict[str, Balance]] = {}
    for placed in model.all_equations:
        if isinstance(placed.equation, Balance):
            found.setdefault(placed.station, {})[placed.equation.component] = placed.equation
    return found


def component_ledger(model: Model, name: str, members: Sequence[str]) -> Ledger | None:
    """Ledger of the sum of some components; none where no stream holds any of them."""
    balances = balances_by_station(model)
    brought = _brought_in(model)
    collector = _Collector()
    hours = hours_of(model)
    in_cane: list[Numeric] = []
    for place in places(model):
        own = balances.get(place.name, {})
        for member in members:
            if not _balanced(own, member):
                _cross(model, place, member, collector)
            if member in own:
                burnt = name != "water" and _burns_bagasse(model, place, member)
                _otherwise(own[member], place, collector, brought, BAGASSE if burnt else "")
        if place.section == "cane":
            in_cane += [
                amounts[place.name]
                for (kind, _), amounts in collector.rows.items()
                if kind == "in" and place.name in amounts
            ]
    entering = collector.finished(("in",), hours)
    if not entering:
        return None
    of_cane = bool(in_cane) and name != "water"
    return Ledger(
        name,
        "t",
        entering,
        collector.finished(("product", "leaves", "lost", "stock", UNDETERMINED), hours),
        hours * sum(in_cane) if of_cane else sum(row.expression for row in entering),
        f"{name} in cane" if of_cane else f"{name} entering",
        _COVERS[name],
    )


def _brought_in(model: Model) -> set[tuple[str, str]]:
    """Rows (station, row) by which a station takes mass in from outside, not from a stream.

    Such a row has a negative mass as a whole (cane as weighed, lime fed); where a component
    only turns into others, the mass of the row is nothing.
    """
    import casadi

    masses: dict[tuple[str, str], Numeric] = {}
    for station, own in balances_by_station(model).items():
        for component, balance in own.items():
            if component in MASS:
                for row, amount in balance.less.items():
                    masses[station, row] = masses.get((station, row), 0.0) + amount
    if not masses:
        return set()
    function = casadi.Function(
        "masses", [model.symbols, model.parameters], [casadi.vertcat(*masses.values())]
    )
    amounts = function(model.guess, model.parameter_values).full().ravel()
    cane = float(max(model.guess.max(), 1.0))
    return {
        key
        for key, amount in zip(masses, amounts, strict=True)
        if amount < -BROUGHT_IN * cane and key[1] != UNDETERMINED
    }


_COVERS = {
    "sucrose": "Sucrose, dissolved and as crystal; never pol.",
    "solids": "Dissolved solids and crystal; fibre and soil are not counted.",
    "fibre": "Fibre of cane, bagasse, bagacillo and cake.",
    "water": "Water in every form: in cane and juice, as steam, vapour and condensate.",
}


def _balanced(own: Mapping[str, Balance], member: str) -> bool:
    """Whether a place balances a component: by itself, or crystal together with sucrose."""
    return member in own or (member == "crystal" and "sucrose" in own)


def _cross(model: Model, place: Place, member: str, collector: _Collector) -> None:
    """What a place without a balance of the component gives to the factory or takes from it."""
    products = _products(model)
    made = [s for s in place.outlets if member in model.states[s].values]
    for stream in made:
        row = f"in {_entry_name(place, stream)}"
        collector.add("in", row, place.name, model.states[stream].values[member])
    for stream in place.inlets:
        if member in model.states[stream].values:
            product = products.get(place.name)
            in_bagasse = model.flowsheet.streams[stream].name == BAGASSE
            row = product or (BAGASSE if in_bagasse else place.name)
            amount = model.states[stream].values[member]
            collector.add("product" if product else "leaves", row, place.name, amount)


def _burns_bagasse(model: Model, place: Place, member: str) -> bool:
    """Whether a component comes to a place in bagasse and does not go on in any stream."""
    return any(model.flowsheet.streams[s].name == BAGASSE for s in place.inlets) and not any(
        member in model.states[s].values for s in place.outlets
    )


def _entry_name(place: Place, stream: str) -> str:
    return stream if len(place.outlets) == 1 and " from " not in stream else place.name


def _products(model: Model) -> dict[str, str]:
    """Departure -> product: sugar that leaves, named as in the factory file or as it is."""
    found = {}
    for placed in model.flowsheet.placed:
        if placed.cls.kind != "departure":
            continue
        stream = placed.connections["stream"][0]
        if model.flowsheet.streams[stream].name not in ("sugar", "bags"):
            continue
        named = [
            product
            for product in model.factory.products
            if placed.name == product or placed.name.startswith(f"{product},")
        ]
        found[placed.name] = named[0] if named else placed.name
    return found


def products(model: Model) -> dict[str, list[str]]:
    """Product -> the streams of it that leave the factory."""
    by_product: dict[str, list[str]] = {}
    stations = {placed.name: placed for placed in model.flowsheet.placed}
    for departure, product in _products(model).items():
        by_product.setdefault(product, []).append(stations[departure].connections["stream"][0])
    return by_product


def _otherwise(
    balance: Balance,
    place: Place,
    collector: _Collector,
    brought: set[tuple[str, str]],
    with_what: str,
) -> None:
    """What a balance says is lost otherwise than in a stream, and what stays in stock."""
    for row, amount in balance.less.items():
        if (place.name, row) in brought:
            collector.add("in", row, place.name, -amount)
        elif with_what:
            collector.add("leaves", with_what, place.name, amount)
        else:
            kind = UNDETERMINED if row == UNDETERMINED else "lost"
            collector.add(kind, row, place.name, amount)
    if not nothing(balance.stock):
        collector.add("stock", STOCK, place.name, balance.stock)
