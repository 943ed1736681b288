"""Syrup clarifier: flotation with phosphate, lime and air; scum returns to mixed juice."""

from canewright.laws import lime_and_phosphate
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
from canewright.streams import CARRIED, DISSOLVED, Juice, Syrup

TRICALCIUM = 1.5
"""Calcium per phosphorus of the precipitate, mol/mol [own_derivation]: Ca3(PO4)2."""


class SyrupClarifier(Station):
    """Reactor, aeration and flotation clarifier for evaporator syrup.

    Assumes that all precipitate floats, that the liquid of the scum is clarified syrup, and
    that acid, lime and flocculant bring no water to speak of. The scum is juice by kind, so
    that it can be joined to mixed juice.
    Sources: [common_practice] for doses, scum and colour, [own_derivation] for the lime that
    the phosphate binds.
    """

    section = "evaporation"
    cautions = ("lime",)
    syrup_in = Inlet(Syrup)
    syrup_out = Outlet(Syrup)
    scum = Outlet(Juice, share=0.0075)

    phosphate_dose = Setting(
        "phosphate fed, as P2O5 on dissolved solids", "mg/kg", (200, 400), bounds=(0, 3000)
    )
    lime_dose = Setting(
        "lime fed, as CaO on dissolved solids", "mg/kg", (200, 500), bounds=(0, 4000)
    )
    phosphate_precipitated = Fitted("phosphate precipitated", "%", (85, 97), bounds=(0, 100))
    scum_percent = Fitted("scum % syrup", "%", (2, 4), bounds=(0.1, 20))
    colour_removal = Fitted("colour removed", "%", (10, 25), bounds=(-20, 80))
    temperature_fall = Fitted("fall of temperature", "K", (1, 4), bounds=(0, 30))
    scum_liquid = Result("liquid of scum % of clarified syrup", "%", (2, 4), bounds=(0, 100))

    expects = (
        ("colour_removal", "-", "syrup_out.colour"),
        ("scum_percent", "+", "scum.sucrose"),
        ("phosphate_dose", "+", "scum.soil"),
        ("lime_dose", "+", "syrup_out.lime"),
    )

    def equations(self) -> Equations:
        syrup, clear, scum = self.syrup_in, self.syrup_out, self.scum
        phosphate_fed = self.phosphate_dose / 1e6 * syrup.dissolved
        lime_fed = self.lime_dose / 1e6 * syrup.dissolved
        phosphate = self.phosphate_precipitated / 100 * (syrup.phosphate / 1000 + phosphate_fed)
        lime = lime_and_phosphate.lime_for_phosphate(phosphate, TRICALCIUM)
        yield from conserved(
            syrup,
            to=[clear, scum],
            less={
                "phosphate and lime fed": {
                    "ash": -(phosphate_fed + lime_fed),
                    "phosphate": -1000 * phosphate_fed,
                    "lime": -1000 * lime_fed,
                },
                "precipitated": {
                    "ash": phosphate + lime,
                    "soil": -(phosphate + lime),
                    "phosphate": 1000 * phosphate,
                    "lime": 1000 * lime,
                },
                "colour removed": {"colour": self.colour_removal / 100 * syrup.colour},
            },
        )
        liquid = (*DISSOLVED, "water", *CARRIED)
        yield from same_composition(scum, self.scum_liquid, clear, liquid)
        yield "scum", 100 * scum.flow, self.scum_percent * syrup.flow
        yield (
            "temperature of syrup",
            clear.temperature,
            syrup.temperature - self.temperature_fall,
        )
        yield "temperature of scum", scum.temperature, clear.temperature
