"""Mills: each by itself, the train of them with compound imbibition, and its water."""

from collections.abc import Mapping
from typing import Any

from canewright.model import (
    Equations,
    Fitted,
    Inlet,
    Outlet,
    Result,
    Setting,
    Station,
    Train,
    conserved,
)
from canewright.streams import Bagasse, Cane, MillJuice, Power, Water

BRIX_FREE_WATER = 0.25
"""Water that fibre holds and no sugar enters, t per t dry fibre [south_african_terms]."""


class Mill(Station):
    """One mill: cane or bagasse and imbibition in, juice and bagasse out.

    Perfect mixing would give an expressed juice as rich as all the free water of the feed
    and the imbibition taken together. How far the mill comes to that is one parameter for
    sucrose and one for the rest: a dry mill lies near or above 100 %, a wet mill below it
    by the imbibition that slips past the juice in the cells.

    Assumes that water bound to fibre stays with the fibre, and that fibre and soil come
    with the juice in proportion to what is fed.
    Sources: [south_african_terms] for the water bound to fibre, [mill_extraction_lecture]
    for power (half to two thirds of what it says is installed), [common_practice] for the
    rest.
    """

    section = "milling"
    cautions = ("rotating machinery",)
    feed = Inlet(Cane, Bagasse, several=True)
    imbibition = Inlet(Water, MillJuice, optional=True)
    power = Inlet(Power, optional=True)
    juice = Outlet(MillJuice)
    bagasse = Outlet(Bagasse)
    demands = ("power.power",)

    moisture = Fitted("moisture % bagasse", "%", (48, 58), bounds=(30, 75))
    mixing = Fitted(
        "mixing of imbibition: sucrose in juice % of perfect mixing", "%", (75, 105), (20, 130)
    )
    non_sugar_mixing = Fitted("non-sugars in juice % of perfect mixing", "%", (60, 95), (15, 130))
    bagacillo = Fitted("fibre in juice % of fibre fed", "%", (0.5, 4), bounds=(0.01, 15))
    soil_in_juice = Fitted("soil in juice % of soil fed", "%", (20, 60), bounds=(1, 95))
    specific_power = Fitted(
        "power per fibre fed",
        "kW.h/t",
        (9, 15),
        bounds=(1, 60),
        source="mill_extraction_lecture",
    )
    juice_held = Result(
        "juice held per fibre in bagasse",
        "t/t",
        (0.7, 2.4),
        bounds=(0, 20),
        why="Water bound to fibre not counted: what the next mill has to wash out.",
    )

    expects = (
        ("moisture", "-", "juice.water"),
        ("mixing", "-", "bagasse.sucrose"),
        ("imbibition.water", "-", "bagasse.sucrose"),
        ("moisture", "+", "juice_held"),
        ("feed0.fibre", "+", "power.power"),
    )

    def equations(self) -> Equations:
        water, juice, bagasse = self.imbibition, self.juice, self.bagasse
        fibre = sum(part.fibre for part in self.feed)
        free_water = sum(part.water for part in self.feed) + water.water - BRIX_FREE_WATER * fibre
        yield from conserved([*self.feed, water], to=[juice, bagasse])
        for component, mixing in (
            ("sucrose", self.mixing),
            ("reducing_sugars", self.mixing),
            ("ash", self.non_sugar_mixing),
            ("organics", self.non_sugar_mixing),
        ):
            fed = sum(getattr(part, component) for part in (*self.feed, water))
            yield (
                f"{component.replace('_', ' ')} in juice",
                getattr(juice, component) * free_water,
                mixing / 100 * fed * juice.water,
            )
        yield "moisture of bagasse", bagasse.water * 100, self.moisture * bagasse.flow
        yield "fibre in juice", juice.fibre, self.bagacillo / 100 * (fibre + water.fibre)
        soil = sum(part.soil for part in (*self.feed, water))
        yield "soil in juice", juice.soil, self.soil_in_juice / 100 * soil
        yield (
            "juice held",
            self.juice_held * bagasse.fibre,
            bagasse.liquor - BRIX_FREE_WATER * bagasse.fibre,
        )
        if self.power.connected:
            yield "power", self.power.power, self.specific_power * fibre


class Imbibition(Station):
    """Imbibition water, set in proportion to the fibre of the cane that passes by.

    Assumes that the fibre meant is that of the cane, before cush-cush returns.
    Sources: [common_practice] for the rate.
    """

    section = "milling"
    cane_in = Inlet(Cane)
    cane_out = Outlet(Cane)
    water_in = Inlet(Water)
    water = Outlet(Water, share=0.3)
    demands = ("water_in.water",)

    imbibition_percent_fibre = Setting("imbibition % fibre", "%", (150, 300), bounds=(0, 600))

    expects = (
        ("imbibition_percent_fibre", "+", "water.water"),
        ("cane_in.fibre", "+", "water_in.water"),
    )

    def equations(self) -> Equations:
        yield from conserved([self.cane_in, self.water_in], to=[self.cane_out, self.water])
        yield "water of cane", self.cane_out.water, self.cane_in.water
        yield (
            "imbibition",
            100 * self.water.water,
            self.imbibition_percent_fibre * self.cane_in.fibre,
        )
        yield "temperature", self.water.temperature, self.water_in.temperature


class MillingTrain(Train):
    """Mills in a row under counter-current imbibition, written as one entry.

    Water goes on the last mill; the juice of each mill goes on the mill before it, as far as
    mill `juice_from`; the juices of the mills up to that one, joined, are the mixed juice.
    Quantities of a mill written for the train hold for every mill that does not say
    otherwise in its own table under `mills`.

    Assumes what a mill assumes.
    Sources: [south_african_terms].
    """

    section = "milling"

    @classmethod
    def expand(cls, entry: Mapping[str, Any]) -> list[dict[str, Any]]:
        """Entries of the single mills and of the mixer that joins their juice.

        Parameters
        ----------
        entry : mapping
            `name`, `cane`, `imbibition`, `juice`, `bagasse`, `mills` (one table a mill), and
            optionally `juice_from`, `cush_cush` (returned to the second mill), `power` and
            quantities for all mills.

        Raises
        ------
        ValueError
            With a sentence, where the entry does not make sense.
        """
        name = str(entry.get("name", "mills"))
        mills, juice_from = _checked(name, entry)
        for_all = {key: entry[key] for key in Mill.quantities if key in entry}
        prefix = "" if name == "mills" else f"{name} "
        names = [f"{prefix}mill {number}" for number in range(1, len(mills) + 1)]
        entries: list[dict[str, Any]] = []
        for number, (mill_name, values) in enumerate(zip(names, mills, strict=True), start=1):
            last = number == len(mills)
            feed = [entry["cane"] if number == 1 else f"bagasse of {names[number - 2]}"]
            if number == 2 and "cush_cush" in entry:
                feed.append(entry["cush_cush"])
            mill: dict[str, Any] = {"name": mill_name, "kind": Mill.kind, "feed": feed}
            if last:
                mill["imbibition"] = entry["imbibition"]
            elif number >= juice_from:
                mill["imbibition"] = f"juice of {names[number]}"
            if "power" in entry:
                mill["power"] = entry["power"]
            mill["juice"] = f"juice of {mill_name}"
            mill["bagasse"] = entry["bagasse"] if last else f"bagasse of {mill_name}"
            entries.append({**mill, **for_all, **values})
        if juice_from == 1:
            entries[0]["juice"] = entry["juice"]
        else:
            joined = [f"juice of {mill_name}" for mill_name in names[:juice_from]]
            entries.append(
                {
                    "name": f"{prefix}mixed juice of mills",
                    "kind": "mixer",
                    "first": joined[0],
                    "others": joined[1:],
                    "mixture": entry["juice"],
                }
            )
        return entries


_NEEDED = ("cane", "imbibition", "juice", "bagasse", "mills")
_KNOWN = ("name", "kind", *_NEEDED, "juice_from", "cush_cush", "power")


def _checked(name: str, entry: Mapping[str, Any]) -> tuple[list[Mapping[str, Any]], int]:
    """The tables of the mills and the number of the last mill whose juice is joined."""
    at = f"Milling train '{name}'"
    for key in _NEEDED:
        if key not in entry:
            raise ValueError(f"{at}: '{key}' is missing.")
    for key in entry:
        if key not in _KNOWN and key not in Mill.quantities:
            raise ValueError(f"{at}: '{key}' is no word for a train; it knows {_words(_KNOWN)}.")
    mills = entry["mills"]
    if not isinstance(mills, list) or not all(isinstance(mill, Mapping) for mill in mills):
        raise ValueError(
            f"{at}: 'mills' is a list with one table a mill, as in [{{}}, {{}}, {{}}]."
        )
    if len(mills) < 2:
        raise ValueError(f"{at} has {len(mills)} mill(s); a train has two or more.")
    for number, mill in enumerate(mills, start=1):
        for key in mill:
            if key not in Mill.quantities:
                known = _words(tuple(Mill.quantities))
                raise ValueError(f"{at}, mill {number}: a mill has no '{key}', only {known}.")
    juice_from = entry.get("juice_from", 2)
    if not isinstance(juice_from, int) or not 1 <= juice_from <= len(mills):
        raise ValueError(
            f"{at}: juice_from is the number of mills whose juice is joined, from 1 to "
            f"{len(mills)}, not {juice_from!r}."
        )
    return mills, juice_from


def _words(names: tuple[str, ...]) -> str:
    return ", ".join(names)
