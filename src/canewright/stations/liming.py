"""Liming tank: milk of lime meets juice, and sulphite and phosphate of lime come out."""

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
    heat_content,
)
from canewright.streams import Juice, MilkOfLime

TRICALCIUM = 1.5
"""Calcium per phosphorus of the precipitate, mol/mol [own_derivation]: Ca3(PO4)2."""


class LimingTank(Station):
    """Juice limed; what is insoluble in it afterwards goes to the mud.

    Sulphur dioxide precipitates as CaSO3.1/2H2O, phosphate as Ca3(PO4)2, each as a share of
    what the juice brings: solubility alone would leave a tenth of the sulphite that
    factories find. Other non-sugars coagulate. Colour is taken out in the clarifier.

    Assumes that the reaction is complete when the juice leaves, and that its heat (under
    0.5 degC) is lost in the tank.
    Sources: [van_der_linden1916] for the insolubility, [common_practice] for the shares,
    [own_derivation] for the amounts of lime and water bound.
    """

    section = "juice"
    cautions = ("lime", "sulphur dioxide")
    juice_in = Inlet(Juice)
    milk_of_lime = Inlet(MilkOfLime)
    juice_out = Outlet(Juice)

    milk_temperature = Setting("temperature of milk of lime", "degC", (28, 50), bounds=(5, 95))
    sulphite_precipitated = Fitted("sulphite precipitated", "%", (80, 90), bounds=(0, 99))
    phosphate_precipitated = Fitted("phosphate precipitated", "%", (85, 95), bounds=(0, 100))
    organics_precipitated = Fitted("other non-sugars precipitated", "%", (2, 10), bounds=(0, 40))
    sulphur_dioxide_per_lime = Result(
        "sulphur dioxide in juice per lime fed",
        "kg/kg",
        (0, 0.8),
        bounds=(0, 50),
        why="The early alarm of slip, air leak or weighing error: watch it within the shift.",
    )

    expects = (
        ("sulphite_precipitated", "-", "juice_out.lime"),
        ("sulphite_precipitated", "+", "juice_out.soil"),
        ("milk_of_lime.lime", "+", "juice_out.lime"),
        ("phosphate_precipitated", "-", "juice_out.ash"),
    )

    def equations(self) -> Equations:
        juice, milk, limed = self.juice_in, self.milk_of_lime, self.juice_out
        sulphite = self.sulphite_precipitated / 100 * juice.sulphite / 1000
        phosphate = self.phosphate_precipitated / 100 * juice.phosphate / 1000
        organics = self.organics_precipitated / 100 * juice.organics
        lime_to_sulphite = lime_and_phosphate.lime_for_sulphur_dioxide(sulphite)
        lime_to_phosphate = lime_and_phosphate.lime_for_phosphate(phosphate, TRICALCIUM)
        lime = lime_to_sulphite + lime_to_phosphate
        hydrate = lime_and_phosphate.sulphite_solids(sulphite) - sulphite - lime_to_sulphite
        ash = sulphite + phosphate + lime
        precipitated = {
            "ash": ash,
            "organics": organics,
            "water": hydrate,
            "soil": -(ash + organics + hydrate),
            "sulphite": 1000 * sulphite,
            "phosphate": 1000 * phosphate,
            "lime": 1000 * lime,
        }
        yield from conserved([juice, milk], to=limed, less={"precipitated": precipitated})
        yield (
            "heat",
            heat_content(juice) + heat_content(milk, self.milk_temperature),
            heat_content(limed),
        )
        yield (
            "sulphur dioxide per lime",
            self.sulphur_dioxide_per_lime * milk.lime,
            juice.sulphite,
        )
