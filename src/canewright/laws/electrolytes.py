"""Electrolytes in juice: equilibrium constants with temperature, water, activity coefficients."""

from canewright.ops import Numeric, log, log10, sqrt
from canewright.registry import formula

GAS_CONSTANT = 8.314e-3
REFERENCE_KELVIN = 298.15


@formula(
    source="own_derivation",
    at="integrated van 't Hoff with constant dCp",
    unit="log10",
    given={
        "log10_at_25": "-",
        "enthalpy": "kJ/mol",
        "heat_capacity": "kJ/(mol K)",
        "temperature": "degC",
    },
    equation="ln K = ln K25 - [(dH - dCp T0)/R](1/T - 1/T0) + (dCp/R) ln(T/T0)",
    known="derived",
)
def equilibrium_log_constant(
    log10_at_25: Numeric,
    enthalpy: Numeric,
    heat_capacity: Numeric,
    temperature: Numeric,
) -> Numeric:
    """Logarithm of an equilibrium constant at temperature. [log10] from [degC] and its heats."""
    kelvin = temperature + 273.15
    slope = (enthalpy - heat_capacity * REFERENCE_KELVIN) / GAS_CONSTANT
    natural = heat_capacity / GAS_CONSTANT * log(kelvin / REFERENCE_KELVIN) - slope * (
        1.0 / kelvin - 1.0 / REFERENCE_KELVIN
    )
    return log10_at_25 + natural / 2.302585092994046


@formula(
    source="phreeqc_database",
    at="ionic product of water",
    unit="pK",
    given={
        "temperature": "degC",
    },
    equation=(
        "pKw = -(293.29227 + 0.1360833 T - 10576.913/T - 123.73158 log10 T - 6.996455e-5 T^2)"
    ),
    known="read",
    valid={"temperature": (0.0, 150.0)},
)
def water_pk(
    temperature: Numeric,
) -> Numeric:
    """Ionic product of water. [pK] from [degC]."""
    kelvin = temperature + 273.15
    return -(
        293.29227
        + 0.1360833 * kelvin
        - 10576.913 / kelvin
        - 123.73158 * log10(kelvin)
        - 6.996455e-5 * kelvin**2
    )


@formula(
    source="malmberg_maryott1956",
    at="permittivity of water",
    unit="(kg/mol)^0.5",
    given={
        "temperature": "degC",
        "water_density": "kg/m3",
    },
    equation=(
        "A = 1.82483e6 sqrt(rho)/(eps T)^1.5, eps = 87.740 - 0.40008 t + 9.398e-4 t^2 - 1.41e-6 t^3"
    ),
    known="memory",
)
def debye_huckel_slope(
    temperature: Numeric,
    water_density: Numeric,
) -> Numeric:
    """Slope of the Debye-Hückel law. [(kg/mol)^0.5] from [°C, kg/m3]."""
    permittivity = 87.740 - 0.40008 * temperature + 9.398e-4 * temperature**2
    permittivity = permittivity - 1.41e-6 * temperature**3
    return 1.82483e6 * sqrt(water_density / 1000.0) / (permittivity * (temperature + 273.15)) ** 1.5


@formula(
    source="davies1962",
    at="Davies equation",
    unit="-",
    given={
        "charge": "-",
        "ionic_strength": "mol/kg",
        "slope": "(kg/mol)^0.5",
    },
    equation="log10 g = -A z^2 [sqrt I/(1 + sqrt I) - 0.3 I]",
    known="memory",
    valid={"ionic_strength": (0.0, 0.5)},
)
def activity_coefficient(
    charge: Numeric,
    ionic_strength: Numeric,
    slope: Numeric,
) -> Numeric:
    """Activity coefficient of an ion. [-] from [-, mol/kg, (kg/mol)^0.5]."""
    root = sqrt(ionic_strength)
    return 10.0 ** (-slope * charge**2 * (root / (1.0 + root) - 0.3 * ionic_strength))
