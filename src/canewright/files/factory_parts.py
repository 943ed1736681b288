"""What a factory file says beside its stations: instruments, points, holds, limits, prices."""

from collections.abc import Mapping
from typing import Any

from canewright.engine.equations.points import point_name
from canewright.files import instrument_entries, point_entries
from canewright.files.factory_lines import Place
from canewright.files.factory_names import Names
from canewright.files.factory_reader import Reader, plain, shown
from canewright.files.point_entries import unknown
from canewright.files.problems import known_names
from canewright.flowsheet import CONTROL_PARTS, Hold, Limit
from canewright.laboratory.duplicates import RULES
from canewright.laboratory.together import USUAL_RULE

HOLD = ("what", "at", "by", "why")
LIMIT = ("what", "at_least", "at_most", "why")
TABLES = ("instrument", "point", "hold", "limit", "prices", "control", "laboratory")


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
    points = point_entries.read(reader, document, known)
    instruments = instrument_entries.read(reader, document, known, points)
    return {
        "points": points,
        "instruments": instruments,
        "holds": tuple(_holds(reader, document, known)),
        "limits": tuple(_limits(reader, document, known)),
        "prices": _prices(reader, document.get("prices", {})),
        **_laboratory(reader, document.get("laboratory", {})),
        "control": _control(reader, document.get("control", {}), known),
    }


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
            reader.refuse(place.at(part), *unknown(stream, known, "streams"))
            continue
        parts[part] = stream if names is None else names.owners[point_name(stream)]
    return parts


def _laboratory(reader: Reader, table: Any) -> dict[str, Any]:
    """Files of the laboratory's own tables, and its rule for repeats of a sample."""
    place = Place("laboratory", 0, "laboratory")
    if not isinstance(table, Mapping):
        reader.refuse(place, "'laboratory' is no table.", "Write [laboratory] and its keys below.")
        return {}
    reader.known_keys(place, table, ("tables", "repeats"))
    found: dict[str, Any] = {}
    if "tables" in table:
        found["tables"] = reader.texts(place, table, "tables", "spindle.toml") or ()
    if "repeats" in table:
        rule = reader.text(place, table, "repeats", USUAL_RULE)
        if rule is not None and rule not in RULES:
            remedy = known_names(rule, list(RULES), "rules")
            reader.refuse(place.at("repeats"), f"There is no rule called '{rule}'.", remedy)
        found["repeats"] = rule or USUAL_RULE
    return found
