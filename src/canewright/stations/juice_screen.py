"""Juice screen: mill juice freed of its coarse fibre, and the cush-cush that goes back."""

from canewright.model import (
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
from canewright.streams import CARRIED, DISSOLVED, Bagasse, Juice, MillJuice


class JuiceScreen(Station):
    """Screens between the mills and the juice scale: from here juice has a temperature.

    Colour, natural lime and phosphate, which nobody measures before this point, are read
    here on the screened juice. Without a cush-cush stream nothing is held back.

    Assumes that cush-cush carries juice of the same composition, so much on each tonne of its
    fibre (its moisture would be a poor measure: near 85 % there is no fibre left), and that
    fresh juice holds no sulphite.
    Sources: [common_practice] for the share of fibre and soil held back and the juice on
    cush-cush: 6 to 14 t on a tonne of fibre is a moisture of 73 to 80 %.
    """

    section = "milling"
    juice_in = Inlet(MillJuice)
    juice_out = Outlet(Juice)
    cush_cush = Outlet(Bagasse, optional=True, share=0.02)

    fibre_held = Fitted("fibre held back % of fibre in juice", "%", (55, 85), bounds=(0, 100))
    soil_held = Fitted("soil held back % of soil in juice", "%", (1, 9), bounds=(0, 100))
    juice_on_fibre = Fitted("juice on fibre of cush-cush", "t/t", (6, 14), bounds=(0.5, 60))
    temperature = Setting("temperature of juice", "degC", (27, 40), bounds=(5, 75))
    colour = Setting(
        "colour of juice on dissolved solids", "IU", (9000, 17000), bounds=(500, 60000)
    )
    phosphate = Setting("phosphate in juice, as P2O5", "mg/kg", (200, 360), bounds=(0, 2000))
    lime = Setting("natural lime in juice, as CaO", "mg/kg", (120, 320), bounds=(0, 2000))
    juice_held = Result("juice that leaves with cush-cush", "%", (0.2, 4), bounds=(0, 100))

    expects = (
        ("fibre_held", "-", "juice_out.fibre"),
        ("fibre_held", "+", "cush_cush.sucrose"),
        ("juice_on_fibre", "+", "juice_held"),
        ("phosphate", "+", "juice_out.phosphate"),
    )

    def equations(self) -> Equations:
        raw, juice, cush_cush = self.juice_in, self.juice_out, self.cush_cush
        yield from conserved(raw, to=[juice, cush_cush], without=tuple(CARRIED))
        if cush_cush.connected:
            yield from same_composition(cush_cush, self.juice_held, raw, (*DISSOLVED, "water"))
            yield "fibre held back", cush_cush.fibre, self.fibre_held / 100 * raw.fibre
            yield "soil held back", cush_cush.soil, self.soil_held / 100 * raw.soil
            yield (
                "juice on cush-cush",
                self.juice_held / 100 * (raw.dissolved + raw.water),
                self.juice_on_fibre * cush_cush.fibre,
            )
        else:
            yield "no cush-cush", self.juice_held, 0.0
        yield "colour", juice.colour, self.colour * juice.dissolved
        yield "sulphite", juice.sulphite, 0.0
        yield "lime", juice.lime * 1000, self.lime * juice.flow
        yield "phosphate", juice.phosphate * 1000, self.phosphate * juice.flow
        yield "temperature", juice.temperature, self.temperature
