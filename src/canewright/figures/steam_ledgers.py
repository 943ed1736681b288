"""Ledgers of steam and of heating: from which main, to which user."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from canewright.figures.ledger import Ledger, LedgerRow, Place, hours_of, nothing, places
from canewright.model import condensing_heat
from canewright.ops import Numeric

if TYPE_CHECKING:
    from canewright.engine.equations.model import Model

STEAM_KINDS = ("steam", "vapour")
PASSING = "steam"
"""Section whose stations pass steam on: turbines, let-down, desuperheater."""


def _steam_of(model: Model, streams: tuple[str, ...]) -> list[str]:
    return [name for name in streams if model.flowsheet.streams[name].name in STEAM_KINDS]


def _water(model: Model, streams: list[str]) -> Numeric:
    return sum(model.states[name].water for name in streams)


def steam_ledger(model: Model) -> Ledger | None:
    """Steam and vapour made, and who used it. [t] over the period; none without steam."""
    hours = hours_of(model)
    entering, leaving = [], []
    for place in places(model):
        if place.is_main:
            continue
        made, used = _steam_of(model, place.outlets), _steam_of(model, place.inlets)
        if made and used and place.section == PASSING:
            gained = _water(model, made) - _water(model, used)
            if not nothing(gained):
                entering.append(LedgerRow(f"spray water at {place.name}", "in", hours * gained))
            continue
        if made:
            entering.append(LedgerRow(f"from {place.name}", "in", hours * _water(model, made)))
        if used:
            leaving.append(LedgerRow(f"to {place.name}", "leaves", hours * _water(model, used)))
    if not entering:
        return None
    return Ledger(
        "steam",
        "t",
        tuple(entering),
        tuple(leaving),
        sum(row.expression for row in entering),
        "steam and vapour made",
        "Steam and vapour by mass: vapour that heats the next body is counted at each body.",
    )


def heating_ledger(model: Model) -> Ledger | None:
    """Latent heat of vapour: from what made it, to what condensed it. [MJ] over the period.

    Sensible heat of juice, condensate and steam above saturation is not in it; the heat
    balance of each station, with everything in it, is among its equations.
    """
    hours = hours_of(model)
    entering, leaving = [], []
    for place in places(model):
        if place.is_main:
            continue
        made = [s for s in place.outlets if model.flowsheet.streams[s].name == "vapour"]
        used = [s for s in place.inlets if model.flowsheet.streams[s].name == "vapour"]
        if made:
            entering.append(LedgerRow(f"from {place.name}", "in", hours * _latent(model, made)))
        if used:
            leaving += _user(model, place, hours * _latent(model, used))
    if not entering:
        return None
    return Ledger(
        "heating",
        "MJ",
        tuple(entering),
        tuple(leaving),
        sum(row.expression for row in entering),
        "latent heat of vapour made",
        "Latent heat of exhaust and vapours where they condense, and the part of it that is "
        "lost to the surroundings; sensible heat is not counted.",
    )


def _latent(model: Model, streams: list[str]) -> Numeric:
    return sum(condensing_heat(model.states[name]) for name in streams)


def _user(model: Model, place: Place, heat: Numeric) -> list[LedgerRow]:
    """The row of a user, with its loss to the surroundings as a part where it has one."""
    station: Any = model.stations[place.name]
    quantity = type(station).quantities.get("heat_loss")
    if quantity is None or "given up" not in quantity.label + quantity.unit:
        return [LedgerRow(f"to {place.name}", "leaves", heat)]
    lost = station.heat_loss / 100 * heat
    parts = (
        LedgerRow("to the juice", "leaves", heat - lost),
        LedgerRow("lost to surroundings", "lost", lost),
    )
    return [LedgerRow(f"to {place.name}", "leaves", heat, parts)]
