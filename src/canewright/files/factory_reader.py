"""Understanding the values of a factory file, and gathering what is wrong with them."""

import datetime
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from canewright.files.factory_lines import Lines, Place
from canewright.files.problems import Problem, known_names
from canewright.flowsheet import Spread
from canewright.units import UnitError, convert_difference, read_number

_SPREAD = re.compile(r"\s*(?P<number>[-+]?[\d.,]+(?:[eE][-+]?\d{1,3})?)\s*(?P<unit>.*?)\s*")
_OF_VALUE = re.compile(r"(?P<unit>.*?)\s*\bof value")
EXAMPLE = 'Write it like "0.2 %", "0.05 degC" or "2 % of value".'


class FactoryProblem(Problem):
    """One thing wrong in a factory file: its `row` is a line, its `column` a table and key."""

    ROW = "line "
    COLUMN = ""


class Reader:
    """Reads values of one file and keeps every problem found on the way."""

    def __init__(self, file: str, lines: Lines | None = None) -> None:
        self.file = file
        self.lines = lines
        self.problems: list[Problem] = []

    def refuse(self, place: Place, what: str, remedy: str = "") -> None:
        """Keep a problem."""
        row = self.lines.of(place) if self.lines else None
        self.problems.append(FactoryProblem(self.file, row, place.in_words, what, remedy))

    def known_keys(self, place: Place, table: Mapping[str, Any], known: Iterable[str]) -> None:
        """Refuse every key of a table that is not known, with the nearest that is."""
        known = list(known)
        for key in table:
            if key not in known:
                self.refuse(
                    place.at(key),
                    f"'{key}' is not a key known here.",
                    known_names(key, known, "keys"),
                )

    def tables(self, document: Mapping[str, Any], name: str) -> list[tuple[Place, dict[str, Any]]]:
        """The tables of a list with their places, named by their `name` or `what`."""
        found = document.get(name, [])
        if isinstance(found, Mapping):
            self.refuse(
                Place(name, 0, name),
                f"'{name}' is written as one table.",
                f"Write [[{name}]] with two brackets: there can be several.",
            )
            return []
        if not isinstance(found, list) or not all(isinstance(entry, dict) for entry in found):
            self.refuse(
                Place("", 0, "", name), f"'{name}' is no list of tables.", f"Write [[{name}]]."
            )
            return []
        return [
            (Place(name, number, f"{name} {self._called(table, number)}"), table)
            for number, table in enumerate(found)
        ]

    @staticmethod
    def _called(table: Mapping[str, Any], number: int) -> str:
        name = table.get("name", table.get("what"))
        return f"'{name}'" if isinstance(name, str) and name.strip() else f"number {number + 1}"

    def text(self, place: Place, table: Mapping[str, Any], key: str, example: str) -> str | None:
        """A text that must be there and not be empty."""
        value = table.get(key)
        if isinstance(value, str) and value.strip():
            return value.strip()
        if value is None:
            what = f"'{key}' is missing."
        elif isinstance(value, str):
            what = f"'{key}' is empty."
        else:
            what = f"'{key}' is {shown(value)}, where a text is wanted."
        self.refuse(place.at(key), what, f'Write {key} = "{example}".')
        return None

    def texts(
        self, place: Place, table: Mapping[str, Any], key: str, example: str
    ) -> tuple[str, ...] | None:
        """One text, or a list of at least one."""
        value = table.get(key)
        if isinstance(value, list) and value:
            if all(isinstance(item, str) and item.strip() for item in value):
                return tuple(item.strip() for item in value)
            self.refuse(
                place.at(key),
                f"'{key}' is {shown(value)}, where a list of names is wanted.",
                f'Write {key} = ["{example}", ...].',
            )
            return None
        one = self.text(place, table, key, example)
        return None if one is None else (one,)

    def number(self, place: Place, value: Any, unit: str) -> float | None:
        """A number, bare or with a unit, in the given unit."""
        from canewright.units import parse_quantity

        remedy = f'Write it as "number {unit}" or as a bare number in {unit}.'
        if isinstance(value, bool) or not isinstance(value, int | float | str):
            self.refuse(place, f"{shown(value)} is not a number.", remedy)
            return None
        if isinstance(value, str):
            try:
                value = parse_quantity(value, internal=unit)
            except UnitError as error:
                self.refuse(place, error.what, error.remedy or remedy)
                return None
        number = plain(value)
        if number is None:
            self.refuse(place, f"{shown(value)} is not a number to calculate with.", remedy)
        return number

    def date(self, place: Place, table: Mapping[str, Any], key: str) -> datetime.date | None:
        """A date, if the key is there."""
        value = table.get(key)
        if value is None:
            return None
        if isinstance(value, datetime.datetime):
            return value.date()
        if isinstance(value, datetime.date):
            return value
        if isinstance(value, str):
            try:
                return datetime.date.fromisoformat(value.strip())
            except ValueError:
                pass
        self.refuse(place.at(key), f"{shown(value)} is not a date.", f"Write {key} = 2026-05-03.")
        return None

    def spread(self, place: Place, value: Any, unit: str) -> Spread | None:
        """An uncertainty; see `spread`."""
        try:
            return spread(value, unit)
        except UnitError as error:
            self.refuse(place, error.what, error.remedy)
            return None


def plain(value: Any) -> float | None:
    """A number to calculate with; None for infinite ones, and for what is no number."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    try:
        number = float(value)
    except OverflowError:
        return None
    return number if math.isfinite(number) else None


def shown(value: Any) -> str:
    """A value of the file as it would be written there, shortened."""
    text = f"'{value}'" if isinstance(value, str) else str(value)
    if isinstance(value, bool):
        text = text.lower()
    elif isinstance(value, Mapping):
        text = "a table"
    elif isinstance(value, Sequence) and not isinstance(value, str):
        text = f"a list of {len(value)}"
    return text if len(text) <= 60 else f"{text[:60]}..."


def spread(value: Any, unit: str) -> Spread:
    """An uncertainty as written: "0.05 %" of a % analysis is absolute, else % is of the value.

    "2 % of value" is always relative.

    Parameters
    ----------
    value : str or float
        As written; a bare number is in the unit of the reading.
    unit : str
        Unit of the reading.

    Raises
    ------
    UnitError
        For an unknown unit, or what is no positive number.
    """
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise UnitError(f"{shown(value)} is not an uncertainty.", EXAMPLE)
    relative, unit_written = False, ""
    if isinstance(value, str):
        match = _SPREAD.fullmatch(value)
        if match is None:
            raise UnitError(f"{shown(value)} is not an uncertainty.", EXAMPLE)
        size, unit_written = read_number(match["number"]), match["unit"]
        of_value = _OF_VALUE.fullmatch(unit_written)
        if of_value:
            if of_value["unit"] != "%":
                raise UnitError(f"{shown(value)}: only % can be of the value.", EXAMPLE)
            relative = True
        elif unit_written == "%" and unit != "%":
            relative = True
    else:
        size = plain(value) or 0.0
    if size <= 0:
        raise UnitError(
            f"{shown(value)} is no uncertainty: it must be above zero.",
            "No instrument is exact; leave the key out to take the usual value.",
        )
    if relative or not unit_written:
        return Spread(size, relative)
    return Spread(convert_difference(size, unit_written, unit), relative=False)
