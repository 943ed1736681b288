"""Thermal conductivity of sugar solutions and surface tension of water."""

from canewright.ops import Numeric, exp, log
from canewright.registry import formula


@formula(
    source="riedel1949",
    at="thermal conductivity of sugar solutions",
    unit="W/(m.K)",
    given={"dissolved_solids": "% mass", "temperature": "degC"},
    equation="k = 1.16e-3 (486 + 1.55 t - 0.005 t^2)(1 - 0.0054 w)",
    known="memory",
    valid={"dissolved_solids": (0, 70), "temperature": (0, 100)},
    uncertainty="1 % for water up to 100 degC, 3 % for solutions",
)
def thermal_conductivity(dissolved_solids: Numeric, temperature: Numeric) -> Numeric:
    """Thermal conductivity of a sugar solution.

    Parameters
    ----------
    dissolved_solids : numeric
        True dissolved solids. [% mass]
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Thermal conductivity. [W/(m.K)]
    """
    water = 486 + temperature * (1.55 - 0.005 * temperature)
    return 1.16e-3 * water * (1 - 0.0054 * dissolved_solids)


@formula(
    source="iapws_surface_tension",
    at="equation 1",
    unit="mN/m",
    given={"temperature": "degC"},
    equation="sigma = 235.8 tau^1.256 (1 - 0.625 tau), tau = 1 - T/647.096 K",
    known="memory",
    valid={"temperature": (0.01, 370)},
    uncertainty="0.5 %; sucrose adds a few %, surfactants of juice take off 10 to 30 %",
)
def water_surface_tension(temperature: Numeric) -> Numeric:
    """Surface tension of water against its vapour.

    Parameters
    ----------
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Surface tension. [mN/m]
    """
    tau = 1 - (temperature + 273.15) / 647.096
    return 235.8 * exp(1.256 * log(tau)) * (1 - 0.625 * tau)
