"""Inversion of sucrose: Vukov's rate, loss over a residence time, invert produced.

The pH is the one at the working temperature, 0.4 to 0.7 below the cold reading. Real
juice loses more than the equation says: treat it as the floor, and multiply the rate by
a factor fitted from the rise of glucose over sucrose (1 to 5 in published evaporators).
"""

from canewright.ops import Numeric, exp
from canewright.registry import formula

ACTIVATION_ENERGY = 108.55
"""Activation energy of Vukov's rate, kJ/mol: 5670 K times R ln 10."""


@formula(
    source="vukov1965",
    at="rate of inversion",
    unit="1/min",
    given={
        "temperature": "degC",
        "ph": "pH",
        "density": "kg/m3",
        "brix": "%",
    },
    equation="log10 k = 16.91 + log10[rho (1 - Bx/100)] - 5670/T - pH, rho in g/ml, T in K",
    known="memory",
    valid={"temperature": (50.0, 140.0), "ph": (4.0, 8.0)},
    uncertainty=("x / 1.25 from 0.1 pH alone; level checked to 17 % in neutral water, 5 % in acid"),
    note=(
        "Activation energy 108.55 kJ/mol agrees with 109.2 (Tombari et al. 2007) and 108 read"
        " elsewhere."
    ),
)
def inversion_rate(
    temperature: Numeric,
    ph: Numeric,
    density: Numeric,
    brix: Numeric,
) -> Numeric:
    """First-order rate of inversion of sucrose. [1/min] from [°C, pH, kg/m3, %]."""
    water = density / 1000.0 * (1.0 - brix / 100.0)
    return water * 10.0 ** (16.91 - 5670.0 / (temperature + 273.15) - ph)


@formula(
    source="own_derivation",
    at="first-order reaction in plug flow",
    unit="%",
    given={
        "rate": "1/min",
        "time": "min",
    },
    equation="loss = 100 [1 - exp(-k t)]",
    known="derived",
    family="residence",
    default=True,
    note="Plug flow is the default of the published tables.",
)
def inversion_loss_percent(
    rate: Numeric,
    time: Numeric,
) -> Numeric:
    """Sucrose lost by a first-order reaction. [%] from [1/min, min]."""
    return 100.0 * (1.0 - exp(-rate * time))


@formula(
    source="own_derivation",
    at="first-order reaction in one stirred vessel",
    unit="%",
    given={
        "rate": "1/min",
        "time": "min",
    },
    equation="loss = 100 k t / (1 + k t)",
    known="derived",
    family="residence",
)
def inversion_loss_percent_mixed(
    rate: Numeric,
    time: Numeric,
) -> Numeric:
    """Sucrose lost in a fully mixed vessel of mean residence time. [%] from [1/min, min]."""
    return 100.0 * rate * time / (1.0 + rate * time)


@formula(
    source="own_derivation",
    at="stoichiometry; 0.526 glucose + 0.526 fructose",
    unit="t",
    given={
        "sucrose_lost": "t",
    },
    equation="invert = sucrose lost x 2 x 180.16/342.30",
    known="derived",
    note="Masked above pH 7.5 by destruction of invert.",
)
def invert_produced(
    sucrose_lost: Numeric,
) -> Numeric:
    """Glucose and fructose together from sucrose inverted. [t] from [t]."""
    return sucrose_lost * 2.0 * 180.16 / 342.30


@formula(
    source="own_derivation",
    at="stoichiometry",
    unit="t",
    given={
        "glucose_rise": "t",
    },
    equation="sucrose = glucose x 342.30/180.16",
    known="derived",
)
def sucrose_inverted_from_glucose(
    glucose_rise: Numeric,
) -> Numeric:
    """Sucrose lost that a rise of glucose means. [t] from [t]."""
    return glucose_rise * 342.30 / 180.16
