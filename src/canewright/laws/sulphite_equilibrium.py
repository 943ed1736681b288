"""Sulphur dioxide in juice: equilibrium constants of two databases, speciation, back pressure.

The two databases differ by 15 % in the Henry constant and 0.22 in the second pK at
100 °C. Residual SO2 of clear juice is a fitted split, never a solubility product: plants
find 100 to 400 mg/l where equilibrium leaves 5 to 13.
"""

import numpy as np

from canewright.laws.electrolytes import equilibrium_log_constant
from canewright.ops import Numeric, exp, log10
from canewright.registry import formula


@formula(
    source="goldberg_parker1985",
    at="abstract: 1.23 +- 0.05 mol/(kg bar)",
    unit="mol/(kg bar)",
    given={
        "temperature": "degC",
    },
    equation="log10 H25 = 0.0899, dH -26.97, dCp +0.155",
    known="read",
    valid={"temperature": (0.0, 110.0)},
    uncertainty="10 % (two databases differ by 15 % at 100 °C)",
    family="sulphur dioxide solubility",
    default=True,
    note=(
        "Default because its curvature with temperature and its uncertainty were read; the "
        "bare slope of the other must not be extrapolated to 100 °C."
    ),
)
def henry_constant_goldberg(
    temperature: Numeric,
) -> Numeric:
    """Solubility of sulphur dioxide in water. [mol/(kg bar)] from [degC]."""
    return 10.0 ** equilibrium_log_constant(0.0899, -26.97, 0.155, temperature)


@formula(
    source="sander1999",
    at="compilation, as carried in a government air-quality code",
    unit="mol/(kg bar)",
    given={
        "temperature": "degC",
    },
    equation="H = 1.4 exp[2900 (1/T - 1/298)] mol/(l atm), over 1.01325",
    known="read",
    valid={"temperature": (0.0, 80.0)},
    family="sulphur dioxide solubility",
    note="One litre of water is taken as one kilogram.",
)
def henry_constant_sander(
    temperature: Numeric,
) -> Numeric:
    """Solubility of sulphur dioxide by the bare slope. [mol/(kg bar)] from [degC]."""
    return 1.4 * exp(2900.0 * (1.0 / (temperature + 273.15) - 1.0 / 298.0)) / 1.01325


@formula(
    source="goldberg_parker1985",
    at="dissociation; dCp from Goldberg et al. 2002",
    unit="pK",
    given={
        "temperature": "degC",
    },
    equation="log10 K25 = -1.857, dH -17.8, dCp -0.272",
    known="read",
    valid={"temperature": (0.0, 110.0)},
    uncertainty="0.1",
    family="first dissociation of sulphurous acid",
    default=True,
    note=(
        "Default because its heat of reaction and heat capacity bend it with temperature; the"
        " heat capacity is from memory."
    ),
)
def first_pk_goldberg(
    temperature: Numeric,
) -> Numeric:
    """First pK of sulphurous acid. [pK] from [degC]."""
    return -equilibrium_log_constant(-1.857, -17.8, -0.272, temperature)


@formula(
    source="smith_martell1976",
    at="constants of an atmospheric chemistry table",
    unit="pK",
    given={
        "temperature": "degC",
    },
    equation="K = 0.013 exp[1960 (1/T - 1/298)]",
    known="read",
    valid={"temperature": (0.0, 80.0)},
    family="first dissociation of sulphurous acid",
)
def first_pk_smith_martell(
    temperature: Numeric,
) -> Numeric:
    """First pK of sulphurous acid by the bare slope. [pK] from [degC]."""
    return -log10(0.013) - 1960.0 * (1.0 / (temperature + 273.15) - 1.0 / 298.0) / 2.302585092994046


@formula(
    source="goldberg_parker1985",
    at="dissociation; dCp from Goldberg et al. 2002",
    unit="pK",
    given={
        "temperature": "degC",
    },
    equation="log10 K25 = -7.172, dH -3.65, dCp -0.262",
    known="read",
    valid={"temperature": (0.0, 110.0)},
    uncertainty="0.1",
    family="second dissociation of sulphurous acid",
    default=True,
    note=(
        "Default because its heat of reaction and heat capacity bend it with temperature; the"
        " heat capacity is from memory."
    ),
)
def second_pk_goldberg(
    temperature: Numeric,
) -> Numeric:
    """Second pK of sulphurous acid. [pK] from [degC]."""
    return -equilibrium_log_constant(-7.172, -3.65, -0.262, temperature)


@formula(
    source="smith_martell1976",
    at="constants of an atmospheric chemistry table",
    unit="pK",
    given={
        "temperature": "degC",
    },
    equation="K = 6.6e-08 exp[1500 (1/T - 1/298)]",
    known="read",
    valid={"temperature": (0.0, 80.0)},
    family="second dissociation of sulphurous acid",
)
def second_pk_smith_martell(
    temperature: Numeric,
) -> Numeric:
    """Second pK of sulphurous acid by the bare slope. [pK] from [degC]."""
    return (
        -log10(6.6e-08) - 1500.0 * (1.0 / (temperature + 273.15) - 1.0 / 298.0) / 2.302585092994046
    )


@formula(
    source="own_derivation",
    at="mass action",
    unit="%",
    given={
        "ph": "pH",
        "first_pk": "pK",
        "second_pk": "pK",
    },
    equation=("SO2 forms: a0 = 1/D, a1 = (K1/h)/D, a2 = (K1 K2/h^2)/D, D = 1 + K1/h + K1 K2/h^2"),
    known="derived",
)
def dissolved_gas_percent(
    ph: Numeric,
    first_pk: Numeric,
    second_pk: Numeric,
) -> Numeric:
    """Share of dissolved sulphur dioxide that is undissociated gas. [%] from [pH, pK]."""
    first = 10.0 ** (ph - first_pk)
    second = first * 10.0 ** (ph - second_pk)
    return 100.0 * 1.0 / (1.0 + first + second)


@formula(
    source="own_derivation",
    at="mass action",
    unit="%",
    given={
        "ph": "pH",
        "first_pk": "pK",
        "second_pk": "pK",
    },
    equation=("SO2 forms: a0 = 1/D, a1 = (K1/h)/D, a2 = (K1 K2/h^2)/D, D = 1 + K1/h + K1 K2/h^2"),
    known="derived",
)
def bisulphite_percent(
    ph: Numeric,
    first_pk: Numeric,
    second_pk: Numeric,
) -> Numeric:
    """Share of dissolved sulphur dioxide that is bisulphite. [%] from [pH, pK]."""
    first = 10.0 ** (ph - first_pk)
    second = first * 10.0 ** (ph - second_pk)
    return 100.0 * first / (1.0 + first + second)


@formula(
    source="own_derivation",
    at="mass action",
    unit="%",
    given={
        "ph": "pH",
        "first_pk": "pK",
        "second_pk": "pK",
    },
    equation=("SO2 forms: a0 = 1/D, a1 = (K1/h)/D, a2 = (K1 K2/h^2)/D, D = 1 + K1/h + K1 K2/h^2"),
    known="derived",
)
def sulphite_percent(
    ph: Numeric,
    first_pk: Numeric,
    second_pk: Numeric,
) -> Numeric:
    """Share of dissolved sulphur dioxide that is sulphite. [%] from [pH, pK]."""
    first = 10.0 ** (ph - first_pk)
    second = first * 10.0 ** (ph - second_pk)
    return 100.0 * second / (1.0 + first + second)


@formula(
    source="own_derivation",
    at="mass action",
    unit="bar",
    given={
        "total_sulphur_dioxide": "mol/kg",
        "ph": "pH",
        "henry_constant": "mol/(kg bar)",
        "first_pk": "pK",
        "second_pk": "pK",
    },
    equation="p = S / [H (1 + K1/h + K1 K2/h^2)]",
    known="derived",
)
def back_pressure(
    total_sulphur_dioxide: Numeric,
    ph: Numeric,
    henry_constant: Numeric,
    first_pk: Numeric,
    second_pk: Numeric,
) -> Numeric:
    """Equilibrium pressure of sulphur dioxide over juice. [bar] from [mol/kg, pH, pK]."""
    return (
        total_sulphur_dioxide
        / henry_constant
        * dissolved_gas_percent(ph, first_pk, second_pk)
        / 100.0
    )


@formula(
    source="own_derivation",
    at="calcium sulphite in pure water, hydrolysis not counted",
    unit="pK",
    given={
        "solubility": "mg/kg",
        "activity_coefficient": "-",
    },
    equation="pKsp = -log10[(s/156170)^2 g^2]",
    known="derived",
)
def solubility_pk(
    solubility: Numeric,
    activity_coefficient: Numeric,
) -> Numeric:
    """Solubility product from a solubility of calcium sulphite in water. [pK] from [mg/kg, -]."""
    return -2.0 * log10(solubility / 156.17e3 * activity_coefficient)


SULPHITE_TEMPERATURES = (30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0)
SULPHITE_SOLUBILITY = {
    "water": (64.0, 63.0, 57.0, 61.0, 45.0, 31.0, 27.0, 11.0),
    "15 % sucrose": (103.0, 83.0, 73.0, 80.0, 59.0, 41.0, 36.0, 41.0),
    "15 % sucrose, 1.5 % glucose": (104.0, 81.0, 85.0, 71.0, 60.0, 47.0, 40.0, 29.0),
    "gypsum-saturated water": (31.0, 29.0, 25.0, 19.0, 12.0, 9.0, 8.0, 6.0),
    "gypsum-saturated, 15 % sucrose": (35.0, 32.0, 22.0, 19.0, 21.0, 17.0, 20.0, 21.0),
}
"""mg CaSO3.2H2O per kg solution at `SULPHITE_TEMPERATURES` (van der Linden 1916), +-10 %.

The column head was read as the dihydrate; if it meant CaSO3 the values are 30 % higher.
"""


def calcium_sulphite_solubility(solvent: str, temperature: Numeric) -> Numeric:
    """Measured solubility of calcium sulphite dihydrate, by interpolation. [mg/kg] from [°C].

    A table lookup (not a formula): it does not trace into the solver.

    Parameters
    ----------
    solvent : str
        A key of `SULPHITE_SOLUBILITY`.
    temperature : float or array
        Temperature, °C, 30 to 100.

    Raises
    ------
    KeyError
        If the solvent was not measured.
    ValueError
        If the temperature lies outside the measured range.
    """
    if solvent not in SULPHITE_SOLUBILITY:
        raise KeyError(
            f"No measured calcium sulphite solubility in {solvent!r}. Choose one of "
            f"{list(SULPHITE_SOLUBILITY)}."
        )
    low, high = SULPHITE_TEMPERATURES[0], SULPHITE_TEMPERATURES[-1]
    if np.any(np.asarray(temperature) < low) or np.any(np.asarray(temperature) > high):
        raise ValueError(
            f"Calcium sulphite was measured from {low:g} to {high:g} °C; {temperature} °C is "
            "outside. Do not extrapolate this table."
        )
    return np.interp(temperature, SULPHITE_TEMPERATURES, SULPHITE_SOLUBILITY[solvent])
