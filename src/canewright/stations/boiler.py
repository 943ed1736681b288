"""The boiler: bagasse and feedwater in, steam out."""

from canewright.laws import calorific_value
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
from canewright.streams import Bagasse, Power, State, Steam, Water

AIR_BOILING = 100.0
"""Temperature of water at its boiling point in the open air, degC."""


def net_heat(bagasse: State) -> Numeric:
    """Heat that burning a stream of bagasse sets free, on net calorific value, MJ/h.

    The published value is a straight line in moisture, ash and Brix, so that value times
    flow is linear in the flows of the components, without a division.
    """
    dry = calorific_value.net_calorific_value(0.0, 0.0, 0.0)
    wet = calorific_value.net_calorific_value(100.0, 0.0, 0.0)
    ash = calorific_value.net_calorific_value(0.0, 100.0, 0.0)
    brix = calorific_value.net_calorific_value(0.0, 0.0, 100.0)
    return (
        dry * bagasse.flow
        + (wet - dry) * bagasse.water
        + (ash - dry) * (bagasse.ash + bagasse.soil)
        + (brix - dry) * bagasse.dissolved
    )


class Boiler(Station):
    """Boilers on one steam main, taken as one.

    Bagasse is burnt as needed for the steam that is drawn. Ash counts as the earth and the
    ash of the juice together. The efficiency is on net calorific value (NCV), fuel to
    steam; on gross value it would be a fifth lower.
    Assumes that nothing of the bagasse is left unburnt beyond the efficiency, and that
    blowdown flashes to the open air before it leaves.
    Sources: [don1977] for the calorific value, [iapws_if97] for steam, [common_practice] for
    the ranges.
    """

    section = "steam"
    cautions = ("steam and vacuum",)
    supplies = ("steam.water",)
    demands = ("bagasse.fibre", "feedwater.water", "power.power")
    expects = (
        ("efficiency", "-", "bagasse.fibre"),
        ("bagasse.water", "+", "bagasse.fibre"),
        ("feedwater.temperature", "-", "bagasse.fibre"),
        ("steam.water", "+", "bagasse.fibre"),
        ("blowdown_share", "+", "feedwater.water"),
    )

    bagasse = Inlet(Bagasse)
    feedwater = Inlet(Water)
    power = Inlet(Power, optional=True)
    steam = Outlet(Steam, share=0.5)
    blowdown = Outlet(Water, share=0.01)

    pressure = Setting("steam pressure", "bar abs", (20, 46), bounds=(5, 110))
    temperature = Setting("steam temperature", "degC", (340, 450), bounds=(160, 560))
    efficiency = Fitted("efficiency on NCV", "% of NCV", (76, 88), bounds=(30, 99))
    blowdown_share = Setting("blowdown % of steam", "%", (1, 4), bounds=(0, 20))
    specific_power = Fitted(
        "power of fans and pumps per tonne of steam", "kWh/t", (8, 16), bounds=(0, 80)
    )

    sucrose_burnt = Result("sucrose burnt", "t/h", (0.5, 3))
    reducing_sugars_burnt = Result("reducing sugars burnt", "t/h", (0.02, 0.2))
    organics_burnt = Result("other non-sugars burnt", "t/h", (0.05, 0.4))
    fibre_burnt = Result("fibre burnt", "t/h", (10, 60))
    ash_left = Result("ash of the juice left in furnace and flue", "t/h", (0.03, 0.3))
    soil_left = Result("earth left in furnace and flue", "t/h", (0.3, 3))
    flue_gas_water = Result("moisture of bagasse in flue gas", "t/h", (10, 60))
    heat_released = Result("heat set free on NCV", "MJ/h", (1e5, 9e5))

    def equations(self) -> Equations:
        bagasse, feedwater, made, blowdown = (
            self.bagasse,
            self.feedwater,
            self.steam,
            self.blowdown,
        )
        boiling = steam.liquid_enthalpy(steam.saturation_temperature(self.pressure))
        open_air = steam.liquid_enthalpy(AIR_BOILING)
        drained = self.blowdown_share / 100 * made.water
        flashed = drained * (boiling - open_air) / steam.latent_heat(AIR_BOILING)
        yield from conserved(
            [bagasse, feedwater],
            to=[made, blowdown],
            less={
                "burnt": {
                    "sucrose": self.sucrose_burnt,
                    "reducing_sugars": self.reducing_sugars_burnt,
                    "organics": self.organics_burnt,
                    "fibre": self.fibre_burnt,
                },
                "boiler ash": {"ash": self.ash_left, "soil": self.soil_left},
                "to flue gas": {"water": self.flue_gas_water},
                "blowdown flashed to the air": {"water": flashed},
            },
        )
        yield "moisture to flue gas", self.flue_gas_water, bagasse.water
        yield "blowdown", blowdown.water, drained - flashed
        yield "heat set free", self.heat_released, net_heat(bagasse)
        yield (
            "heat",
            self.efficiency / 100 * self.heat_released + heat_content(feedwater),
            made.water * steam.steam_enthalpy(made.pressure, made.temperature) + drained * boiling,
        )
        yield "steam pressure", made.pressure, self.pressure
        yield "steam temperature", made.temperature, self.temperature
        yield "temperature of blowdown", blowdown.temperature, AIR_BOILING
        if self.power.connected:
            yield "power", self.power.power, self.specific_power * made.water
