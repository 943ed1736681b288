"""Changes asked of a factory: what is typed, what it means, whether it may be.

`imbibition=240` sets, `imbibition=+20` adds, `imbibition=-5%` adds a share of what it is; a
unit may follow the number. A name may be shortened as long as it means one thing.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from canewright.engine.equations.model import Model
from canewright.flowsheet.connect import nearest
from canewright.units import UnitError, convert, convert_difference

How = Literal["set", "add", "add share"]

_WRITTEN = re.compile(
    r"^\s*(?P<sign>[+-]?)\s*(?P<number>\d+(?:\.\d*)?(?:[eE][+-]?\d+)?|\.\d+)\s*(?P<unit>.*?)\s*$"
)


class ChangeRefused(ValueError):
    """A change cannot be understood or may not be; the text is one sentence or several."""


@dataclass(frozen=True)
class Change:
    """One quantity moved: set to `amount`, or moved by it (in its unit, or % of itself).

    `size` says that it is a size of a station (a parameter of the equations).
    """

    name: str
    how: How
    amount: float
    size: bool = False

    def applied(self, value: float) -> float:
        """The quantity after the change."""
        if self.how == "set":
            return self.amount
        if self.how == "add":
            return value + self.amount
        return value * (1 + self.amount / 100)

    @property
    def slope(self) -> float:
        """Derivative of the quantity after the change by the quantity before."""
        return {"set": 0.0, "add": 1.0}.get(self.how, 1 + self.amount / 100)


def names_of(model: Model) -> list[str]:
    """Quantities that can be changed: settings, performance, sizes."""
    found = [
        f"{placed.name}.{name}"
        for placed in model.flowsheet.placed
        for name, quantity in placed.cls.quantities.items()
        if quantity.role in ("setting", "fitted", "design")
    ]
    return [*found, *(hold.what for hold in model.factory.holds)]


def resolve(model: Model, name: str) -> str:
    """The full name of a quantity that can be changed, from a name that may be short.

    A short name is that of the quantity or its beginning, that of the station where it has
    one main setting, or `station quantity` with spaces or underscores.

    Raises
    ------
    ChangeRefused
        If it means nothing, or several things; the sentence offers what it could be.
    """
    known = names_of(model)
    wanted = _plain(name)
    last = {full: _plain(full.rpartition(".")[2]) for full in known}
    for found in (
        [full for full in known if _plain(full) == wanted],
        [full for full in known if last[full] == wanted],
        [full for full in known if last[full].startswith(wanted)],
        [full for full in known if wanted in _plain(full)],
    ):
        if len(found) > 1:
            settings = [full for full in found if _role(model, full) == "setting"]
            if len(settings) == 1:
                return settings[0]
        if len(found) == 1:
            return found[0]
        if found:
            listed = ", ".join(found[:6]) + (
                f" and {len(found) - 6} more" if len(found) > 6 else ""
            )
            raise ChangeRefused(f"'{name}' could be {listed}. Write one of them in full.")
    hint = nearest(name, known) or nearest(name, [full.rpartition(".")[2] for full in known])
    raise ChangeRefused(f"The factory has no setting called '{name}'.{hint}")


def _plain(name: str) -> str:
    return re.sub(r"[\s_.\-]+", " ", name.strip().lower())


def _role(model: Model, full: str) -> str:
    station, _, name = full.rpartition(".")
    for placed in model.flowsheet.placed:
        if placed.name == station and name in placed.cls.quantities:
            return placed.cls.quantities[name].role
    return "result"


def unit_of(model: Model, full: str) -> str:
    """Internal unit of a quantity that can be changed."""
    station, _, name = full.rpartition(".")
    for placed in model.flowsheet.placed:
        if placed.name == station and name in placed.cls.quantities:
            return placed.cls.quantities[name].unit
    return model.variables[model.position(full)].unit


def parse(model: Model, texts: Sequence[str]) -> list[Change]:
    """Changes as they are typed.

    Raises
    ------
    ChangeRefused
        With every problem, one sentence a line.
    """
    changes: list[Change] = []
    problems: list[str] = []
    for text in texts:
        try:
            change = _one(model, text)
        except ChangeRefused as refusal:
            problems.append(str(refusal))
            continue
        if any(other.name == change.name for other in changes):
            problems.append(f"'{change.name}' is changed twice. Keep one.")
        changes.append(change)
    if problems:
        raise ChangeRefused("\n".join(problems))
    return changes


def _one(model: Model, text: str) -> Change:
    name, equals, value = text.partition("=")
    if not equals:
        raise ChangeRefused(f"'{text}' does not say to what. Write it as imbibition=240.")
    full = resolve(model, name)
    unit = unit_of(model, full)
    found = _WRITTEN.match(value)
    if found is None:
        raise ChangeRefused(f"'{value.strip()}' is no number. Write {name.strip()}=240 or =+10.")
    sign, written = found["sign"], found["unit"]
    amount = float(found["number"]) * (-1 if sign == "-" else 1)
    how: How = "add" if sign else "set"
    if sign and written == "%" and unit != "%":
        how, written = "add share", ""
    if written and _plain(written) != _plain(unit):
        try:
            if sign:
                amount = convert_difference(amount, written, unit)
            else:
                amount = convert(amount, written, unit)
        except UnitError as error:
            raise ChangeRefused(f"{full} is in {unit}: {error}") from error
    change = Change(full, how, amount, full in model.parameter_names)
    _within(model, change, unit)
    return change


def _within(model: Model, change: Change, unit: str) -> None:
    if change.how != "set":
        return
    low, high = limits(model, change.name)
    if not low <= change.amount <= high:
        raise ChangeRefused(
            f"{change.name} can be {low:g} to {high:g} {unit}, not {change.amount:g}."
        )


def limits(model: Model, full: str) -> tuple[float, float]:
    """Bounds within which the equations hold."""
    station, _, name = full.rpartition(".")
    for placed in model.flowsheet.placed:
        if placed.name == station and name in placed.cls.quantities:
            quantity = placed.cls.quantities[name]
            if quantity.role == "design":
                return quantity.bounds
    variable = model.variables[model.position(full)]
    return float(variable.lower), float(variable.upper)
