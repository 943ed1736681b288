"""Cane washing: soil comes off whole-stalk cane, and some of its sugar with it."""

from canewright.model import Equations, Fitted, Inlet, Outlet, Setting, Station, conserved
from canewright.streams import DISSOLVED, Cane, MillJuice, Water


class CaneWashing(Station):
    """One wash of the cane on the table or the carrier; for two washes place it twice.

    Assumes that non-sugars go to the water in the same share as sucrose.
    Sources: [common_practice]: whole stalk loses 0.5 to 1.5 % of its sucrose, billets 2 to
    3 % and more (no measured table was found; measure the water).
    """

    section = "cane"
    cautions = ("rotating machinery",)
    cane_in = Inlet(Cane)
    water_in = Inlet(Water)
    cane_out = Outlet(Cane)
    wash_water = Outlet(MillJuice, share=5.0)
    demands = ("water_in.water",)

    water_rate = Setting("wash water per cane", "t/t", (3, 10), bounds=(0, 40))
    sucrose_to_water = Fitted("sucrose to water % of sucrose fed", "%", (0.5, 1.5), (0, 20))
    soil_removed = Fitted("soil removed % of soil fed", "%", (40, 80), bounds=(0, 100))
    fibre_to_water = Fitted("fibre to water % of fibre fed", "%", (0.1, 0.7), bounds=(0, 20))
    water_kept = Fitted("water that clings % of cane", "%", (0.5, 3.5), bounds=(0, 20))

    expects = (
        ("sucrose_to_water", "-", "cane_out.sucrose"),
        ("soil_removed", "-", "cane_out.soil"),
        ("water_rate", "+", "wash_water.water"),
    )

    def equations(self) -> Equations:
        cane, water, washed, dirty = self.cane_in, self.water_in, self.cane_out, self.wash_water
        yield from conserved([cane, water], to=[washed, dirty])
        for component in DISSOLVED:
            yield (
                f"{component.replace('_', ' ')} to water",
                getattr(dirty, component),
                self.sucrose_to_water / 100 * getattr(cane, component),
            )
        yield "fibre to water", dirty.fibre, self.fibre_to_water / 100 * cane.fibre
        yield "soil removed", dirty.soil, self.soil_removed / 100 * cane.soil
        yield "wash water", water.water, self.water_rate * cane.flow
        yield "water that clings", washed.water - cane.water, self.water_kept / 100 * cane.flow
