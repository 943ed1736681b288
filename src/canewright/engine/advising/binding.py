"""What holds money back at an optimum: limits and ends of settings with their shadow prices."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from canewright.engine.advising.advise import STANDS, Chosen, Optimiser
from canewright.engine.advising.optimum import Best, Given
from canewright.engine.equations.simulate import SolveFailed

PAYS = 1e-6
"""Money, relative to what the factory earns, below which a limit does not bind."""
EASED = 4
"""Limits eased, one at a time, to see what comes next."""


@dataclass(frozen=True)
class Binding:
    """A limit, or an end of a setting, that holds money back.

    Attributes
    ----------
    name, label, unit : str
    side : str
        "at most" or "at least".
    value : float
    price : float
        Money a day that one unit of room is worth.
    kind : str
        "limit", "quality", "reach" (how far a setting is moved in a shift) or "bound" (validity
        of the equations).
    worth : float
        Money a day that a typical step of room is worth: 1 % of the limit, or a whole reach.
    """

    name: str
    label: str
    unit: str
    side: str
    value: float
    price: float
    kind: str
    worth: float
    words: str
    per_period: bool = False


def binding(optimiser: Optimiser, chosen: Chosen) -> list[Binding]:
    """Limits and ends that hold money back, the dearest first."""
    best, given = chosen.best, chosen.given or optimiser.given
    pays = PAYS * max(abs(best.money), 1.0)
    found = []
    for k, bound in enumerate(optimiser.bounds):
        price = bound.sign * float(best.limit_prices[k])
        worth = 0.01 * bound.scale * price
        if worth > pays:
            found.append(
                Binding(
                    bound.name,
                    bound.label,
                    bound.unit,
                    bound.side,
                    float(given.limits[k]),
                    price,
                    bound.kind,
                    worth,
                    bound.words,
                    bound.per_period,
                )
            )
    for k in chosen.moved:
        found += _end(optimiser, k, best, given, pays)
    return sorted(found, key=lambda one: -one.worth)


def _end(optimiser: Optimiser, k: int, best: Best, given: Given, pays: float) -> list[Binding]:
    one, value = optimiser.settings[k], float(best.settings[k])
    span = max(given.high[k] - given.low[k], 1e-300)
    for side, end, sign in (("at most", given.high[k], 1.0), ("at least", given.low[k], -1.0)):
        price = sign * float(best.setting_prices[k])
        if abs(value - end) <= STANDS * span and price * one.reach > pays:
            bound = one.upper if side == "at most" else one.lower
            hard = abs(end - bound) <= STANDS * span
            words = (
                f"{one.label} {side} {end:.5g} {one.unit}, where the equations end"
                if hard
                else f"{one.label} {side} {end:.5g} {one.unit}, as far as it is moved in a "
                f"shift ({one.reach:.3g} {one.unit})"
            )
            kind = "bound" if hard else "reach"
            return [
                Binding(
                    one.name,
                    one.label,
                    one.unit,
                    side,
                    float(end),
                    price,
                    kind,
                    price * one.reach,
                    words,
                )
            ]
    return []


@dataclass(frozen=True)
class Coming:
    """The limit that comes next.

    Attributes
    ----------
    limit : str
        In words.
    eased : Binding or None
        The limit that was eased to meet it, and `gain` the money a day that easing brought.
    further : float
        Where none needed easing: how much further all moves could go before it binds. [% of them]
    """

    limit: str
    eased: Binding | None = None
    gain: float = 0.0
    further: float = 0.0


def next_binding(optimiser: Optimiser, chosen: Chosen) -> Coming | None:
    """Which limit comes next.

    A dear limit is eased: taken away, or what is moved no further in a shift is moved twice as
    far; the dearest first, and where nothing new binds then, the one after it. Where easing
    brings nothing new, it is the limit that all moves together would meet first if they went on.

    Returns
    -------
    Coming or None
        None where nothing is moved, or nothing else comes.
    """
    now = binding(optimiser, chosen)
    given = chosen.given or optimiser.given
    known = {one.words for one in now}
    for first in now[:EASED]:
        eased, without = _eased(optimiser, given, first)
        try:
            best = optimiser.program.solve(eased, warm=chosen.best, without=without)
        except SolveFailed:
            continue
        then = binding(optimiser, Chosen(best, optimiser.moves(best.settings), given=eased))
        fresh = [one for one in then if one.words not in known and one.name != first.name]
        if fresh:
            return Coming(fresh[0].words, first, best.money - chosen.best.money)
    return _ahead(optimiser, chosen, given, known)


def _ahead(
    optimiser: Optimiser, chosen: Chosen, given: Given, known: Collection[str]
) -> Coming | None:
    """The limit met first by the moves going on as they went."""
    met: list[tuple[float, str]] = []
    best, found = chosen.best, optimiser.settings_found
    for k in chosen.moved:
        one, value, move = optimiser.settings[k], best.settings[k], best.settings[k] - found[k]
        end, side = (given.high[k], "at most") if move > 0 else (given.low[k], "at least")
        words = f"{one.label} {side} {end:.5g} {one.unit}"
        if not any(other.startswith(words) for other in known):
            met.append(((end - value) / move, words))
    before = optimiser.program.limit_values(optimiser.found.values, given)
    after = optimiser.program.limit_values(best.values, given)
    for k, bound in enumerate(optimiser.bounds):
        move = bound.sign * (after[k] - before[k])
        if k not in given.absent and bound.words not in known and move > STANDS * bound.scale:
            met.append((bound.sign * (given.limits[k] - after[k]) / move, bound.words))
    if not met:
        return None
    further, words = min(met)
    return Coming(words, further=100 * max(float(further), 0.0))


def _eased(optimiser: Optimiser, given: Given, first: Binding) -> tuple[Given, list[int]]:
    """The same with one limit away, or one setting free to move twice as far."""
    if first.kind in ("limit", "quality"):
        bounds = enumerate(optimiser.bounds)
        return given, [k for k, bound in bounds if bound.words == first.words]
    low, high = given.low.copy(), given.high.copy()
    for k, one in enumerate(optimiser.settings):
        if one.name == first.name:
            low[k] = max(low[k] - one.reach, one.lower)
            high[k] = min(high[k] + one.reach, one.upper)
    return replace(given, low=low, high=high), []
