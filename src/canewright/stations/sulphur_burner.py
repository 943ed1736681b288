"""Sulphur burner: sulphur and dry air to gas of a set strength, cooled in its jacket."""

from canewright.laws import sulphur
from canewright.model import Equations, Outlet, Result, Setting, Station, conserved
from canewright.streams import Gas

OXYGEN_MASS_PERCENT = sulphur.OXYGEN_IN_AIR_PERCENT * 31.998 / sulphur.AIR_MOLAR_MASS
"""Oxygen in dry air, % by mass: 23.14 [own_derivation]."""

KW = 3.6
"""MJ/h in one kW."""


class SulphurBurner(Station):
    """Burner with its cooler; sulphur and air come from outside the balance.

    Assumes dry air, complete burning to the dioxide and no trioxide (cool quickly through
    700 to 400 degC and keep the air dry: each kg of trioxide binds 0.7 kg of lime as gypsum).
    Sources: [hugot1986] ch. 25 for the strength of the gas, [own_derivation] for the air,
    [nist_shomate] for the heat.
    """

    section = "juice"
    cautions = ("sulphur dioxide",)
    gas = Outlet(Gas)

    sulphur_rate = Setting("sulphur burnt", "kg/h", (60, 160), bounds=(0, 5000))
    so2_percent = Setting(
        "sulphur dioxide in dry gas", "% by volume", (11, 16), bounds=(5, 20.9), source="hugot1986"
    )
    gas_temperature = Setting("temperature of cooled gas", "degC", (60, 90), bounds=(5, 350))
    air = Result("air drawn in", "t/h", (0.4, 1.1), bounds=(0, 100))
    jacket_heat = Result("heat taken by jacket and cooler", "kW", (150, 400), bounds=(0, 20000))

    expects = (
        ("sulphur_rate", "+", "gas.so2"),
        ("so2_percent", "-", "air"),
        ("so2_percent", "-", "gas.oxygen"),
        ("gas_temperature", "-", "jacket_heat"),
    )

    def equations(self) -> Equations:
        burnt = self.sulphur_rate / 1000
        dioxide = sulphur.sulphur_dioxide_from_sulphur(burnt)
        oxygen = self.air * OXYGEN_MASS_PERCENT / 100
        yield from conserved(
            [],
            to=self.gas,
            less={
                "air drawn in": {"oxygen": -oxygen, "nitrogen": -(self.air - oxygen)},
                "burnt": {"oxygen": dioxide - burnt, "so2": -dioxide},
            },
        )
        yield "air", self.air, burnt * sulphur.burner_air(self.so2_percent)
        yield "temperature", self.gas.temperature, self.gas_temperature
        yield (
            "heat of jacket",
            self.jacket_heat * KW,
            burnt * sulphur.heat_to_cool_burner_gas(self.so2_percent, self.gas_temperature),
        )
