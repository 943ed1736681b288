"""Juice heater: juice or syrup in the tubes, vapour condensing outside them."""

from canewright.model import (
    Design,
    Equations,
    Fitted,
    Inlet,
    Outlet,
    Station,
    condensing_heat,
    conserved,
    heat_content,
)
from canewright.ops import exp
from canewright.properties import steam
from canewright.streams import ClearJuice, Condensate, Filtrate, Juice, Syrup, Vapour

KW = 3.6
"""MJ/h in one kW."""


class JuiceHeater(Station):
    """One heater, or several in series under the same vapour taken as one.

    The vapour drawn follows from the surface: t2 = ts - (ts - t1) exp(-U A/(m c)).

    Assumes that the vapour is saturated, that the condensate leaves at its boiling point,
    and that the juice does not boil in the tubes. The specific heat is taken half-way
    between inlet and outlet.
    Sources: [kern1950] example 14.4 and [hugot1986] for coefficients, [own_derivation] for
    the exponential form.
    """

    section = "juice"
    cautions = ("steam and vacuum",)
    juice_in = Inlet(Juice, ClearJuice, Syrup, Filtrate)
    juice_out = Outlet(like="juice_in")
    vapour = Inlet(Vapour)
    condensate = Outlet(Condensate)
    demands = ("vapour.water",)

    surface = Design("heating surface", "m2", (50, 800), bounds=(1, 20000))
    coefficient = Fitted(
        "overall heat transfer coefficient",
        "kW/(m2.K)",
        (0.6, 1.4),
        bounds=(0.02, 5),
        source="hugot1986",
    )
    heat_loss = Fitted("heat lost % of heat given up", "%", (0, 4), bounds=(0, 40))

    expects = (
        ("vapour.pressure", "+", "juice_out.temperature"),
        ("surface", "+", "juice_out.temperature"),
        ("juice_in.water", "-", "juice_out.temperature"),
        ("juice_in.temperature", "-", "vapour.water"),
    )

    def equations(self) -> Equations:
        cold, hot, vapour, condensate = self.juice_in, self.juice_out, self.vapour, self.condensate
        saturation = steam.saturation_temperature(vapour.pressure)
        middle = (cold.temperature + hot.temperature) / 2
        capacity = heat_content(cold, middle + 0.5) - heat_content(cold, middle - 0.5)
        approach = exp(-KW * self.coefficient * self.surface / capacity)
        taken_up = heat_content(cold, hot.temperature) - heat_content(cold)

        yield from conserved([cold, vapour], to=[hot, condensate])
        yield "condensate", condensate.water, vapour.water
        yield "heat", condensing_heat(vapour) * (1 - self.heat_loss / 100), taken_up
        yield "transfer", saturation - hot.temperature, (saturation - cold.temperature) * approach
        yield "condensate temperature", condensate.temperature, saturation
