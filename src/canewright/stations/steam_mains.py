"""Between steam and vapour: desuperheater, let-down station, blow-off."""

from canewright.model import (
    Equations,
    Inlet,
    Outlet,
    Setting,
    Station,
    conserved,
    heat_content,
    vapour_heat,
)
from canewright.ops import Numeric
from canewright.properties import steam
from canewright.streams import State, Steam, Vapour, Water


def _steam_heat(state: State) -> Numeric:
    """Heat content of steam at its pressure and temperature, MJ/h."""
    return state.water * steam.steam_enthalpy(state.pressure, state.temperature)


class Desuperheater(Station):
    """Turbine exhaust and spray water together: the exhaust main of the process.

    The exhaust pressure is set here, and nowhere else.
    Assumes that the spray evaporates fully and the vapour leaves saturated, without loss.
    Sources: [own_derivation] for the heat balance, [common_practice] for the pressure.
    """

    section = "steam"
    cautions = ("steam and vacuum",)
    demands = ("steam_in.pressure", "spray.water")
    expects = (
        ("steam_in0.temperature", "+", "spray.water"),
        ("spray.temperature", "+", "spray.water"),
        ("steam_in0.water", "+", "out.water"),
    )

    steam_in = Inlet(Steam, several=True)
    spray = Inlet(Water)
    out = Outlet(Vapour, share=0.5)

    exhaust_pressure = Setting("exhaust pressure", "bar abs", (1.8, 2.6), bounds=(1.0, 5.5))

    def equations(self) -> Equations:
        yield from conserved([*self.steam_in, self.spray], to=self.out)
        yield (
            "heat",
            sum(_steam_heat(inlet) for inlet in self.steam_in) + heat_content(self.spray),
            vapour_heat(self.out),
        )
        for inlet in self.steam_in:
            yield f"pressure of {inlet.name}", inlet.pressure, self.exhaust_pressure
        yield "exhaust pressure", self.out.pressure, self.exhaust_pressure


class LetDown(Station):
    """Reducing valve with spray: live steam makes up what the exhaust main lacks.

    Assumes that the spray evaporates fully and the vapour leaves saturated, without loss,
    at the pressure of the main.
    Sources: [own_derivation].
    """

    section = "steam"
    cautions = ("steam and vacuum",)
    demands = ("steam_in.water", "spray.water")
    supplies = ("out.water", "out.pressure")
    expects = (
        ("steam_in.temperature", "-", "steam_in.water"),
        ("out.water", "+", "spray.water"),
    )

    steam_in = Inlet(Steam)
    spray = Inlet(Water)
    out = Outlet(Vapour)

    def equations(self) -> Equations:
        yield from conserved([self.steam_in, self.spray], to=self.out)
        yield (
            "heat",
            _steam_heat(self.steam_in) + heat_content(self.spray),
            vapour_heat(self.out),
        )


class BlowOff(Station):
    """Vapour blown to the air: a safety valve that lifts, or exhaust that nothing can use.

    Assumes a flow that is known or estimated.
    Sources: [common_practice].
    """

    section = "steam"
    cautions = ("steam and vacuum",)
    demands = ("vapour.water",)
    expects = (("flow", "+", "vapour.water"),)

    vapour = Inlet(Vapour)

    flow = Setting("vapour blown to the air", "t/h", (0, 0.2), bounds=(0, 2000))

    def equations(self) -> Equations:
        yield from conserved(self.vapour, to=[], less={"blown off": {"water": self.flow}})
