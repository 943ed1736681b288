"""Sulphur burning and absorption: air, excess, flame temperature, trioxide, transfer units.

Sulphur dioxide is poisonous, 2.2 times as heavy as air and corrosive when wet; limits
and practice follow local rules and licensed hands. Gas enthalpies are Shomate
polynomials; where the published pieces meet they are joined by a narrow logistic blend,
so that the formulas have no branch.
"""

from canewright.ops import Numeric, exp, log, sqrt
from canewright.registry import formula

SULPHUR_MOLAR_MASS = 32.06
AIR_MOLAR_MASS = 28.965
OXYGEN_IN_AIR_PERCENT = 20.95
HEAT_OF_COMBUSTION = 296.84
"""Enthalpy of combustion of solid sulphur to the dioxide, kJ/mol at 25 °C."""
NORMAL_MOLAR_VOLUME = 22.414
_SHOMATE = {
    "oxygen": (
        700.0,
        (31.32234, -20.23531, 57.86644, -36.50624, -0.007374, -8.903471),
        (30.03235, 8.772972, -3.988133, 0.788313, -0.741599, -11.32468),
    ),
    "nitrogen": (
        500.0,
        (28.98641, 1.853978, -9.647459, 16.63537, 0.000117, -8.671914),
        (19.50583, 19.88705, -8.598535, 1.369784, 0.527601, -4.935202),
    ),
    "sulphur dioxide": (
        1200.0,
        (21.43049, 74.35094, -57.75217, 16.35534, 0.086731, -305.7688 + 296.8422),
        (57.48188, 1.009328, -0.076290, 0.005174, -4.045401, -324.4140 + 296.8422),
    ),
}
_BLEND_KELVIN = 2.0
_NEWTON_STEPS = 25
_TRIOXIDE_STEPS = 60


def _enthalpy(gas: str, kelvin: Numeric) -> Numeric:
    """Enthalpy above 298.15 K, kJ/mol."""
    joint, low, high = _SHOMATE[gas]
    weight = 1.0 / (1.0 + exp(-(kelvin - joint) / _BLEND_KELVIN))
    t = kelvin / 1000.0

    def piece(c: tuple[float, ...]) -> Numeric:
        return c[0] * t + c[1] * t**2 / 2 + c[2] * t**3 / 3 + c[3] * t**4 / 4 - c[4] / t + c[5]

    return piece(low) + weight * (piece(high) - piece(low))


def _gas_enthalpy(kelvin: Numeric, sulphur_dioxide_percent: Numeric) -> Numeric:
    """Enthalpy of the burner gas of one mol of sulphur, kJ per mol of sulphur."""
    air = 100.0 / sulphur_dioxide_percent
    oxygen = OXYGEN_IN_AIR_PERCENT / 100.0 * air - 1.0
    nitrogen = (1.0 - OXYGEN_IN_AIR_PERCENT / 100.0) * air
    return (
        _enthalpy("sulphur dioxide", kelvin)
        + oxygen * _enthalpy("oxygen", kelvin)
        + nitrogen * _enthalpy("nitrogen", kelvin)
    )


@formula(
    source="own_derivation",
    at="stoichiometry, 64.06/32.06",
    unit="t",
    given={
        "sulphur": "t",
    },
    equation="SO2 = 1.998 S",
    known="derived",
)
def sulphur_dioxide_from_sulphur(
    sulphur: Numeric,
) -> Numeric:
    """Sulphur dioxide from sulphur burnt. [t] from [t]."""
    return sulphur * 64.064 / 32.06


@formula(
    source="own_derivation",
    at="one mol of gas per mol of dry air, no SO3",
    unit="t/t",
    given={
        "sulphur_dioxide_percent": "% by volume, dry",
    },
    equation="air = (100/y) 28.965/32.06",
    known="derived",
    valid={"sulphur_dioxide_percent": (5.0, 20.95)},
)
def burner_air(
    sulphur_dioxide_percent: Numeric,
) -> Numeric:
    """Dry air per tonne of sulphur for a dry gas strength. [t/t] from [% by volume]."""
    return 100.0 / sulphur_dioxide_percent * AIR_MOLAR_MASS / SULPHUR_MOLAR_MASS


@formula(
    source="own_derivation",
    at="no SO3",
    unit="%",
    given={
        "sulphur_dioxide_percent": "% by volume, dry",
    },
    equation="excess = 100 (20.95/y - 1)",
    known="derived",
    valid={"sulphur_dioxide_percent": (5.0, 20.95)},
)
def burner_excess_air(
    sulphur_dioxide_percent: Numeric,
) -> Numeric:
    """Excess air of the burner from the dry gas strength. [%] from [% by volume]."""
    return 100.0 * (OXYGEN_IN_AIR_PERCENT / sulphur_dioxide_percent - 1.0)


@formula(
    source="own_derivation",
    at="one mol of oxygen gives one mol of dioxide",
    unit="% by volume",
    given={
        "sulphur_dioxide_percent": "% by volume, dry",
    },
    equation="O2 = 20.95 - y",
    known="derived",
    valid={"sulphur_dioxide_percent": (5.0, 20.95)},
)
def burner_gas_oxygen(
    sulphur_dioxide_percent: Numeric,
) -> Numeric:
    """Oxygen left in the dry gas. [% by volume] from [% by volume]."""
    return OXYGEN_IN_AIR_PERCENT - sulphur_dioxide_percent


@formula(
    source="own_derivation",
    at="ideal gas",
    unit="m3/kg at 0 degC, 1 atm",
    given={
        "sulphur_dioxide_percent": "% by volume, dry",
    },
    equation="gas = (100/y) 22.414/32.06",
    known="derived",
    valid={"sulphur_dioxide_percent": (5.0, 20.95)},
)
def burner_gas_volume(
    sulphur_dioxide_percent: Numeric,
) -> Numeric:
    """Dry gas volume per kg of sulphur at 0 °C and 1 atm. [m3/kg] from [% by volume]."""
    return 100.0 / sulphur_dioxide_percent * NORMAL_MOLAR_VOLUME / SULPHUR_MOLAR_MASS


@formula(
    source="nist_shomate",
    at="enthalpy of formation of sulphur dioxide",
    unit="MJ",
    given={
        "sulphur": "t",
    },
    equation="Q = 9259 MJ/t, 296.84 kJ/mol",
    known="memory",
)
def heat_of_burning(
    sulphur: Numeric,
) -> Numeric:
    """Heat of burning sulphur to the dioxide. [MJ] from [t]."""
    return sulphur * 1000.0 * HEAT_OF_COMBUSTION / SULPHUR_MOLAR_MASS


@formula(
    source="nist_shomate",
    at="Shomate enthalpies, solid sulphur and air at 25 °C, no loss",
    unit="degC",
    given={
        "sulphur_dioxide_percent": "% by volume, dry",
    },
    equation="sum n_i [h_i(T) - h_i(25 °C)] = 296.84 kJ/mol S",
    known="memory",
    valid={"sulphur_dioxide_percent": (5.0, 20.95)},
)
def flame_temperature(
    sulphur_dioxide_percent: Numeric,
) -> Numeric:
    """Adiabatic temperature of the burner gas. [degC] from [% by volume].

    Solved by a fixed number of Newton steps, so it traces.
    """
    kelvin = 298.15 + 83.0 * sulphur_dioxide_percent
    for _ in range(_NEWTON_STEPS):
        error = _gas_enthalpy(kelvin, sulphur_dioxide_percent) - HEAT_OF_COMBUSTION
        slope = _gas_enthalpy(kelvin + 0.5, sulphur_dioxide_percent) - _gas_enthalpy(
            kelvin - 0.5, sulphur_dioxide_percent
        )
        kelvin = kelvin - error / slope
    return kelvin - 273.15


@formula(
    source="nist_shomate",
    at="Shomate enthalpies",
    unit="MJ/t",
    given={
        "sulphur_dioxide_percent": "% by volume, dry",
        "temperature": "degC",
    },
    equation="Q = heat of burning - sensible heat left at t",
    known="memory",
    valid={"sulphur_dioxide_percent": (5.0, 20.95)},
)
def heat_to_cool_burner_gas(
    sulphur_dioxide_percent: Numeric,
    temperature: Numeric,
) -> Numeric:
    """Heat to remove to bring the burner gas to a temperature. [MJ/t] from [% by volume, °C]."""
    left = _gas_enthalpy(temperature + 273.15, sulphur_dioxide_percent)
    return 1000.0 * (HEAT_OF_COMBUSTION - left) / SULPHUR_MOLAR_MASS


@formula(
    source="trioxide_equilibrium",
    at="equilibrium of the trioxide at 1 atm",
    unit="%",
    given={
        "sulphur_dioxide_percent": "% by volume, dry",
        "temperature": "degC",
    },
    equation="x/[(1 - x) sqrt((O2 - x/2)/(n - x/2))] = Kp, log10 Kp = 4956/T - 4.678",
    known="memory",
    valid={"sulphur_dioxide_percent": (5.0, 13.5), "temperature": (400.0, 1000.0)},
    note=(
        "No trioxide while hot; it forms between 400 and 700 °C on iron oxide. Cool quickly "
        "through that band and keep the air dry."
    ),
)
def trioxide_conversion(
    sulphur_dioxide_percent: Numeric,
    temperature: Numeric,
) -> Numeric:
    """Equilibrium share of sulphur that is trioxide. [%] from [% by volume, °C].

    Solved by a fixed number of substitution steps, so it traces.
    """
    equilibrium = 10.0 ** (4956.0 / (temperature + 273.15) - 4.678)
    moles = 100.0 / sulphur_dioxide_percent
    oxygen = OXYGEN_IN_AIR_PERCENT / sulphur_dioxide_percent - 1.0
    share = 0.5 + 0.0 * equilibrium
    for _ in range(_TRIOXIDE_STEPS):
        ratio = equilibrium * sqrt((oxygen - share / 2.0) / (moles - share / 2.0))
        share = ratio / (1.0 + ratio)
    return 100.0 * share


@formula(
    source="own_derivation",
    at="stoichiometry, 56.077/80.06",
    unit="t",
    given={
        "trioxide": "t",
    },
    equation="CaO = 0.70 SO3",
    known="derived",
)
def lime_bound_by_trioxide(
    trioxide: Numeric,
) -> Numeric:
    """Lime that trioxide turns to gypsum. [t] from [t]."""
    return trioxide * 56.077 / 80.06


@formula(
    source="own_derivation",
    at="absorption without back pressure, dilute",
    unit="count",
    given={
        "inlet_percent": "% by volume",
        "outlet_percent": "% by volume",
    },
    equation="N = ln(y1/y2)",
    known="derived",
)
def transfer_units_no_back_pressure(
    inlet_percent: Numeric,
    outlet_percent: Numeric,
) -> Numeric:
    """Gas transfer units when the liquid exerts no back pressure. [count] from [% by volume]."""
    return log(inlet_percent / outlet_percent)


@formula(
    source="own_derivation",
    at="correction for strong gas",
    unit="count",
    given={
        "inlet_percent": "% by volume",
        "outlet_percent": "% by volume",
    },
    equation="dN = 0.5 ln[(1 - y2)/(1 - y1)]",
    known="derived",
)
def transfer_units_strong_gas_correction(
    inlet_percent: Numeric,
    outlet_percent: Numeric,
) -> Numeric:
    """Transfer units added because the gas is strong. [count] from [% by volume]."""
    return 0.5 * log((100.0 - outlet_percent) / (100.0 - inlet_percent))


@formula(
    source="own_derivation",
    at="straight equilibrium line, liquid free of SO2",
    unit="count",
    given={
        "inlet_percent": "% by volume",
        "outlet_percent": "% by volume",
        "absorption_factor": "-",
    },
    equation="N = ln[(1 - 1/A) y1/y2 + 1/A] / (1 - 1/A), A = L/(m G), fresh liquid",
    known="derived",
    note="An absorption factor of exactly one is singular.",
)
def transfer_units_straight_line(
    inlet_percent: Numeric,
    outlet_percent: Numeric,
    absorption_factor: Numeric,
) -> Numeric:
    """Gas transfer units with a straight equilibrium line. [count] from [% by volume, -]."""
    slip = 1.0 / absorption_factor
    return log((1.0 - slip) * inlet_percent / outlet_percent + slip) / (1.0 - slip)


@formula(
    source="own_derivation",
    at="inert gas as the tie",
    unit="%",
    given={
        "inlet_percent": "% by volume",
        "outlet_percent": "% by volume",
    },
    equation="loss = 100 y2/(1 - y2) (1 - y1)/y1",
    known="derived",
)
def stack_loss(
    inlet_percent: Numeric,
    outlet_percent: Numeric,
) -> Numeric:
    """Sulphur leaving by the stack on sulphur entering. [%] from [% by volume]."""
    return (
        100.0 * outlet_percent / (100.0 - outlet_percent) * (100.0 - inlet_percent) / inlet_percent
    )
