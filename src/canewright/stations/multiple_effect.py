"""The multiple effect: bodies in a row, their vapour mains, and the flash of condensate."""

import difflib
from collections.abc import Mapping, Sequence
from typing import Any

from canewright.model import Train
from canewright.properties import steam
from canewright.stations.evaporator import EvaporatorBody

FIRST_GUESS = (120.0, 56.0)
"""Temperatures of exhaust and of last vapour from which first guesses are spaced, degC."""

OWN_KEYS = (
    "name",
    "kind",
    "juice_in",
    "juice_out",
    "steam",
    "exhaust_condensate",
    "condensate",
    "flash",
    "bodies",
)
BODY_KEYS = ("vapour", "heating")
REQUIRED = ("name", "juice_in", "juice_out", "steam", "exhaust_condensate")


class MultipleEffect(Train):
    """A multiple-effect evaporator of any number of bodies, with the flash of its condensate.

    Keys: `juice_in`, `juice_out`, `steam` (the main that heats the first body),
    `exhaust_condensate`, `condensate` (needed from two bodies on) and `bodies`, one table a
    body with its `surface`, the name of its `vapour` and any quantity of an evaporator body;
    a quantity written beside `bodies` holds for all of them. A body is heated by the vapour
    of the one before, or by the main named in its own `heating` (two first bodies in
    parallel). Any station that uses the name of a vapour bleeds it. `flash = false` sends
    the condensate away without letting it flash.

    Assumes that bleeds leave before the flash vapour joins, that the condensate of every
    calandria but those on exhaust flashes from main to main, and that exhaust condensate
    leaves unflashed for the boilers. Bleeding and flash together save what a factory that
    brought them in found, 100 kg of steam a tonne of cane, within a quarter.
    Sources: [own_derivation], [arunaprasad2017].
    """

    section = "evaporation"

    @classmethod
    def expand(cls, entry: Mapping[str, Any]) -> list[dict[str, Any]]:
        """Entries of the bodies, named "<name> body 1" and so on, and of the flash vessels.

        Raises
        ------
        ValueError
            With a sentence, for a missing or unknown key or an evaporator without bodies.
        """
        bodies = _checked(entry)
        name, steam_main = str(entry["name"]), str(entry["steam"])
        common = {key: value for key, value in entry.items() if key not in OWN_KEYS}
        vapours = [
            str(body.get("vapour", f"{name} vapour {number}"))
            for number, body in enumerate(bodies, start=1)
        ]
        heatings = [
            str(body.get("heating", vapours[number - 1] if number else steam_main))
            for number, body in enumerate(bodies)
        ]
        levels = list(dict.fromkeys(vapours))
        drains = _Drains(name, entry, steam_main, levels, heatings)
        entries = []
        for number, body in enumerate(bodies, start=1):
            last = number == len(bodies)
            own = {key: value for key, value in body.items() if key not in BODY_KEYS}
            effect = levels.index(vapours[number - 1]) + 1
            entries.append(
                {
                    "vapour_pressure": _guess(effect, len(levels)),
                    **common,
                    **own,
                    "name": f"{name} body {number}",
                    "kind": EvaporatorBody.kind,
                    "juice_in": entry["juice_in"]
                    if number == 1
                    else f"juice of {name} body {number - 1}",
                    "juice_out": entry["juice_out"] if last else f"juice of {name} body {number}",
                    "heating": heatings[number - 1],
                    "condensate": drains.of(heatings[number - 1]),
                    "vapour": vapours[number - 1],
                }
            )
        return entries + drains.vessels()


class _Drains:
    """Where the condensate of each calandria goes."""

    def __init__(
        self,
        name: str,
        entry: Mapping[str, Any],
        steam_main: str,
        levels: Sequence[str],
        heatings: Sequence[str],
    ) -> None:
        self.name = name
        self.exhaust = str(entry["exhaust_condensate"])
        self.final = str(entry.get("condensate", ""))
        self.steam_main = steam_main
        self.levels = levels
        flashing = entry.get("flash", True)
        heating_mains = [level for level in levels if level in heatings]
        self.chain = heating_mains if flashing else heating_mains[-1:]

    def of(self, heating: str) -> str:
        """Stream that takes the condensate of a body heated by this main."""
        if heating not in self.levels:
            return self.exhaust
        if heating not in self.chain[:-1]:
            return self.final
        return f"condensate of {self.name} under {heating}"

    def vessels(self) -> list[dict[str, Any]]:
        """One flash vessel between each vapour main and the next."""
        return [
            {
                "name": f"{self.name} condensate flash {number}",
                "kind": "condensate_flash",
                "condensate_in": self.of(upper),
                "condensate_out": self.of(lower),
                "flash": lower,
            }
            for number, (upper, lower) in enumerate(
                zip(self.chain, self.chain[1:], strict=False), start=1
            )
        ]


def _guess(effect: int, effects: int) -> str:
    high, low = FIRST_GUESS
    temperature = high - (high - low) * effect / effects
    return f"{float(steam.saturation_pressure(temperature)):.4g} bar abs"


def _checked(entry: Mapping[str, Any]) -> Sequence[Mapping[str, Any]]:
    """The bodies of an entry whose keys are all known and complete."""
    name = entry.get("name", "without a name")
    where = f"Station '{name}' (multiple_effect)"
    bodies = entry.get("bodies")
    if not bodies or not isinstance(bodies, list):
        raise ValueError(f"{where}: write bodies = [...], one table for each body.")
    required = [*REQUIRED, "condensate"] if len(bodies) > 1 else list(REQUIRED)
    for key in required:
        if key not in entry:
            raise ValueError(f"{where}: '{key}' is missing. Write {key} = \"name\".")
    quantities = list(EvaporatorBody.quantities)
    _refuse_unknown(where, entry, [*OWN_KEYS, *quantities])
    for number, body in enumerate(bodies, start=1):
        _refuse_unknown(f"{where}, body {number}", body, [*BODY_KEYS, *quantities])
        if "surface" not in body and "surface" not in entry:
            raise ValueError(f"{where}, body {number}: its 'surface' is missing.")
    return bodies


def _refuse_unknown(where: str, table: Mapping[str, Any], known: Sequence[str]) -> None:
    for key in table:
        if key not in known:
            close = difflib.get_close_matches(key, known, n=1, cutoff=0.5)
            hint = f" Did you mean '{close[0]}'?" if close else ""
            raise ValueError(f"{where}: there is no key '{key}'.{hint}")
