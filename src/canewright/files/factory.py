"""The factory file: TOML in, a checked `Factory` in internal units out.

Values carry their unit ("320 m2"); a bare number is in the internal unit. A quantity may
be one value, a range of two (95 % of what is believed) or both in a table
{value, low, high}. Unknown keys are refused with the nearest known one; all problems of
the file are listed at once.
"""

import datetime
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from canewright.files.problems import InputRefused, Problem, nearest
from canewright.flowsheet import (
    Factory,
    FactoryRefused,
    Hold,
    Instrument,
    Limit,
    Spread,
    StationEntry,
    connect,
)
from canewright.model import Quantity, Station, Train, stations
from canewright.units import UnitError, convert_difference, parse_quantity

LARGEST_FILE = 2_000_000
"""Bytes; a factory file is some tens of kilobytes."""

TABLES = {
    "factory": {"name", "shift_hours", "invented", "products"},
    "station": None,
    "instrument": {"name", "reads", "random", "bias", "calibrated", "due", "why"},
    "point": {"name", "stream"},
    "limit": {"what", "at_least", "at_most", "why"},
    "hold": {"what", "at", "by"},
    "prices": None,
}
_SPREAD = re.compile(r"^\s*(?P<number>[0-9.eE+-]+)\s*(?P<unit>.*?)\s*(?P<relative>of value)?\s*$")


class _Reader:
    def __init__(self, file: str) -> None:
        self.file = file
        self.problems: list[Problem] = []

    def refuse(self, column: str, what: str, remedy: str = "") -> None:
        self.problems.append(Problem(self.file, None, column, what, remedy))

    def known_keys(self, place: str, table: Mapping[str, Any], known: set[str]) -> None:
        for key in table:
            if key not in known:
                close = nearest(key, known)
                hint = f"The nearest known keys: {', '.join(close)}." if close else ""
                self.refuse(f"{place}, {key}", f"'{key}' is not a key known here.", hint)

    def number(self, place: str, value: Any, unit: str) -> float | None:
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            self.refuse(place, f"{value!r} is not a number.", f'Write it as "number {unit}".')
            return None
        if isinstance(value, str):
            try:
                return parse_quantity(value, internal=unit)
            except UnitError as error:
                self.refuse(place, str(error))
                return None
        return float(value)


def read_factory(path: Path | str) -> Factory:
    """Read and check a factory file.

    Raises
    ------
    InputRefused
        With every problem of the file, each as a sentence with its remedy.
    """
    path = Path(path)
    reader = _Reader(path.name)
    try:
        if path.stat().st_size > LARGEST_FILE:
            reader.refuse("", f"The file is larger than {LARGEST_FILE // 10**6} MB.", "Is it TOML?")
            raise InputRefused(reader.problems)
        text = path.read_bytes().decode("utf-8-sig")
        document = tomllib.loads(text)
    except OSError as error:
        reader.refuse(
            "", f"The file cannot be read: {error.strerror}.", "Check its name and place."
        )
        raise InputRefused(reader.problems) from error
    except UnicodeDecodeError as error:
        reader.refuse("", "The file is not text in UTF-8.", "Save it as UTF-8 text.")
        raise InputRefused(reader.problems) from error
    except tomllib.TOMLDecodeError as error:
        reader.refuse("", f"The file is not TOML: {error}.", "Mend that line.")
        raise InputRefused(reader.problems) from error
    return factory_from(document, path.name)


def factory_from(document: Mapping[str, Any], file: str = "factory") -> Factory:
    """Check a factory given as nested tables.

    Raises
    ------
    InputRefused
        With every problem, each as a sentence with its remedy.
    """
    reader = _Reader(file)
    reader.known_keys("", document, set(TABLES))
    head = document.get("factory", {})
    reader.known_keys("factory", head, TABLES["factory"] or set())
    if "name" not in head:
        reader.refuse("factory, name", "The factory has no name.", 'Write name = "..." .')
    hours = reader.number("factory, shift_hours", head.get("shift_hours", 8), "h") or 8.0
    entries = _stations(reader, document.get("station", []))
    factory = Factory(
        name=str(head.get("name", "")),
        shift_hours=hours,
        stations=tuple(entries),
        instruments=tuple(_instruments(reader, document.get("instrument", []))),
        points=_points(reader, document.get("point", [])),
        holds=tuple(_holds(reader, document.get("hold", []), entries)),
        limits=tuple(_limits(reader, document.get("limit", []), entries)),
        prices=_prices(reader, document.get("prices", {})),
        invented=bool(head.get("invented", False)),
        products=tuple(head.get("products", ())),
    )
    if not reader.problems:
        try:
            connect(factory)
        except FactoryRefused as error:
            for sentence in error.problems:
                reader.refuse("", sentence)
    if reader.problems:
        raise InputRefused(reader.problems)
    return factory


def _stations(reader: _Reader, tables: list[dict[str, Any]]) -> list[StationEntry]:
    kinds = stations()
    raw: list[dict[str, Any]] = []
    for number, table in enumerate(tables, 1):
        place = f"station '{table.get('name', f'number {number}')}'"
        kind = table.get("kind")
        if "name" not in table or kind is None:
            reader.refuse(place, "A station needs a name and a kind.", 'Write name = "..." , kind.')
        elif kind not in kinds:
            close = nearest(str(kind), kinds)
            hint = f"The nearest known kinds: {', '.join(close)}." if close else ""
            reader.refuse(place, f"There is no kind of station called '{kind}'.", hint)
        elif issubclass(kinds[kind], Train):
            try:
                raw += kinds[kind].expand(table)
            except ValueError as error:
                reader.refuse(place, str(error))
        else:
            raw.append(table)
    if not tables:
        reader.refuse("station", "The file lists no station.", "Add [[station]] tables.")
    return [_entry(reader, table, kinds[table["kind"]]) for table in raw]


def _entry(reader: _Reader, table: Mapping[str, Any], cls: type[Station]) -> StationEntry:
    place = f"station '{table['name']}'"
    known = {"name", "kind", *cls.ports, *cls.quantities}
    reader.known_keys(place, table, known)
    connections: dict[str, str | list[str]] = {}
    values: dict[str, float] = {}
    ranges: dict[str, tuple[float, float]] = {}
    for key, value in table.items():
        if key in cls.ports:
            connections[key] = value
        elif key in cls.quantities:
            _quantity(reader, f"{place}, {key}", cls.quantities[key], key, value, values, ranges)
    return StationEntry(str(table["name"]), cls.kind, connections, values, ranges)


def _quantity(
    reader: _Reader,
    place: str,
    quantity: Quantity,
    key: str,
    value: Any,
    values: dict[str, float],
    ranges: dict[str, tuple[float, float]],
) -> None:
    unit = quantity.unit
    middle = low = high = None
    if isinstance(value, list) and len(value) == 2:
        low, high = (reader.number(place, item, unit) for item in value)
    elif isinstance(value, dict):
        reader.known_keys(place, value, {"value", "low", "high"})
        parts = [
            reader.number(place, value[word], unit) if word in value else None
            for word in ("value", "low", "high")
        ]
        middle, low, high = parts
    else:
        middle = reader.number(place, value, unit)
    if low is not None and high is not None:
        if low >= high:
            reader.refuse(place, f"The range {low:g} to {high:g} runs backwards.", "Swap the ends.")
            return
        ranges[key] = (low, high)
        middle = (low + high) / 2 if middle is None else middle
    if middle is None:
        return
    bottom, top = quantity.bounds
    if not bottom <= middle <= top:
        reader.refuse(
            place,
            f"{middle:g} {unit} is outside what {quantity.label} can be, {bottom:g} to {top:g}.",
            "Check the number and its unit.",
        )
        return
    values[key] = middle
    if key not in ranges:
        # A value of its own keeps the width of the trade's range around it.
        reach = (quantity.typical[1] - quantity.typical[0]) / 2
        ranges[key] = (middle - reach, middle + reach)


def spread(text: str | float, unit: str) -> Spread:
    """An uncertainty as written: "0.05 %" of a % analysis is absolute, else % is of the value.

    "2 % of value" is always relative.

    Raises
    ------
    UnitError
        For an unknown unit.
    """
    if isinstance(text, int | float):
        return Spread(float(text), relative=False)
    match = _SPREAD.match(text)
    if match is None:
        raise UnitError(f'\'{text}\' is not an uncertainty. Write it like "0.2 %" or "0.05 degC".')
    number, unit_written = float(match["number"]), match["unit"].strip()
    if match["relative"] or (unit_written == "%" and unit != "%"):
        return Spread(number, relative=True)
    return Spread(convert_difference(number, unit_written, unit) if unit_written else number, False)


def _instruments(reader: _Reader, tables: list[dict[str, Any]]) -> list[Instrument]:
    from canewright.laboratory.readings import reading_unit

    instruments = []
    for number, table in enumerate(tables, 1):
        place = f"instrument '{table.get('name', f'number {number}')}'"
        reader.known_keys(place, table, TABLES["instrument"] or set())
        reads = table.get("reads", [])
        reads = [reads] if isinstance(reads, str) else reads
        if "name" not in table or not reads:
            reader.refuse(place, "An instrument needs a name and what it reads.")
            continue
        unit = reading_unit(reads[0].rsplit(".", 1)[-1])
        spreads: dict[str, Spread] = {}
        for key in ("random", "bias"):
            if key in table:
                try:
                    spreads[key] = spread(table[key], unit)
                except UnitError as error:
                    reader.refuse(f"{place}, {key}", str(error))
        dates = {
            key: table[key]
            for key in ("calibrated", "due")
            if isinstance(table.get(key), datetime.date)
        }
        instruments.append(Instrument(str(table["name"]), tuple(reads), **spreads, **dates))
    return instruments


def _points(reader: _Reader, tables: list[dict[str, Any]]) -> dict[str, str]:
    points = {}
    for number, table in enumerate(tables, 1):
        place = f"point '{table.get('name', f'number {number}')}'"
        reader.known_keys(place, table, TABLES["point"] or set())
        if "name" not in table or "stream" not in table:
            reader.refuse(place, "A point needs a name and a stream.")
            continue
        points[str(table["name"])] = str(table["stream"])
    return points


def _unit_of(what: str, entries: list[StationEntry]) -> str | None:
    """Unit of "station.quantity" or "stream.reading"."""
    from canewright.laboratory.readings import reading_unit

    owner, _, name = what.rpartition(".")
    kinds = stations()
    for entry in entries:
        if entry.name == owner and name in kinds[entry.kind].quantities:
            return kinds[entry.kind].quantities[name].unit
    try:
        return reading_unit(name)
    except KeyError:
        return None


def _holds(
    reader: _Reader, tables: list[dict[str, Any]], entries: list[StationEntry]
) -> list[Hold]:
    holds = []
    for number, table in enumerate(tables, 1):
        place = f"hold '{table.get('what', f'number {number}')}'"
        reader.known_keys(place, table, TABLES["hold"] or set())
        missing = {"what", "at", "by"} - set(table)
        if missing:
            reader.refuse(place, f"A hold needs {', '.join(sorted(missing))}.")
            continue
        unit = _unit_of(table["what"], entries)
        if unit is None:
            reader.refuse(place, f"'{table['what']}' is not known.", "Write station.quantity.")
            continue
        at = reader.number(f"{place}, at", table["at"], unit)
        if at is not None:
            holds.append(Hold(table["what"], at, table["by"]))
    return holds


def _limits(
    reader: _Reader, tables: list[dict[str, Any]], entries: list[StationEntry]
) -> list[Limit]:
    limits = []
    for number, table in enumerate(tables, 1):
        place = f"limit '{table.get('what', f'number {number}')}'"
        reader.known_keys(place, table, TABLES["limit"] or set())
        unit = _unit_of(str(table.get("what", "")), entries)
        if unit is None:
            reader.refuse(
                place,
                f"'{table.get('what')}' is not known.",
                "Write stream.reading or station.quantity.",
            )
            continue
        ends = {
            key: reader.number(f"{place}, {key}", table[key], unit)
            for key in ("at_least", "at_most")
            if key in table
        }
        if not ends:
            reader.refuse(place, "A limit needs at_least or at_most.")
        limits.append(Limit(table["what"], why=str(table.get("why", "")), **ends))
    return limits


def _prices(reader: _Reader, table: Mapping[str, Any]) -> dict[str, float]:
    prices = {}
    for key, value in table.items():
        if isinstance(value, bool) or not isinstance(value, int | float):
            reader.refuse(f"prices, {key}", f"{value!r} is not a price.", "Write a plain number.")
        else:
            prices[key] = float(value)
    return prices
