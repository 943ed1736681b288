"""Clarifier: limed juice settles into clear juice and mud."""

from canewright.laws import inversion
from canewright.model import (
    Design,
    Equations,
    Fitted,
    Inlet,
    Outlet,
    Result,
    Setting,
    Station,
    conserved,
    same_composition,
)
from canewright.properties.density import density
from canewright.streams import CARRIED, DISSOLVED, ClearJuice, Juice, Mud, Vapour

ATMOSPHERE = 1.01325
"""Pressure of the standard atmosphere, bar abs [common_practice]."""


class Clarifier(Station):
    """Settling of limed juice, with the inversion and the fall of colour of its hours.

    Sucrose inverts by Vukov's rate at the pH and the temperature in the vessel, times a
    fitted factor; the pH is the one at that temperature, 0.4 to 0.7 below the cold reading.

    Assumes that all fibre and soil go to the mud (clear juice that carries fine solids is
    seen by its turbidity, not by weight), that the liquid of the mud is clear juice, and
    that the heat lost shows as a fall of temperature.
    Sources: [rainey2014] for mud solids, [saska2010] for colour, [vukov1965] for inversion,
    [common_practice] for residence and heat.
    """

    section = "juice"
    cautions = ("confined spaces", "steam and vacuum")
    juice_in = Inlet(Juice)
    clear_juice = Outlet(ClearJuice)
    mud = Outlet(Mud)
    vent = Outlet(Vapour, optional=True, share=0.0005)
    usual = {"juice_in.temperature": 100.0}

    volume = Design("volume", "m3", (150, 500), bounds=(1, 5000))
    mud_solids = Fitted("fibre and soil % mud", "%", (5, 9), (1, 30), source="rainey2014")
    colour_removal = Fitted("colour removed", "%", (25, 55), bounds=(-30, 90), source="saska2010")
    temperature_fall = Fitted("fall of temperature", "K", (2, 6), bounds=(0, 30))
    vented = Fitted("vapour vented % of juice", "%", (0.0, 0.1), bounds=(0, 2))
    hot_ph = Setting("pH of juice at its temperature", "pH", (6.3, 6.9), bounds=(4, 8))
    inversion_factor = Fitted(
        "inversion against the published rate", "ratio", (0.5, 4), bounds=(0, 30)
    )
    residence = Result("mean residence", "h", (0.4, 3), bounds=(0, 100))
    inverted = Result("sucrose inverted", "%", (0.01, 0.3), bounds=(0, 60))
    mud_liquid = Result("liquid of mud % of clear juice", "%", (8, 20), bounds=(0, 1000))

    expects = (
        ("hot_ph", "-", "inverted"),
        ("volume", "+", "inverted"),
        ("juice_in.soil", "+", "mud.sucrose"),
        ("mud_solids", "-", "mud.water"),
        ("colour_removal", "-", "clear_juice.colour"),
    )

    def equations(self) -> Equations:
        juice, clear, mud, vent = self.juice_in, self.clear_juice, self.mud, self.vent
        sucrose_lost = self.inverted / 100 * juice.sucrose
        invert = inversion.invert_produced(sucrose_lost)
        yield from conserved(
            juice,
            to=[clear, mud, vent],
            less={
                "inverted": {
                    "sucrose": sucrose_lost,
                    "reducing_sugars": -invert,
                    "water": invert - sucrose_lost,
                },
                "colour removed": {"colour": self.colour_removal / 100 * juice.colour},
            },
        )
        liquid = (*DISSOLVED, "water", *CARRIED)
        yield from same_composition(mud, self.mud_liquid, clear, liquid)
        yield "mud solids", 100 * mud.sum("fibre", "soil"), self.mud_solids * mud.flow
        yield (
            "temperature of clear juice",
            clear.temperature,
            juice.temperature - self.temperature_fall,
        )
        yield "temperature of mud", mud.temperature, clear.temperature
        if vent.connected:
            yield "vented", vent.water, self.vented / 100 * juice.flow
            yield "pressure of vent", vent.pressure, ATMOSPHERE
        brix = juice.liquor_solids_percent
        juice_density = density(brix, clear.temperature)
        yield "residence", self.residence * juice.flow * 1000, self.volume * juice_density
        rate = self.inversion_factor * inversion.inversion_rate(
            clear.temperature, self.hot_ph, juice_density, brix
        )
        yield (
            "inversion",
            self.inverted,
            inversion.inversion_loss_percent(rate, 60 * self.residence),
        )
