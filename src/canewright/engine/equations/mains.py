"""Mains: steam, vapour, water, condensate and power under one name for many users."""

from collections.abc import Mapping

from canewright.flowsheet.connect import Main
from canewright.model import Equations, conserved
from canewright.properties import steam
from canewright.streams import State


def main_equations(main: Main, states: Mapping[str, State]) -> Equations:
    """One pressure throughout, what is drawn equals what is fed, temperatures mix.

    Assumes no loss of pressure or heat in the main. Steam mixes by enthalpy, water and
    condensate by temperature (their specific heat changes by under 1 % between 20 and 120
    degC).
    """
    feeds = [states[name] for name in main.feeds]
    draws = [states[name] for name in main.draws]
    first = feeds[0]
    yield from conserved(feeds, to=draws)
    for branch in (*feeds[1:], *draws):
        if "pressure" in first.values:
            yield f"pressure at {branch.name}", branch.pressure, first.pressure
    if "temperature" in first.values:
        mixed = first if len(feeds) == 1 else draws[0]
        for branch in draws if len(feeds) == 1 else draws[1:]:
            yield f"temperature at {branch.name}", branch.temperature, mixed.temperature
        if len(feeds) > 1:
            yield "heat", sum(_heat(feed, feed) for feed in feeds), _all_drawn(draws, mixed)


def _heat(state: State, at: State) -> object:
    if "pressure" in state.values:
        return state.water * steam.steam_enthalpy(at.pressure, at.temperature)
    return state.water * at.temperature


def _all_drawn(draws: list[State], mixed: State) -> object:
    total = sum(draw.water for draw in draws)
    if "pressure" in mixed.values:
        return total * steam.steam_enthalpy(mixed.pressure, mixed.temperature)
    return total * mixed.temperature
