"""Density of sugar solutions, and the scales made from it: relative density and Baume.

Two tables are in use. Present practice takes the equation of Emmerich and Bubnik (SPS-4);
spindles and pycnometer tables were drawn from the older table of Plato. They differ by
0.1 kg/m3 in juice and 0.5 kg/m3 in molasses.
"""

from canewright.ops import Numeric
from canewright.registry import formula

_SPS4 = (
    (385.1761, 135.3705, 40.9299, -3.9643, 13.4853, -17.2890),
    (-46.2720, -7.1720, 1.1597, 5.1126, 17.5254),
    (59.7712, 7.2491, 12.3630, -35.4791),
    (-47.2207, -21.6977, 27.6301),
    (18.3184, 12.3081),
)
AIR_DENSITY = 1.2
"""Density of laboratory air, kg/m3."""
WEIGHT_DENSITY = 8000.0
"""Density of the weights of a balance, kg/m3."""
BAUME_MODULUS = 145.0
"""Modulus of the Baume scale used for sugar solutions at 20/20 degC."""


def _polynomial(coefficients: tuple[float, ...], value: Numeric) -> Numeric:
    total: Numeric = 0.0
    for coefficient in reversed(coefficients):
        total = total * value + coefficient
    return total


@formula(
    source="kell1975",
    at="equation of the density of water, as carried in SPS-4",
    unit="kg/m3",
    given={"temperature": "degC"},
    equation="""rho_w = (999.83952 + 16.952577 t - 7.9905127e-3 t^2 - 4.6241757e-5 t^3
        + 1.0584601e-7 t^4 - 2.8103006e-10 t^5) / (1 + 0.016887236 t)""",
    known="read",
    valid={"temperature": (0, 150)},
    uncertainty="0.01 kg/m3",
)
def water_density(temperature: Numeric) -> Numeric:
    """Density of water free of air at atmospheric pressure.

    Parameters
    ----------
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Density. [kg/m3]
    """
    upper = _polynomial(
        (999.83952, 16.952577, -7.9905127e-3, -4.6241757e-5, 1.0584601e-7, -2.8103006e-10),
        temperature,
    )
    return upper / (1 + 0.016887236 * temperature)


@formula(
    source="bubnik1995",
    at="p. 164 (equation of Emmerich and Bubnik, ICUMSA SPS-4)",
    unit="kg/m3",
    given={"dissolved_solids": "% mass", "temperature": "degC"},
    equation="""rho = rho_w(t) + sum_j tau^j sum_i c_ij x^i,
        x = w/100, tau = (t - 20)/100; coefficients c_ij as in the module""",
    known="read",
    valid={"dissolved_solids": (0, 85), "temperature": (0, 100)},
    uncertainty="0.05 kg/m3 for pure sucrose; 2 to 10 kg/m3 for factory liquors on true solids",
    family="density of a sugar solution",
    default=True,
    note="""The international equation, and the only one here that holds at factory
        temperatures. Spindles follow an older table, up to 0.5 kg/m3 lower above 80 %.""",
)
def density(dissolved_solids: Numeric, temperature: Numeric) -> Numeric:
    """Density of a sucrose solution.

    Some tables headed "density" in fact print 1000 times the relative density 20/20
    (1039.98 instead of 1038.12 at 10 %), and published densities of saturated solutions at
    80 or 100 degC turn out to be those of the solution cooled to about 15 degC: neither
    agrees with this equation, and neither may be used for a hot liquor.

    Parameters
    ----------
    dissolved_solids : numeric
        True dissolved solids. [% mass]
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Density. [kg/m3]
    """
    x = dissolved_solids / 100
    tau = (temperature - 20) / 100
    excess: Numeric = 0.0
    for row in reversed(_SPS4):
        excess = excess * tau + x * _polynomial(row, x)
    return water_density(temperature) + excess


@formula(
    source="bubnik1995",
    at="short equation of density",
    unit="kg/m3",
    given={"dissolved_solids": "% mass", "temperature": "degC"},
    equation="rho = 1000 [1 + w (200 + w)/54000] [1 - 0.036 (t - 20)/(160 - t)]",
    known="memory",
    valid={"dissolved_solids": (0, 85), "temperature": (20, 80)},
    uncertainty="up to 3 kg/m3 at 20 degC, 6 at 50 and 2 at 80 against SPS-4; 17 at 100 degC",
    family="density of a sugar solution",
)
def density_short(dissolved_solids: Numeric, temperature: Numeric) -> Numeric:
    """Density of a sucrose solution by the short equation: a first guess, no more.

    Parameters
    ----------
    dissolved_solids : numeric
        True dissolved solids. [% mass]
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Density. [kg/m3]
    """
    solution = 1 + dissolved_solids * (200 + dissolved_solids) / 54000
    warming = 1 - 0.036 * (temperature - 20) / (160 - temperature)
    return 1000 * solution * warming


@formula(
    source="own_derivation",
    at="buoyancy of air on sample and weights",
    unit="kg/m3",
    given={"density_in_vacuum": "kg/m3"},
    equation="rho_air = (rho - 1.2)/(1 - 1.2/8000)",
    known="derived",
    uncertainty="0.1 kg/m3 for the usual changes of the density of air",
)
def density_in_air(density_in_vacuum: Numeric) -> Numeric:
    """Apparent density found by weighing in air with brass or steel weights.

    Parameters
    ----------
    density_in_vacuum : numeric
        True density. [kg/m3]

    Returns
    -------
    numeric
        Mass shown by the balance per volume. [kg/m3]
    """
    return (density_in_vacuum - AIR_DENSITY) / (1 - AIR_DENSITY / WEIGHT_DENSITY)


@formula(
    source="own_derivation",
    at="ratio of SPS-4 densities at 20 degC",
    unit="kg/kg",
    given={"dissolved_solids": "% mass"},
    equation="d20/20 = rho(w, 20)/rho_w(20)",
    known="derived",
    valid={"dissolved_solids": (0, 85)},
    uncertainty="0.00005",
)
def relative_density(dissolved_solids: Numeric) -> Numeric:
    """Relative density 20/20 degC of a sucrose solution, in vacuum.

    Parameters
    ----------
    dissolved_solids : numeric
        True dissolved solids. [% mass]

    Returns
    -------
    numeric
        Density at 20 degC over that of water at 20 degC. [kg/kg]
    """
    return density(dissolved_solids, 20.0) / water_density(20.0)


@formula(
    source="asbc_plato",
    at="cubic through the table of Plato, 20/20 degC",
    unit="% mass",
    given={"relative_density_in_air": "kg/kg"},
    equation="w = -616.868 + 1111.14 d - 630.272 d^2 + 135.997 d^3",
    known="memory",
    valid={"relative_density_in_air": (1.0, 1.13)},
    uncertainty="0.03 % mass",
)
def solids_by_old_table(relative_density_in_air: Numeric) -> Numeric:
    """Sucrose from the relative density 20/20 weighed in air, by the older table of Plato.

    Spindles and pycnometer tables follow this table, not SPS-4.

    Parameters
    ----------
    relative_density_in_air : numeric
        Weight of solution over weight of water, same vessel, in air at 20 degC. [kg/kg]

    Returns
    -------
    numeric
        Sucrose. [% mass]
    """
    return _polynomial((-616.868, 1111.14, -630.272, 135.997), relative_density_in_air)


@formula(
    source="mohos2010",
    at="table A2.1 (modulus 145)",
    unit="degree Baume",
    given={"dissolved_solids": "% mass"},
    equation="Be = 145 (1 - 1/d20/20)",
    known="read",
    valid={"dissolved_solids": (0, 85)},
    uncertainty="0.01 degree",
)
def baume(dissolved_solids: Numeric) -> Numeric:
    """Degrees Baume of a sucrose solution at 20 degC.

    Parameters
    ----------
    dissolved_solids : numeric
        True dissolved solids. [% mass]

    Returns
    -------
    numeric
        Reading of a Baume spindle of modulus 145. [degree Baume]
    """
    return BAUME_MODULUS * (1 - 1 / relative_density(dissolved_solids))


@formula(
    source="mohos2010",
    at="table A2.1 (modulus 145), turned round",
    unit="kg/kg",
    given={"degrees_baume": "degree Baume"},
    equation="d20/20 = 145/(145 - Be)",
    known="derived",
    valid={"degrees_baume": (0, 60)},
    uncertainty="0.0001",
)
def relative_density_from_baume(degrees_baume: Numeric) -> Numeric:
    """Relative density 20/20 degC from degrees Baume.

    Parameters
    ----------
    degrees_baume : numeric
        Reading of a Baume spindle of modulus 145. [degree Baume]

    Returns
    -------
    numeric
        Relative density 20/20. [kg/kg]
    """
    return BAUME_MODULUS / (BAUME_MODULUS - degrees_baume)


@formula(
    source="own_derivation",
    at="additive specific volumes of water, sugar and ash",
    unit="kg/m3",
    given={
        "dissolved_solids": "% mass",
        "ash_percent_solids": "% of dissolved solids",
        "temperature": "degC",
        "ash_volume": "mL/g",
    },
    equation="""1/rho = 1/rho_SPS4(w, t) + x (A/100) (v_ash - v_s),
        v_s = [1/rho_SPS4 - (1 - x)/rho_w]/x: ash stands in the place of as much sugar""",
    known="derived",
    valid={"dissolved_solids": (1, 85), "ash_percent_solids": (0, 20), "temperature": (0, 100)},
    uncertainty="the volume of the ash (0.40 mL/g) is assumed: 5 kg/m3 in molasses",
)
def density_with_ash(
    dissolved_solids: Numeric,
    ash_percent_solids: Numeric,
    temperature: Numeric,
    ash_volume: Numeric = 0.40,
) -> Numeric:
    """Density of a factory liquor whose ash is heavier than the sugar it replaces.

    This is why a spindle reads several units above the true solids of molasses.

    Parameters
    ----------
    dissolved_solids : numeric
        True dissolved solids. [% mass]
    ash_percent_solids : numeric
        Ash. [% of dissolved solids]
    temperature : numeric
        Temperature. [degC]
    ash_volume : numeric
        Specific volume of the dissolved ash, assumed. [mL/g]

    Returns
    -------
    numeric
        Density. [kg/m3]
    """
    x = dissolved_solids / 100
    pure = 1000 / density(dissolved_solids, temperature)
    # x (v_ash - v_s), with x v_s written out so that nothing is divided by x
    exchange = x * ash_volume - (pure - (1 - x) * 1000 / water_density(temperature))
    return 1000 / (pure + ash_percent_solids / 100 * exchange)
