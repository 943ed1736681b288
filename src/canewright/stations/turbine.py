"""Steam turbines: back-pressure, mill drive, condensing."""

from canewright.laws import turbines
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
from canewright.ops import Numeric
from canewright.properties import steam
from canewright.streams import Condensate, Power, State, Steam, Water

KW = 3.6
"""MJ/h in one kW."""


def _drop(live: State, exhaust_pressure: Numeric) -> Numeric:
    return turbines.isentropic_drop(live.pressure, live.temperature, exhaust_pressure)


class _Expansion(Station):
    """What every turbine has."""

    steam = Inlet(Steam)
    power = Outlet(Power)

    isentropic_efficiency = Fitted("isentropic efficiency", "%", (65, 82), bounds=(20, 95))
    drive_efficiency = Fitted("efficiency of gear and generator", "%", (93, 97), bounds=(70, 100))
    isentropic_drop = Result("isentropic heat drop", "kJ/kg", (400, 800), bounds=(0, 1800))
    steam_rate = Result("steam rate", "kg/kWh", (5, 14), bounds=(0.5, 5000))

    def _exhaust_enthalpy(self) -> Numeric:
        live = steam.steam_enthalpy(self.steam.pressure, self.steam.temperature)
        return turbines.exhaust_enthalpy(live, self.isentropic_drop, self.isentropic_efficiency)

    def _power(self) -> Equations:
        yield (
            "power",
            self.power.power,
            self.steam.water
            * turbines.power_per_steam(
                self.isentropic_drop, self.isentropic_efficiency, self.drive_efficiency
            ),
        )
        yield (
            "steam rate",
            self.steam_rate * self.isentropic_drop,
            turbines.steam_rate(1.0, self.isentropic_efficiency, self.drive_efficiency),
        )


class _BackPressure(_Expansion):
    """A turbine whose exhaust goes to a main."""

    exhaust = Outlet(Steam, share=0.4)

    exhaust_pressure = Result("exhaust pressure", "bar abs", (1.8, 3.2), bounds=(0.5, 30))

    def _expansion(self) -> Equations:
        live, exhaust = self.steam, self.exhaust
        yield from conserved(live, to=exhaust)
        yield "heat drop", self.isentropic_drop, _drop(live, exhaust.pressure)
        yield (
            "exhaust temperature",
            exhaust.temperature,
            steam.steam_temperature(exhaust.pressure, self._exhaust_enthalpy()),
        )
        yield "exhaust pressure", exhaust.pressure, self.exhaust_pressure
        yield from self._power()


class Turbine(_BackPressure):
    """A back-pressure turbine with its generator.

    It takes a set flow of steam. Hold the power exported, or the flow let down, by moving
    this flow, to run the turbine on electrical demand or on exhaust pressure.
    Assumes dry exhaust and one isentropic efficiency over the period.
    Sources: [iapws_if97] for steam, [own_derivation] for the efficiencies' definition,
    [common_practice] for their ranges.
    """

    section = "steam"
    cautions = ("steam and vacuum", "rotating machinery")
    demands = ("steam.water",)
    supplies = ("exhaust_pressure",)
    expects = (
        ("isentropic_efficiency", "+", "power.power"),
        ("isentropic_efficiency", "-", "exhaust.temperature"),
        ("exhaust_pressure", "-", "power.power"),
        ("steam.temperature", "+", "power.power"),
        ("steam_flow", "+", "power.power"),
    )

    steam_flow = Setting("steam taken", "t/h", (20, 120), bounds=(0, 1000))

    def equations(self) -> Equations:
        yield from self._expansion()
        yield "steam taken", self.steam.water, self.steam_flow


class DriveTurbine(_BackPressure):
    """A back-pressure turbine that drives a mill, a pump or a fan: it takes what power needs.

    Assumes dry exhaust and one isentropic efficiency over the period.
    Sources: [iapws_if97] for steam, [own_derivation] for the efficiencies' definition,
    [common_practice] for their ranges.
    """

    section = "steam"
    cautions = ("steam and vacuum", "rotating machinery")
    demands = ("steam.water",)
    supplies = ("exhaust_pressure", "power.power")
    expects = (
        ("isentropic_efficiency", "-", "steam.water"),
        ("power.power", "+", "steam.water"),
        ("exhaust_pressure", "+", "steam.water"),
    )

    isentropic_efficiency = Fitted("isentropic efficiency", "%", (35, 60), bounds=(10, 95))
    drive_efficiency = Fitted("efficiency of the gear", "%", (93, 98), bounds=(70, 100))

    def equations(self) -> Equations:
        yield from self._expansion()


class CondensingTurbine(_Expansion):
    """A condensing turbine with its generator and its surface condenser.

    Assumes that cooling water and condensate do not meet, that the condensate leaves
    saturated, and one isentropic efficiency over the period.
    Sources: [iapws_if97] for steam, [own_derivation] for the efficiencies' definition,
    [common_practice] for their ranges.
    """

    section = "steam"
    cautions = ("steam and vacuum", "rotating machinery")
    demands = ("steam.water", "water_in.water")
    expects = (
        ("isentropic_efficiency", "+", "power.power"),
        ("condenser_pressure", "-", "power.power"),
        ("steam_flow", "+", "water_in.water"),
        ("water_in.temperature", "+", "water_in.water"),
    )

    water_in = Inlet(Water)
    water_out = Outlet(Water)
    condensate = Outlet(Condensate)

    steam_flow = Setting("steam taken", "t/h", (5, 60), bounds=(0, 1000))
    condenser_pressure = Setting("condenser pressure", "bar abs", (0.09, 0.17), bounds=(0.05, 1))
    approach = Setting("leaving water colder than condensing steam", "K", (2, 5), bounds=(0, 40))
    isentropic_efficiency = Fitted("isentropic efficiency", "%", (75, 86), bounds=(20, 95))
    dryness = Result("dryness of exhaust", "%", (85, 97), bounds=(50, 150))

    def equations(self) -> Equations:
        live, cold, warm = self.steam, self.water_in, self.water_out
        saturation = steam.saturation_temperature(self.condenser_pressure)
        after = self._exhaust_enthalpy()
        yield from conserved([live, cold], to=[self.condensate, warm])
        yield "steam condensed", self.condensate.water, live.water
        yield "heat drop", self.isentropic_drop, _drop(live, self.condenser_pressure)
        yield (
            "heat of cooling water",
            heat_content(warm) - heat_content(cold),
            live.water * (after - steam.liquid_enthalpy(saturation)),
        )
        yield "dryness", self.dryness, steam.dryness(self.condenser_pressure, after)
        yield "temperature of condensate", self.condensate.temperature, saturation
        yield "temperature of water leaving", warm.temperature + self.approach, saturation
        yield "steam taken", live.water, self.steam_flow
        yield from self._power()
