"""Water activity and boiling point elevation of sugar liquors."""

from canewright.ops import Numeric, exp, log
from canewright.properties import steam
from canewright.registry import formula

SUCROSE_MOLAR_MASS = 342.3
"""Molar mass of sucrose, g/mol."""
WATER_MOLAR_MASS = 18.015
"""Molar mass of water, g/mol."""
NONSUCROSE_MOLAR_MASS = 200.0
"""First value of the mean molar mass of non-sucrose, g/mol; a parameter to be fitted."""
_Q_OVER_R = -17638.0 / 8.314462618  # K
_A = -1.0038
_B = -0.24653
_LATENT_SCALE = 4890.0  # K, latent heat of water over the gas constant near 100 degC
_KELVIN = 273.15


@formula(
    source="own_derivation",
    at="amounts of water, sucrose and non-sucrose",
    unit="mol/mol",
    given={
        "dissolved_solids": "% mass",
        "purity": "%",
        "nonsucrose_molar_mass": "g/mol",
    },
    equation="X = n/(n + (100 - w)/18.015), n = (w/100) [P/342.3 + (100 - P)/M_ns]",
    known="derived",
    valid={"dissolved_solids": (0, 95), "purity": (20, 100), "nonsucrose_molar_mass": (100, 400)},
)
def solute_mole_ratio(
    dissolved_solids: Numeric,
    purity: Numeric,
    nonsucrose_molar_mass: Numeric = NONSUCROSE_MOLAR_MASS,
) -> Numeric:
    """Dissolved molecules over all molecules of a sugar liquor.

    Parameters
    ----------
    dissolved_solids : numeric
        True dissolved solids. [% mass]
    purity : numeric
        True purity. [%]
    nonsucrose_molar_mass : numeric
        Mean molar mass of the dissolved non-sucrose. [g/mol]

    Returns
    -------
    numeric
        Mole ratio of solutes to the whole. [mol/mol]
    """
    per_hundred = purity / SUCROSE_MOLAR_MASS + (100 - purity) / nonsucrose_molar_mass
    solute = dissolved_solids / 100 * per_hundred
    return solute / (solute + (100 - dissolved_solids) / WATER_MOLAR_MASS)


def _activity_slope(mole_ratio: Numeric) -> Numeric:
    """Part of ln a_w that goes with 1/T, in K."""
    x = mole_ratio
    return _Q_OVER_R * x * x * (1 + x * (_A + _B * x))


@formula(
    source="starzak1997",
    at="activity of water; constants Q, a, b of the abstract",
    unit="1",
    given={"mole_ratio": "mol/mol", "temperature": "degC"},
    equation="""ln a_w = ln(1 - X) + (Q/(R T)) X^2 (1 + a X + b X^2),
        Q = -17638 J/mol, a = -1.0038, b = -0.24653, T in K""",
    known="memory",
    valid={"mole_ratio": (0, 0.35), "temperature": (0, 150)},
    uncertainty="2 % of the boiling point elevation for pure sucrose",
    note="""The constants were read in an abstract; the place of the powers of X was
        remembered, and agrees with the classic boiling point column.""",
)
def water_activity(mole_ratio: Numeric, temperature: Numeric) -> Numeric:
    """Activity of water in a sucrose solution, after Starzak and Peacock.

    Parameters
    ----------
    mole_ratio : numeric
        Mole ratio of sucrose (of all solutes in a factory liquor) to the whole. [mol/mol]
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Vapour pressure over that of water at the same temperature. [1]
    """
    return (1 - mole_ratio) * exp(_activity_slope(mole_ratio) / (temperature + _KELVIN))


@formula(
    source="starzak1997",
    at="activity of water set into p_sat(T) a_w(X, T) = p; factory liquors by total solutes",
    unit="K",
    given={
        "dissolved_solids": "% mass",
        "purity": "%",
        "saturation_temperature": "degC",
        "nonsucrose_molar_mass": "g/mol",
    },
    equation="""p_sat(T) a_w(X, T) = p_sat(T_0), BPE = T - T_0.
        Explicit: G(T) = T_sat(p/a_w(T)); T <- T + (G(T) - T)/(1 - C/4890 K), twice from T_0,
        C = (Q/R) X^2 (1 + a X + b X^2)""",
    known="memory",
    valid={
        "dissolved_solids": (0, 92),
        "purity": (30, 100),
        "saturation_temperature": (40, 130),
        "nonsucrose_molar_mass": (150, 350),
    },
    uncertainty="2 to 3 % for pure sucrose, 10 to 20 % for factory liquors (fit the molar mass)",
    family="boiling point elevation",
    default=True,
    note="""The only member built on thermodynamics: right at every pressure, up to pan
        solids, with one parameter for non-sucrose. Best of 21 methods in a published comparison.
        The treatment of purity is ours and not validated.""",
)
def boiling_point_elevation(
    dissolved_solids: Numeric,
    purity: Numeric,
    saturation_temperature: Numeric,
    nonsucrose_molar_mass: Numeric = NONSUCROSE_MOLAR_MASS,
) -> Numeric:
    """Boiling point of a sugar liquor over that of water at the same pressure.

    The boiling temperature is the fixed point of T = T_sat(p/a_w(T)). The activity of water
    hardly moves with temperature, so two corrected substitutions written out one after the
    other come within 0.001 K of the solution, and no iteration hides in the formula.

    Parameters
    ----------
    dissolved_solids : numeric
        True dissolved solids. [% mass]
    purity : numeric
        True purity. [%]
    saturation_temperature : numeric
        Boiling point of water at the pressure over the liquor. [degC]
    nonsucrose_molar_mass : numeric
        Mean molar mass of the dissolved non-sucrose. [g/mol]

    Returns
    -------
    numeric
        Elevation of the boiling point. [K]
    """
    mole_ratio = solute_mole_ratio(dissolved_solids, purity, nonsucrose_molar_mass)
    slope = _activity_slope(mole_ratio)
    pressure = steam.saturation_pressure(saturation_temperature)
    boiling = saturation_temperature
    for _ in range(2):
        substituted = steam.saturation_temperature(pressure / water_activity(mole_ratio, boiling))
        boiling = boiling + (substituted - boiling) / (1 - slope / _LATENT_SCALE)
    return boiling - saturation_temperature


@formula(
    source="guo1983",
    at="boiling point elevation of cane juice",
    unit="K",
    given={"dissolved_solids": "% mass", "saturation_temperature": "degC"},
    equation="""BPE = 6.064e-5 (273 + t)^2 w^2/(374.3 - t)^0.38 [5.84e-7 (w - 40)^2 + 7.2e-4],
        t boiling point of water""",
    known="memory",
    valid={"dissolved_solids": (15, 75), "saturation_temperature": (50, 130)},
    uncertainty="""no published value seen; against pure sucrose 13 % low at 15 %, half at 5 %
        (it goes with the square of the solids), 8 to 28 % high at 60 to 75 %""",
    note="For evaporators only: below pure sucrose above 82 % at pan vacuum.",
    family="boiling point elevation",
)
def boiling_point_elevation_guo(
    dissolved_solids: Numeric, saturation_temperature: Numeric
) -> Numeric:
    """Boiling point elevation of cane juice and syrup; never for pans.

    Parameters
    ----------
    dissolved_solids : numeric
        True dissolved solids. [% mass]
    saturation_temperature : numeric
        Boiling point of water at the pressure over the liquor. [degC]

    Returns
    -------
    numeric
        Elevation of the boiling point. [K]
    """
    w = dissolved_solids
    t = saturation_temperature
    place = 6.064e-5 * (273 + t) ** 2 / exp(0.38 * log(374.3 - t))
    return place * w * w * (5.84e-7 * (w - 40) ** 2 + 7.2e-4)


@formula(
    source="tishchenko",
    at="rule for pressures other than atmospheric",
    unit="K",
    given={"elevation_at_one_atmosphere": "K", "saturation_temperature": "degC"},
    equation="BPE_p = BPE_1atm 0.0162 T^2/r, T in K, r latent heat in kJ/kg",
    known="memory",
    valid={"elevation_at_one_atmosphere": (0, 12), "saturation_temperature": (40, 130)},
    uncertainty="5 % at pan vacuum",
    family="boiling point elevation",
)
def boiling_point_elevation_tishchenko(
    elevation_at_one_atmosphere: Numeric, saturation_temperature: Numeric
) -> Numeric:
    """Boiling point elevation at another pressure from that at one atmosphere.

    Parameters
    ----------
    elevation_at_one_atmosphere : numeric
        Boiling point elevation of the same liquor at 1.01325 bar. [K]
    saturation_temperature : numeric
        Boiling point of water at the pressure over the liquor. [degC]

    Returns
    -------
    numeric
        Elevation of the boiling point. [K]
    """
    kelvin = saturation_temperature + _KELVIN
    latent = steam.latent_heat(saturation_temperature)
    return elevation_at_one_atmosphere * 0.0162 * kelvin * kelvin / latent


@formula(
    source="hugot1986",
    at="boiling point elevation, rule of thumb",
    unit="K",
    given={"dissolved_solids": "% mass"},
    equation="BPE = 2 w/(100 - w)",
    known="memory",
    valid={"dissolved_solids": (0, 90)},
    uncertainty="25 %; the pressure is left out",
    family="boiling point elevation",
)
def boiling_point_elevation_hugot(dissolved_solids: Numeric) -> Numeric:
    """Boiling point elevation by the rule of thumb in Brix alone.

    Parameters
    ----------
    dissolved_solids : numeric
        True dissolved solids. [% mass]

    Returns
    -------
    numeric
        Elevation of the boiling point. [K]
    """
    return 2 * dissolved_solids / (100 - dissolved_solids)


@formula(
    source="iapws_if97",
    at="specific heat of steam just above saturation, rounded",
    unit="kJ/kg",
    given={"elevation": "K"},
    equation="dh = 1.95 BPE",
    known="derived",
    valid={"elevation": (0, 25)},
    uncertainty="""the steam table gives 1.95 at 0.15 bar, 2.01 at 0.5, 2.07 at 1.0 and
        2.17 kJ/(kg.K) at 2 bar""",
)
def vapour_superheat(elevation: Numeric) -> Numeric:
    """Heat that vapour carries above saturation because the liquor boils hotter than water.

    Parameters
    ----------
    elevation : numeric
        Boiling point elevation of the liquor. [K]

    Returns
    -------
    numeric
        Enthalpy over that of saturated vapour at the same pressure. [kJ/kg]
    """
    return 1.95 * elevation
