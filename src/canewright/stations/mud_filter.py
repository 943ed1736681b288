"""Mud filter: mud with bagacillo filtered and washed; cake leaves, filtrate returns."""

from canewright.laws import mud_filtration
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
from canewright.streams import CARRIED, DISSOLVED, Bagasse, Cake, Filtrate, Mud, Water


class MudFilter(Station):
    """Rotary vacuum filters or presses, all taken as one.

    Retention is the share of all insolubles fed, bagacillo with them, that stays in the
    cake; the rest circulates with the filtrate. The dissolved solids of the liquid that
    stays fall by equal displacement steps: left = (1 - E)^n, n = wash water per liquid of
    the cake.

    Assumes that bagacillo's juice mixes with that of the mud, that bagacillo brings no heat
    above that of the mixture, and that cake and filtrate are cooled alike by air and vacuum.
    Sources: [own_derivation] for the balance and the displacement law, [common_practice]
    for its efficiency, the cake and the wash.
    """

    section = "juice"
    cautions = ("confined spaces", "steam and vacuum", "rotating machinery")
    mud = Inlet(Mud)
    bagacillo = Inlet(Bagasse)
    wash_water = Inlet(Water)
    cake = Outlet(Cake)
    filtrate = Outlet(Filtrate)
    demands = ("wash_water.water", "bagacillo.fibre")
    usual = {
        "bagacillo.sucrose": 0.025,
        "bagacillo.reducing_sugars": 0.001,
        "bagacillo.ash": 0.002,
        "bagacillo.organics": 0.003,
        "bagacillo.soil": 0.015,
        "bagacillo.water": 0.5,
        "mud.temperature": 95.0,
        "wash_water.temperature": 75.0,
    }

    bagacillo_rate = Setting(
        "fibre of bagacillo % of fibre and soil in mud", "%", (15, 45), bounds=(0, 400)
    )
    wash_rate = Setting("wash water % cake", "%", (90, 160), bounds=(0, 600))
    retention = Fitted("retention % of fibre and soil fed", "%", (68, 86), bounds=(20, 100))
    cake_moisture = Fitted("moisture % cake", "%", (70, 78), bounds=(30, 90))
    wash_efficiency = Fitted("displacement by one cake liquid of wash", "%", (50, 70), (1, 99))
    cooling = Fitted("fall of temperature on the filter", "K", (5, 20), bounds=(0, 60))
    wash_ratio = Result("wash water per liquid in cake", "t/t", (1, 2.2), bounds=(0, 50))
    liquid_kept = Result("liquid kept % of liquid fed", "%", (15, 35), bounds=(0, 100))
    dissolved_left = Result("dissolved solids left % of those fed", "%", (2, 12), bounds=(0, 100))

    expects = (
        ("wash_rate", "-", "cake.sucrose"),
        ("wash_efficiency", "-", "cake.sucrose"),
        ("retention", "-", "filtrate.soil"),
        ("cake_moisture", "+", "cake.sucrose"),
        ("bagacillo_rate", "+", "cake.fibre"),
    )

    def equations(self) -> Equations:
        mud, bagacillo, wash = self.mud, self.bagacillo, self.wash_water
        cake, filtrate = self.cake, self.filtrate
        left = self.dissolved_left / 100
        yield from conserved(
            [mud, bagacillo, wash],
            to=[cake, filtrate],
            less={"with the cake": {tag: left * getattr(mud, tag) for tag in CARRIED}},
        )
        yield (
            "bagacillo fed",
            100 * bagacillo.fibre,
            self.bagacillo_rate * mud.sum("fibre", "soil"),
        )
        yield "wash water", 100 * wash.water, self.wash_rate * cake.flow
        for solid in ("fibre", "soil"):
            fed = getattr(mud, solid) + getattr(bagacillo, solid)
            yield f"{solid} retained", getattr(cake, solid), self.retention / 100 * fed
        yield "moisture of cake", 100 * cake.water, self.cake_moisture * cake.flow
        yield (
            "liquid kept",
            100 * cake.liquor,
            self.liquid_kept * (mud.liquor + bagacillo.liquor),
        )
        yield "wash ratio", self.wash_ratio * cake.liquor, wash.water
        yield (
            "washing",
            100 * self.dissolved_left,
            self.liquid_kept
            * mud_filtration.soluble_left_after_wash(self.wash_efficiency, self.wash_ratio),
        )
        for component in DISSOLVED:
            fed = getattr(mud, component) + getattr(bagacillo, component)
            yield f"{component.replace('_', ' ')} left", getattr(cake, component), left * fed
        mixed = filtrate.temperature + self.cooling
        yield (
            "heat",
            heat_content(mud) + heat_content(bagacillo, mixed) + heat_content(wash),
            heat_content(cake, mixed) + heat_content(filtrate, mixed),
        )
