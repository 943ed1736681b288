"""Specific heat and enthalpy of sugar solutions, and the heat of crystallisation.

Zero of every enthalpy: liquid water, dissolved solids and crystal, each at 0 degC.
"""

from canewright.ops import Numeric
from canewright.properties import crystal, steam
from canewright.registry import formula

_SUGAR_AT_ZERO = 1.2168 + 0.46  # kJ/(kg.K), dissolved sucrose at 0 degC: purity 100
_SUGAR_RISE = 0.00375  # kJ/(kg.K2), half the rise of its specific heat with temperature


def dissolved_sugar_enthalpy(temperature: Numeric) -> Numeric:
    """Partial enthalpy of dissolved sucrose in the additive form. [kJ/kg] from [degC]."""
    return temperature * (_SUGAR_AT_ZERO + _SUGAR_RISE * temperature)


# Dissolved sugar over crystal, both with their zero at 0 degC: a consequence of the additive
# form, and inside the 10 to 17 kJ/kg that the texts give.
HEAT_AT_25 = float(dissolved_sugar_enthalpy(25.0) - crystal.crystal_enthalpy(25.0))
"""Heat of crystallisation at 25 degC that the enthalpies of this tool imply, kJ/kg."""


@formula(
    source="own_derivation",
    at="additive form: water from the steam table, solids from Bubnik et al. 1995",
    unit="kJ/(kg.K)",
    given={"dissolved_solids": "% mass", "purity": "%", "temperature": "degC"},
    equation="cp = (1 - x) cp_water(t) + x (1.2168 + 0.0046 P + 0.0075 t)",
    known="derived",
    valid={"dissolved_solids": (0, 90), "purity": (20, 100), "temperature": (0, 130)},
    uncertainty="1 to 2 % for pure sucrose, 3 % for factory liquors",
    family="specific heat of a sugar solution",
    default=True,
    note="""Agrees with the steam table at zero solids, so that flash and heater balances
        close; a constant 4.1868 for water is 0.7 % wrong near 100 degC.""",
)
def specific_heat(dissolved_solids: Numeric, purity: Numeric, temperature: Numeric) -> Numeric:
    """Specific heat of a sugar solution.

    Parameters
    ----------
    dissolved_solids : numeric
        True dissolved solids. [% mass]
    purity : numeric
        True purity. [%]
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Specific heat at constant pressure. [kJ/(kg.K)]
    """
    x = dissolved_solids / 100
    water = steam.water_heat_capacity(steam.saturation_pressure(temperature), temperature)
    solids = 1.2168 + 0.0046 * purity + 2 * _SUGAR_RISE * temperature
    return (1 - x) * water + x * solids


@formula(
    source="bubnik1995",
    at="specific heat of technical sugar solutions",
    unit="kJ/(kg.K)",
    given={"dissolved_solids": "% mass", "purity": "%", "temperature": "degC"},
    equation="cp = 4.1868 - 0.0297 w + 4.6e-5 w P + 7.5e-5 w t",
    known="memory",
    valid={"dissolved_solids": (0, 90), "purity": (20, 100), "temperature": (0, 130)},
    uncertainty="1 to 2 % for pure sucrose, 3 % for factory liquors",
    family="specific heat of a sugar solution",
)
def specific_heat_bubnik(
    dissolved_solids: Numeric, purity: Numeric, temperature: Numeric
) -> Numeric:
    """Specific heat of a sugar solution, with a constant specific heat of water.

    Parameters
    ----------
    dissolved_solids : numeric
        True dissolved solids. [% mass]
    purity : numeric
        True purity. [%]
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Specific heat. [kJ/(kg.K)]
    """
    w = dissolved_solids
    return 4.1868 - 0.0297 * w + 4.6e-5 * w * purity + 7.5e-5 * w * temperature


@formula(
    source="janovskii_archangelskii",
    at="specific heat of pure sucrose solutions",
    unit="kJ/(kg.K)",
    given={"dissolved_solids": "% mass", "temperature": "degC"},
    equation="cp = 4.1868 - (2.51 - 0.0075 t) x",
    known="memory",
    valid={"dissolved_solids": (0, 90), "temperature": (0, 130)},
    uncertainty="1 to 2 %",
    family="specific heat of a sugar solution",
)
def specific_heat_janovskii(dissolved_solids: Numeric, temperature: Numeric) -> Numeric:
    """Specific heat of a pure sucrose solution by an older equation.

    Parameters
    ----------
    dissolved_solids : numeric
        Sucrose. [% mass]
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Specific heat. [kJ/(kg.K)]
    """
    return 4.1868 - (2.51 - 0.0075 * temperature) * dissolved_solids / 100


@formula(
    source="hugot1986",
    at="specific heat of sugar solutions, kcal form",
    unit="kJ/(kg.K)",
    given={"dissolved_solids": "% mass"},
    equation="cp = 4.1868 (1 - 0.0056 w)",
    known="memory",
    valid={"dissolved_solids": (0, 90)},
    uncertainty="4 %: no temperature, no purity",
    family="specific heat of a sugar solution",
)
def specific_heat_hugot(dissolved_solids: Numeric) -> Numeric:
    """Specific heat of a sugar solution by the rule of thumb in Brix alone.

    Parameters
    ----------
    dissolved_solids : numeric
        True dissolved solids. [% mass]

    Returns
    -------
    numeric
        Specific heat. [kJ/(kg.K)]
    """
    return 4.1868 * (1 - 0.0056 * dissolved_solids)


@formula(
    source="own_derivation",
    at="additive form: water from the steam table, solids from Bubnik et al. 1995",
    unit="kJ/kg",
    given={"dissolved_solids": "% mass", "purity": "%", "temperature": "degC"},
    equation="h = (1 - x) h_water(t) + x [(1.2168 + 0.0046 P) t + 0.00375 t^2]",
    known="derived",
    valid={"dissolved_solids": (0, 95), "purity": (20, 100), "temperature": (0.01, 130)},
    uncertainty="1 to 2 % for pure sucrose, 3 % for factory liquors",
    family="enthalpy of a sugar solution",
    default=True,
    note="""Linear in the flows of water, sucrose and other solids, and equal to the steam
        table at zero solids: heater, flash and evaporator balances close without a residue.""",
)
def solution_enthalpy(dissolved_solids: Numeric, purity: Numeric, temperature: Numeric) -> Numeric:
    """Enthalpy of a sugar solution, in kJ/kg, which is MJ/t.

    Parameters
    ----------
    dissolved_solids : numeric
        True dissolved solids. [% mass]
    purity : numeric
        True purity. [%]
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Enthalpy over water and solids at 0 degC. [kJ/kg]
    """
    x = dissolved_solids / 100
    solids = temperature * (1.2168 + 0.0046 * purity + _SUGAR_RISE * temperature)
    return (1 - x) * steam.liquid_enthalpy(temperature) + x * solids


@formula(
    source="bubnik1995",
    at="integral of the specific heat of technical sugar solutions from 0 degC",
    unit="kJ/kg",
    given={"dissolved_solids": "% mass", "purity": "%", "temperature": "degC"},
    equation="h = [4.1868 - w (0.0297 - 4.6e-5 P)] t + 3.75e-5 w t^2",
    known="memory",
    valid={"dissolved_solids": (0, 95), "purity": (20, 100), "temperature": (0, 130)},
    uncertainty="1 to 2 % for pure sucrose, 3 % for factory liquors",
    family="enthalpy of a sugar solution",
)
def solution_enthalpy_bubnik(
    dissolved_solids: Numeric, purity: Numeric, temperature: Numeric
) -> Numeric:
    """Enthalpy of a sugar solution, with a constant specific heat of water.

    Parameters
    ----------
    dissolved_solids : numeric
        True dissolved solids. [% mass]
    purity : numeric
        True purity. [%]
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Enthalpy over water and solids at 0 degC. [kJ/kg]
    """
    w = dissolved_solids
    linear = 4.1868 - w * (0.0297 - 4.6e-5 * purity)
    return temperature * (linear + 3.75e-5 * w * temperature)


@formula(
    source="own_derivation",
    at="difference of the enthalpies of dissolved and crystal sugar",
    unit="kJ/kg",
    given={"temperature": "degC", "heat_at_25": "kJ/kg"},
    equation="""L = L_25 + [h_dissolved(t) - h_crystal(t)] - [h_dissolved(25) - h_crystal(25)],
        L_25 = 14.6 as the enthalpies of this tool imply""",
    known="derived",
    valid={"temperature": (10, 100)},
    uncertainty="10 kJ/kg; texts scatter from 15 to 45 kJ/kg. Second order in a pan balance",
)
def heat_of_crystallisation(temperature: Numeric, heat_at_25: Numeric = HEAT_AT_25) -> Numeric:
    """Heat released when sugar crystallises.

    A balance made with `solution_enthalpy` and `crystal.crystal_enthalpy` contains it
    already, for any purity: do not add it a second time.

    Parameters
    ----------
    temperature : numeric
        Temperature. [degC]
    heat_at_25 : numeric
        Heat of crystallisation at 25 degC. [kJ/kg]

    Returns
    -------
    numeric
        Heat per mass of crystal formed. [kJ/kg]
    """
    difference = dissolved_sugar_enthalpy(temperature) - crystal.crystal_enthalpy(temperature)
    return heat_at_25 + difference - HEAT_AT_25
