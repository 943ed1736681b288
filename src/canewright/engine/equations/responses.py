"""Assumed responses: how performance answers a setting where no published law says so yet.

The entries are data, `assumed_responses.toml`: a slope with a standard deviation each, in
words. Their uncertainty is counted wherever they move a figure.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Literal

from canewright.engine.equations.model import Model


@dataclass(frozen=True)
class Response:
    """One assumed response. See the head of `assumed_responses.toml` for the fields."""

    cause: str
    effect: str
    by: Literal["difference", "ratio"]
    moves: Literal["points", "share"]
    where: Literal["same station", "every station"]
    slope: float
    sd: float
    source: str
    words: str
    only_with: str = ""

    @property
    def name(self) -> str:
        """`cause -> effect`, unique."""
        return f"{self.cause} -> {self.effect}"

    def change(self, before: float, after: float) -> float:
        """Change of the cause as the slope counts it."""
        if self.by == "difference":
            return after - before
        return math.log(after / before)

    def change_slope(self, value: float) -> float:
        """Derivative of that change by the cause at a value."""
        return 1.0 if self.by == "difference" else 1 / value

    def moved(self, effect: float, change: float) -> float:
        """The effect after a change of the cause."""
        if self.moves == "points":
            return effect + self.slope * change
        return effect * math.exp(self.slope * change)


@dataclass(frozen=True)
class Link:
    """A response in one factory: positions of the cause and of one effect."""

    response: Response
    cause: int
    effect: int


@cache
def responses() -> tuple[Response, ...]:
    """Every assumed response, in the order of the data file.

    Raises
    ------
    ValueError
        If two entries link the same cause and effect.
    """
    folder = resources.files("canewright.engine.equations")
    text = folder.joinpath("assumed_responses.toml").read_text("utf8")
    found = tuple(Response(**entry) for entry in tomllib.loads(text)["response"])
    names = [response.name for response in found]
    doubled = {name for name in names if names.count(name) > 1}
    if doubled:
        raise ValueError(f"Assumed responses are written twice: {', '.join(sorted(doubled))}.")
    return found


def links(model: Model) -> Iterator[Link]:
    """Every response that this factory's stations can show."""
    connected: dict[str, Mapping[str, tuple[str, ...]]] = {}
    by_kind: dict[str, list[str]] = {}
    for placed in model.flowsheet.placed:
        by_kind.setdefault(placed.cls.kind, []).append(placed.name)
        connected[placed.name] = placed.connections
    for response in responses():
        cause_kind, cause = response.cause.split(".")
        effect_kind, effect = response.effect.split(".")
        for station in by_kind.get(cause_kind, []):
            same = response.where == "same station"
            for affected in [station] if same else by_kind.get(effect_kind, []):
                if response.only_with and not connected[affected].get(response.only_with):
                    continue
                yield Link(
                    response,
                    model.position(f"{station}.{cause}"),
                    model.position(f"{affected}.{effect}"),
                )
