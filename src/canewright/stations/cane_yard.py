"""Cane yard and weighbridge: what the cane is when it is crushed."""

from canewright.laws import inversion
from canewright.model import Equations, Fitted, Outlet, Setting, Station, conserved
from canewright.streams import Cane


class CaneYard(Station):
    """Cane as weighed, and as it is at the carrier after standing in the yard.

    What enters the factory is the cane as weighed. Sucrose lost while it stands becomes
    reducing sugars, which bind water: a row of the ledger of its own.

    Assumes that all sucrose lost is inverted (polysaccharides, acids and ethanol are not
    told apart) and that standing cane keeps its weight.
    Sources: [larrahondo2006] for the rate of deterioration, [common_practice] for the cane.
    """

    section = "cane"
    cane = Outlet(Cane)

    cane_rate = Setting("cane crushed", "t/h", (100, 400))
    sucrose_percent = Setting("sucrose % cane as weighed", "%", (11, 15.5))
    fibre_percent = Setting("fibre % cane", "%", (12, 16))
    reducing_sugars_percent = Setting("reducing sugars % cane as weighed", "%", (0.3, 0.9))
    ash_percent = Setting("ash % cane", "%", (0.4, 0.8))
    organics_percent = Setting("other non-sugars % cane", "%", (0.7, 1.3))
    soil_percent = Setting("soil % cane", "%", (0.2, 1.0), bounds=(0, 15))
    hours_to_crushing = Setting("hours from weighing to crushing", "h", (1, 9), bounds=(0, 120))
    deterioration = Fitted(
        "sucrose % cane lost per hour",
        "% per h",
        (0.010, 0.023),
        bounds=(0, 0.2),
        source="larrahondo2006",
    )

    expects = (
        ("hours_to_crushing", "-", "cane.sucrose"),
        ("hours_to_crushing", "+", "cane.reducing_sugars"),
        ("fibre_percent", "-", "cane.water"),
    )

    def equations(self) -> Equations:
        per_percent = self.cane_rate / 100
        weighed = {
            "sucrose": self.sucrose_percent * per_percent,
            "reducing_sugars": self.reducing_sugars_percent * per_percent,
            "ash": self.ash_percent * per_percent,
            "organics": self.organics_percent * per_percent,
            "fibre": self.fibre_percent * per_percent,
            "soil": self.soil_percent * per_percent,
        }
        weighed["water"] = self.cane_rate - sum(weighed.values())
        lost = self.hours_to_crushing * self.deterioration * per_percent
        invert = inversion.invert_produced(lost)
        yield from conserved(
            [],
            to=self.cane,
            less={
                "cane as weighed": {name: -amount for name, amount in weighed.items()},
                "deteriorated in the yard": {
                    "sucrose": lost,
                    "reducing_sugars": -invert,
                    "water": invert - lost,
                },
            },
        )
