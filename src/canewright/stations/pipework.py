"""Pipework: joining streams, sharing one out, holding stock, leaving, coming in."""

from canewright.model import (
    Design,
    Equations,
    Inlet,
    Outlet,
    Result,
    Setting,
    Station,
    Stock,
    conserved,
    heat_content,
    same_composition,
)
from canewright.streams import (
    Bagasse,
    Cake,
    ClearJuice,
    Condensate,
    Filtrate,
    Gas,
    Juice,
    Magma,
    Massecuite,
    MillJuice,
    Molasses,
    Mud,
    Sugar,
    Syrup,
    Vapour,
    Water,
)

LIQUIDS = (Juice, ClearJuice, Syrup, Massecuite, Molasses, Magma, Filtrate, MillJuice, Sugar)


class Mixer(Station):
    """Two or more streams joined into one, of the kind of the first.

    Assumes no heat of mixing and no loss.
    Sources: [own_derivation].
    """

    section = "pipework"
    first = Inlet(*LIQUIDS, Cake, label="the stream whose kind the mixture has")
    others = Inlet(*LIQUIDS, Cake, Water, Condensate, several=True, label="what is added")
    mixture = Outlet(like="first")

    def equations(self) -> Equations:
        inlets = [self.first, *self.others]
        yield from conserved(inlets, to=self.mixture)
        if "temperature" in self.mixture.values:
            yield "heat", sum(heat_content(inlet) for inlet in inlets), heat_content(self.mixture)


class Splitter(Station):
    """One stream shared out over two, with the same composition.

    Assumes the composition and temperature of both are those of the feed.
    Sources: [own_derivation].
    """

    section = "pipework"
    feed = Inlet(*LIQUIDS, Gas, Mud)
    first = Outlet(like="feed")
    second = Outlet(like="feed")
    share = Setting("share to the first outlet", "%", (0, 100), bounds=(0, 100))

    def equations(self) -> Equations:
        yield from conserved(self.feed, to=[self.first, self.second])
        yield from same_composition(self.first, self.share, self.feed)
        if "temperature" in self.feed.values:
            yield "temperature of first", self.first.temperature, self.feed.temperature
            yield "temperature of second", self.second.temperature, self.feed.temperature


class DrawOff(Station):
    """One stream shared out over two users who each take what they need.

    Assumes the composition of both is that of the feed; the amounts are the users' business.
    Sources: [own_derivation].
    """

    section = "pipework"
    feed = Inlet(Bagasse, *LIQUIDS)
    first = Outlet(like="feed")
    second = Outlet(like="feed")
    share = Result("share to the first outlet", "%", (10, 90), bounds=(0, 100))
    supplies = ("share",)

    def equations(self) -> Equations:
        yield from conserved(self.feed, to=[self.first, self.second])
        yield from same_composition(self.first, self.share, self.feed)
        if "temperature" in self.feed.values:
            yield "temperature of first", self.first.temperature, self.feed.temperature
            yield "temperature of second", self.second.temperature, self.feed.temperature


class Tank(Station):
    """A vessel that holds stock: what comes in and does not go out raises the stock.

    Assumes that the content is mixed, so that what leaves has the composition of the
    closing stock, and that it keeps its temperature.
    Sources: [own_derivation].
    """

    section = "pipework"
    feed = Inlet(*LIQUIDS)
    out = Outlet(like="feed")
    stock = Stock("stock", like="feed", sized_by="closing_mass")
    closing_mass = Setting("closing stock", "t", (5, 200), bounds=(0, 100000))
    hold_up = Result("closing stock as hours of outflow", "h", (0.2, 40), bounds=(0, 5000))

    def equations(self) -> Equations:
        yield from conserved(self.feed, to=self.out, stock=self.stock)
        closing = self.stock.closing
        for component in closing.components:
            yield (
                f"{component} as in closing stock",
                getattr(closing, component),
                self.hold_up * getattr(self.out, component),
            )
        yield "closing stock", closing.flow, self.closing_mass
        if "temperature" in self.feed.values:
            yield "temperature", self.out.temperature, self.feed.temperature


class Store(Station):
    """A vessel or shed that things leave when they are sent for: final molasses, sugar.

    Assumes that the content is mixed, so that what leaves has the composition of the
    closing stock.
    Sources: [own_derivation].
    """

    section = "pipework"
    feed = Inlet(*LIQUIDS)
    out = Outlet(like="feed")
    stock = Stock("stock", like="feed", sized_by="usual_mass")
    usual_mass = Design("usual stock", "t", (50, 1000), bounds=(0, 1e6))
    dispatch = Setting("sent away", "t/h", (4, 12), bounds=(0, 1000))
    turnover = Result("outflow % of closing stock per hour", "%/h", (0.5, 5), bounds=(0, 1000))
    expects = (("dispatch", "-", "closing.sucrose"),)

    def equations(self) -> Equations:
        yield from conserved(self.feed, to=self.out, stock=self.stock)
        closing = self.stock.closing
        for component in closing.components:
            yield (
                f"{component} as in closing stock",
                getattr(self.out, component),
                self.turnover / 100 * getattr(closing, component),
            )
        yield "sent away", self.out.flow, self.dispatch
        if "temperature" in self.feed.values:
            yield "temperature", self.out.temperature, self.feed.temperature


class SectionLoss(Station):
    """The undetermined loss of sucrose of one section of the factory.

    A quantity, not a remainder: free, with a wide prior around zero. Known losses
    (inversion by kinetics, carry-over, cake, bagasse) are modelled in their stations.
    Assumes that sucrose disappears and nothing else does. A spill takes the whole liquor;
    it is zero unless it is known, and is what the search for losses supposes here.
    Sources: [common_practice] for its width.
    """

    section = "losses"
    feed = Inlet(*LIQUIDS)
    out = Outlet(like="feed")
    undetermined = Setting(
        "undetermined loss % of the section's sucrose", "%", (-3, 3), bounds=(-60, 60)
    )

    spill = Design("liquor spilled % of the section's liquor", "%", (-0.01, 0.01), (-50, 50))

    def equations(self) -> Equations:
        feed = self.feed
        spilled = {item: self.spill / 100 * getattr(feed, item) for item in feed.components}
        yield from conserved(
            feed,
            to=self.out,
            less={
                "undetermined": {"sucrose": self.undetermined / 100 * feed.sucrose},
                "spilled": spilled,
            },
        )
        if "temperature" in self.feed.values:
            yield "temperature", self.out.temperature, self.feed.temperature


class WaterSupply(Station):
    """Water from outside, as much as is drawn.

    Assumes one temperature over the period.
    Sources: [common_practice].
    """

    section = "water"
    water = Outlet(Water)
    temperature = Setting("temperature", "degC", (15, 35), bounds=(2, 90))
    supplies = ("water.water",)

    def equations(self) -> Equations:
        yield "temperature", self.water.temperature, self.temperature


class LaboratorySamples(Station):
    """Samples taken from a stream for the laboratory, and what of them is poured back.

    Assumes that a sample has the composition of the stream and that what is poured back is
    unchanged; the rest goes to the drain with the rinsings.
    Sources: [common_practice] for the amounts.
    """

    section = "losses"
    cautions = ("lead salts",)
    feed = Inlet(*LIQUIDS, Cake, Bagasse)
    out = Outlet(like="feed")
    taken = Setting("samples taken", "kg/h", (1, 9), bounds=(0, 500))
    returned = Setting("of it poured back", "%", (0, 20), bounds=(0, 100))
    share = Result("samples lost % of the stream", "%", (0.001, 0.1), bounds=(0, 100))
    expects = (("taken", "-", "out.water"), ("returned", "+", "out.water"))

    def equations(self) -> Equations:
        feed = self.feed
        lost = self.taken / 1000 * (1 - self.returned / 100)
        gone = {item: self.share / 100 * getattr(feed, item) for item in feed.components}
        yield from conserved(feed, to=self.out, less={"taken as samples": gone})
        yield "share of the stream", self.share / 100 * feed.flow, lost
        if "temperature" in feed.values:
            yield "temperature", self.out.temperature, feed.temperature


class Departure(Station):
    """A stream that leaves the factory: a row of the ledger.

    Assumes nothing: it has no equations.
    Sources: [own_derivation].
    """

    section = "departures"
    stream = Inlet()

    def equations(self) -> Equations:
        yield from ()


class VapourDeparture(Station):
    """Vapour let off to the air: vents, flash of a tank, blow-off.

    Assumes the pressure of the air.
    Sources: [common_practice].
    """

    section = "departures"
    vapour = Inlet(Vapour)

    def equations(self) -> Equations:
        yield from ()
