"""Crystal sugar: density, specific heat, enthalpy."""

from canewright.ops import Numeric
from canewright.registry import formula


@formula(
    source="crystal_density_handbooks",
    at="density of the sucrose crystal",
    unit="kg/m3",
    given={},
    equation="rho_c = 1587",
    known="memory",
    uncertainty="2 kg/m3; 1588 is also quoted, and the unit cell gives 1590",
)
def crystal_density() -> float:
    """Density of a sucrose crystal without inclusions.

    Returns
    -------
    float
        Density. [kg/m3]
    """
    return 1587.0


@formula(
    source="bubnik1995",
    at="specific heat of crystalline sucrose",
    unit="kJ/(kg.K)",
    given={"temperature": "degC"},
    equation="c_c = 1.1269 + 4.524e-3 t + 6.24e-6 t^2",
    known="memory",
    valid={"temperature": (0, 100)},
    uncertainty="5 % at 100 degC",
    family="specific heat of crystal sugar",
    default=True,
    note="""Gives the value at the temperature itself. The other member is stated as a mean
        from 0 to 100 degC and lies 5 % lower at 100 degC.""",
)
def crystal_specific_heat(temperature: Numeric) -> Numeric:
    """Specific heat of crystal sugar.

    Parameters
    ----------
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Specific heat. [kJ/(kg.K)]
    """
    return 1.1269 + temperature * (4.524e-3 + 6.24e-6 * temperature)


@formula(
    source="mohos2010",
    at="specific heat of crystalline sugar, stated as a mean over 0-100 degC",
    unit="kJ/(kg.K)",
    given={"temperature": "degC"},
    equation="c_c = 4.1868 (0.2712 + 0.00103 t)",
    known="read",
    valid={"temperature": (0, 100)},
    uncertainty="5 %",
    family="specific heat of crystal sugar",
)
def crystal_specific_heat_linear(temperature: Numeric) -> Numeric:
    """Specific heat of crystal sugar by the straight line of a confectionery handbook.

    Parameters
    ----------
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Specific heat. [kJ/(kg.K)]
    """
    return 4.1868 * (0.2712 + 0.00103 * temperature)


@formula(
    source="bubnik1995",
    at="integral of the specific heat of crystalline sucrose from 0 degC",
    unit="kJ/kg",
    given={"temperature": "degC"},
    equation="h_c = 1.1269 t + 2.262e-3 t^2 + 2.08e-6 t^3",
    known="memory",
    valid={"temperature": (0, 100)},
    uncertainty="3 %",
)
def crystal_enthalpy(temperature: Numeric) -> Numeric:
    """Enthalpy of crystal sugar over crystal at 0 degC.

    Dissolved sugar in `heat.solution_enthalpy` has its zero at 0 degC too, so a heat balance
    made with both already releases the heat of crystallisation (15 kJ/kg at 25 degC, 45 at
    70 degC, `heat.heat_of_crystallisation`). Do not add it a second time.

    Parameters
    ----------
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Enthalpy. [kJ/kg]
    """
    return temperature * (1.1269 + temperature * (2.262e-3 + 2.08e-6 * temperature))
