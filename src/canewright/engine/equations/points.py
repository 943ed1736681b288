"""Points: where readings are taken, and what the model says each would read there.

A point is a stream, the opening or closing stock of a vessel, or a station (whose
quantities can be read by name). Points are written with underscores: the stream "mixed
juice" is the point `mixed_juice`.
"""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from math import inf
from typing import Literal

from canewright.engine.equations.model import Model
from canewright.laboratory.instruments import widening
from canewright.laboratory.readings import READINGS, Reading, Uncertainty
from canewright.ops import Numeric
from canewright.streams import COMPONENTS, State

CHECK = "check"
"""Analysis of what a check of an instrument reads."""
ONE_A_POINT = ("scale", "meter", "dip", "pressure gauge", "thermometer", "kilowatt-hour meter")
"""Instruments of which each point has its own."""
QUANTITY_UNCERTAINTY = Uncertainty(2.0, 1.0, relative=True)
"""Default for a station's quantity read directly: 2 % and 1 % of the value."""


def point_name(name: str) -> str:
    """`mixed juice` -> `mixed_juice`."""
    return name.strip().lower().replace(" ", "_").replace("-", "_")


@dataclass(frozen=True)
class Channel:
    """One kind of reading at one point: what it predicts and how uncertain it is.

    `random` and `bias` are standard uncertainties, absolute in `unit` or % of the value;
    `instrument` names what its bias is shared with.
    """

    point: str
    analysis: str
    label: str
    unit: str
    owner: str
    kind: Literal["stream", "stock", "quantity", "check"]
    low: float
    high: float
    several: Literal["mean", "sum"]
    random: float
    random_relative: bool
    bias: float
    bias_relative: bool
    instrument: str
    source: str

    @property
    def name(self) -> str:
        """`point analysis`, unique."""
        return f"{self.point} {self.analysis}"


def check_channel(instrument: str) -> Channel:
    """A check of an instrument against a standard: it reads the bias itself.

    In standard uncertainties of its calibration; what a reading adds at random comes with it.
    """
    return Channel(
        instrument, CHECK, f"check of {instrument}", "standard uncertainties", "", "check",
        -inf, inf, "mean", 0.0, False, 1.0, False, instrument, "",
    )  # fmt: skip


@dataclass
class Points:
    """Every point of a model and what can be read there.

    `on` is the day of the period: an instrument overdue for calibration then has a wider
    bias (`canewright.laboratory.instruments.widening`). Left out, dates play no part.
    """

    model: Model
    on: datetime.date | None = None

    @cached_property
    def owners(self) -> dict[str, str]:
        """Point -> name of the stream, main, stock or station."""
        names: dict[str, str] = {}
        for name in (*self.model.states, *self.model.stations):
            names.setdefault(point_name(name), name)
        for main in self.model.flowsheet.mains:
            names.setdefault(point_name(main.name), main.name)
        for point, stream in self.model.factory.points.items():
            names[point_name(point)] = stream
        return names

    @cached_property
    def _mains(self) -> dict[str, State]:
        """Main -> its whole: what all feeds bring, at the condition of what is drawn."""
        states = self.model.states
        found = {}
        for main in self.model.flowsheet.mains:
            feeds, drawn = [states[name] for name in main.feeds], states[main.draws[0]]
            mixed = feeds[0] if len(feeds) == 1 else drawn
            values = {
                item: sum(feed.values[item] for feed in feeds)
                if item in COMPONENTS
                else mixed.values[item]
                for item in main.kind.fields
            }
            found[main.name] = State(main.name, main.kind, values)
        return found

    def state(self, owner: str) -> State | None:
        """State of a stream, a whole main or a stock, by name; None for a station."""
        return self.model.states.get(owner) or self._mains.get(owner)

    @cached_property
    def _instruments(self) -> dict[str, object]:
        found: dict[str, object] = {}
        for instrument in self.model.factory.instruments:
            for read in instrument.reads:
                owner, _, analysis = read.rpartition(".")
                found[f"{point_name(owner)} {analysis}"] = instrument
        return found

    def analyses(self, point: str) -> dict[str, Channel]:
        """What can be read at a point.

        Raises
        ------
        KeyError
            If there is no such point.
        """
        owner = self.owners[point]
        channels = {}
        state = self.state(owner)
        if state is not None:
            stock = owner not in self.model.flowsheet.streams and owner not in self._mains
            for reading in READINGS.values():
                if reading.suits(state.kind, stock):
                    channels[reading.name] = self._of_state(point, owner, state, reading, stock)
        if owner in self.model.stations or point in map(point_name, self.model.stations):
            station = next(
                station
                for name, station in self.model.stations.items()
                if name == owner or point_name(name) == point
            )
            for name, quantity in station.quantities.items():
                if quantity.role != "design" and name not in channels:
                    channels[name] = self._with_instrument(
                        Channel(
                            point,
                            name,
                            quantity.label,
                            quantity.unit,
                            f"{station.name}.{name}",
                            "quantity",
                            quantity.bounds[0],
                            quantity.bounds[1],
                            "mean",
                            QUANTITY_UNCERTAINTY.random,
                            True,
                            QUANTITY_UNCERTAINTY.bias,
                            True,
                            f"{station.name} {name}",
                            "instrument_judgement",
                        )
                    )
        return channels

    def _of_state(
        self, point: str, owner: str, state: State, reading: Reading, stock: bool
    ) -> Channel:
        default = reading.default(state.kind)
        # A scale or meter is one instrument for each stream; a refractometer serves all.
        own = reading.instrument in ONE_A_POINT
        base = owner.removesuffix(" opening").removesuffix(" closing") if stock else owner
        return self._with_instrument(
            Channel(
                point,
                reading.name,
                reading.label,
                reading.unit,
                owner,
                "stock" if stock else "stream",
                reading.low,
                reading.high,
                reading.several,
                default.random,
                default.relative,
                default.bias,
                default.relative,
                f"{base} {reading.instrument}" if own else reading.instrument,
                reading.source,
            )
        )

    def _with_instrument(self, channel: Channel) -> Channel:
        from canewright.flowsheet import Instrument

        key = f"{point_name(channel.owner)} {channel.analysis}"
        instrument = self._instruments.get(channel.name) or self._instruments.get(key)
        if not isinstance(instrument, Instrument):
            return channel
        values = vars(channel).copy()
        values["instrument"] = instrument.name
        for part in ("random", "bias"):
            spread = getattr(instrument, part)
            if spread is not None:
                values[part], values[f"{part}_relative"] = spread.value, spread.relative
        if self.on is not None:
            values["bias"] *= widening(instrument.calibrated, instrument.due, self.on)
        return Channel(**values)

    def channel(self, point: str, analysis: str) -> Channel:
        """The channel of a reading.

        Raises
        ------
        KeyError
            If the point or the analysis is unknown.
        """
        return self.analyses(point)[analysis]

    def predict(self, channel: Channel, relations: Mapping[str, Numeric]) -> Numeric:
        """Expression of what would be read, without bias."""
        model = self.model
        if channel.kind == "check":
            return 0.0
        if channel.kind == "quantity":
            return model.symbols[model.position(channel.owner)]
        hours = model.parameters[model.parameter_names.index("hours")]
        state = self.state(channel.owner)
        assert state is not None, channel.owner
        return READINGS[channel.analysis].predict(state, hours, relations)
