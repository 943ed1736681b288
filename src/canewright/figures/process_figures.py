"""Control figures of strikes, evaporation, steam, water and power."""

from __future__ import annotations

from typing import Any

from canewright.figures.figure import Book, slug
from canewright.laws import crystallisation
from canewright.ops import Numeric
from canewright.streams import State


def write_process(book: Book) -> None:
    """Crystal and exhaustion by strike, evaporator, steam, water and power on cane."""
    book.group = "Strikes"
    for placed in book.model.flowsheet.placed:
        if placed.cls.kind == "vacuum_pan":
            _strike(book, placed.connections["massecuite"][0])
    book.group = "Evaporation"
    _evaporator(book)
    book.group = "Steam, water and power"
    cane = book.stream("cane")
    if cane is not None:
        _steam(book, cane)
        _water_and_power(book, cane)


def _strike(book: Book, name: str) -> None:
    massecuite = book.model.states[name]
    purity, liquor = massecuite.purity, massecuite.liquor_purity
    book.write(
        f"purity_of_{slug(name)}",
        f"purity of {name}",
        "%",
        purity,
        "Sucrose, dissolved and crystal, over solids: true purity.",
        headline=True,
    )
    book.write(
        f"crystal_content_of_{slug(name)}",
        f"crystal content of {name}",
        "%",
        crystallisation.crystal_percent_massecuite(purity, liquor, massecuite.solids_percent),
        "Crystal over massecuite at the drop, by true purities and dry solids.",
        formula=crystallisation.crystal_percent_massecuite,
        headline=True,
    )
    book.write(
        f"exhaustion_of_{slug(name)}",
        f"exhaustion of {name}",
        "%",
        crystallisation.exhaustion(purity, liquor),
        "Crystallised sucrose over sucrose of the massecuite at the drop.",
        formula=crystallisation.exhaustion,
    )


def _evaporator(book: Book) -> None:
    model = book.model
    bodies = [p for p in model.flowsheet.placed if p.cls.kind == "evaporator_body"]
    if not bodies:
        return
    made = {stream for body in bodies for stream in body.connections["vapour"]}
    from_bodies = set(made)
    for main in model.flowsheet.mains:
        if made & set(main.feeds):
            from_bodies |= set(main.draws)
    evaporated: Numeric = sum(model.states[s].water for s in made)
    live = [b.connections["heating"][0] for b in bodies]
    steam: Numeric = sum(model.states[s].water for s in live if s not in from_bodies)
    book.write(
        "water_evaporated",
        "water evaporated",
        "t/h",
        evaporated,
        "Vapour of all evaporator bodies.",
        headline=True,
    )
    juice = model.states[bodies[0].connections["juice_in"][0]]
    book.write(
        "evaporation_percent_juice",
        "evaporation on juice to evaporator",
        "%",
        100 * evaporated / juice.flow,
        "Vapour of all bodies over juice to the first.",
    )
    book.write(
        "evaporator_economy",
        "evaporator economy",
        "t/t",
        evaporated / steam,
        "Water evaporated over exhaust condensed in the evaporator.",
        headline=True,
    )
    for body in bodies:
        station: Any = model.stations[body.name]
        book.write(
            f"heat_transfer_coefficient_of_{slug(body.name)}",
            f"heat transfer coefficient, {body.name}",
            "kW/(m2.K)",
            station.heat_transfer_coefficient,
            "Heat taken up over heating surface and difference of temperature.",
            headline=True,
        )


def _steam(book: Book, cane: State) -> None:
    model = book.model
    raised = _made(book, "boiler", "steam")
    if raised:
        book.write(
            "steam_raised_percent_cane",
            "steam raised",
            "% cane",
            100 * _water(book, raised) / cane.flow,
            "Steam from the boilers over cane.",
            headline=True,
        )
    exhaust = [
        stream
        for placed in model.flowsheet.placed
        if placed.cls.section == "steam"
        for port, streams in placed.connections.items()
        for stream in streams
        if placed.cls.ports[port].direction == "out"
        and model.flowsheet.streams[stream].name == "vapour"
    ]
    if exhaust:
        book.write(
            "process_steam_percent_cane",
            "exhaust and let-down steam to process",
            "% cane",
            100 * _water(book, exhaust) / cane.flow,
            "Saturated steam that the steam station gives to the process over cane.",
            headline=True,
        )


def _made(book: Book, kind: str, port: str) -> list[str]:
    return [
        stream
        for placed in book.model.flowsheet.placed
        if placed.cls.kind == kind
        for stream in placed.connections.get(port, ())
    ]


def _water(book: Book, streams: list[str]) -> Numeric:
    return sum(book.model.states[name].water for name in streams)


def _water_and_power(book: Book, cane: State) -> None:
    drawn = _made(book, "water_supply", "water")
    if drawn:
        book.write(
            "water_drawn_percent_cane",
            "water drawn from outside",
            "% cane",
            100 * _water(book, drawn) / cane.flow,
            "Water of all supplies over cane.",
        )
    passes_on = {"power_house"}
    used = [
        stream
        for placed in book.model.flowsheet.placed
        if placed.cls.kind not in passes_on
        for port, streams in placed.connections.items()
        for stream in streams
        if placed.cls.ports[port].direction == "in"
        and book.model.flowsheet.streams[stream].name == "power"
    ]
    if used:
        power: Numeric = sum(book.model.states[name].power for name in used)
        book.write(
            "power_per_cane",
            "power used",
            "kW.h/t cane",
            power / cane.flow,
            "Power drawn by all stations over cane.",
            headline=True,
        )
