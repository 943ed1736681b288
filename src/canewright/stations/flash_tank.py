"""Flash tank: juice heated above its boiling point lets off vapour and air before settling."""

from canewright.model import Equations, Inlet, Outlet, Result, Station, conserved, heat_content
from canewright.model.heat import vapour_heat
from canewright.ops import smooth_positive
from canewright.properties import steam
from canewright.properties.boiling_point import boiling_point_elevation
from canewright.streams import ClearJuice, Juice, Syrup, Vapour

ATMOSPHERE = 1.01325
"""Pressure of the standard atmosphere, bar abs [common_practice]."""

CORNER = 0.05
"""Width, in K, over which a tank that just does not boil begins to flash [own_derivation]."""


class FlashTank(Station):
    """Open tank: juice cools to its boiling point, the heat goes off with vapour.

    Juice that arrives below its boiling point passes unchanged: the corner between the two
    is rounded over a few hundredths of a degree.

    Assumes the standard atmosphere, equilibrium, and no other loss of heat.
    Sources: [starzak1997] for the elevation of the boiling point, [own_derivation].
    """

    section = "juice"
    cautions = ("steam and vacuum",)
    juice_in = Inlet(Juice, ClearJuice, Syrup)
    juice_out = Outlet(like="juice_in")
    flash = Outlet(Vapour, share=0.007)
    usual = {"juice_in.temperature": 103.5}

    elevation = Result("elevation of the boiling point", "K", (0.1, 0.5), bounds=(0, 20))

    expects = (
        ("juice_in.temperature", "+", "flash.water"),
        ("juice_in.temperature", "-", "juice_out.water"),
        ("juice_in.sucrose", "+", "juice_out.temperature"),
    )

    def equations(self) -> Equations:
        hot, juice, flash = self.juice_in, self.juice_out, self.flash
        saturation = steam.saturation_temperature(ATMOSPHERE)
        boiling = saturation + self.elevation
        yield from conserved(hot, to=[juice, flash])
        yield (
            "heat",
            heat_content(hot),
            heat_content(juice) + vapour_heat(flash, superheat=self.elevation),
        )
        yield "pressure", flash.pressure, ATMOSPHERE
        yield (
            "temperature",
            juice.temperature,
            hot.temperature - smooth_positive(hot.temperature - boiling, CORNER),
        )
        yield (
            "elevation",
            self.elevation,
            boiling_point_elevation(hot.liquor_solids_percent, hot.liquor_purity, saturation),
        )
