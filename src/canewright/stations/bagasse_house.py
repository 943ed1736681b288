"""Bagasse house: bagasse shared out over boilers, mud filters and the pile."""

from canewright.model import (
    Equations,
    Inlet,
    Outlet,
    Result,
    Station,
    conserved,
    same_composition,
)
from canewright.streams import Bagasse


class BagasseHouse(Station):
    """Carriers and house: bagacillo to the filters, fuel to the boilers, the rest surplus.

    Boilers and filters draw what they need; what is left goes to the pile or is sold. A
    factory that burns more than it makes has no solution: its surplus would be negative.

    Assumes that all three have the composition of the bagasse of the last mill (bagacillo
    is the same stuff, only finer), and that handling loses nothing.
    Sources: [own_derivation].
    """

    section = "steam"
    cautions = ("rotating machinery",)
    bagasse_in = Inlet(Bagasse)
    to_boilers = Outlet(Bagasse, share=0.24)
    bagacillo = Outlet(Bagasse, share=0.009)
    surplus = Outlet(Bagasse, share=0.05)
    supplies = ("bagacillo_share", "boiler_share")

    bagacillo_share = Result("bagacillo % bagasse", "%", (1, 5), bounds=(0, 100))
    boiler_share = Result("bagasse to boilers % bagasse", "%", (65, 95), bounds=(0, 100))
    surplus_share = Result("surplus % bagasse", "%", (0, 30), bounds=(0, 100))

    expects = (
        ("boiler_share", "-", "surplus.fibre"),
        ("bagacillo_share", "+", "bagacillo.water"),
        ("bagasse_in.fibre", "+", "to_boilers.fibre"),
    )

    def equations(self) -> Equations:
        bagasse = self.bagasse_in
        yield from conserved(bagasse, to=[self.to_boilers, self.bagacillo, self.surplus])
        for part, share in (
            (self.to_boilers, self.boiler_share),
            (self.bagacillo, self.bagacillo_share),
        ):
            for name, left, right in same_composition(part, share, bagasse):
                yield f"{part.name}: {name}", left, right
        yield "surplus", self.surplus_share, 100 - self.boiler_share - self.bagacillo_share
