"""From one unit to another; the arithmetic is pint's, imported when first needed."""

import re
from functools import cache
from typing import Any

from canewright.units.catalogue import ATOMS, CATALOGUE
from canewright.units.names import Unit, table, understood, understood_for
from canewright.units.numbers import LONGEST, UnitError, comma_as_point, read_number, tidy

STANDARD_ATMOSPHERE = 1.01325
"""bar absolute; the standard atmosphere, 101 325 Pa exactly (10th CGPM, 1954, Resolution 4;
from memory). Gauge pressures and vacuums are counted from it unless a barometer is given."""

_OWN_DEFINITIONS = (
    "turn_count = [turn]",
    "icumsa_unit = [colour]",
    "ph_unit = [acidity]",
    "degree_z = [sugar_scale]",
    "turbidity_unit = [turbidity]",
    "money_unit = [money]",
    "degree_baume = [baume_scale]",
    "quintal_mass = 100 * kilogram",
)


@cache
def _pint() -> Any:
    """Pint's register with the trade's own units; made when first asked for."""
    import pint

    register = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    for definition in _OWN_DEFINITIONS:
        register.define(definition)
    return register


def _one(unit: Unit) -> Any:
    """One of a unit, as a pint quantity; its magnitude is 100 where a unit says `g/100 mL`."""
    register = _pint()
    return register.Quantity(1.0) * register.parse_expression(unit.expression)


@cache
def _kind(unit: Unit) -> str:
    """What a unit measures, in words."""
    if unit.counts == "temperature":
        return "temperature"
    if unit.name in CATALOGUE:
        return CATALOGUE[unit.name]
    dimensions = _one(unit).dimensionality
    for name, words in CATALOGUE.items():
        known = table()[name]
        same = _one(known).dimensionality == dimensions
        if same and known.counts != "temperature":
            return words
    return "another kind"


@cache
def _factor(source: Unit, target: Unit) -> tuple[float, bool]:
    """The factor from one unit to another, and whether to divide by it (fewer digits lost)."""
    if source.expression == target.expression:
        return 1.0, False
    one, other = _one(source), _one(target)
    if one.dimensionality != other.dimensionality:
        raise _wrong_kind(source, target)
    forward = _clean(one.to(other.units).magnitude / other.magnitude)
    backward = _clean(other.to(one.units).magnitude / one.magnitude)
    if backward.is_integer() and not forward.is_integer():
        return backward, True
    return forward, False


def _clean(factor: float) -> float:
    """The factor without the last digits' noise: 0.001 for 0.0010000000000000002."""
    short = float(f"{factor:.12g}")
    return short if abs(factor - short) <= 4e-16 * abs(factor) else factor


def _wrong_kind(source: Unit, target: Unit) -> UnitError:
    remedy = f"Give the value in {target.name} or another unit of {_kind(target)}."
    if source.name == "degZ" and target.name == "%":
        remedy = (
            "A rotation is a raw reading. Only for a sample weighed at the normal weight is it "
            "the pol itself: then write %."
        )
    return UnitError(
        f"'{source.name}' is a unit of {_kind(source)} and cannot become '{target.name}', "
        f"a unit of {_kind(target)}.",
        remedy,
    )


def _scaled(value: float, factor: tuple[float, bool]) -> float:
    return value / factor[0] if factor[1] else value * factor[0]


def _temperature(value: float, source: Unit, target: Unit) -> float:
    if target.name == "K":
        raise UnitError(
            f"A value in {source.name} can become {target.name} in two ways: as a temperature or "
            "as a difference of temperatures.",
            "Write the value in K.",
        )
    register = _pint()
    if source.counts != "temperature" and source.name != "K":
        raise _wrong_kind(source, target)
    if target.counts != "temperature":
        raise _wrong_kind(source, target)
    converted = register.Quantity(value, source.expression).to(target.expression).magnitude
    return float(f"{converted:.13g}")


_BAR = Unit("bar abs", "bar", "absolute")
_COUNTED = {"absolute", "gauge", "vacuum"}


def _to_absolute(value: float, unit: Unit, barometer: float) -> float:
    size = _scaled(value, _factor(unit, _BAR))
    if unit.counts == "gauge":
        size = barometer + size
    elif unit.counts == "vacuum":
        size = barometer - size
    if unit.counts in {"gauge", "vacuum"}:
        if size < 0:
            raise UnitError(
                f"{value:g} {unit.name} would be below an absolute vacuum "
                f"(atmosphere {barometer:g} bar abs).",
                "Check the sign, and whether the pressure is gauge, absolute or a vacuum.",
            )
        return float(f"{size:.13g}")
    return size


def _from_absolute(bars: float, unit: Unit, barometer: float) -> float:
    if unit.counts == "gauge":
        bars = bars - barometer
    elif unit.counts == "vacuum":
        bars = barometer - bars
    return _scaled(bars, _factor(_BAR, unit))


def convert(
    value: float, from_unit: str, to_unit: str, *, barometer: float = STANDARD_ATMOSPHERE
) -> float:
    """The same quantity in another unit.

    Parameters
    ----------
    value : float
        Number in `from_unit`.
    from_unit, to_unit : str
        Any known units of the same kind. A pressure without `abs`, `g` or `vacuum` is absolute.
    barometer : float
        Pressure of the atmosphere, bar absolute, that gauges and vacuums are counted from.

    Returns
    -------
    float
        Number in `to_unit`.

    Raises
    ------
    UnitError
        If a unit is not known, the kinds differ, or the pressure is below an absolute vacuum.
    """
    if tidy(from_unit) == tidy(to_unit):
        return float(value)
    target = _target(to_unit)
    source = understood_for(from_unit, target)
    if source == target:
        return float(value)
    if source.of and target.of and source.of != target.of:
        raise UnitError(
            f"'{source.name}' and '{target.name}' are counted of different things.",
            f"Give the value in {target.name}.",
        )
    if "temperature" in (source.counts, target.counts):
        return _temperature(value, source, target)
    if source.counts == target.counts or not (
        source.counts in {"gauge", "vacuum"} or target.counts in {"gauge", "vacuum"}
    ):
        return _scaled(float(value), _factor(source, target))
    if source.counts not in _COUNTED:
        _factor(source, target)  # raises when it is not a pressure at all
    elif target.counts not in _COUNTED:
        _factor(source, target)
    return _from_absolute(_to_absolute(float(value), source, barometer), target, barometer)


def convert_difference(value: float, from_unit: str, to_unit: str) -> float:
    """A difference, step or standard uncertainty in another unit: the scale without the zero.

    0.2 K is 0.2 degC here, and 10 mmHg vacuum is 0.0133 bar.

    Raises
    ------
    UnitError
        If a unit is not known or the kinds differ.
    """
    target = _target(to_unit)
    source = _as_difference(understood_for(from_unit, target))
    target = _as_difference(target)
    if source.of and target.of and source.of != target.of:
        return convert(value, from_unit, to_unit)
    return _scaled(float(value), _factor(source, target))


def _target(unit: str) -> Unit:
    """The unit a quantity is kept in; some formulas name theirs in words that nothing becomes."""
    try:
        return understood(unit)
    except UnitError:
        raise UnitError(
            f"Nothing is converted to '{unit}'.", "Give a plain number, in that unit."
        ) from None


def _as_difference(unit: Unit) -> Unit:
    if unit.counts == "temperature":
        scale = {"degree_Celsius": "K", "degree_Fahrenheit": "degF"}[unit.expression]
        return Unit(unit.name, ATOMS[scale])
    if unit.name == "K":
        return Unit("K", ATOMS["K"])
    return unit


def canonical(unit: str) -> str:
    """The project's spelling of a unit.

    Raises
    ------
    UnitError
        If the unit is not known.
    """
    return understood(unit).name


def kind(unit: str) -> str:
    """What a unit measures, in words such as `mass flow`.

    Raises
    ------
    UnitError
        If the unit is not known.
    """
    return _kind(understood(unit))


_QUANTITY = re.compile(r"([+-]?[\d.,]+(?: \d{3}(?![\d]))*(?:[.,]\d+)?(?:[eE][+-]?\d{1,3})?) ?(.*)")


def _split(text: str, internal: str, unit_required: bool) -> tuple[float, str]:
    shown = tidy(text)
    found = _QUANTITY.fullmatch(shown)
    if not found:
        brief = shown if len(shown) <= LONGEST else f"{shown[:LONGEST]}..."
        raise UnitError(
            f"'{brief}' is not a number with a unit.", f"Write it like 12.5 {canonical(internal)}."
        )
    number, unit = found.groups()
    try:
        value = read_number(number)
    except UnitError as error:
        with_point = comma_as_point(number)
        if with_point is None:
            raise
        remedy = f"Write {with_point} {unit}".rstrip() + ", with a decimal point and no comma."
        raise UnitError(error.what.replace(number, shown, 1), remedy) from None
    if not unit and unit_required:
        raise UnitError(
            f"'{shown}' has no unit.", f"Write it with one, like {value:g} {canonical(internal)}."
        )
    return value, unit or internal


def parse_quantity(
    text: str | float,
    internal: str,
    *,
    unit_required: bool = False,
    barometer: float = STANDARD_ATMOSPHERE,
) -> float:
    """A quantity as a person writes it, such as `2 bar`, `343K` or `650 mmHg vacuum`.

    Parameters
    ----------
    text : str or float
        Number with its unit; without a unit it is taken to be in `internal`.
    internal : str
        Unit of the value returned.
    unit_required : bool
        Refuse a number without a unit.
    barometer : float
        Pressure of the atmosphere, bar absolute, that gauges and vacuums are counted from.

    Raises
    ------
    UnitError
        If the number or the unit cannot be read, or the unit is of the wrong kind.
    """
    value, unit = _split(str(text), internal, unit_required)
    return convert(value, unit, internal, barometer=barometer)


def parse_difference(text: str | float, internal: str, *, unit_required: bool = False) -> float:
    """A difference or standard uncertainty as a person writes it, such as `0.2 K`.

    Parameters and errors as for `parse_quantity`; only the scale of the unit counts.
    """
    value, unit = _split(str(text), internal, unit_required)
    return convert_difference(value, unit, internal)
