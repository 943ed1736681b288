"""What each kind of reading would be, as a function of the state."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from canewright.ops import Numeric
from canewright.properties.crystal import crystal_density
from canewright.properties.density import density
from canewright.streams import State

GLUCOSE_ROTATION = 0.79
FRUCTOSE_ROTATION = -1.40
"""Pol read for 1 % of glucose or fructose, % [own_derivation; properties: rotation]."""

INVERT_REFRACTION = 0.978
"""Brix read for 1 % of reducing sugars: they read 0.022 low [icumsa_refractometry]."""


CRYSTAL_DENSITY = crystal_density() / 1000
"""t/m3 [crystal_density_handbooks]."""

FIBRE_DENSITY = 1.53
"""Fibre and fine soil without voids, t/m3 [murry_holt1967]."""

WHOLE_SAMPLE = ("cane", "bagasse", "cake", "mud", "sugar", "bags")
"""Kinds of which pol is % of the whole sample, fibre and soil included."""


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


def weight(state: State, hours: Numeric, _: Relations) -> Numeric:
    """Mass over the period. [t]."""
    return state.flow * hours


def flow(state: State, _: Numeric, __: Relations) -> Numeric:
    """Mass flow; of a stock, its mass. [t/h, t]."""
    return state.flow


def volume(state: State, hours: Numeric, relations: Relations) -> Numeric:
    """Volume over the period. [m3]."""
    return volume_held(state, hours, relations) * hours


def volume_held(state: State, _: Numeric, __: Relations) -> Numeric:
    """Volume of the stream per hour, or of a stock. [m3/h, m3]."""
    if "crystal" in state.values:
        return state.sum("crystal") / CRYSTAL_DENSITY + _liquor_volume(state)
    return _liquor_volume(state) + state.sum("fibre", "soil") / FIBRE_DENSITY


def _liquor_volume(state: State) -> Numeric:
    temperature = state.values.get("temperature", 60.0)
    return state.liquor * 1000 / density(state.liquor_solids_percent, temperature)


def pol(state: State, _: Numeric, relations: Relations) -> Numeric:
    """Pol by polarimeter: reducing sugars count by their own rotation. [%]."""
    whole = state.flow if state.kind.name in WHOLE_SAMPLE else _filtered(state)
    return 100 * _pol_mass(state, relations) / whole


def brix(state: State, _: Numeric, relations: Relations) -> Numeric:
    """Refractometer Brix: each solid counts by its own refraction. [%]."""
    return 100 * _brix_mass(state, relations) / _filtered(state)


def apparent_purity(state: State, _: Numeric, relations: Relations) -> Numeric:
    """Pol % Brix. [%]."""
    return 100 * _pol_mass(state, relations) / _brix_mass(state, relations)


def _liquor_of(state: State) -> State:
    values = {name: value for name, value in state.values.items() if name != "crystal"}
    return State(state.name, state.kind, values)


def mother_liquor_purity(state: State, hours: Numeric, relations: Relations) -> Numeric:
    """Apparent purity of the liquor pressed off a massecuite. [%]."""
    return apparent_purity(_liquor_of(state), hours, relations)


def mother_liquor_brix(state: State, hours: Numeric, relations: Relations) -> Numeric:
    """Refractometer Brix of the liquor pressed off a massecuite. [%]."""
    return brix(_liquor_of(state), hours, relations)


def percent_of_whole(*components: str) -> Prediction:
    """Components as % of the whole sample. [%]."""

    def predict(state: State, _: Numeric, __: Relations) -> Numeric:
        return 100 * state.sum(*components) / state.flow

    return predict


def per_million(component: str) -> Prediction:
    """A carried quantity, kg/h, per t of sample. [mg/kg]."""

    def predict(state: State, _: Numeric, __: Relations) -> Numeric:
        return 1000 * state.sum(component) / state.flow

    return predict


def colour(state: State, _: Numeric, __: Relations) -> Numeric:
    """Colour on solids. [IU]."""
    return state.sum("colour") / state.solids


def condition(name: str) -> Prediction:
    """The stream's own temperature or pressure. [degC, bar abs]."""

    def predict(state: State, _: Numeric, __: Relations) -> Numeric:
        return state.values[name]

    return predict


def energy(state: State, hours: Numeric, _: Relations) -> Numeric:
    """Electrical energy over the period. [kWh]."""
    return state.sum("power") * hours
