"""Kinds of streams: which components each can hold, its usual composition and its bounds."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from canewright.streams.components import CARRIED, CONDITIONS, DISSOLVED


@dataclass(frozen=True)
class Kind:
    """What a stream can hold.

    Parameters
    ----------
    name : str
        As printed and as written in messages.
    typical : mapping
        Component -> typical % by mass (carried quantities: their unit per t dissolved
        solids per hour; power: kW). Only a starting guess and a scale; never a result.
    share : float
        Typical flow as a share of the cane crushed, t per t. A starting guess.
    temperature, pressure : (low, typical, high) or None
        Hard bounds inside the validity of the property formulas, and a first guess.
    shared : bool
        A main: several stations may feed it and several draw from it under one name.
    """

    name: str
    typical: Mapping[str, float]
    share: float
    temperature: tuple[float, float, float] | None = None
    pressure: tuple[float, float, float] | None = None
    shared: bool = False
    fields: tuple[str, ...] = field(init=False)

    def __post_init__(self) -> None:
        conditions = [name for name in CONDITIONS if getattr(self, name) is not None]
        object.__setattr__(self, "fields", (*self.typical, *conditions))

    def guess(self, cane: float, share: float | None = None) -> dict[str, float]:
        """Typical values of every field for a factory crushing `cane` t/h."""
        flow = cane * (self.share if share is None else share)
        solids = flow * sum(self.typical.get(name, 0.0) for name in (*DISSOLVED, "crystal")) / 100
        values = {}
        for component, typical in self.typical.items():
            if component == "power":
                values[component] = typical * cane
            elif component in CARRIED:
                values[component] = typical * solids
            else:
                values[component] = typical * flow / 100
        for condition in CONDITIONS:
            bounds = getattr(self, condition)
            if bounds is not None:
                values[condition] = bounds[1]
        return values


JUICE_TEMPERATURE = (5.0, 60.0, 140.0)
_CARRIED_JUICE = {"colour": 12000.0, "sulphite": 1.0, "lime": 5.0, "phosphate": 2.0}
_CARRIED_SYRUP = {"colour": 9000.0, "sulphite": 1.0, "lime": 5.0, "phosphate": 0.3}

Cane = Kind(
    "cane",
    {
        "sucrose": 13.0,
        "reducing_sugars": 0.6,
        "ash": 0.6,
        "organics": 1.0,
        "fibre": 14.0,
        "soil": 1.0,
        "water": 69.8,
    },
    share=1.0,
)
Bagasse = Kind(
    "bagasse",
    {
        "sucrose": 2.2,
        "reducing_sugars": 0.12,
        "ash": 0.2,
        "organics": 0.3,
        "fibre": 46.0,
        "soil": 1.5,
        "water": 49.7,
    },
    share=0.3,
)
Juice = Kind(
    "juice",
    {
        "sucrose": 11.8,
        "reducing_sugars": 0.6,
        "ash": 0.6,
        "organics": 1.0,
        "fibre": 0.1,
        "soil": 0.6,
        "water": 85.3,
        **_CARRIED_JUICE,
    },
    share=1.05,
    temperature=JUICE_TEMPERATURE,
)
MillJuice = Kind(
    "mill juice",
    {name: value for name, value in Juice.typical.items() if name not in CARRIED},
    share=0.6,
)
ClearJuice = Kind(
    "clear juice",
    {
        "sucrose": 12.0,
        "reducing_sugars": 0.6,
        "ash": 0.65,
        "organics": 0.9,
        "water": 85.85,
        **_CARRIED_SYRUP,
    },
    share=1.08,
    temperature=JUICE_TEMPERATURE,
)
Syrup = Kind(
    "syrup",
    {
        "sucrose": 52.0,
        "reducing_sugars": 2.7,
        "ash": 2.9,
        "organics": 4.4,
        "water": 38.0,
        **_CARRIED_SYRUP,
    },
    share=0.25,
    temperature=(5.0, 65.0, 140.0),
)
Massecuite = Kind(
    "massecuite",
    {
        "sucrose": 25.0,
        "crystal": 50.0,
        "reducing_sugars": 5.0,
        "ash": 5.0,
        "organics": 7.5,
        "water": 7.5,
        "colour": 9000.0,
    },
    share=0.12,
    temperature=(20.0, 68.0, 95.0),
)
Magma = Kind("magma", Massecuite.typical, share=0.05, temperature=(20.0, 55.0, 95.0))
Molasses = Kind(
    "molasses",
    {
        "sucrose": 45.0,
        "reducing_sugars": 9.0,
        "ash": 10.0,
        "organics": 13.0,
        "water": 23.0,
        "colour": 30000.0,
    },
    share=0.07,
    temperature=(10.0, 55.0, 95.0),
)
Sugar = Kind(
    "sugar",
    {
        "sucrose": 0.7,
        "crystal": 98.6,
        "reducing_sugars": 0.15,
        "ash": 0.15,
        "organics": 0.1,
        "water": 0.3,
        "colour": 500.0,
    },
    share=0.1,
    temperature=(10.0, 50.0, 110.0),
)
Bags = Kind("bags", Sugar.typical, share=0.1)
Mud = Kind(
    "mud",
    {
        "sucrose": 10.0,
        "reducing_sugars": 0.5,
        "ash": 0.6,
        "organics": 0.8,
        "fibre": 1.0,
        "soil": 6.0,
        "water": 81.1,
        **_CARRIED_SYRUP,
    },
    share=0.14,
    temperature=JUICE_TEMPERATURE,
)
Cake = Kind(
    "cake",
    {
        "sucrose": 1.8,
        "reducing_sugars": 0.1,
        "ash": 0.3,
        "organics": 0.3,
        "fibre": 7.0,
        "soil": 18.0,
        "water": 72.5,
    },
    share=0.04,
)
Filtrate = Kind("filtrate", Juice.typical, share=0.16, temperature=JUICE_TEMPERATURE)
MilkOfLime = Kind("milk of lime", {"ash": 12.0, "soil": 0.6, "water": 87.4, "lime": 1000.0}, 0.011)
Vapour = Kind("vapour", {"water": 100.0}, share=0.1, pressure=(0.04, 0.9, 6.0), shared=True)
Steam = Kind(
    "steam",
    {"water": 100.0},
    share=0.4,
    temperature=(60.0, 250.0, 560.0),
    pressure=(0.5, 10.0, 110.0),
    shared=True,
)
Condensate = Kind(
    "condensate", {"water": 100.0}, share=0.1, temperature=(5.0, 95.0, 240.0), shared=True
)
Water = Kind("water", {"water": 100.0}, share=0.1, temperature=(2.0, 45.0, 160.0), shared=True)
Gas = Kind(
    "gas",
    {"so2": 12.0, "oxygen": 9.0, "nitrogen": 79.0},
    share=0.006,
    temperature=(0.0, 90.0, 400.0),
)
Air = Kind(
    "air", {"oxygen": 22.8, "nitrogen": 75.4, "water": 1.8}, 0.2, temperature=(-20.0, 60.0, 400.0)
)
Power = Kind("power", {"power": 2.0}, share=0.0, shared=True)

KINDS = {
    kind.name: kind
    for kind in (
        Cane,
        Bagasse,
        Juice,
        MillJuice,
        ClearJuice,
        Syrup,
        Massecuite,
        Magma,
        Molasses,
        Sugar,
        Bags,
        Mud,
        Cake,
        Filtrate,
        MilkOfLime,
        Vapour,
        Steam,
        Condensate,
        Water,
        Gas,
        Air,
        Power,
    )
}
