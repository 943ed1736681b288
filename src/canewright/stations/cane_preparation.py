"""Cane preparation: levelling and cutting knives and the shredder."""

from canewright.model import Equations, Fitted, Inlet, Outlet, Setting, Station, conserved
from canewright.streams import Cane, Power


class CanePreparation(Station):
    """Knives and shredder taken as one: cane goes through, cells are opened, power is drawn.

    Assumes that nothing is lost, and that power goes with the fibre. How far the cells are
    opened (`preparation_index`) is read and kept; it changes no stream here, because what it
    gains shows as the mixing of the mills.
    Sources: [mill_extraction_lecture] for power (84 kW per t fibre/h installed on average,
    half to two thirds of it drawn), [jagadeesh2020] for the index.
    """

    section = "milling"
    cautions = ("rotating machinery",)
    cane_in = Inlet(Cane)
    cane_out = Outlet(Cane)
    power = Inlet(Power, optional=True)
    demands = ("power.power",)

    specific_power = Fitted(
        "power per fibre fed",
        "kW.h/t",
        (40, 70),
        bounds=(1, 200),
        source="mill_extraction_lecture",
    )
    preparation_index = Setting(
        "preparation index (sugar in open cells)", "%", (85, 90), (40, 100), "jagadeesh2020"
    )

    expects = (
        ("specific_power", "+", "power.power"),
        ("cane_in.fibre", "+", "power.power"),
    )

    def equations(self) -> Equations:
        yield from conserved(self.cane_in, to=self.cane_out)
        if self.power.connected:
            yield "power", self.power.power, self.specific_power * self.cane_in.fibre
