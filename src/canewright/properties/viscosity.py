"""Viscosity of sugar solutions and factory liquors."""

from canewright.ops import Numeric, exp, log, sqrt
from canewright.registry import formula

_LN_TEN = 2.302585092994046


@formula(
    source="mathlouthi1995",
    at="Genotelle's equation, pp. 126-154",
    unit="mPa.s",
    given={"dissolved_solids": "% mass", "temperature": "degC"},
    equation="""log10 mu = 22.46 z - 0.114 + phi (1.1 + 43.1 z^1.25),
        z = w/(1900 - 18 w), phi = (30 - t)/(91 + t)""",
    known="read",
    valid={"dissolved_solids": (20, 85), "temperature": (10, 80)},
    uncertainty="3 to 7 % at 20-75 % and 20-80 degC, up to 14 % near 0 degC and in hot thin juice",
)
def sucrose_viscosity(dissolved_solids: Numeric, temperature: Numeric) -> Numeric:
    """Viscosity of a pure sucrose solution.

    The claim of 1 % is not borne out by the tables compared here.

    Parameters
    ----------
    dissolved_solids : numeric
        Sucrose, above zero. [% mass]
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Dynamic viscosity. [mPa.s]
    """
    z = dissolved_solids / (1900 - 18 * dissolved_solids)
    phi = (30 - temperature) / (91 + temperature)
    logarithm = 22.46 * z - 0.114 + phi * (1.1 + 43.1 * z**1.25)
    return exp(_LN_TEN * logarithm)


@formula(
    source="bingham1918",
    at="equation of fluidity, solution of 39.99 % mass",
    unit="mPa.s",
    given={"temperature": "degC"},
    equation="""t = 0.597 F - 1438.6/F + 38.24, F = f + 20, f = 100/mu fluidity;
        solved for F""",
    known="read",
    valid={"temperature": (0, 100)},
    uncertainty="1 %",
    note="""The abstract calls the variable viscosity; only fluidity gives the known 6.2 mPa.s
        at 20 degC.""",
)
def viscosity_of_forty_percent(temperature: Numeric) -> Numeric:
    """Viscosity of a sucrose solution of 39.99 % mass, to check viscometers with.

    Parameters
    ----------
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Dynamic viscosity. [mPa.s]
    """
    offset = temperature - 38.24
    shifted = (offset + sqrt(offset * offset + 4 * 0.597 * 1438.6)) / (2 * 0.597)
    return 100 / (shifted - 20)


@formula(
    source="own_derivation",
    at="Genotelle's equation with an exponential term of purity",
    unit="mPa.s",
    given={
        "dissolved_solids": "% mass",
        "purity": "%",
        "temperature": "degC",
        "purity_coefficient": "1/% purity",
    },
    equation="ln mu = ln mu_Genotelle(w, t) + k_P (100 - P)",
    known="assumed",
    valid={"dissolved_solids": (20, 85), "purity": (30, 100), "temperature": (10, 80)},
    uncertainty="factor 2; no coefficient is published, it has to be fitted to plant data",
)
def viscosity(
    dissolved_solids: Numeric,
    purity: Numeric,
    temperature: Numeric,
    purity_coefficient: Numeric,
) -> Numeric:
    """Viscosity of a factory liquor; shear thinning and gas are left out.

    Parameters
    ----------
    dissolved_solids : numeric
        True dissolved solids, above zero. [% mass]
    purity : numeric
        True purity. [%]
    temperature : numeric
        Temperature. [degC]
    purity_coefficient : numeric
        Rise of the logarithm of viscosity per unit of purity lost. [1/% purity]

    Returns
    -------
    numeric
        Dynamic viscosity. [mPa.s]
    """
    pure = sucrose_viscosity(dissolved_solids, temperature)
    return exp(log(pure) + purity_coefficient * (100 - purity))
