"""Readings: what an instrument or an analyst would say of a state.

The state is always sucrose, dissolved solids, crystal, water. Pol, refractometer Brix and
the like are readings of it, each one function of the state, with a default standard
uncertainty: a random part for one reading, and a bias of the instrument that lasts for
weeks and moves all its readings together.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Literal

from canewright.ops import Numeric
from canewright.properties.density import density
from canewright.streams import COMPONENTS, Kind, State

GLUCOSE_ROTATION = 0.79
FRUCTOSE_ROTATION = -1.40
"""Pol read for 1 % of glucose or fructose, % [own_derivation; properties: rotation]."""

INVERT_REFRACTION = 0.978
"""Brix read for 1 % of reducing sugars: they read 0.022 low [icumsa_refractometry]."""


@dataclass(frozen=True)
class Relation:
    """A relation that is not exact, as a number with a soft prior, shared by the factory."""

    name: str
    label: str
    unit: str
    mean: float
    sd: float
    bounds: tuple[float, float]
    source: str


RELATIONS = {
    relation.name: relation
    for relation in (
        Relation(
            "glucose_share",
            "glucose % of reducing sugars",
            "%",
            50.0,
            3.0,
            (20.0, 80.0),
            "common_practice",
        ),
        Relation(
            "non_sugar_refraction",
            "Brix read per 1 % of ash and other non-sugars",
            "%",
            1.04,
            0.03,
            (0.7, 1.4),
            "instrument_judgement",
        ),
    )
}

Relations = Mapping[str, Numeric]
Prediction = Callable[[State, Numeric, Relations], Numeric]


def _pol_mass(state: State, relations: Relations) -> Numeric:
    share = relations["glucose_share"] / 100
    rotation = GLUCOSE_ROTATION * share + FRUCTOSE_ROTATION * (1 - share)
    return state.all_sucrose + rotation * state.sum("reducing_sugars")


def _brix_mass(state: State, relations: Relations) -> Numeric:
    return (
        state.all_sucrose
        + INVERT_REFRACTION * state.sum("reducing_sugars")
        + relations["non_sugar_refraction"] * state.sum("ash", "organics")
    )


def _filtered(state: State) -> Numeric:
    """What is in the tube or on the prism: the sample without fibre and soil. [t/h]."""
    return state.solids + state.sum("water")


def _weight(state: State, hours: Numeric, _: Relations) -> Numeric:
    return state.flow * hours


def _flow(state: State, _: Numeric, __: Relations) -> Numeric:
    return state.flow


def _volume(state: State, hours: Numeric, relations: Relations) -> Numeric:
    return _volume_held(state, hours, relations) * hours


def _volume_held(state: State, _: Numeric, __: Relations) -> Numeric:
    if "crystal" in state.values:
        return state.sum("crystal") / 1.587 + _liquor_volume(state)
    return _liquor_volume(state) + state.sum("fibre", "soil") / 1.53


def _liquor_volume(state: State) -> Numeric:
    temperature = state.values.get("temperature", 60.0)
    return state.liquor * 1000 / density(state.liquor_solids_percent, temperature)


def _pol(state: State, _: Numeric, relations: Relations) -> Numeric:
    whole = state.flow if state.kind.name in WHOLE_SAMPLE else _filtered(state)
    return 100 * _pol_mass(state, relations) / whole


def _brix(state: State, _: Numeric, relations: Relations) -> Numeric:
    return 100 * _brix_mass(state, relations) / _filtered(state)


def _apparent_purity(state: State, _: Numeric, relations: Relations) -> Numeric:
    return 100 * _pol_mass(state, relations) / _brix_mass(state, relations)


def _liquor_of(state: State) -> State:
    values = {name: value for name, value in state.values.items() if name != "crystal"}
    return State(state.name, state.kind, values)


def _mother_liquor_purity(state: State, hours: Numeric, relations: Relations) -> Numeric:
    return _apparent_purity(_liquor_of(state), hours, relations)


def _mother_liquor_brix(state: State, hours: Numeric, relations: Relations) -> Numeric:
    return _brix(_liquor_of(state), hours, relations)


def _percent_of_whole(*components: str) -> Prediction:
    def predict(state: State, _: Numeric, __: Relations) -> Numeric:
        return 100 * state.sum(*components) / state.flow

    return predict


def _per_million(component: str) -> Prediction:
    def predict(state: State, _: Numeric, __: Relations) -> Numeric:
        return 1000 * state.sum(component) / state.flow

    return predict


def _colour(state: State, _: Numeric, __: Relations) -> Numeric:
    return state.sum("colour") / state.solids


def _condition(name: str) -> Prediction:
    def predict(state: State, _: Numeric, __: Relations) -> Numeric:
        return state.values[name]

    return predict


def _energy(state: State, hours: Numeric, _: Relations) -> Numeric:
    return state.sum("power") * hours


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


WHOLE_SAMPLE = ("cane", "bagasse", "cake", "mud", "sugar", "bags")
"""Kinds of which pol is % of the whole sample, fibre and soil included."""

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


_U = Uncertainty
_BRIX = {
    "juice": _U(0.05, 0.05),
    "syrup": _U(0.1, 0.1),
    "": _U(0.3, 0.3),
}
_POL = {
    "juice": _U(0.03, 0.03),
    "syrup": _U(0.1, 0.1),
    "cane": _U(0.12, 0.1),
    "bagasse": _U(0.07, 0.05),
    "cake": _U(0.15, 0.1),
    "molasses": _U(0.2, 0.3),
    "massecuite": _U(0.3, 0.3),
    "sugar": _U(0.057, 0.077),
    "": _U(0.3, 0.3),
}
_SUGARED = ("sucrose",)

READINGS: dict[str, Reading] = {
    reading.name: reading
    for reading in (
        Reading(
            "weight",
            "mass over the period",
            "t",
            _weight,
            tuple(name for name, unit in COMPONENTS.items() if unit == "t/h"),
            0.0,
            1e7,
            "scale",
            {"": _U(0.3, 0.3, relative=True)},
            several="sum",
            of="stream",
        ),
        Reading(
            "flow",
            "mean mass flow",
            "t/h",
            _flow,
            tuple(name for name, unit in COMPONENTS.items() if unit == "t/h"),
            0.0,
            1e5,
            "meter",
            {"": _U(0.5, 0.5, relative=True)},
            of="stream",
        ),
        Reading(
            "volume",
            "volume over the period",
            "m3",
            _volume,
            _SUGARED,
            0.0,
            1e7,
            "meter",
            {"": _U(0.3, 0.5, relative=True)},
            several="sum",
            of="stream",
        ),
        Reading(
            "mass",
            "mass held",
            "t",
            _flow,
            _SUGARED,
            0.0,
            1e6,
            "dip",
            {"massecuite": _U(1.0, 1.5, relative=True), "": _U(0.3, 0.5, relative=True)},
            of="stock",
        ),
        Reading(
            "volume_held",
            "volume held, by dip",
            "m3",
            _volume_held,
            _SUGARED,
            0.0,
            1e6,
            "dip",
            {"massecuite": _U(1.0, 1.5, relative=True), "": _U(0.3, 0.5, relative=True)},
            of="stock",
        ),
        Reading(
            "brix",
            "refractometer Brix",
            "%",
            _brix,
            _SUGARED,
            0.0,
            105.0,
            "refractometer",
            _BRIX,
            classes=("juice", "syrup", "massecuite", "molasses"),
        ),
        Reading(
            "pol",
            "pol by polarimeter",
            "%",
            _pol,
            _SUGARED,
            0.0,
            101.0,
            "polarimeter",
            _POL,
            note="Reducing sugars count by their own rotation: pol is not sucrose.",
        ),
        Reading(
            "apparent_purity",
            "apparent purity: pol % Brix",
            "%",
            _apparent_purity,
            _SUGARED,
            5.0,
            100.5,
            "polarimeter",
            {"juice": _U(0.36, 0.3), "": _U(0.4, 0.4)},
            classes=("juice", "syrup", "massecuite", "molasses"),
        ),
        Reading(
            "mother_liquor_purity",
            "apparent purity of the mother liquor pressed off",
            "%",
            _mother_liquor_purity,
            ("crystal",),
            5.0,
            100.0,
            "polarimeter",
            {"": _U(0.6, 0.4)},
            classes=("massecuite",),
        ),
        Reading(
            "mother_liquor_brix",
            "refractometer Brix of the mother liquor pressed off",
            "%",
            _mother_liquor_brix,
            ("crystal",),
            5.0,
            100.0,
            "refractometer",
            {"": _U(0.5, 0.4)},
            classes=("massecuite",),
        ),
        Reading(
            "sucrose",
            "sucrose by chromatography",
            "%",
            _percent_of_whole("sucrose", "crystal"),
            _SUGARED,
            0.0,
            100.5,
            "chromatograph",
            {"": _U(0.5, 0.5, relative=True)},
        ),
        Reading(
            "reducing_sugars",
            "reducing sugars",
            "%",
            _percent_of_whole("reducing_sugars"),
            ("reducing_sugars",),
            0.0,
            60.0,
            "burette",
            {"": _U(3.0, 3.0, relative=True)},
        ),
        Reading(
            "ash",
            "ash",
            "%",
            _percent_of_whole("ash"),
            ("ash",),
            0.0,
            40.0,
            "conductivity cell",
            {"": _U(2.0, 3.0, relative=True)},
        ),
        Reading(
            "moisture",
            "loss on drying",
            "%",
            _percent_of_whole("water"),
            ("water",),
            0.0,
            100.0,
            "drying oven",
            {
                "bagasse": _U(0.4, 0.3),
                "cake": _U(0.7, 0.4),
                "sugar": _U(0.005, 0.01),
                "": _U(0.3, 0.3),
            },
            classes=("bagasse", "cake", "sugar", "cane", "molasses", "massecuite"),
        ),
        Reading(
            "dry_solids",
            "dry solids by oven",
            "%",
            _percent_of_whole("sucrose", "crystal", "reducing_sugars", "ash", "organics"),
            _SUGARED,
            0.0,
            100.0,
            "drying oven",
            {"": _U(0.3, 0.3)},
            classes=("juice", "syrup", "massecuite", "molasses"),
        ),
        Reading(
            "fibre",
            "fibre",
            "%",
            _percent_of_whole("fibre"),
            ("fibre",),
            0.0,
            100.0,
            "fibre machine",
            {"": _U(0.4, 0.3)},
            classes=("cane", "bagasse"),
        ),
        Reading(
            "insoluble_solids",
            "insoluble solids: fibre and soil",
            "%",
            _percent_of_whole("fibre", "soil"),
            ("soil",),
            0.0,
            100.0,
            "drying oven",
            {"juice": _U(0.05, 0.03), "cane": _U(0.5, 0.5), "": _U(0.4, 0.3)},
        ),
        Reading(
            "colour",
            "colour, ICUMSA units",
            "IU",
            _colour,
            ("colour",),
            0.0,
            1e6,
            "photometer",
            {"": _U(4.0, 5.0, relative=True)},
        ),
        Reading(
            "sulphite",
            "sulphite as SO2",
            "mg/kg",
            _per_million("sulphite"),
            ("sulphite",),
            0.0,
            20000.0,
            "burette",
            {"": _U(5.0, 5.0, relative=True)},
        ),
        Reading(
            "lime",
            "lime as CaO",
            "mg/kg",
            _per_million("lime"),
            ("lime",),
            0.0,
            200000.0,
            "burette",
            {"": _U(5.0, 5.0, relative=True)},
        ),
        Reading(
            "phosphate",
            "phosphate as P2O5",
            "mg/kg",
            _per_million("phosphate"),
            ("phosphate",),
            0.0,
            20000.0,
            "photometer",
            {"": _U(5.0, 5.0, relative=True)},
        ),
        Reading(
            "temperature",
            "temperature",
            "degC",
            _condition("temperature"),
            ("temperature",),
            -20.0,
            600.0,
            "thermometer",
            {"": _U(0.4, 0.4)},
            of="stream",
        ),
        Reading(
            "pressure",
            "pressure",
            "bar abs",
            _condition("pressure"),
            ("pressure",),
            0.01,
            120.0,
            "pressure gauge",
            {"": _U(0.4, 0.4, relative=True)},
            of="stream",
        ),
        Reading(
            "energy",
            "electrical energy over the period",
            "kW.h",
            _energy,
            ("power",),
            0.0,
            1e9,
            "kilowatt-hour meter",
            {"": _U(0.3, 0.5, relative=True)},
            several="sum",
            of="stream",
        ),
    )
}


def reading_unit(name: str) -> str:
    """Unit of a reading.

    Raises
    ------
    KeyError
        If no reading has this name.
    """
    return READINGS[name].unit
