"""Moist air as a mixture of ideal gases (ASHRAE formulation), saturation from IF97.

Pressure is bar absolute, relative humidity %, humidity ratio g of water vapour per kg of
dry air, enthalpy kJ per kg of dry air (zero for dry air and liquid water at 0 degC).
The enhancement factor of real air (+0.5 % of the humidity ratio near 30 degC) is left out.
"""

from canewright.ops import Numeric, log
from canewright.properties import steam
from canewright.registry import formula

ATMOSPHERE = 1.01325
"""Standard atmosphere, bar."""

_MASS_RATIO = 621.945  # g/kg: 1000 times molar mass of water over that of air
_AIR_GAS = 0.00287042  # gas constant of dry air, bar m3/(kg K)
_WET_BULB_STEPS = 6
_DRY_BULB = (0.0, 120.0)
_PRESSURE = (0.7, 1.2)


@formula(
    source="ashrae2017",
    at="ch. 1, eqs. 20 and 22",
    unit="g/kg dry air",
    given={"temperature": "degC", "relative_humidity": "%", "pressure": "bar abs"},
    equation="W = 621.945 p_w/(p - p_w), p_w = (RH/100) p_sat(t)",
    known="read",
    valid={"temperature": _DRY_BULB, "relative_humidity": (0.0, 100.0), "pressure": _PRESSURE},
    uncertainty="0.5 % (enhancement factor left out)",
)
def humidity_ratio(
    temperature: Numeric, relative_humidity: Numeric, pressure: Numeric = ATMOSPHERE
) -> Numeric:
    """Water vapour carried by dry air. [g/kg dry air] from [degC, %, bar abs]."""
    vapour = relative_humidity / 100.0 * steam.saturation_pressure(temperature)
    return _MASS_RATIO * vapour / (pressure - vapour)


@formula(
    source="ashrae2017",
    at="ch. 1, eqs. 20 and 22 solved for p_w",
    unit="%",
    given={"temperature": "degC", "humidity": "g/kg dry air", "pressure": "bar abs"},
    equation="RH = 100 p_w/p_sat(t), p_w = p W/(621.945 + W)",
    known="read",
    valid={"temperature": _DRY_BULB, "pressure": _PRESSURE},
)
def relative_humidity(
    temperature: Numeric, humidity: Numeric, pressure: Numeric = ATMOSPHERE
) -> Numeric:
    """Relative humidity of air of a humidity ratio. [%] from [degC, g/kg, bar abs]."""
    vapour = pressure * humidity / (_MASS_RATIO + humidity)
    return 100.0 * vapour / steam.saturation_pressure(temperature)


@formula(
    source="ashrae2017",
    at="ch. 1, eq. 30",
    unit="kJ/kg dry air",
    given={"temperature": "degC", "humidity": "g/kg dry air"},
    equation="h = 1.006 t + (W/1000)(2501 + 1.86 t)",
    known="read",
    valid={"temperature": _DRY_BULB},
)
def enthalpy(temperature: Numeric, humidity: Numeric) -> Numeric:
    """Enthalpy of moist air. [kJ/kg dry air] from [degC, g/kg dry air]."""
    return 1.006 * temperature + humidity / 1000.0 * (2501.0 + 1.86 * temperature)


@formula(
    source="ashrae2017",
    at="ch. 1, eq. 30 solved for t",
    unit="degC",
    given={"enthalpy_of_air": "kJ/kg dry air", "humidity": "g/kg dry air"},
    equation="t = (h - 2.501 W)/(1.006 + 0.00186 W)",
    known="read",
)
def temperature(enthalpy_of_air: Numeric, humidity: Numeric) -> Numeric:
    """Temperature of moist air of an enthalpy. [degC] from [kJ/kg dry air, g/kg dry air]."""
    return (enthalpy_of_air - 2.501 * humidity) / (1.006 + 0.00186 * humidity)


@formula(
    source="ashrae2017",
    at="ch. 1, eq. 26",
    unit="m3/kg dry air",
    given={"temperature": "degC", "humidity": "g/kg dry air", "pressure": "bar abs"},
    equation="v = 0.00287042 (t + 273.15)(1 + W/621.945)/p",
    known="read",
    valid={"temperature": _DRY_BULB, "pressure": _PRESSURE},
)
def specific_volume(
    temperature: Numeric, humidity: Numeric, pressure: Numeric = ATMOSPHERE
) -> Numeric:
    """Volume of moist air. [m3/kg dry air] from [degC, g/kg dry air, bar abs]."""
    return _AIR_GAS * (temperature + steam.KELVIN) * (1.0 + humidity / _MASS_RATIO) / pressure


@formula(
    source="ashrae2017",
    at="ch. 1, dew point as saturation temperature of p_w",
    unit="degC",
    given={"humidity": "g/kg dry air", "pressure": "bar abs"},
    equation="t_d = T_sat(p_w), p_w = p W/(621.945 + W)",
    known="read",
    valid={"humidity": (3.8, 600.0), "pressure": _PRESSURE},
)
def dew_point(humidity: Numeric, pressure: Numeric = ATMOSPHERE) -> Numeric:
    """Temperature at which air begins to drop water. [degC] from [g/kg dry air, bar abs]."""
    return steam.saturation_temperature(pressure * humidity / (_MASS_RATIO + humidity))


def _humidity_at_wet_bulb(
    dry_bulb: Numeric, wet_bulb: Numeric, pressure: Numeric
) -> tuple[Numeric, Numeric]:
    """Humidity ratio for a pair of bulbs, and about its slope with the wet bulb."""
    vapour = steam.saturation_pressure(wet_bulb)
    saturated = _MASS_RATIO * vapour / (pressure - vapour)
    evaporating = 2501.0 - 2.326 * wet_bulb
    heating = 2501.0 + 1.86 * dry_bulb - 4.186 * wet_bulb
    humidity = (evaporating * saturated - 1006.0 * (dry_bulb - wet_bulb)) / heating
    log_slope = 17.502 * 240.97 / (240.97 + wet_bulb) ** 2
    saturated_slope = saturated * pressure / (pressure - vapour) * log_slope
    slope = (evaporating * saturated_slope - 2.326 * saturated + 1006.0 + 4.186 * humidity) / (
        heating
    )
    return humidity, slope


@formula(
    source="ashrae2017",
    at="ch. 1, eq. 33",
    unit="g/kg dry air",
    given={"dry_bulb": "degC", "wet_bulb": "degC", "pressure": "bar abs"},
    equation="""W = [(2501 - 2.326 t_w) W_s(t_w) - 1006 (t - t_w)]/
    (2501 + 1.86 t - 4.186 t_w)""",
    known="read",
    valid={"dry_bulb": _DRY_BULB, "wet_bulb": (0.0, 60.0), "pressure": _PRESSURE},
)
def humidity_ratio_by_wet_bulb(
    dry_bulb: Numeric, wet_bulb: Numeric, pressure: Numeric = ATMOSPHERE
) -> Numeric:
    """Water vapour in air from dry and wet bulb. [g/kg dry air] from [degC, degC, bar abs]."""
    humidity, _ = _humidity_at_wet_bulb(dry_bulb, wet_bulb, pressure)
    return humidity


@formula(
    source="ashrae2017",
    at="ch. 1, eq. 33 solved for t_w",
    unit="degC",
    given={"dry_bulb": "degC", "humidity": "g/kg dry air", "pressure": "bar abs"},
    equation="""t_w such that humidity_ratio_by_wet_bulb(t, t_w, p) = W: six
    unrolled Newton steps""",
    known="derived",
    valid={"dry_bulb": (5.0, 100.0), "humidity": (3.0, 250.0), "pressure": _PRESSURE},
    uncertainty="0.001 K as a solution of the equation",
    note="Over water: below 0 degC the bulb is wet with supercooled water, not ice.",
)
def wet_bulb(dry_bulb: Numeric, humidity: Numeric, pressure: Numeric = ATMOSPHERE) -> Numeric:
    """Wet-bulb temperature of air. [degC] from [degC, g/kg dry air, bar abs]."""
    heat = enthalpy(dry_bulb, humidity)
    guess = 30.0 * log(1.0 + heat / 37.0)  # within a few degrees
    for _ in range(_WET_BULB_STEPS):
        reached, slope = _humidity_at_wet_bulb(dry_bulb, guess, pressure)
        guess = guess - (reached - humidity) / slope
    return guess
