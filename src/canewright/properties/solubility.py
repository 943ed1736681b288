"""Solubility of sucrose, pure and impure, and supersaturation."""

from canewright.ops import Numeric, exp
from canewright.registry import formula

CANE_SLOPE = 0.088
"""Fall of the saturation coefficient per unit of non-sucrose to water, cane liquors."""


@formula(
    source="vavrinecz1962",
    at="equation as carried by Bubnik and Kadlec 1995, pp. 101-125",
    unit="% mass",
    given={"temperature": "degC"},
    equation="w_s = 64.447 + 0.08222 t + 1.6169e-3 t^2 - 1.558e-6 t^3 - 4.63e-8 t^4",
    known="read",
    valid={"temperature": (0, 100)},
    uncertainty="0.3 % mass; the two data sets in print differ by up to 0.6",
    family="solubility of sucrose in water",
    default=True,
    note="""Read in a copy that cites its pages, and within 0.12 % mass of the independent
        equation of Charles up to 80 degC.""",
)
def solubility(temperature: Numeric) -> Numeric:
    """Sucrose in its saturated solution in pure water, after Vavrinecz.

    Parameters
    ----------
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Sucrose. [% mass]
    """
    t = temperature
    return 64.447 + t * (0.08222 + t * (1.6169e-3 + t * (-1.558e-6 - 4.63e-8 * t)))


@formula(
    source="charles1960",
    at="equation of solubility",
    unit="% mass",
    given={"temperature": "degC"},
    equation="w_s = 64.397 + 0.07251 t + 2.0569e-3 t^2 - 9.035e-6 t^3",
    known="memory",
    valid={"temperature": (0, 100)},
    uncertainty="0.3 % mass",
    family="solubility of sucrose in water",
)
def solubility_charles(temperature: Numeric) -> Numeric:
    """Sucrose in its saturated solution in pure water, after Charles.

    Parameters
    ----------
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Sucrose. [% mass]
    """
    t = temperature
    return 64.397 + t * (0.07251 + t * (2.0569e-3 - 9.035e-6 * t))


@formula(
    source="own_derivation",
    at="definition, with the solubility of Vavrinecz",
    unit="kg/kg",
    given={"temperature": "degC"},
    equation="r = w_s/(100 - w_s)",
    known="derived",
    valid={"temperature": (0, 100)},
    uncertainty="1 %",
)
def saturation_ratio(temperature: Numeric) -> Numeric:
    """Sucrose per unit of water in a saturated pure solution.

    Parameters
    ----------
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Sucrose to water. [kg/kg]
    """
    saturated = solubility(temperature)
    return saturated / (100 - saturated)


@formula(
    source="own_derivation",
    at="definition",
    unit="kg/kg",
    given={"dissolved_solids": "% mass", "purity": "%"},
    equation="q = w (100 - P)/100/(100 - w)",
    known="derived",
    valid={"dissolved_solids": (0, 95), "purity": (0, 100)},
)
def nonsucrose_to_water(dissolved_solids: Numeric, purity: Numeric) -> Numeric:
    """Dissolved non-sucrose per unit of water.

    Parameters
    ----------
    dissolved_solids : numeric
        True dissolved solids. [% mass]
    purity : numeric
        True purity. [%]

    Returns
    -------
    numeric
        Non-sucrose to water. [kg/kg]
    """
    return dissolved_solids * (100 - purity) / 100 / (100 - dissolved_solids)


@formula(
    source="broadfoot1980",
    at="linear saturation coefficient for cane liquors",
    unit="kg/kg",
    given={"nonsucrose_water_ratio": "kg/kg", "slope": "1"},
    equation="SC = 1 - k q, k = 0.088",
    known="memory",
    valid={"nonsucrose_water_ratio": (0, 4)},
    uncertainty="0.03; unverified: fit the slope to saturation tests of the factory",
    family="saturation coefficient",
    default=True,
    note="""Made for cane, where non-sucrose lowers the solubility per unit of water. The
        constants of the other form are those of beet, which raise it.""",
)
def saturation_coefficient(nonsucrose_water_ratio: Numeric, slope: Numeric = CANE_SLOPE) -> Numeric:
    """Solubility per unit of water in a cane liquor over that in pure water.

    Parameters
    ----------
    nonsucrose_water_ratio : numeric
        Non-sucrose to water. [kg/kg]
    slope : numeric
        Fall of the coefficient per unit of that ratio. [1]

    Returns
    -------
    numeric
        Saturation coefficient. [kg/kg]
    """
    return 1 - slope * nonsucrose_water_ratio


@formula(
    source="wiklund_vavrinecz",
    at="exponential saturation coefficient, beet constants",
    unit="kg/kg",
    given={
        "nonsucrose_water_ratio": "kg/kg",
        "slope": "1",
        "intercept": "1",
        "decay": "1",
    },
    equation="SC = a q + b + (1 - b) exp(-c q), a = 0.178, b = 0.82, c = 2.1",
    known="memory",
    valid={"nonsucrose_water_ratio": (0, 4)},
    uncertainty="0.03 in beet; the constants as given must not be used for cane",
    family="saturation coefficient",
)
def saturation_coefficient_exponential(
    nonsucrose_water_ratio: Numeric,
    slope: Numeric = 0.178,
    intercept: Numeric = 0.82,
    decay: Numeric = 2.1,
) -> Numeric:
    """Saturation coefficient in the form of Wiklund and Vavrinecz.

    The constants given are of beet type and raise the solubility. In a cane factory use the
    form only with constants fitted to the factory's own saturation tests.

    Parameters
    ----------
    nonsucrose_water_ratio : numeric
        Non-sucrose to water. [kg/kg]
    slope, intercept, decay : numeric
        Constants a, b, c. [1]

    Returns
    -------
    numeric
        Saturation coefficient. [kg/kg]
    """
    q = nonsucrose_water_ratio
    return slope * q + intercept + (1 - intercept) * exp(-decay * q)


@formula(
    source="own_derivation",
    at="definition, with the linear saturation coefficient",
    unit="kg/kg",
    given={"dissolved_solids": "% mass", "purity": "%", "temperature": "degC", "slope": "1"},
    equation="y = [w P/100/(100 - w)]/[r (1 - k q)]",
    known="derived",
    valid={"dissolved_solids": (0, 93), "purity": (20, 100), "temperature": (0, 100)},
    uncertainty="0.03 to 0.05, from the saturation coefficient",
)
def supersaturation(
    dissolved_solids: Numeric,
    purity: Numeric,
    temperature: Numeric,
    slope: Numeric = CANE_SLOPE,
) -> Numeric:
    """Sucrose per unit of water over that of the saturated liquor: above 1 crystals grow.

    Parameters
    ----------
    dissolved_solids : numeric
        True dissolved solids of the liquor without crystal. [% mass]
    purity : numeric
        True purity of the liquor. [%]
    temperature : numeric
        Temperature. [degC]
    slope : numeric
        Fall of the saturation coefficient per unit of non-sucrose to water. [1]

    Returns
    -------
    numeric
        Supersaturation coefficient. [kg/kg]
    """
    sucrose_to_water = dissolved_solids * purity / 100 / (100 - dissolved_solids)
    impure = nonsucrose_to_water(dissolved_solids, purity)
    coefficient = saturation_coefficient(impure, slope)
    return sucrose_to_water / (saturation_ratio(temperature) * coefficient)


@formula(
    source="own_derivation",
    at="supersaturation 1 solved for the solids, linear saturation coefficient",
    unit="% mass",
    given={"purity": "%", "temperature": "degC", "slope": "1"},
    equation="w = 100 r/[P/100 + r + k r (1 - P/100)]",
    known="derived",
    valid={"purity": (20, 100), "temperature": (0, 100)},
    uncertainty="0.5 % mass, from the saturation coefficient",
)
def saturation_brix(purity: Numeric, temperature: Numeric, slope: Numeric = CANE_SLOPE) -> Numeric:
    """Dissolved solids at which a liquor of this purity is just saturated.

    Parameters
    ----------
    purity : numeric
        True purity. [%]
    temperature : numeric
        Temperature. [degC]
    slope : numeric
        Fall of the saturation coefficient per unit of non-sucrose to water. [1]

    Returns
    -------
    numeric
        True dissolved solids. [% mass]
    """
    ratio = saturation_ratio(temperature)
    sucrose = purity / 100
    return 100 * ratio / (sucrose + ratio + slope * ratio * (1 - sucrose))
