"""Refractive index of water and sugar solutions at the sodium D line, in air."""

from canewright.ops import Numeric, sqrt
from canewright.properties.density import density, water_density
from canewright.registry import formula

_WAVELENGTH = 0.5893 / 0.589  # mean of the sodium lines over the reference wavelength
_AIR_INDEX = 1.000272
_ULTRAVIOLET = 0.2292020
_INFRARED = 5.432937


@formula(
    source="iapws_r9_97",
    at="equation 1 at 589.3 nm, divided by the index of air at 20 degC, 1.000272",
    unit="1",
    given={"temperature": "degC"},
    equation="""(n^2 - 1)/(n^2 + 2)/d = a0 + a1 d + a2 T + a3 L^2 T + a4/L^2
        + a5/(L^2 - 0.229202^2) + a6/(L^2 - 5.432937^2) + a7 d^2,
        d = rho/1000, T = T/273.15 K, L = wavelength/589 nm""",
    known="read",
    valid={"temperature": (0, 100)},
    uncertainty="0.00002",
)
def water_refractive_index(temperature: Numeric) -> Numeric:
    """Refractive index of water at 589.3 nm against air of 20 degC.

    Against air as warm as the water it is 0.00003 higher at 45 degC, 0.00005 at 60 degC.

    Parameters
    ----------
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Refractive index. [1]
    """
    relative = water_density(temperature) / 1000
    warmth = (temperature + 273.15) / 273.15
    square = _WAVELENGTH**2
    constant = (
        0.244257733
        + 1.58920570e-3 / square
        + 2.45934259e-3 / (square - _ULTRAVIOLET**2)
        + 0.900704920 / (square - _INFRARED**2)
    )
    refraction = relative * (
        constant
        + 9.74634476e-3 * relative
        + (-3.73234996e-3 + 2.68678472e-4 * square) * warmth
        - 1.66626219e-2 * relative * relative
    )
    return sqrt((1 + 2 * refraction) / (1 - refraction)) / _AIR_INDEX


@formula(
    source="own_derivation",
    at="Lorentz-Lorenz mixture of water and sugar, fitted to the ICUMSA table of 1974",
    unit="1",
    given={"dissolved_solids": "% mass", "temperature": "degC"},
    equation="""L = (rho/1000) [(1 - x) L_w/(rho_w/1000) + x R_s (1 + 7.2e-5 (t - 20))],
        R_s = 0.2067892 - 0.0019359 x - 0.0008248 x^2, n = sqrt((1 + 2 L)/(1 - L)),
        L_w = (n_w^2 - 1)/(n_w^2 + 2)""",
    known="derived",
    valid={"dissolved_solids": (0, 85), "temperature": (10, 40)},
    uncertainty="0.000015 at 20 degC, which is 0.01 % mass",
)
def refractive_index(dissolved_solids: Numeric, temperature: Numeric) -> Numeric:
    """Refractive index of a sucrose solution at 589.3 nm against air.

    Above 75 % the older tables lie 0.0001 to 0.0003 lower, 0.04 to 0.1 % mass. The table of
    ISO 1743 is one of glucose syrup: only its row of zero solids may be compared.

    Parameters
    ----------
    dissolved_solids : numeric
        Sucrose. [% mass]
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Refractive index. [1]
    """
    x = dissolved_solids / 100
    square = water_refractive_index(temperature) ** 2
    water = (square - 1) / (square + 2) / water_density(temperature)
    sugar = 0.2067892 + x * (-0.0019359 - 0.0008248 * x)
    sugar = sugar * (1 + 7.2e-5 * (temperature - 20)) / 1000
    refraction = density(dissolved_solids, temperature) * ((1 - x) * water + x * sugar)
    return sqrt((1 + 2 * refraction) / (1 - refraction))
