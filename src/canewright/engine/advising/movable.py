"""Which settings advice may move, and how far in one shift.

The entries are data, `movable_settings.toml`, one for each setting of each kind of station.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, Literal

from canewright.engine.equations.model import Model
from canewright.engine.equations.responses import Link
from canewright.model.quantities import PRIOR_WIDTHS

Moved = Literal["yes", "if limited", "no"]


@dataclass(frozen=True)
class Rule:
    """Whether settings of a kind may be moved, and why.

    `assumed` says that their good side is an assumed response alone.
    """

    name: str
    moved: Moved
    why: str
    assumed: bool = False


@cache
def rules() -> dict[str, Rule]:
    """Rules by `kind.setting`."""
    return {entry["name"]: Rule(**entry) for entry in _read()["setting"]}


@cache
def usual_reach() -> float:
    """How far a setting is moved in a shift unless said otherwise. [% of its typical range]."""
    return float(_read()["reach_percent"])


@cache
def _read() -> dict[str, Any]:
    folder = resources.files("canewright.engine.advising")
    text = folder.joinpath("movable_settings.toml").read_text("utf8")
    return tomllib.loads(text)


@dataclass(frozen=True)
class Movable:
    """A setting that may be moved.

    Attributes
    ----------
    name, unit : str
    place : int
        Position in the model.
    reach : float
        How far operators accept to move it in one shift, in its unit.
    lower, upper : float
        Bounds of the equations' validity.
    """

    name: str
    label: str
    unit: str
    place: int
    reach: float
    lower: float
    upper: float

    def ends(self, found: float) -> tuple[float, float]:
        """Least and most it can be in the next shift."""
        low = min(max(found - self.reach, self.lower), found)
        return low, max(min(found + self.reach, self.upper), found)


def movable(
    model: Model,
    held: Sequence[int],
    links: Sequence[Link],
    *,
    reach: float | None = None,
    accepted: Mapping[str, float] | None = None,
) -> list[Movable]:
    """Settings of a factory that advice may move, in the order of the factory file.

    A condenser's pressure is left alone where vacuum pans hang on it, for the boiling
    temperature of a pan is not linked to it. What answers another setting by an assumed
    response follows, and is not moved by itself.

    Parameters
    ----------
    model : Model
    held : sequence of int
        Positions of what is given: only that can be moved.
    links : sequence of Link
        The assumed responses at work.
    reach : float, optional
        Moves accepted in a shift. [% of the typical range]
    accepted : mapping, optional
        Setting -> move accepted in a shift, in its unit.

    Raises
    ------
    KeyError
        If `accepted` names a setting that may not be moved.
    """
    share = (usual_reach() if reach is None else reach) / 100
    given, follows = set(map(int, held)), {link.effect for link in links}
    causes = {link.cause for link in links}
    limited = {_place(model, limit.what) for limit in model.factory.limits}
    own = dict(accepted or {})
    found: list[Movable] = []
    for placed in model.flowsheet.placed:
        for setting, quantity in placed.cls.quantities.items():
            if quantity.role != "setting":
                continue
            full = f"{placed.name}.{setting}"
            place = model.position(full)
            rule = rules().get(f"{placed.cls.kind}.{setting}")
            moved = "no" if rule is None else rule.moved
            if place not in given or place in follows or place in {m.place for m in found}:
                continue
            if rule is not None and rule.assumed and place not in causes:
                moved = "if limited"
            if moved == "yes" and setting == "pressure" and _pans_hang_on(model, place):
                moved = "if limited"
            if moved == "no" or (moved == "if limited" and place not in limited):
                continue
            variable = model.variables[place]
            width = PRIOR_WIDTHS * variable.prior_sd
            found.append(
                Movable(
                    full,
                    variable.label or full,
                    variable.unit,
                    place,
                    own.pop(full, share * width),
                    float(variable.lower),
                    float(variable.upper),
                )
            )
    if own:
        raise KeyError(
            f"{', '.join(sorted(own))}: advice does not move this. It moves "
            f"{', '.join(one.name for one in found)}."
        )
    return found


def _place(model: Model, name: str) -> int:
    return model.index.get(name, -1)


def _pans_hang_on(model: Model, place: int) -> bool:
    for placed in model.flowsheet.placed:
        if placed.cls.kind == "vacuum_pan":
            for stream in placed.connections.get("vapour", ()):
                if model.index.get(f"{stream}.pressure") == place:
                    return True
    return False
