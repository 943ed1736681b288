"""Specifications of sugar as data: who sets which limit, in which edition, at which place.

Those in the folder beside this file are published; a customer's own is a TOML file of the
same form. Verdicts on lots are in `lots`.
"""

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any

from canewright.ops import Numeric
from canewright.registry import formula

LARGEST_FILE = 200_000
"""Bytes; a specification is a page."""


@dataclass(frozen=True)
class Property:
    """Something a lot can be specified by: its unit, and other words for it."""

    label: str
    unit: str
    also: tuple[str, ...] = ()


PROPERTIES = {
    "pol": Property("polarisation", "degZ", ("polarisation", "polarization")),
    "moisture": Property("loss on drying", "%", ("loss_on_drying", "water")),
    "ash": Property("conductivity ash", "%", ("conductivity_ash",)),
    "reducing_sugars": Property("invert sugar", "%", ("invert", "invert_sugar")),
    "colour": Property("colour in solution", "IU", ("color",)),
    "colour_type": Property("colour type by comparison", "1", ("type",)),
    "sulphite": Property("sulphite as SO2", "mg/kg", ("so2", "sulphur_dioxide")),
    "sucrose_plus_invert": Property("sucrose and invert sugar", "%"),
    "raw_cane_yield": Property("yield in white sugar", "%"),
    "raw_beet_yield": Property("yield in white sugar, by ash and invert sugar", "%"),
}

_CALLED = {
    **{name: name for name in PROPERTIES},
    **{word: name for name, entry in PROPERTIES.items() for word in entry.also},
}


def property_name(written: str) -> str:
    """Name of a property by any of its words; unknown words come back as they were."""
    word = written.strip().lower().replace(" ", "_").replace("-", "_")
    return _CALLED.get(word, word)


@dataclass(frozen=True)
class Limit:
    """One limit of a specification, in the unit of its property.

    `uncertainty` is a standard uncertainty that the specification itself lays down.
    """

    property: str
    label: str
    unit: str
    at_least: float | None
    at_most: float | None
    source: str = ""
    at: str = ""
    known: str = ""
    note: str = ""
    uncertainty: float | None = None


@dataclass(frozen=True)
class PointsOf:
    """Points of one property: value over the size of one point, and how many are allowed."""

    property: str
    one_point: float
    at_most: float


@dataclass(frozen=True)
class PointsLimit:
    """A limit on points, each and in all."""

    at_most: float
    of: tuple[PointsOf, ...]
    source: str
    at: str
    known: str


@dataclass(frozen=True)
class Specification:
    """A specification: what it asks of a sugar, and where that is written."""

    name: str
    title: str
    standard: str
    edition: str
    product: str
    limits: tuple[Limit, ...]
    points: PointsLimit | None = None
    note: str = ""
    own: bool = False

    @property
    def asks(self) -> tuple[str, ...]:
        """Properties that a lot is judged by."""
        names = [limit.property for limit in self.limits]
        names += [of.property for of in self.points.of] if self.points else []
        return tuple(dict.fromkeys(names))


class SpecificationRefused(ValueError):
    """A specification's file cannot be used; each line is a sentence."""


@formula(
    source="eu_1260_2001",
    at="annex I, section II, 3",
    unit="%",
    given={"pol": "degZ"},
    equation="yield = 2 pol - 100",
    known="read",
    valid={"pol": (92, 100)},
    family="yield of raw sugar",
    default=True,
    note="For cane sugar. The rule by ash and invert sugar in the same section is that of beet.",
)
def raw_cane_yield(pol: Numeric) -> Numeric:
    """White sugar that raw cane sugar is taken to yield. [%]."""
    return 2 * pol - 100


@formula(
    source="eu_318_2006",
    at="annex I, point III, 2",
    unit="%",
    given={"pol": "degZ", "ash": "%", "invert": "%"},
    equation="yield = pol - 4 ash - 2 invert - 1",
    known="read",
    valid={"pol": (92, 100), "ash": (0, 2), "invert": (0, 2)},
    family="yield of raw sugar",
    note="Written for raw beet sugar; quoted for cane sugar too.",
)
def raw_beet_yield(pol: Numeric, ash: Numeric, invert: Numeric) -> Numeric:
    """White sugar that raw sugar is taken to yield, by its ash and invert sugar. [%]."""
    return pol - 4 * ash - 2 * invert - 1


@cache
def specifications() -> dict[str, Specification]:
    """The published specifications by name."""
    folder = resources.files("canewright.laboratory").joinpath("specifications")
    found = {}
    for file in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if file.name.endswith(".toml"):
            name = file.name.removesuffix(".toml")
            found[name] = specification_from(tomllib.loads(file.read_text(encoding="utf-8")), name)
    return found


def read_specification(path: Path | str) -> Specification:
    """Read a customer's own specification from a TOML file.

    Raises
    ------
    SpecificationRefused
        With every problem of the file, one sentence a line.
    OSError
        If the file cannot be opened.
    """
    path = Path(path)
    if path.stat().st_size > LARGEST_FILE:
        raise SpecificationRefused(
            f"{path.name} is too large for a specification, which is a page."
        )
    try:
        document = tomllib.loads(path.read_bytes().decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise SpecificationRefused(f"{path.name} is not text in UTF-8: save it as that.") from None
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise SpecificationRefused(
            f"{path.name} is not TOML: {error}. A text stands in quotes, a line holds one key."
        ) from None
    return specification_from(document, path.name, own=True)


_TOP = ("title", "standard", "edition", "product", "note", "limit", "points")
_LIMIT = (
    "property", "label", "unit", "at_least", "at_most", "uncertainty", "source", "at", "known",
    "note",
)  # fmt: skip


def specification_from(document: Mapping[str, Any], name: str, own: bool = False) -> Specification:
    """Check a specification given as nested tables.

    Parameters
    ----------
    document : mapping
        As TOML holds it.
    name : str
        Name of the specification, or of its file.
    own : bool
        A customer's own: its source is the file itself.

    Raises
    ------
    SpecificationRefused
        With every problem, one sentence a line.
    """
    problems = _unknown(document, _TOP, name)
    title = document.get("title")
    if not isinstance(title, str) or not title.strip():
        problems.append(f'{name} has no title: write title = "White sugar for ...".')
    rows = document.get("limit", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        problems.append(f"{name}: write each limit as a table of its own, [[limit]].")
        rows = []
    limits = [_limit(row, f"{name}, limit {k}", problems) for k, row in enumerate(rows, 1)]
    if not rows and "points" not in document:
        problems.append(f"{name} sets no limit: add a [[limit]] table.")
    names = [limit.property for limit in limits if limit]
    twice = sorted({each for each in names if names.count(each) > 1})
    problems += [f"{name} limits '{each}' twice: write both ends in one table." for each in twice]
    points = _points(document["points"], name, problems) if "points" in document else None
    if problems:
        raise SpecificationRefused("\n".join(problems))
    texts = {key: str(document.get(key, "")) for key in ("title", "standard", "edition", "note")}
    product = str(document.get("product", "white sugar"))
    kept = tuple(limit for limit in limits if limit)
    return Specification(name=name, product=product, limits=kept, points=points, own=own, **texts)


def _unknown(table: Mapping[str, Any], known: tuple[str, ...], where: str) -> list[str]:
    told = []
    for key in table:
        if key not in known:
            close = difflib.get_close_matches(key, known, n=1)
            hint = f" Did you mean '{close[0]}'?" if close else f" Known are {', '.join(known)}."
            told.append(f"{where}: '{key}' is not a key known here.{hint}")
    return told


def _limit(row: Mapping[str, Any], where: str, problems: list[str]) -> Limit | None:
    told = _unknown(row, _LIMIT, where)
    written = row.get("property")
    name = property_name(written) if isinstance(written, str) else ""
    entry = PROPERTIES.get(name)
    unit, label = row.get("unit", entry.unit if entry else ""), row.get("label", "")
    if not name:
        told.append(f'{where} names no property: write property = "colour".')
    elif entry is None and not unit:
        close = difflib.get_close_matches(name, _CALLED, n=1)
        hint = f" Did you mean '{close[0]}'?" if close else ""
        told.append(
            f"{where}: '{written}' is not a property known here.{hint} For one of your own, "
            'add its unit, such as unit = "mg/kg".'
        )
    internal = entry.unit if entry else str(unit)
    ends = {
        key: _number(row[key], internal, f"{where}: {key}", told, bare=str(unit))
        for key in ("at_least", "at_most", "uncertainty")
        if key in row
    }
    low, high = ends.get("at_least"), ends.get("at_most")
    if "at_least" not in row and "at_most" not in row:
        told.append(f"{where} has neither at_least nor at_most: write one of them.")
    if low is not None and high is not None and low > high:
        told.append(f"{where}: at least {low:g} and at most {high:g} leaves nothing.")
    if told:
        problems += told
        return None
    return Limit(
        name,
        str(label) or (entry.label if entry else name.replace("_", " ")),
        internal,
        low,
        high,
        source=str(row.get("source", "")),
        at=str(row.get("at", "")),
        known=str(row.get("known", "")),
        note=str(row.get("note", "")),
        uncertainty=ends.get("uncertainty"),
    )


def _number(value: Any, unit: str, where: str, told: list[str], bare: str = "") -> float | None:
    """A number in a unit; a bare one is in the unit the table names."""
    from canewright.units import UnitError, parse_quantity

    if isinstance(value, bool) or not isinstance(value, int | float | str):
        told.append(f"{where} is not a number: write it like 0.1 or '0.1 {unit}'.")
        return None
    text = f"{value} {bare}" if isinstance(value, int | float) and bare else value
    try:
        return parse_quantity(text, internal=unit)
    except UnitError as error:
        told.append(f"{where}: {error}")
        return None


def _points(table: Any, name: str, problems: list[str]) -> PointsLimit | None:
    try:
        of = tuple(
            PointsOf(property_name(row["property"]), float(row["one_point"]), float(row["at_most"]))
            for row in table["of"]
        )
        at_most = float(table["at_most"])
    except (KeyError, TypeError, ValueError, AttributeError):
        problems.append(
            f"{name}: [points] needs at_most, and [[points.of]] tables of property, one_point and "
            "at_most."
        )
        return None
    problems += [
        f"{name}: points of '{part.property}', {part.one_point:g} each, cannot be counted: name a "
        "property known here and a size above zero."
        for part in of
        if part.property not in PROPERTIES or not part.one_point > 0
    ]
    texts = {key: str(table.get(key, "")) for key in ("source", "at", "known")}
    return PointsLimit(at_most, of, **texts)
