"""Vacuum pans: one strike (grade of massecuite) over the period, all its pans taken as one."""

from canewright.laws.inversion import invert_produced
from canewright.model import (
    Equations,
    Fitted,
    Inlet,
    Outlet,
    Result,
    Setting,
    Station,
    condensing_heat,
    conserved,
    heat_content,
    vapour_heat,
)
from canewright.ops import Numeric
from canewright.properties import steam
from canewright.streams import Condensate, Magma, Massecuite, Molasses, Syrup, Vapour, Water


class VacuumPan(Station):
    """All pans of one strike: liquors, footing and movement water in, massecuite out.

    Assumes the period's average: what is fed is dropped, apart from what tanks hold. The
    crystal follows from the purity of the mother liquor at the drop. Sulphite, lime and
    phosphate are followed only up to the pans; by mass they stay in the ash.
    Sources: [own_derivation] balances; [rein2007] typical figures of strikes.
    """

    section = "boiling"
    cautions = ("steam and vacuum", "confined spaces")
    demands = ("heating.water", "movement_water.water")
    supplies = ("vapour.pressure",)
    expects = (
        ("purity_drop", "+", "massecuite.crystal"),
        ("solids", "+", "heating.water"),
    )
    feeds = Inlet(Syrup, Molasses, Magma, Massecuite, several=True)
    movement_water = Inlet(Water, optional=True)
    heating = Inlet(Vapour)
    massecuite = Outlet(Massecuite)
    vapour = Outlet(Vapour)
    condensate = Outlet(Condensate)

    solids = Setting("solids % massecuite at the drop", "%", (91.0, 93.0), bounds=(80, 99))
    temperature = Setting("temperature of massecuite at the drop", "degC", (65, 71), (45, 90))
    purity_drop = Fitted(
        "purity, massecuite less mother liquor", "%", (17, 22), (0.5, 45), source="rein2007"
    )
    heat_loss = Fitted("heat lost to surroundings % of heat given up", "%", (0, 5), bounds=(0, 20))
    inversion = Fitted("sucrose inverted % of sucrose fed", "%", (0, 0.06), bounds=(0, 2))
    colour_formed = Fitted("colour formed % of colour fed", "%", (0, 6), bounds=(-20, 60))
    movement = Setting("movement water % massecuite", "%", (1, 5), bounds=(0, 30))
    purity = Result("purity of massecuite", "%", (55, 88), bounds=(20, 100))

    def equations(self) -> Equations:
        feeds, massecuite, water = self.feeds, self.massecuite, self.movement_water
        inverted = self.inversion / 100 * sum(feed.sucrose for feed in feeds)
        yield from conserved(
            [*feeds, water],
            to=[massecuite, self.vapour],
            together={"sucrose": ("sucrose", "crystal")},
            less={
                "inverted": {
                    "sucrose": inverted,
                    "reducing_sugars": -invert_produced(inverted),
                    "water": invert_produced(inverted) - inverted,
                },
                "formed": {
                    "colour": -self.colour_formed / 100 * sum(feed.colour for feed in feeds)
                },
            },
            without=("sulphite", "lime", "phosphate"),
        )
        yield "heating vapour condensed", self.condensate.water, self.heating.water
        yield (
            "heat",
            condensing_heat(self.heating) * (1 - self.heat_loss / 100)
            + sum(heat_content(feed) for feed in feeds)
            + (heat_content(water) if water.connected else 0.0),
            heat_content(massecuite)
            + vapour_heat(self.vapour, massecuite.temperature - self.saturation()),
        )
        yield "condensate temperature", self.condensate.temperature, self.saturation(heating=True)
        yield "solids of massecuite", massecuite.solids * 100, self.solids * massecuite.flow
        yield "purity of massecuite", massecuite.all_sucrose * 100, self.purity * massecuite.solids
        yield (
            "purity of mother liquor",
            massecuite.sucrose * 100,
            (self.purity - self.purity_drop) * massecuite.dissolved,
        )
        yield "temperature of massecuite", massecuite.temperature, self.temperature
        if water.connected:
            yield "movement water", water.water * 100, self.movement * massecuite.flow

    def saturation(self, heating: bool = False) -> Numeric:
        """Saturation temperature in the vapour space, or of the heating vapour. [degC]."""
        pressure = self.heating.pressure if heating else self.vapour.pressure
        return steam.saturation_temperature(pressure)
