"""The power house: what is generated, what the factory uses, what crosses the fence."""

from canewright.model import Equations, Inlet, Outlet, Result, Station, conserved
from canewright.streams import Power


class PowerHouse(Station):
    """The switchboard: power generated goes to the factory, the rest is exported.

    A negative export is power bought.
    Assumes no loss in switchboard and cables beyond those in the drives' own figures.
    Sources: [own_derivation].
    """

    section = "steam"
    supplies = ("used.power",)
    expects = (
        ("generated.power", "+", "exported"),
        ("used.power", "-", "exported"),
    )

    generated = Inlet(Power)
    used = Outlet(Power)

    exported = Result("power exported", "kW", (0, 5000), bounds=(-200000, 200000))

    def equations(self) -> Equations:
        yield from conserved(
            self.generated, to=self.used, less={"exported": {"power": self.exported}}
        )
