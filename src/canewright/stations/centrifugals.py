"""Centrifugals, batch or continuous, and the mingling, melting and diluting around them."""

from canewright.model import (
    Equations,
    Fitted,
    Inlet,
    Outlet,
    Result,
    Setting,
    Station,
    conserved,
    heat_content,
)
from canewright.streams import NON_SUCROSE, Magma, Massecuite, Molasses, Power, Sugar, Syrup, Water


class Centrifugals(Station):
    """The machines of one grade: massecuite and wash water in, sugar and molasses out.

    A double cure is two of these with a magma mixer between them.
    Assumes that the film left on the crystal is molasses, and that crystal which passes the
    screen or is washed away ends dissolved in the molasses.
    Sources: [own_derivation] balances; [common_practice] for ranges.
    """

    section = "curing"
    cautions = ("rotating machinery",)
    demands = ("wash.water", "power.power")
    expects = (
        ("crystal_loss", "+", "molasses.sucrose"),
        ("film", "+", "sugar.ash"),
        ("wash_percent", "+", "molasses.water"),
    )
    massecuite = Inlet(Massecuite, Magma)
    wash = Inlet(Water, optional=True)
    sugar = Outlet(Sugar)
    molasses = Outlet(Molasses)
    power = Inlet(Power, optional=True)

    crystal_loss = Fitted("crystal dissolved or through the screen %", "%", (5, 13), (0, 60))
    film = Fitted("non-sucrose left on the crystal % of that fed", "%", (1.0, 4.0), (0.02, 60))
    moisture = Fitted("moisture % sugar", "%", (0.4, 1.2), bounds=(0.02, 12))
    crystal_colour = Fitted(
        "colour of crystal % of colour of massecuite, on solids", "%", (1.5, 4), bounds=(0.05, 60)
    )
    wash_percent = Setting("wash water % massecuite", "%", (1, 3), bounds=(0, 20))
    specific_power = Fitted("power per t massecuite", "kWh/t", (1.5, 4), bounds=(0, 20))
    sugar_purity = Result("purity of sugar", "%", (80, 100), bounds=(30, 100))
    molasses_purity = Result("purity of molasses", "%", (30, 75), bounds=(10, 100))

    def equations(self) -> Equations:
        massecuite, wash, sugar, molasses = self.massecuite, self.wash, self.sugar, self.molasses
        yield from conserved(
            [massecuite, wash],
            to=[sugar, molasses],
            together={"sucrose": ("sucrose", "crystal")},
        )
        yield (
            "heat",
            heat_content(massecuite) + (heat_content(wash) if wash.connected else 0.0),
            heat_content(sugar) + heat_content(molasses),
        )
        yield "temperature", sugar.temperature, molasses.temperature
        yield "crystal kept", sugar.crystal, (1 - self.crystal_loss / 100) * massecuite.crystal
        for component in NON_SUCROSE:
            yield (
                f"{component.replace('_', ' ')} in film",
                getattr(sugar, component),
                self.film / 100 * getattr(massecuite, component),
            )
        yield (
            "sucrose in film",
            sugar.sucrose * molasses.non_sucrose,
            molasses.sucrose * sugar.non_sucrose,
        )
        yield "moisture of sugar", sugar.water * 100, self.moisture * sugar.flow
        yield (
            "colour of sugar",
            sugar.colour * massecuite.solids,
            self.film / 100 * massecuite.colour * massecuite.solids
            + self.crystal_colour / 100 * massecuite.colour * sugar.crystal,
        )
        yield "purity of sugar", sugar.all_sucrose * 100, self.sugar_purity * sugar.solids
        yield (
            "purity of molasses",
            molasses.sucrose * 100,
            self.molasses_purity * molasses.dissolved,
        )
        if wash.connected:
            yield "wash water", wash.water * 100, self.wash_percent * massecuite.flow
        if self.power.connected:
            yield "power", self.power.power, self.specific_power * massecuite.flow


class MagmaMixer(Station):
    """Sugar mingled with water to a magma that can be pumped.

    Assumes that a small part of the crystal dissolves.
    Sources: [own_derivation]; [common_practice] for ranges.
    """

    section = "curing"
    cautions = ("rotating machinery",)
    demands = ("water.water",)
    expects = (("solids", "-", "water.water"), ("dissolved", "-", "magma.crystal"))
    sugar = Inlet(Sugar)
    water = Inlet(Water)
    magma = Outlet(Magma)

    solids = Setting("solids % magma", "%", (88, 92), bounds=(70, 97))
    dissolved = Fitted("crystal dissolved % of crystal", "%", (3, 9), bounds=(0, 40))

    def equations(self) -> Equations:
        sugar, water, magma = self.sugar, self.water, self.magma
        yield from conserved([sugar, water], to=magma, together={"sucrose": ("sucrose", "crystal")})
        yield "heat", heat_content(sugar) + heat_content(water), heat_content(magma)
        yield "solids of magma", magma.solids * 100, self.solids * magma.flow
        yield "crystal kept", magma.crystal, (1 - self.dissolved / 100) * sugar.crystal


class Remelter(Station):
    """Magma, sugar or dust dissolved in hot water; the melt joins the syrup.

    Assumes that all crystal dissolves.
    Sources: [own_derivation]; [common_practice] for ranges.
    """

    section = "curing"
    demands = ("water.water",)
    expects = (("solids", "-", "water.water"),)
    feeds = Inlet(Magma, Sugar, several=True)
    water = Inlet(Water)
    melt = Outlet(Syrup, share=0.03)

    solids = Setting("solids % melt", "%", (60, 66), bounds=(40, 75))

    def equations(self) -> Equations:
        yield from conserved(
            [*self.feeds, self.water],
            to=self.melt,
            together={"sucrose": ("sucrose", "crystal")},
        )
        yield (
            "heat",
            sum(heat_content(feed) for feed in self.feeds) + heat_content(self.water),
            heat_content(self.melt),
        )
        yield "solids of melt", self.melt.solids * 100, self.solids * self.melt.flow


class MolassesConditioner(Station):
    """Molasses diluted with water so that fine crystal dissolves before it is boiled again.

    Assumes mixing without loss.
    Sources: [own_derivation]; [common_practice] for ranges.
    """

    section = "curing"
    demands = ("water.water",)
    expects = (("solids", "-", "water.water"),)
    molasses_in, molasses_out = Inlet(Molasses), Outlet(Molasses)
    water = Inlet(Water)

    solids = Setting("solids % molasses leaving", "%", (70, 76), bounds=(50, 90))

    def equations(self) -> Equations:
        thick, thin = self.molasses_in, self.molasses_out
        yield from conserved([thick, self.water], to=thin)
        yield "heat", heat_content(thick) + heat_content(self.water), heat_content(thin)
        yield "solids of molasses", thin.solids * 100, self.solids * thin.flow
