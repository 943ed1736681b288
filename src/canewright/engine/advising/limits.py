"""What advice must not pass: limits of the factory file, and the products no worse than found.

A limit may be on any variable of the factory or on any reading of a stream. A product's
colour, moisture and polarisation are what its customer sees; where the factory file says
nothing of them, advice keeps them no worse than they were found.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import casadi
import numpy as np

from canewright.engine.equations.model import Model
from canewright.engine.equations.points import Channel, Points, point_name
from canewright.streams import in_words

Kind = Literal["limit", "quality"]
Side = Literal["at least", "at most"]

QUALITY: tuple[tuple[str, Side], ...] = (
    ("colour", "at most"),
    ("moisture", "at most"),
    ("pol", "at least"),
)
"""What a product's customer sees, and the side on which it must stay."""
KEEPS = 1e-9
"""Excess over a limit, relative to its size, that rounding may make."""
SAME = 1e-9
"""Relative difference below which two products are of one quality."""


@dataclass(frozen=True)
class Bound:
    """One side of one limit.

    Attributes
    ----------
    name : str
        What is limited, as in the factory file: `stream.analysis` or `station.quantity`.
    side : {"at least", "at most"}
    value : float
        In `unit`; for a quality kept as found, its value as found.
    expression : SX
        Of the model's symbols, its parameters and the relations.
    kind : {"limit", "quality"}
    per_period : bool
        Whether it is an amount over the period, that is a rate times its hours.
    """

    name: str
    label: str
    unit: str
    side: Side
    value: float
    expression: Any
    scale: float
    kind: Kind = "limit"
    why: str = ""
    per_period: bool = False

    @property
    def sign(self) -> float:
        """1 where more of it is forbidden, -1 where less is."""
        return 1.0 if self.side == "at most" else -1.0

    @property
    def words(self) -> str:
        """The limit as a phrase."""
        why = f" ({self.why})" if self.why else ""
        if self.kind == "quality":
            return f"{self.label} no worse than found, {self.side} {self.value:.5g} {self.unit}"
        return f"{self.label} {self.side} {self.value:.5g} {self.unit}{why}"


class LimitRefused(ValueError):
    """A limit of the factory file cannot be used; the text is one sentence."""


def bounds_of(
    model: Model, relations: Mapping[str, Any], point: np.ndarray, given: np.ndarray
) -> list[Bound]:
    """Limits of the factory file.

    Parameters
    ----------
    relations : mapping
        Symbols of the relations between state and pol.
    point, given : array
        Values of variables and relations, and of the parameters, for the limits' sizes.

    Raises
    ------
    LimitRefused
        If what is limited does not exist.
    """
    found = []
    for limit in model.factory.limits:
        expression, label, unit, per_period = _limited(model, relations, limit.what)
        size = abs(float(_value(model, relations, [expression], point, given)[0]))
        sides: tuple[tuple[Side, float | None], ...] = (
            ("at least", limit.at_least),
            ("at most", limit.at_most),
        )
        for side, value in sides:
            if value is not None:
                found.append(
                    Bound(
                        limit.what,
                        label,
                        unit,
                        side,
                        float(value),
                        expression,
                        max(size, abs(float(value)), 1e-6),
                        why=limit.why,
                        per_period=per_period,
                    )
                )
    return found


def quality_of(
    model: Model,
    relations: Mapping[str, Any],
    products: Mapping[str, Sequence[str]],
    point: np.ndarray,
    given: np.ndarray,
) -> list[Bound]:
    """The products' quality as found, where the factory file does not limit it.

    No room is given beyond that: shift after shift it would add up.

    Parameters
    ----------
    products : mapping
        Product -> its streams. Streams of the same quality are limited once, and not at all
        where the factory file limits one of them.
    """
    limited = {
        (point_name(owner), analysis)
        for owner, _, analysis in (limit.what.rpartition(".") for limit in model.factory.limits)
    }
    wanted: list[tuple[str, Side, Channel, Any]] = []
    points = Points(model)
    for product, streams in products.items():
        for stream in streams:
            analyses = points.analyses(point_name(stream))
            for analysis, side in QUALITY:
                if analysis in analyses:
                    channel = analyses[analysis]
                    wanted.append((product, side, channel, points.predict(channel, relations)))
    values = _value(model, relations, [item[3] for item in wanted], point, given)
    known = [
        (channel.analysis, value)
        for (_, _, channel, _), value in zip(wanted, values, strict=True)
        if (point_name(channel.owner), channel.analysis) in limited
    ]
    found: list[Bound] = []
    for (product, side, channel, expression), value in zip(wanted, values, strict=True):
        if not np.isfinite(value) or any(
            analysis == channel.analysis and abs(other - value) <= SAME * abs(value)
            for analysis, other in known
        ):
            continue
        known.append((channel.analysis, value))
        found.append(
            Bound(
                f"{channel.owner}.{channel.analysis}",
                f"{channel.label} of {product}",
                channel.unit,
                side,
                float(value),
                expression,
                max(abs(float(value)), 1e-6),
                "quality",
            )
        )
    return found


class Watch:
    """The limits of a factory file, ready to be looked at in many states.

    Parameters
    ----------
    model : Model
    relations : mapping
        Symbols of the relations between state and pol.
    point, given : array
        A state with its relations, and the parameters. See `bounds_of`.
    """

    def __init__(
        self, model: Model, relations: Mapping[str, Any], point: np.ndarray, given: np.ndarray
    ) -> None:
        self.bounds = bounds_of(model, relations, point, given)
        self._count = len(model.variables) + len(relations)
        self._function = _function(model, relations, [one.expression for one in self.bounds])

    def passed(self, point: np.ndarray, given: np.ndarray) -> list[str]:
        """Limits that a state breaks, as sentences."""
        if not self.bounds:
            return []
        values = np.array(self._function(point[: self._count], given)).ravel()
        return [
            f"{bound.label} would be {value:.4g} {bound.unit}; its limit is {bound.side} "
            f"{bound.value:g} {bound.unit}{f' ({bound.why})' if bound.why else ''}."
            for bound, value in zip(self.bounds, values, strict=True)
            if bound.sign * (value - bound.value) > KEEPS * bound.scale
        ]


def _limited(model: Model, relations: Mapping[str, Any], what: str) -> tuple[Any, str, str, bool]:
    """What is limited: its expression, label, unit, and whether it is an amount over the period.

    A reading of a stream comes before a component of the same name: its colour is in ICUMSA
    units, not in those times tonnes.
    """
    owner, _, analysis = what.rpartition(".")
    points = Points(model)
    try:
        channel = points.channel(point_name(owner), analysis)
    except KeyError as error:
        if what not in model.index:
            raise LimitRefused(
                f"The limit on '{what}' cannot be kept: there is no such reading or quantity. "
                "Write stream.reading or station.quantity under [[limit]]."
            ) from error
        channel = None
    if what in model.index and (channel is None or channel.kind not in ("stream", "stock")):
        variable = model.variables[model.index[what]]
        label = variable.label or what
        if what != variable.name:
            label = f"{owner}, {in_words(analysis)}"
        return model.symbols[model.index[what]], label, variable.unit, False
    assert channel is not None
    label = f"{channel.owner}, {channel.label}"
    per_period = channel.kind == "stream" and channel.several == "sum"
    return points.predict(channel, relations), label, channel.unit, per_period


def _value(
    model: Model,
    relations: Mapping[str, Any],
    expressions: Sequence[Any],
    point: np.ndarray,
    given: np.ndarray,
) -> np.ndarray:
    if not expressions:
        return np.zeros(0)
    count = len(model.variables) + len(relations)
    return np.array(_function(model, relations, expressions)(point[:count], given)).ravel()


def _function(model: Model, relations: Mapping[str, Any], expressions: Sequence[Any]) -> Any:
    symbols = casadi.vertcat(model.symbols, *relations.values())
    stacked = casadi.vertcat(*[casadi.SX(one) for one in expressions])
    return casadi.Function("limits", [symbols, model.parameters], [stacked])
