"""Condenser and cooling water: vacuum is made where vapour meets cold water."""

from canewright.model import (
    Equations,
    Fitted,
    Inlet,
    Outlet,
    Setting,
    Station,
    conserved,
    heat_content,
    vapour_heat,
)
from canewright.properties import steam
from canewright.streams import Power, Vapour, Water


class Condenser(Station):
    """A barometric condenser: vapour condenses in the cooling water that falls down its leg.

    The approach is how much colder the leg water leaves than the vapour condenses: it holds
    the effect of air and of poor contact. It sets the water that the vacuum costs.
    Assumes saturated vapours at one pressure; sugar carried over was counted where it left.
    Sources: [kern1950] example 14.4 for the approach, [own_derivation] for the balances.
    """

    section = "evaporation"
    cautions = ("steam and vacuum",)
    demands = ("vapours.pressure", "water_in.water")
    expects = (
        ("pressure", "-", "water_in.water"),
        ("water_in.temperature", "+", "water_in.water"),
        ("approach", "+", "water_in.water"),
        ("vapours0.water", "+", "water_out.water"),
    )

    vapours = Inlet(Vapour, several=True)
    water_in = Inlet(Water)
    water_out = Outlet(Water)

    pressure = Setting("pressure", "bar abs", (0.10, 0.18), bounds=(0.04, 1.0))
    approach = Setting("leg water colder than condensing vapour", "K", (2, 8), bounds=(0, 60))

    def equations(self) -> Equations:
        vapours, cold, leg = self.vapours, self.water_in, self.water_out
        yield from conserved([*vapours, cold], to=leg)
        yield (
            "heat",
            sum(vapour_heat(vapour) for vapour in vapours) + heat_content(cold),
            heat_content(leg),
        )
        for vapour in vapours:
            yield f"pressure of {vapour.name}", vapour.pressure, self.pressure
        saturation = steam.saturation_temperature(self.pressure)
        yield "temperature of leg water", leg.temperature + self.approach, saturation


class CoolingTower(Station):
    """Cooling tower or spray pond: part of the warm water evaporates and cools the rest.

    A pond is the same station with more drift. Power covers fans and circulating pumps.
    Assumes that the water comes to the wet-bulb temperature plus an approach, that a
    given share of its heat goes by evaporation and that overflow, drift and vapour leave
    at the cool end.
    Sources: [own_derivation] for the balances, [common_practice] for the ranges.
    """

    section = "water"
    supplies = ("cool.water",)
    demands = ("make_up.water", "power.power")
    expects = (
        ("warm.temperature", "+", "make_up.water"),
        ("wet_bulb", "+", "cool.temperature"),
        ("drift", "+", "make_up.water"),
        ("cool.water", "+", "make_up.water"),
    )

    warm = Inlet(Water)
    make_up = Inlet(Water)
    power = Inlet(Power, optional=True)
    cool = Outlet(Water)
    overflow = Outlet(Water, share=0.002)

    wet_bulb = Setting("wet-bulb temperature of the air", "degC", (18, 27), bounds=(0, 35))
    approach = Fitted("cool water over wet-bulb temperature", "K", (4, 10), bounds=(0, 30))
    evaporative_share = Fitted("heat that leaves by evaporation", "%", (75, 95), bounds=(10, 120))
    drift = Fitted("drift % of warm water", "%", (0.1, 0.5), bounds=(0, 10))
    overflow_share = Setting("overflow % of warm water", "%", (0.2, 2), bounds=(0, 60))
    specific_power = Fitted("power per tonne of warm water", "kWh/t", (0.2, 0.5), bounds=(0, 5))

    def equations(self) -> Equations:
        warm, cool, overflow = self.warm, self.cool, self.overflow
        given_up = heat_content(warm) - heat_content(warm, cool.temperature)
        evaporated = self.evaporative_share / 100 * given_up / steam.latent_heat(cool.temperature)
        yield from conserved(
            [warm, self.make_up],
            to=[cool, overflow],
            less={
                "evaporated to the air": {"water": evaporated},
                "drift": {"water": self.drift / 100 * warm.water},
            },
        )
        yield "overflow", overflow.water, self.overflow_share / 100 * warm.water
        yield "temperature of cool water", cool.temperature, self.wet_bulb + self.approach
        yield "temperature of overflow", overflow.temperature, cool.temperature
        if self.power.connected:
            yield "power", self.power.power, self.specific_power * warm.water
