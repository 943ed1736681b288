"""What a reading is: its name, unit, limits, prediction and default uncertainty."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from canewright.laboratory.predictions import Prediction
from canewright.streams import Kind


@dataclass(frozen=True)
class Uncertainty:
    """Default standard uncertainty of one reading and of its instrument's bias.

    Absolute in the unit of the reading, or % of the value.
    """

    random: float
    bias: float
    relative: bool = False


@dataclass(frozen=True)
class Reading:
    """One kind of reading: a named function of the state.

    `needs` lists the fields of which a stream must have at least one; `low` and `high` are
    physical limits; `several` says how repeated readings of a period combine; `uncertainty`
    maps the class of a stream to the default, "" to the rest; `instrument` names what is
    shared where the factory file names no instrument.
    """

    name: str
    label: str
    unit: str
    predict: Prediction
    needs: tuple[str, ...]
    low: float
    high: float
    instrument: str
    uncertainty: Mapping[str, Uncertainty]
    several: Literal["mean", "sum"] = "mean"
    of: Literal["stream", "stock", "both"] = "both"
    source: str = "instrument_judgement"
    note: str = ""
    classes: tuple[str, ...] = field(default=())

    def suits(self, kind: Kind, stock: bool = False) -> bool:
        """Whether a stream (or a stock) of this kind can be read so."""
        if self.of == ("stream" if stock else "stock"):
            return False
        if self.classes and stream_class(kind) not in self.classes:
            return False
        return any(name in kind.fields for name in self.needs)

    def default(self, kind: Kind) -> Uncertainty:
        """Default uncertainty for a stream of this kind."""
        return self.uncertainty.get(stream_class(kind)) or self.uncertainty[""]


_CLASSES = {
    "mill juice": "juice",
    "juice": "juice",
    "clear juice": "juice",
    "filtrate": "juice",
    "syrup": "syrup",
    "massecuite": "massecuite",
    "magma": "massecuite",
    "molasses": "molasses",
    "bags": "sugar",
    "mud": "cake",
}


def stream_class(kind: Kind) -> str:
    """Class of stream, as far as the precision of analyses goes."""
    return _CLASSES.get(kind.name, kind.name)
