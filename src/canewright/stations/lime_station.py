"""Lime station: burnt lime slaked to milk of lime of a set strength."""

from canewright.laws import lime_and_phosphate
from canewright.model import Equations, Inlet, Outlet, Result, Setting, Station, conserved
from canewright.streams import MilkOfLime, Water


class LimeStation(Station):
    """Slaking and dilution; lime comes from outside the balance and draws its water.

    Milk of lime holds its lime as CaO in the ash; the water bound in Ca(OH)2 counts as
    water. Slaking gives 1159 MJ per t CaO, which dilution takes up.

    Assumes that grit goes with the milk (grit taken out beforehand is not in
    `grit_percent`), that its volume is nothing, and that no water boils off.
    Sources: [own_derivation] for the density of milk, [common_practice] for strength and
    grit.
    """

    section = "juice"
    cautions = ("lime", "confined spaces")
    water_in = Inlet(Water)
    milk_of_lime = Outlet(MilkOfLime)
    demands = ("water_in.water",)

    lime_rate = Setting("available lime fed, as CaO", "kg/h", (150, 500), bounds=(0, 20000))
    milk_strength = Setting("lime in milk, as CaO", "g/L", (90, 150), bounds=(10, 300))
    grit_percent = Setting("grit % lime and grit", "%", (2, 10), bounds=(0, 50))
    milk_volume = Result("milk of lime", "m3/h", (1.3, 4), bounds=(0, 500))
    milk_density = Result("density of milk without grit", "kg/m3", (1060, 1110), (990, 1400))

    expects = (
        ("lime_rate", "+", "water_in.water"),
        ("milk_strength", "-", "water_in.water"),
        ("milk_strength", "+", "milk_density"),
        ("grit_percent", "+", "milk_of_lime.soil"),
    )

    def equations(self) -> Equations:
        milk = self.milk_of_lime
        lime = self.lime_rate / 1000
        grit = lime * self.grit_percent / (100 - self.grit_percent)
        yield from conserved(
            self.water_in,
            to=milk,
            less={"lime fed": {"ash": -lime, "soil": -grit, "lime": -self.lime_rate}},
        )
        yield "strength", self.milk_volume * self.milk_strength, self.lime_rate
        yield (
            "density",
            self.milk_density,
            lime_and_phosphate.milk_density(self.milk_strength),
        )
        yield (
            "mass of milk",
            1000 * milk.sum("ash", "water"),
            self.milk_volume * self.milk_density,
        )
