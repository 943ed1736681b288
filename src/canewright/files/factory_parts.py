"""What a factory file says beside its stations: instruments, points, holds, limits, prices."""

from collections.abc import Mapping
from typing import Any

from canewright.engine.points import point_name
from canewright.files.factory_lines import Place
from canewright.files.factory_names import Names
from canewright.files.factory_reader import Reader, plain, shown
from canewright.files.problems import known_names
from canewright.flowsheet import CONTROL_PARTS, Hold, Instrument, Limit, Spread

INSTRUMENT = ("name", "reads", "point", "random", "bias", "calibrated", "due", "why")
POINT = ("name", "stream")
HOLD = ("what", "at", "by", "why")
LIMIT = ("what", "at_least", "at_most", "why")
TABLES = ("instrument", "point", "hold", "limit", "prices", "control")


def read(
    reader: Reader, document: Mapping[str, Any], names: Names | None, *, quiet: bool
) -> dict[str, Any]:
    """Instruments, points, holds, limits, prices and parts, as the fields of a `Factory`.

    Parameters
    ----------
    reader : Reader
        Takes the problems.
    document : mapping
        The whole file.
    names : Names or None
        What exists; None where the stations cannot be connected. Names are then not looked
        up, since half of them would seem unknown.
    quiet : bool
        Stations were refused, so that an unknown name may be theirs: do not look up names.
    """
    known = None if quiet else names
    points = _points(reader, document, known)
    instruments = _instruments(reader, document, known, points)
    return {
        "points": points,
        "instruments": instruments,
        "holds": tuple(_holds(reader, document, known)),
        "limits": tuple(_limits(reader, document, known)),
        "prices": _prices(reader, document.get("prices", {})),
        "control": _control(reader, document.get("control", {}), known),
    }


def _unknown(name: str, known: list[str], what: str) -> tuple[str, str]:
    return f"There is no '{name}'.", known_names(name, known, what)


def _points(reader: Reader, document: Mapping[str, Any], names: Names | None) -> dict[str, str]:
    points: dict[str, str] = {}
    for place, table in reader.tables(document, "point"):
        reader.known_keys(place, table, POINT)
        name = reader.text(place, table, "name", "juice_to_scale")
        stream = reader.text(place, table, "stream", "mixed juice")
        if name is not None and stream is not None:
            _add_point(reader, place, "stream", name, stream, names, points)
    return points


def _add_point(
    reader: Reader,
    place: Place,
    key: str,
    name: str,
    stream: str,
    names: Names | None,
    points: dict[str, str],
) -> None:
    if any(point_name(other) == point_name(name) and points[other] != stream for other in points):
        reader.refuse(
            place.at("name"),
            f"The point '{name}' is given to two streams.",
            "Give each its own name.",
        )
        return
    if names is not None:
        if point_name(stream) not in names.kinds:
            reader.refuse(
                place.at(key), *_unknown(stream, [names.owners[p] for p in names.kinds], "streams")
            )
            return
        owner = names.owners[point_name(stream)]
        if names.owners.get(point_name(name), owner) != owner and point_name(name) in names.kinds:
            reader.refuse(
                place.at("name"),
                f"'{name}' is already the point of stream '{names.owners[point_name(name)]}'.",
                "Take a name that no stream has.",
            )
            return
        names.add_point(name, stream)
        main = next((main for main in names.flowsheet.mains if main.name == owner), None)
        stream = main.feeds[0] if main else owner
    points[name] = stream


def _instruments(
    reader: Reader,
    document: Mapping[str, Any],
    names: Names | None,
    points: dict[str, str],
) -> tuple[Instrument, ...]:
    instruments: list[Instrument] = []
    readers: dict[tuple[str, str], str] = {}
    for place, table in reader.tables(document, "instrument"):
        reader.known_keys(place, table, INSTRUMENT)
        name = reader.text(place, table, "name", "juice scale")
        reads = reader.texts(place, table, "reads", "mixed juice.weight")
        if name is None or reads is None:
            continue
        if any(other.name == name for other in instruments):
            reader.refuse(
                place.at("name"),
                f"Two instruments are called '{name}'.",
                "Give each its own name: what one instrument reads shares its bias.",
            )
        unit = _unit_of_reads(reader, place, name, reads, names, readers)
        if "point" in table:
            _point_of(reader, place, table, reads, names, points)
        spreads: dict[str, Spread] = {}
        for key in ("random", "bias"):
            if key in table and unit is not None:
                found = reader.spread(place.at(key), table[key], unit)
                if found is not None:
                    spreads[key] = found
        calibrated, due = (reader.date(place, table, key) for key in ("calibrated", "due"))
        if calibrated and due and due < calibrated:
            reader.refuse(
                place.at("due"),
                f"It is due {due} before it was calibrated, {calibrated}.",
                "Check the two dates.",
            )
        instruments.append(
            Instrument(name, reads, spreads.get("random"), spreads.get("bias"), calibrated, due)
        )
    return tuple(instruments)


def _point_of(
    reader: Reader,
    place: Place,
    table: Mapping[str, Any],
    reads: tuple[str, ...],
    names: Names | None,
    points: dict[str, str],
) -> None:
    """The name of the point given with the instrument that reads it."""
    point = reader.text(place, table, "point", "mixed_juice")
    owners = {read.rpartition(".")[0] for read in reads}
    if point is None:
        return
    if len(owners) > 1:
        reader.refuse(
            place.at("point"),
            f"'{point}' cannot be the point of {len(owners)} streams.",
            "Leave it out here, and write a [[point]] for each.",
        )
        return
    _add_point(reader, place, "reads", point, owners.pop(), names, points)


def _unit_of_reads(
    reader: Reader,
    place: Place,
    instrument: str,
    reads: tuple[str, ...],
    names: Names | None,
    readers: dict[tuple[str, str], str],
) -> str | None:
    """Unit of what an instrument reads; None where that is unknown or not one."""
    from canewright.laboratory.readings import READINGS

    units: dict[str, str] = {}
    for read in reads:
        owner, dot, analysis = read.rpartition(".")
        if not dot or not owner or not analysis:
            reader.refuse(
                place.at("reads"),
                f"'{read}' does not say what is read of which stream.",
                'Write "stream.analysis", such as "mixed juice.weight".',
            )
            continue
        if names is None:
            if analysis in READINGS:
                units[analysis] = READINGS[analysis].unit
            continue
        if point_name(owner) not in names.owners:
            what, remedy = _unknown(owner, list(names.owners.values()), "streams and stations")
            reader.refuse(place.at("reads"), what, remedy)
            continue
        analyses = names.analyses(owner)
        if analysis not in analyses:
            reader.refuse(
                place.at("reads"),
                f"'{analysis}' cannot be read of '{owner}'.",
                known_names(analysis, list(analyses), f"analyses of '{owner}'"),
            )
            continue
        units[analysis] = analyses[analysis]
        before = readers.setdefault((names.owners[point_name(owner)], analysis), instrument)
        if before != instrument:
            reader.refuse(
                place.at("reads"),
                f"'{read}' is read by '{before}' already.",
                "One instrument gives one reading; name the second stream apart, or leave it out.",
            )
    if len(set(units.values())) > 1:
        written = ", ".join(f"{name} [{unit}]" for name, unit in units.items())
        reader.refuse(
            place.at("reads"),
            f"One instrument cannot read in several units: {written}.",
            "Write an instrument for each.",
        )
        return None
    return next(iter(units.values()), None)


def _owned(what: str, names: Names) -> tuple[str, str, list[str]]:
    """Owner, name, and all names of that kind, for a hint."""
    owner, _, name = what.rpartition(".")
    return owner, name, [*names.analyses(owner)]


def _holds(reader: Reader, document: Mapping[str, Any], names: Names | None) -> list[Hold]:
    holds: list[Hold] = []
    for place, table in reader.tables(document, "hold"):
        reader.known_keys(place, table, HOLD)
        what = reader.text(place, table, "what", "bagasse house.surplus_share")
        by = reader.text(place, table, "by", "turbine.steam_flow")
        if "at" not in table:
            reader.refuse(place.at("at"), "'at' is missing.", 'Write at = "5 %".')
        if what is None or by is None or "at" not in table or names is None:
            continue
        unit = _held_unit(reader, place, what, names)
        movable = _movable(reader, place, by, names)
        at = None if unit is None else reader.number(place.at("at"), table["at"], unit)
        if at is None or not movable:
            continue
        if any(by in (other.by, other.what) or what == other.what for other in holds):
            reader.refuse(
                place, "It shares a quantity with another hold.", "Move one setting for each."
            )
        holds.append(Hold(what, at, by))
    return holds


def _held_unit(reader: Reader, place: Place, what: str, names: Names) -> str | None:
    owner, name, known = _owned(what, names)
    unit = names.component_unit(owner, name)
    if unit is not None:
        return unit
    quantity = names.quantity(owner, name)
    if quantity is None:
        known += [*getattr(names.flowsheet.streams.get(owner), "fields", ())]
        remedy = "Write station.quantity, or stream.component such as exhaust.water."
        if known:
            remedy = known_names(name, known, f"names of '{owner}'")
        reader.refuse(place.at("what"), f"'{what}' is not known.", remedy)
        return None
    if quantity.role != "result":
        reader.refuse(
            place.at("what"),
            f"'{what}' does not follow from the equations, it is given.",
            "Write its value at the station; hold what follows, such as a result or a flow.",
        )
        return None
    return quantity.unit


def _movable(reader: Reader, place: Place, by: str, names: Names) -> bool:
    owner, name, _ = _owned(by, names)
    quantity = names.quantity(owner, name)
    if quantity is not None and quantity.role in ("setting", "fitted"):
        return True
    if quantity is not None:
        reader.refuse(
            place.at("by"),
            f"'{by}' cannot be moved: it is a {quantity.role}.",
            "Name a setting of a station.",
        )
        return False
    settings = [
        f"{placed.name}.{setting}"
        for placed in names.flowsheet.placed
        for setting, declared in placed.cls.quantities.items()
        if declared.role == "setting"
    ]
    reader.refuse(place.at("by"), f"'{by}' is not known.", known_names(by, settings, "settings"))
    return False


def _limits(reader: Reader, document: Mapping[str, Any], names: Names | None) -> list[Limit]:
    limits: list[Limit] = []
    for place, table in reader.tables(document, "limit"):
        reader.known_keys(place, table, LIMIT)
        what = reader.text(place, table, "what", "exhaust.flow")
        written = [key for key in ("at_least", "at_most") if key in table]
        if not written:
            reader.refuse(place, "A limit needs at_least or at_most.", 'Write at_most = "95 t/h".')
        if what is None or names is None or not written:
            continue
        owner, name, known = _owned(what, names)
        unit = names.analyses(owner).get(name) or names.component_unit(owner, name)
        if unit is None:
            remedy = "Write stream.reading or station.quantity."
            if known:
                remedy = known_names(name, known, f"readings of '{owner}'")
            elif owner:
                remedy = known_names(owner, list(names.owners.values()), "streams and stations")
            reader.refuse(place.at("what"), f"'{what}' is not known.", remedy)
            continue
        ends = {key: reader.number(place.at(key), table[key], unit) for key in written}
        low, high = ends.get("at_least"), ends.get("at_most")
        if low is not None and high is not None and low > high:
            reader.refuse(place, f"At least {low:g} and at most {high:g} leaves nothing.", "Swap.")
        limits.append(Limit(what, why=str(table.get("why", "")), **ends))
    return limits


def _prices(reader: Reader, table: Any) -> dict[str, float]:
    place = Place("prices", 0, "prices")
    if not isinstance(table, Mapping):
        reader.refuse(place, "'prices' is no table.", "Write [prices] and its keys below it.")
        return {}
    prices = {}
    for key, value in table.items():
        number = plain(value)
        if number is not None:
            prices[key] = number
        else:
            reader.refuse(place.at(key), f"{shown(value)} is not a price.", "Write a plain number.")
    return prices


def _control(reader: Reader, table: Any, names: Names | None) -> dict[str, str]:
    """Streams that play a part in the control figures under another name than usual."""
    place = Place("control", 0, "control")
    if not isinstance(table, Mapping):
        reader.refuse(place, "'control' is no table.", "Write [control] and its keys below it.")
        return {}
    reader.known_keys(place, table, CONTROL_PARTS)
    parts = {}
    for part in table:
        stream = reader.text(place, table, part, "name of the stream")
        if stream is None or part not in CONTROL_PARTS:
            continue
        if names is not None and point_name(stream) not in names.kinds:
            known = [names.owners[point] for point in names.kinds]
            reader.refuse(place.at(part), *_unknown(stream, known, "streams"))
            continue
        parts[part] = stream if names is None else names.owners[point_name(stream)]
    return parts
