"""The factory file: TOML in, a checked `Factory` in internal units out.

Values carry their unit ("320 m2"); a bare number is in the internal unit. A quantity may
be one value, a range of two (95 % of what is believed) or both in a table
{value, low, high}. Unknown keys are refused with the nearest known one; all problems of
the file are listed at once, each with its line.
"""

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from canewright.files import factory_parts
from canewright.files.factory_lines import Lines, Place
from canewright.files.factory_names import Names
from canewright.files.factory_reader import Reader, shown, spread
from canewright.files.problems import InputRefused, known_names
from canewright.flowsheet import Factory, FactoryRefused, Flowsheet, StationEntry, connect
from canewright.model import Quantity, Station, Train, stations

__all__ = ["TABLES", "factory_from", "read_factory", "spread"]

LARGEST_FILE = 2_000_000
"""Bytes; a factory file is some tens of kilobytes."""

LONGEST_SHIFT = 9000.0
"""Hours; more than a year, as for a file of readings."""

HEAD = ("name", "shift_hours", "invented", "products")
TABLES = ("factory", "station", *factory_parts.TABLES)
"""What a factory file may hold at its top."""

_IN_ERROR = re.compile(r" ?\(at line (\d+), column \d+\)")


def read_factory(path: Path | str) -> Factory:
    """Read and check a factory file.

    Raises
    ------
    InputRefused
        With every problem of the file, each as a sentence with its line and its remedy.
    """
    path = Path(path)
    reader = Reader(path.name)
    nowhere = Place()
    try:
        if path.stat().st_size > LARGEST_FILE:
            reader.refuse(
                nowhere,
                f"The file is larger than {LARGEST_FILE // 10**6} MB.",
                "A factory file is text of some tens of kilobytes; is this another file?",
            )
            raise InputRefused(reader.problems)
        text = path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        reader.refuse(
            nowhere, f"The file cannot be read: {error.strerror}.", "Check its name and place."
        )
        raise InputRefused(reader.problems) from error
    except UnicodeDecodeError as error:
        reader.refuse(nowhere, "The file is not text in UTF-8.", "Save it as text in UTF-8.")
        raise InputRefused(reader.problems) from error
    return read_text(text, path.name)


def read_text(text: str, file: str = "factory") -> Factory:
    """Check a factory given as the text of its file.

    Raises
    ------
    InputRefused
        With every problem, each as a sentence with its line and its remedy.
    """
    reader = Reader(file)
    if not text.strip():
        reader.refuse(Place(), "The file is empty.", "`canewright new FILE` writes a starter.")
        raise InputRefused(reader.problems)
    try:
        document = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise InputRefused([_not_toml(file, error)]) from error
    return factory_from(document, file, Lines(text))


def _not_toml(file: str, error: Exception) -> Any:
    from canewright.files.factory_reader import FactoryProblem

    told = str(error)
    at = _IN_ERROR.search(told)
    return FactoryProblem(
        file,
        int(at[1]) if at else None,
        "",
        f"The file is not TOML: {_IN_ERROR.sub('', told).rstrip('.')}.",
        "Mend that place: a text stands in quotes, a list in [ ], a line holds one key.",
    )


def factory_from(
    document: Mapping[str, Any], file: str = "factory", lines: Lines | None = None
) -> Factory:
    """Check a factory given as nested tables.

    Parameters
    ----------
    document : mapping
        As TOML holds it.
    file : str
        Name of the file, for messages.
    lines : Lines, optional
        Where each key is written, for messages.

    Raises
    ------
    InputRefused
        With every problem, each as a sentence with its remedy.
    """
    reader = Reader(file, lines)
    reader.known_keys(Place(), document, TABLES)
    name, hours, invented, products = _head(reader, document.get("factory", {}))
    entries, places, refused = _stations(reader, document)
    kinds_known = len(reader.problems)
    factory = Factory(name, hours, tuple(entries), invented=invented, products=products)
    flowsheet = _connected(reader, factory, places, refused) if entries else None
    names = Names(flowsheet) if flowsheet else None
    if names:
        _clashes(reader, names)
    parts = factory_parts.read(reader, document, names, quiet=kinds_known > 0)
    if reader.problems:
        raise InputRefused(sorted(reader.problems, key=lambda problem: problem.row or 0))
    return Factory(
        name=name,
        shift_hours=hours,
        stations=tuple(entries),
        invented=invented,
        products=products,
        **parts,
    )


def _head(reader: Reader, head: Any) -> tuple[str, float, bool, tuple[str, ...]]:
    place = Place("factory", 0, "factory")
    if not isinstance(head, Mapping):
        reader.refuse(place, "'factory' is no table.", "Write [factory] and its keys below it.")
        return "", 8.0, False, ()
    reader.known_keys(place, head, HEAD)
    name = reader.text(place, head, "name", "the factory's name") or ""
    hours = reader.number(place.at("shift_hours"), head.get("shift_hours", 8), "h")
    if hours is not None and not 0 < hours <= LONGEST_SHIFT:
        reader.refuse(
            place.at("shift_hours"), f"A shift of {hours:g} h is not possible.", "Such as 8."
        )
    invented = head.get("invented", False)
    if not isinstance(invented, bool):
        reader.refuse(
            place.at("invented"), f"{shown(invented)} is not true or false.", "Write true or false."
        )
    products: tuple[str, ...] | None = ()
    if head.get("products") != [] and "products" in head:
        products = reader.texts(place, head, "products", "raw sugar")
    return name, hours or 8.0, bool(invented), products or ()


def _stations(
    reader: Reader, document: Mapping[str, Any]
) -> tuple[list[StationEntry], dict[str, tuple[Place, Mapping[str, Any]]], set[str]]:
    """Entries of the single stations, where each is written, and names in those refused."""
    kinds = stations()
    raw: list[tuple[Place, Mapping[str, Any]]] = []
    refused: set[str] = set()
    tables = reader.tables(document, "station")
    for place, table in tables:
        name = reader.text(place, table, "name", "its name")
        kind = reader.text(place, table, "kind", "juice_heater")
        if name is None or kind is None:
            refused |= _texts_in(table)
            continue
        if kind not in kinds:
            reader.refuse(
                place.at("kind"),
                f"There is no kind of station called '{kind}'.",
                known_names(kind, list(kinds), "kinds") + " `canewright station` lists all.",
            )
            refused |= _texts_in(table)
            continue
        cls = kinds[kind]
        if not issubclass(cls, Train):
            raw.append((place, {**table, "name": name}))
            continue
        try:
            expanded = cls.expand({**table, "name": name})
        except ValueError as error:
            reader.refuse(place, str(error))
            refused |= _texts_in(table)
            continue
        raw += [(_within(place, table, entry), entry) for entry in expanded]
    if not tables and "station" not in document:
        reader.refuse(
            Place(),
            "The file lists no station.",
            "Add [[station]] tables; `canewright new FILE` writes a starter that has some.",
        )
    entries = [_entry(reader, place, table, kinds[table["kind"]]) for place, table in raw]
    return entries, {str(table["name"]): (place, table) for place, table in raw}, refused


def _texts_in(value: Any) -> set[str]:
    """Every text in a table, at any depth: the streams it may have made or used."""
    if isinstance(value, str):
        return {value}
    parts = value.values() if isinstance(value, Mapping) else value
    if not isinstance(value, Mapping | list):
        return set()
    return {text for part in parts for text in _texts_in(part)}


def _within(place: Place, table: Mapping[str, Any], entry: Mapping[str, Any]) -> Place:
    """Place of one station of a train: the table in its list that it is made from."""
    number = re.search(r"(\d+)$", str(entry["name"]))
    item = 0
    lists = [value for value in table.values() if isinstance(value, list)]
    parts = next((value for value in lists if value and isinstance(value[0], Mapping)), [])
    if number and int(number[1]) <= len(parts):
        item = int(number[1])
    return Place(place.table, place.number, f"station '{entry['name']}'", "", item)


def _entry(
    reader: Reader, place: Place, table: Mapping[str, Any], cls: type[Station]
) -> StationEntry:
    reader.known_keys(place, table, ["name", "kind", *cls.ports, *cls.quantities])
    connections: dict[str, str | list[str]] = {}
    values: dict[str, float] = {}
    ranges: dict[str, tuple[float, float]] = {}
    for key, value in table.items():
        if key in cls.ports:
            streams = None if value == [] else reader.texts(place, table, key, "name of the stream")
            if streams is not None:
                connections[key] = list(streams) if isinstance(value, list) else streams[0]
        elif key in cls.quantities:
            _quantity(reader, place.at(key), cls.quantities[key], key, value, values, ranges)
    return StationEntry(str(table["name"]), cls.kind, connections, values, ranges)


def _quantity(
    reader: Reader,
    place: Place,
    quantity: Quantity,
    key: str,
    value: Any,
    values: dict[str, float],
    ranges: dict[str, tuple[float, float]],
) -> None:
    known = len(reader.problems)
    middle, low, high = _written(reader, place, quantity, value)
    if len(reader.problems) > known:
        return
    if low is not None and high is not None:
        if not low < high:
            reader.refuse(place, f"The range {low:g} to {high:g} runs backwards.", "Swap the ends.")
            return
        ranges[key] = (low, high)
        middle = (low + high) / 2 if middle is None else middle
    if middle is None:
        return
    bottom, top = quantity.bounds
    for number in (low, middle, high):
        if number is not None and not bottom <= number <= top:
            reader.refuse(
                place,
                f"{number:g} {quantity.unit} is outside what '{quantity.label}' can be, "
                f"{bottom:g} to {top:g} {quantity.unit}.",
                "Check the number and its unit.",
            )
            return
    if low is not None and high is not None and not low <= middle <= high:
        reader.refuse(
            place,
            f"The value {middle:g} is not within its range, {low:g} to {high:g}.",
            "Give a value between low and high.",
        )
        return
    values[key] = middle
    if key not in ranges:
        # A value of its own keeps the width of the trade's range around it.
        reach = (quantity.typical[1] - quantity.typical[0]) / 2
        ranges[key] = (middle - reach, middle + reach)


def _written(
    reader: Reader, place: Place, quantity: Quantity, value: Any
) -> tuple[float | None, float | None, float | None]:
    """Value, low and high as written."""
    unit = quantity.unit
    if not isinstance(value, list | dict):
        return reader.number(place, value, unit), None, None
    if quantity.role == "design":
        reader.refuse(
            place,
            f"'{quantity.label}' is a size, which is known, not a range.",
            f'Write one number, such as "{quantity.guess:g} {unit}".',
        )
        return None, None, None
    if isinstance(value, list):
        if len(value) != 2:
            reader.refuse(
                place,
                f"A range has two ends, not {len(value)}.",
                f'Write ["{quantity.typical[0]:g} {unit}", "{quantity.typical[1]:g} {unit}"].',
            )
            return None, None, None
        low, high = (reader.number(place, item, unit) for item in value)
        return None, low, high
    reader.known_keys(place, value, ["value", "low", "high"])
    if not value or ("low" in value) != ("high" in value):
        reader.refuse(
            place,
            "A range has two ends: 'low' and 'high' come together.",
            'Write { value = "...", low = "...", high = "..." }.',
        )
        return None, None, None
    middle, low, high = (
        reader.number(place, value[word], unit) if word in value else None
        for word in ("value", "low", "high")
    )
    return middle, low, high


def _connected(
    reader: Reader,
    factory: Factory,
    places: Mapping[str, tuple[Place, Mapping[str, Any]]],
    refused: set[str],
) -> Flowsheet | None:
    """The flowsheet; None, and the problems kept, where it cannot be connected.

    A stream that a refused station names may be made or used there: nothing is said of it.
    """
    try:
        return connect(factory)
    except FactoryRefused as error:
        for sentence in error.problems:
            if not any(sentence.startswith(f"Stream '{name}' ") for name in refused):
                reader.refuse(_place_of(sentence, places), sentence)
        return None


def _place_of(sentence: str, places: Mapping[str, tuple[Place, Mapping[str, Any]]]) -> Place:
    """Where the station and the port are written that a sentence speaks of."""
    spoken = [name for name in places if f"'{name}'" in sentence]
    if not spoken:
        return Place()
    name = min(spoken, key=lambda known: sentence.index(f"'{known}'"))
    place, table = places[name]
    ports = [key for key in table if f"'{key}'" in sentence or f"({key})" in sentence]
    ports += [
        key
        for key, value in table.items()
        for stream in (value if isinstance(value, list) else [value])
        if key != "name" and sentence.startswith(f"Stream '{stream}' ")
    ]
    # The sentence names station and port already: here only their line is wanted.
    return Place(place.table, place.number, "", ports[0] if ports else "", place.item)


def _clashes(reader: Reader, names: Names) -> None:
    for first, second in names.clashes:
        reader.refuse(
            Place(),
            f"'{first}' and '{second}' would be one point in a file of readings.",
            "Let their names differ by more than spaces, hyphens and capitals.",
        )
