"""Cooling crystallisers, and the reheating of massecuite before curing."""

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
from canewright.streams import Massecuite, Water


class Crystalliser(Station):
    """Crystallisers in series taken as one: massecuite cools and its crystal grows.

    Assumes no water is added or lost; the fall of mother-liquor purity is the measure.
    Sources: [own_derivation]; [common_practice] for temperatures.
    """

    section = "boiling"
    cautions = ("rotating machinery", "confined spaces")
    demands = ("water_in.water",)
    expects = (
        ("exhaustion", "+", "massecuite_out.crystal"),
        ("temperature", "-", "water_in.water"),
    )
    massecuite_in, massecuite_out = Inlet(Massecuite), Outlet(Massecuite)
    water_in, water_out = Inlet(Water), Outlet(Water)

    temperature = Setting("temperature of massecuite leaving", "degC", (42, 50), bounds=(30, 70))
    water_rise = Setting("rise of cooling water", "K", (6, 12), bounds=(1, 40))
    exhaustion = Fitted("fall of mother-liquor purity", "%", (3, 8), bounds=(0, 20))
    purity_entering = Result("purity of mother liquor entering", "%", (35, 70), bounds=(10, 95))

    def equations(self) -> Equations:
        warm, cold = self.massecuite_in, self.massecuite_out
        yield from conserved(warm, to=cold, together={"sucrose": ("sucrose", "crystal")})
        yield from _cooling_water(self)
        yield "temperature of massecuite", cold.temperature, self.temperature
        yield (
            "purity of mother liquor entering",
            warm.sucrose * 100,
            self.purity_entering * warm.dissolved,
        )
        yield (
            "purity of mother liquor leaving",
            cold.sucrose * 100,
            (self.purity_entering - self.exhaustion) * cold.dissolved,
        )


def _cooling_water(station: Crystalliser) -> Equations:
    water_in, water_out = station.water_in, station.water_out
    yield "cooling water", water_out.water, water_in.water
    yield (
        "rise of cooling water",
        water_out.temperature,
        water_in.temperature + station.water_rise,
    )
    yield (
        "heat",
        heat_content(station.massecuite_in) + heat_content(water_in),
        heat_content(station.massecuite_out) + heat_content(water_out),
    )


class Reheater(Station):
    """Massecuite warmed by water before it is cured; a little crystal dissolves.

    Assumes the water heats the massecuite through a surface and does not join it.
    Sources: [own_derivation]; [ananta_purnomo_isst] for the temperature range.
    """

    section = "boiling"
    cautions = ("rotating machinery",)
    demands = ("water_in.water",)
    usual = {"massecuite_in.temperature": 45.0, "water_in.temperature": 60.0}
    expects = (
        ("dissolved", "-", "massecuite_out.crystal"),
        ("temperature", "+", "water_in.water"),
    )
    massecuite_in, massecuite_out = Inlet(Massecuite), Outlet(Massecuite)
    water_in, water_out = Inlet(Water), Outlet(Water)

    temperature = Setting("temperature of massecuite leaving", "degC", (50, 56), bounds=(30, 75))
    water_fall = Setting("fall of heating water", "K", (3, 8), bounds=(0.5, 40))
    dissolved = Fitted("crystal dissolved % of crystal", "%", (0, 2), bounds=(0, 20))

    def equations(self) -> Equations:
        cold, warm = self.massecuite_in, self.massecuite_out
        water_in, water_out = self.water_in, self.water_out
        yield from conserved(cold, to=warm, together={"sucrose": ("sucrose", "crystal")})
        yield "heating water", water_out.water, water_in.water
        yield (
            "fall of heating water",
            water_out.temperature + self.water_fall,
            water_in.temperature,
        )
        yield (
            "heat",
            heat_content(cold) + heat_content(water_in),
            heat_content(warm) + heat_content(water_out),
        )
        yield "temperature of massecuite", warm.temperature, self.temperature
        yield "crystal kept", warm.crystal, (1 - self.dissolved / 100) * cold.crystal
