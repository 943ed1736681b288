"""Sulphitation tower: burner gas meets juice or syrup, which takes up its sulphur dioxide."""

from canewright.model import (
    Equations,
    Fitted,
    Inlet,
    Outlet,
    Result,
    Station,
    conserved,
    heat_content,
)
from canewright.streams import ClearJuice, Gas, Juice, Syrup

MOLAR_MASS = {"so2": 64.064, "oxygen": 31.998, "nitrogen": 28.161}
"""g/mol; nitrogen with the argon of the air [own_derivation]."""


class SulphitationTower(Station):
    """Tower in which sulphur dioxide becomes sulphite, counted in the ash and by name.

    Above pH 4 the juice exerts next to no back pressure: what slips to the stack says how
    good the contact is, so one efficiency describes the tower.

    Assumes that the stack gas leaves at the temperature of the juice, that it takes no
    water with it (saturated at 70 degC it would take some 0.3 t per t, and cool the juice by
    under 1 degC), and that sulphite is not oxidised.
    Sources: [sulphitation_note] for efficiencies up to 99.5 %, [common_practice] for the
    rest.
    """

    section = "juice"
    cautions = ("sulphur dioxide", "confined spaces")
    juice_in = Inlet(Juice, ClearJuice, Syrup)
    gas = Inlet(Gas)
    juice_out = Outlet(like="juice_in")
    stack = Outlet(Gas)
    usual = {"gas.so2": 0.24, "gas.oxygen": 0.09, "gas.nitrogen": 1.2}

    absorption = Fitted(
        "sulphur dioxide absorbed", "%", (94, 99.5), bounds=(0, 100), source="sulphitation_note"
    )
    taken_up = Result("sulphur dioxide taken up per juice", "mg/kg", (300, 1500), bounds=(0, 5e4))
    stack_percent = Result("sulphur dioxide in stack gas", "% by volume", (0.05, 0.8), (0, 100))

    expects = (
        ("absorption", "+", "juice_out.sulphite"),
        ("absorption", "-", "stack.so2"),
        ("gas.so2", "+", "juice_out.ash"),
    )

    def equations(self) -> Equations:
        juice, gas, out, stack = self.juice_in, self.gas, self.juice_out, self.stack
        absorbed = self.absorption / 100 * gas.so2
        yield from conserved(
            [juice, gas],
            to=[out, stack],
            less={"absorbed": {"so2": absorbed, "ash": -absorbed, "sulphite": -1000 * absorbed}},
        )
        yield (
            "heat",
            heat_content(juice) + heat_content(gas),
            heat_content(out) + heat_content(stack),
        )
        yield "temperature of stack gas", stack.temperature, out.temperature
        yield "taken up", self.taken_up * juice.flow, 1e6 * absorbed
        moles = {name: getattr(stack, name) / mass for name, mass in MOLAR_MASS.items()}
        yield "stack gas", self.stack_percent * sum(moles.values()), 100 * moles["so2"]
