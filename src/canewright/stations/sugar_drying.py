"""Sugar dryer and cooler."""

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
    same_composition,
)
from canewright.properties import moist_air, steam
from canewright.streams import Condensate, Sugar, Vapour


class SugarDryer(Station):
    """Dryer: sugar against warmed air; dust leaves with the air and is caught.

    Assumes that dust has the composition of the dried sugar and that the air's pressure is
    that of the atmosphere.
    Sources: [ashrae2017] moist air; [common_practice] for moisture after drying.
    """

    section = "sugar"
    cautions = ("sugar dust", "rotating machinery", "steam and vacuum")
    demands = ("heating.water",)
    expects = (
        ("air_rate", "+", "heating.water"),
        ("moisture", "-", "exit_humidity"),
    )
    sugar_in, sugar_out = Inlet(Sugar), Outlet(Sugar)
    dust = Outlet(Sugar, share=0.0005)
    heating, condensate = Inlet(Vapour), Outlet(Condensate)

    moisture = Fitted("moisture % sugar leaving", "%", (0.015, 0.045), bounds=(0.002, 1.5))
    dust_percent = Fitted("dust % sugar", "%", (0.2, 0.8), bounds=(0, 5))
    sugar_temperature = Setting("temperature of sugar leaving", "degC", (46, 56), (25, 100))
    air_rate = Setting("dry air", "t/h", (8, 22), bounds=(0.5, 400))
    air_temperature = Setting("temperature of air entering", "degC", (80, 100), bounds=(30, 140))
    outside_temperature = Setting("temperature of outside air", "degC", (24, 36), bounds=(-10, 50))
    outside_humidity = Setting(
        "humidity of outside air", "g/kg dry air", (12, 22), bounds=(0.5, 45)
    )
    exit_temperature = Result("temperature of air leaving", "degC", (45, 65), bounds=(10, 120))
    exit_humidity = Result("humidity of air leaving", "g/kg dry air", (15, 45), bounds=(0.5, 200))

    def equations(self) -> Equations:
        wet, dry, dust = self.sugar_in, self.sugar_out, self.dust
        evaporated = self.air_rate * (self.exit_humidity - self.outside_humidity) / 1000
        yield from conserved(
            wet,
            to=[dry, dust],
            together={"sucrose": ("sucrose", "crystal")},
            less={"to the dryer's air": {"water": evaporated}},
        )
        yield "heating vapour condensed", self.condensate.water, self.heating.water
        yield (
            "heat",
            heat_content(wet)
            + self.air_rate * moist_air.enthalpy(self.air_temperature, self.outside_humidity),
            heat_content(dry)
            + heat_content(dust)
            + self.air_rate * moist_air.enthalpy(self.exit_temperature, self.exit_humidity),
        )
        yield (
            "heat of the air heater",
            condensing_heat(self.heating),
            self.air_rate
            * (
                moist_air.enthalpy(self.air_temperature, self.outside_humidity)
                - moist_air.enthalpy(self.outside_temperature, self.outside_humidity)
            ),
        )
        yield (
            "condensate temperature",
            self.condensate.temperature,
            steam.saturation_temperature(self.heating.pressure),
        )
        yield "moisture of sugar", dry.water * 100, self.moisture * dry.flow
        yield "dust", dust.flow * 100, self.dust_percent * wet.flow
        yield (
            "crystal kept crystal",
            (dry.crystal + dust.crystal) * wet.all_sucrose,
            wet.crystal * (dry.all_sucrose + dust.all_sucrose),
        )
        for component in ("sucrose", "reducing_sugars", "ash", "organics", "water", "colour"):
            yield (
                f"{component.replace('_', ' ')} of dust",
                getattr(dust, component) * dry.crystal,
                getattr(dry, component) * dust.crystal,
            )
        yield "temperature of sugar", dry.temperature, self.sugar_temperature
        yield "temperature of dust", dust.temperature, self.sugar_temperature


class SugarCooler(Station):
    """Cooler: dried sugar against outside air, as much as the sugar's temperature asks for.

    Assumes that no moisture moves and that the air leaves some degrees below the sugar fed.
    Sources: [ashrae2017] moist air; [common_practice] for temperatures.
    """

    section = "sugar"
    cautions = ("sugar dust",)
    expects = (("sugar_temperature", "-", "air_rate"),)
    sugar_in, sugar_out = Inlet(Sugar), Outlet(Sugar)

    sugar_temperature = Setting("temperature of sugar leaving", "degC", (35, 40), bounds=(15, 60))
    air_temperature = Setting("temperature of air entering", "degC", (20, 30), bounds=(-5, 45))
    humidity = Setting("humidity of air", "g/kg dry air", (8, 14), bounds=(0.5, 40))
    exit_temperature = Setting("temperature of air leaving", "degC", (40, 46), bounds=(20, 80))
    air_rate = Result("dry air", "t/h", (10, 60), bounds=(0, 2000))

    def equations(self) -> Equations:
        warm, cool = self.sugar_in, self.sugar_out
        yield from conserved(warm, to=cool)
        yield (
            "heat",
            heat_content(warm)
            + self.air_rate * moist_air.enthalpy(self.air_temperature, self.humidity),
            heat_content(cool)
            + self.air_rate * moist_air.enthalpy(self.exit_temperature, self.humidity),
        )
        yield "temperature of sugar", cool.temperature, self.sugar_temperature


class SugarConveyor(Station):
    """Conveyors, elevators and screens between machines and bags; what they spill.

    Assumes that spilled sugar is swept up and melted again.
    Sources: [own_derivation]; [common_practice] for the range.
    """

    section = "sugar"
    cautions = ("sugar dust", "rotating machinery")
    expects = (("spill", "+", "sweepings.crystal"),)
    sugar_in, sugar_out = Inlet(Sugar), Outlet(Sugar)
    sweepings = Outlet(Sugar, share=0.0003)
    spill = Fitted("sugar swept up % of sugar conveyed", "%", (0.1, 0.5), bounds=(0, 10))

    def equations(self) -> Equations:
        yield from conserved(self.sugar_in, to=[self.sugar_out, self.sweepings])
        yield from same_composition(self.sweepings, self.spill, self.sugar_in)
        yield "temperature of sugar", self.sugar_out.temperature, self.sugar_in.temperature
        yield "temperature of sweepings", self.sweepings.temperature, self.sugar_in.temperature
