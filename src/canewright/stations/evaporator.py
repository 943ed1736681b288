"""One body of an evaporator, by its heating surface and coefficient."""

from canewright.laws import evaporation, heat_transfer, inversion
from canewright.model import (
    Design,
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
from canewright.properties import boiling_point, density, steam
from canewright.streams import ClearJuice, Condensate, Syrup, Vapour

KW = 3.6
"""MJ/h in one kW."""

COEFFICIENT_UNIT = 1e-4
"""kW/(m2.K2.%) in one kW/(ha.K2.%)."""


class EvaporatorBody(Station):
    """One body: juice boils in the tubes, vapour condenses outside them.

    Assumes one mixed vessel that boils at the composition of the juice leaving. Heat flows
    from the saturation temperature of the heating vapour to the boiling juice plus the
    hydrostatic rise; the superheat of the heating vapour is lost on the way. The condensate
    leaves saturated; no other solids are carried over with the sucrose; nothing settles as
    scale.
    Sources: [wright_form] and [kern1950] example 14.4 for the coefficient, [vukov1965] for
    inversion, [starzak1997] for the elevation of the boiling point, [own_derivation] for the
    heat balance.
    """

    section = "evaporation"
    cautions = ("steam and vacuum", "confined spaces")
    supplies = ("vapour_pressure",)
    demands = ("heating.water",)
    expects = (
        ("heating.pressure", "+", "vapour.water"),
        ("coefficient", "+", "solids_percent"),
        ("surface", "+", "vapour.water"),
        ("liquid_level", "-", "vapour.water"),
        ("nonsucrose_molar_mass", "-", "boiling_temperature"),
        ("hot_ph", "+", "juice_out.sucrose"),
        ("vapour_pressure", "-", "solids_percent"),
    )

    juice_in = Inlet(ClearJuice, Syrup)
    heating = Inlet(Vapour)
    juice_out = Outlet(Syrup)
    condensate = Outlet(Condensate)
    vapour = Outlet(Vapour)

    surface = Design("heating surface", "m2", (500, 4000), bounds=(1, 50000))
    holdup = Design("juice held in the body", "m3", (5, 40), bounds=(0, 500))
    coefficient = Fitted(
        "k in U = k (110 - Brix) T",
        "kW/(ha.K2.%)",
        (1.4, 3.0),
        bounds=(0.1, 8),
        source="kern1950",
        why="1 kW/(ha.K2.%) is 1e-4 kW/(m2.K2.%); it falls as scale grows",
    )
    heat_loss = Fitted("heat lost to surroundings", "% of heat given up", (0.5, 3), bounds=(0, 20))
    liquid_level = Fitted("effective head of juice over the tubes", "m", (0.0, 0.3), bounds=(0, 3))
    nonsucrose_molar_mass = Fitted(
        "mean molar mass of non-sucrose",
        "g/mol",
        (160, 240),
        bounds=(100, 400),
        why="the one parameter of the boiling point elevation of factory liquors",
    )
    hot_ph = Setting("pH of the juice at its temperature", "pH", (5.9, 6.7), bounds=(4, 8))
    inversion_factor = Fitted("inversion against the published rate", "1", (0.5, 4), bounds=(0, 30))
    entrainment = Fitted("sucrose carried over in vapour", "mg/kg", (2, 30), bounds=(0, 20000))
    colour_formation = Fitted("colour formed % of colour entering", "%", (0, 3), bounds=(-20, 50))

    solids_percent = Result("dissolved solids of the juice leaving", "%", (20, 65), bounds=(0, 88))
    boiling_temperature = Result("boiling temperature", "degC", (58, 112), bounds=(30, 140))
    boiling_point_elevation = Result("boiling point elevation", "K", (0.3, 4), bounds=(0, 40))
    hydrostatic_rise = Result("hydrostatic rise of boiling point", "K", (0, 4), bounds=(0, 60))
    heat_transfer_coefficient = Result(
        "heat transfer coefficient", "kW/(m2.K)", (0.6, 2.5), bounds=(0, 12)
    )
    vapour_pressure = Result("pressure of vapour", "bar abs", (0.12, 1.4), bounds=(0.04, 6))

    def equations(self) -> Equations:
        cold, hot, vapour, heating = self.juice_in, self.juice_out, self.vapour, self.heating
        boiling = self.boiling_temperature
        saturation = steam.saturation_temperature(vapour.pressure)
        condensing = steam.saturation_temperature(heating.pressure)
        mass_per_volume = density.density(self.solids_percent, boiling)
        rate = inversion.inversion_rate(boiling, self.hot_ph, mass_per_volume, self.solids_percent)
        held = self.holdup * mass_per_volume / 1000 / hot.flow
        inverted = self.inversion_factor * rate * 60 * held * hot.sucrose
        made = inversion.invert_produced(inverted)
        heat_used = (1 - self.heat_loss / 100) * condensing_heat(heating)

        yield from conserved(
            [cold, heating],
            to=[hot, vapour, self.condensate],
            less={
                "inverted": {
                    "sucrose": inverted,
                    "reducing_sugars": -made,
                    "water": made - inverted,
                },
                "carried over with vapour": {
                    "sucrose": evaporation.entrainment_loss(vapour.water, self.entrainment) / 1000
                },
                "colour formed": {"colour": -self.colour_formation / 100 * cold.colour},
            },
        )
        yield "heating vapour condensed", heating.water, self.condensate.water
        yield (
            "heat",
            heat_used + heat_content(cold),
            heat_content(hot) + vapour_heat(vapour, superheat=self.boiling_point_elevation),
        )
        yield (
            "heat transfer",
            KW
            * self.heat_transfer_coefficient
            * self.surface
            * (condensing - boiling - self.hydrostatic_rise),
            heat_used,
        )
        yield "dissolved solids leaving", self.solids_percent * hot.flow, 100 * hot.dissolved
        yield (
            "boiling point elevation",
            self.boiling_point_elevation,
            boiling_point.boiling_point_elevation(
                self.solids_percent, hot.liquor_purity, saturation, self.nonsucrose_molar_mass
            ),
        )
        yield "boiling temperature", boiling, saturation + self.boiling_point_elevation
        yield (
            "hydrostatic rise",
            self.hydrostatic_rise,
            evaporation.hydrostatic_rise(vapour.pressure, mass_per_volume, self.liquid_level),
        )
        yield (
            "heat transfer coefficient",
            self.heat_transfer_coefficient,
            heat_transfer.body_coefficient(
                self.coefficient * COEFFICIENT_UNIT, self.solids_percent, boiling
            ),
        )
        yield "temperature of juice", hot.temperature, boiling
        yield "temperature of condensate", self.condensate.temperature, condensing
        yield "pressure of vapour", vapour.pressure, self.vapour_pressure
