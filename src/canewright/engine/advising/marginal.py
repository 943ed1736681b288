"""What a tonne is worth at the margin, and the regime the factory runs in.

The worth of a tonne of a component in a stream is the change of the optimum when one more
tonne enters the station that the stream goes to: the multipliers of that station's equations
times their derivatives by the component. Sugar won back from one stream to another is worth
the difference. What steam is worth depends on the regime, which is found first: exhaust
blowing off, let-down open, a condensing tail, fuel short, throughput bound.
Source: [own_derivation], regimes as in `canewright.laws.economics`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import casadi
import numpy as np

from canewright.engine.advising.advise import Optimiser
from canewright.engine.advising.binding import Binding
from canewright.engine.advising.optimum import Best, Given
from canewright.engine.equations.model import Model
from canewright.engine.equations.settled import Vector

Regime = Literal[
    "exhaust blowing off", "let-down open", "condensing tail", "fuel short", "throughput bound", ""
]

OPEN = 0.05
"""Flow from which a valve counts as open. [t/h]"""
SHORT = 0.5
"""Surplus below which fuel counts as short. [% of bagasse]"""
HOURS_A_DAY = 24.0


@dataclass(frozen=True)
class Told:
    """The regime and why, in a sentence."""

    regime: Regime
    sentence: str


@dataclass(frozen=True)
class Worth:
    """Money a tonne of something is worth at the margin."""

    what: str
    value: float
    words: str


def regime(model: Model, values: Vector, binding: Sequence[Binding] = ()) -> Told:
    """The regime of the steam network, from a state and what binds there.

    Parameters
    ----------
    model : Model
    values : array (n)
    binding : sequence of Binding
        At the optimum: a bound throughput makes the regime, whatever the valves do.
    """

    def flow(stream: str) -> float:
        return float(values[model.position(f"{stream}.water")])

    by_kind: dict[str, list[Mapping[str, tuple[str, ...]]]] = {}
    names: dict[str, list[str]] = {}
    for placed in model.flowsheet.placed:
        by_kind.setdefault(placed.cls.kind, []).append(placed.connections)
        names.setdefault(placed.cls.kind, []).append(placed.name)
    for bound in binding:
        if bound.kind == "limit" and bound.name.endswith(".cane_rate"):
            return Told(
                "throughput bound",
                f"Throughput is bound: {bound.words}. What eases that bottleneck is worth most.",
            )
    blown = sum(flow(one["vapour"][0]) for one in by_kind.get("blow_off", []))
    if blown > OPEN:
        return Told(
            "exhaust blowing off",
            f"Exhaust is blowing off ({blown:.3g} t/h): steam saved is worth nothing until "
            "power is made with less steam, or the exhaust is used.",
        )
    surplus = _surplus(model, values)
    if surplus is not None and surplus < SHORT:
        return Told(
            "fuel short",
            f"Fuel is short (surplus {surplus:.2g} % of bagasse): steam saved is worth the fuel "
            "that would be bought.",
        )
    tail = sum(flow(one["steam"][0]) for one in by_kind.get("condensing_turbine", []))
    if tail > OPEN:
        return Told(
            "condensing tail",
            f"The condensing set takes {tail:.3g} t/h: steam saved is worth the power it makes.",
        )
    let_down = sum(flow(one["steam_in"][0]) for one in by_kind.get("let_down", []))
    if let_down > OPEN:
        return Told(
            "let-down open",
            f"The let-down is open ({let_down:.3g} t/h live steam): exhaust saved is live steam "
            "saved, and leaves bagasse.",
        )
    return Told("", "No let-down, blow-off or condensing set shows what steam saved would do.")


def _surplus(model: Model, values: Vector) -> float | None:
    """Surplus bagasse. [% of bagasse]; None without a bagasse house."""
    for placed in model.flowsheet.placed:
        if placed.cls.kind == "bagasse_house":
            return float(values[model.position(f"{placed.name}.surplus_share")])
    return None


def component_worth(
    optimiser: Optimiser, best: Best, stream: str, component: str, given: Given | None = None
) -> float | None:
    """Money that one tonne of a component is worth in a stream, as the next station takes it.

    Parameters
    ----------
    stream, component : str
        "mixed juice", "sucrose".

    Returns
    -------
    float or None
        Money a tonne, what it is sold for included; None where the stream has none of it.
    """
    model = optimiser.model
    place = model.index.get(f"{stream}.{component}")
    if place is None:
        return None
    asked = given or optimiser.given
    rows = consumer_rows(model, place, component)
    _, entries = model.evaluator(best.values, asked.sizes)
    matrix = model.evaluator.matrix(entries.copy()).tocsc()
    column = np.asarray(matrix[:, [place]].todense()).ravel()
    sold = float(optimiser.program.money_gradient(best.values, asked)[place])
    return (sold - float(best.equation_prices[rows] @ column[rows])) / HOURS_A_DAY


def consumer_rows(model: Model, place: int, component: str) -> list[int]:
    """Equations of the stations, or mains, that take in the stream a variable belongs to."""
    variable = model.variables[place]
    streams = {
        name.rpartition(".")[0]
        for name in (variable.name, *variable.other_names)
        if name.endswith(f".{component}")
    }
    takers = {
        placed.name
        for placed in model.flowsheet.placed
        for port, own in placed.connections.items()
        if placed.cls.ports[port].direction == "in" and streams & set(own)
    }
    takers |= {f"{main.name} main" for main in model.flowsheet.mains if streams & set(main.feeds)}
    depends = casadi.which_depends(model.residuals, model.symbols[place], 1, True)
    return [
        k for k, equation in enumerate(model.equations) if depends[k] and equation.station in takers
    ]
