"""Condensate: flash from main to main, the hot water tank, the feedwater tank."""

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
    vapour_heat,
)
from canewright.properties import steam
from canewright.streams import Condensate, Vapour, Water


class CondensateFlash(Station):
    """A vessel in which condensate drops to the pressure of a vapour main and flashes into it.

    Assumes that the condensate leaves at the saturation temperature of the main, without
    loss of heat.
    Sources: [own_derivation].
    """

    section = "evaporation"
    cautions = ("steam and vacuum",)
    supplies = ("flash_pressure",)
    expects = (
        ("condensate_in.temperature", "+", "flash.water"),
        ("flash_pressure", "-", "flash.water"),
        ("condensate_in.water", "+", "flash.water"),
    )

    condensate_in = Inlet(Condensate)
    condensate_out = Outlet(Condensate)
    flash = Outlet(Vapour, share=0.005)

    flash_pressure = Result(
        "pressure of the main it flashes into", "bar abs", (0.12, 1.4), bounds=(0.04, 6)
    )

    def equations(self) -> Equations:
        pool, left, flash = self.condensate_in, self.condensate_out, self.flash
        yield from conserved(pool, to=[left, flash])
        yield "heat", heat_content(pool), heat_content(left) + vapour_heat(flash)
        yield (
            "temperature of condensate",
            left.temperature,
            steam.saturation_temperature(flash.pressure),
        )
        yield "pressure of flash vapour", flash.pressure, self.flash_pressure


class FeedwaterTank(Station):
    """The boiler feedwater tank without heating: condensates and make-up water.

    Assumes that the tank keeps its level and that as much feedwater leaves as is drawn.
    Sources: [own_derivation].
    """

    section = "steam"
    cautions = ("steam and vacuum",)
    supplies = ("feedwater.water",)
    demands = ("make_up.water",)
    expects = (
        ("condensates0.water", "-", "make_up.water"),
        ("make_up.temperature", "+", "feedwater.temperature"),
    )

    condensates = Inlet(Condensate, several=True)
    make_up = Inlet(Water)
    feedwater = Outlet(Water, share=0.45)

    heat_loss = Fitted("heat lost to surroundings", "% of heat entering", (0.2, 2), bounds=(0, 20))

    def equations(self) -> Equations:
        inlets = [*self.condensates, self.make_up]
        yield from conserved(inlets, to=self.feedwater)
        yield (
            "heat",
            (1 - self.heat_loss / 100) * sum(heat_content(inlet) for inlet in inlets),
            heat_content(self.feedwater),
        )


class Deaerator(Station):
    """A feedwater tank with heating: condensates, make-up water and vapour to heat them.

    Assumes that the vapour condenses in the water, that the tank keeps its level, and that
    as much feedwater leaves as the boilers draw.
    Sources: [own_derivation] for the balances, [common_practice] for the temperatures.
    """

    section = "steam"
    cautions = ("steam and vacuum",)
    supplies = ("feedwater.water",)
    demands = ("make_up.water", "heating.water")
    expects = (
        ("temperature", "+", "heating.water"),
        ("condensates0.water", "-", "make_up.water"),
        ("make_up.temperature", "-", "heating.water"),
    )

    condensates = Inlet(Condensate, several=True)
    make_up = Inlet(Water)
    heating = Inlet(Vapour)
    feedwater = Outlet(Water, share=0.45)

    temperature = Setting("temperature of the feedwater", "degC", (95, 110), bounds=(40, 160))
    heat_loss = Fitted("heat lost to surroundings", "% of heat leaving", (0.2, 2), bounds=(0, 20))

    def equations(self) -> Equations:
        inlets = [*self.condensates, self.make_up]
        yield from conserved([*inlets, self.heating], to=self.feedwater)
        yield (
            "heat",
            sum(heat_content(inlet) for inlet in inlets) + vapour_heat(self.heating),
            (1 + self.heat_loss / 100) * heat_content(self.feedwater),
        )
        yield "temperature of feedwater", self.feedwater.temperature, self.temperature


class HotWaterTank(Station):
    """The hot water tank: condensates together, water as drawn, the surplus over the weir.

    Assumes that the tank is mixed and full, so that what is not drawn runs off.
    Sources: [own_derivation].
    """

    section = "water"
    supplies = ("water.water",)
    expects = (
        ("condensates0.water", "+", "surplus.water"),
        ("water.water", "-", "surplus.water"),
        ("condensates0.temperature", "+", "water.temperature"),
    )

    condensates = Inlet(Condensate, several=True)
    water = Outlet(Water)
    surplus = Outlet(Water, share=0.02)

    heat_loss = Fitted("heat lost to surroundings", "% of heat entering", (0.2, 4), bounds=(0, 50))

    def equations(self) -> Equations:
        leaving = [self.water, self.surplus]
        yield from conserved(self.condensates, to=leaving)
        yield (
            "heat",
            (1 - self.heat_loss / 100) * sum(heat_content(inlet) for inlet in self.condensates),
            sum(heat_content(outlet) for outlet in leaving),
        )
        yield "temperature of surplus", self.surplus.temperature, self.water.temperature
