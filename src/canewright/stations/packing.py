"""Packing: bulk bags, sacks and retail bags, with checkweigher."""

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
from canewright.streams import Bags, Sugar


class PackingLine(Station):
    """One packing line: sugar in, bags and rejected sugar out.

    The mean net content is the nominal content plus the overfill; what the checkweigher
    rejects and what is swept up goes back to be melted.
    Assumes the bags have the sugar's composition.
    Sources: [own_derivation]; [common_practice] for ranges.
    """

    section = "sugar"
    cautions = ("sugar dust", "rotating machinery")
    expects = (("overfill", "-", "bags_per_hour"), ("rejected", "+", "rejects.crystal"))
    sugar = Inlet(Sugar)
    bags = Outlet(Bags)
    rejects = Outlet(Sugar, share=0.0003)

    net_content = Setting("nominal net content", "kg", (24, 26), bounds=(0.05, 2000))
    overfill = Fitted("mean overfill", "g/kg", (0.2, 2.2), bounds=(-20, 50))
    rejected = Fitted("sugar rejected or swept up % of sugar", "%", (0.05, 0.55), bounds=(0, 20))
    bags_per_hour = Result("bags filled", "1/h", (20, 2000), bounds=(0, 1e6))

    def equations(self) -> Equations:
        yield from conserved(self.sugar, to=[self.bags, self.rejects])
        yield from same_composition(self.rejects, self.rejected, self.sugar)
        yield "temperature of rejects", self.rejects.temperature, self.sugar.temperature
        yield (
            "net content",
            self.bags.flow * 1000,
            self.bags_per_hour * self.net_content * (1 + self.overfill / 1000),
        )
