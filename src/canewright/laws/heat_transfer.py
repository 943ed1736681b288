"""Coefficients of heat transfer in evaporators and heaters, and what scale does to them.

Coefficients are kW/(m2 K), resistances m2 K/kW, heats MJ/h. Always note which temperature
difference a coefficient belongs to: apparent (vapour to vapour), net of boiling point
elevation, or net of head as well. In a last body they differ by some 10 % and 20 %.
"""

from canewright.ops import Numeric, exp, log, sqrt
from canewright.properties import steam
from canewright.registry import formula

KW = 3.6  # MJ/h in one kW
_KILOCALORIE_HOUR = 4.1868 / 3600.0  # kW in one kcal/h

_BODY = {"dissolved_solids": (5.0, 88.0), "boiling_temperature": (45.0, 130.0)}


@formula(
    source="wright_form",
    at="coefficient of an evaporator body",
    unit="kW/(m2.K)",
    given={
        "constant": "kW/(m2.K2)",
        "dissolved_solids": "% mass",
        "boiling_temperature": "degC",
    },
    equation="U = k (110 - w) T_b",
    known="memory",
    valid=_BODY,
    uncertainty="20 % until k is fitted per vessel",
    family="coefficient of an evaporator body",
    default=True,
    note="""With k = 2.2e-4 it meets six coefficients of a textbook quintuple within 16 %;
    the others miss them by up to +76 and -33 %. Fit k per vessel and let it fall between
    cleanings. The constant remembered as Wright's is 2.8e-4.""",
)
def body_coefficient(
    constant: Numeric, dissolved_solids: Numeric, boiling_temperature: Numeric
) -> Numeric:
    """Coefficient of an evaporator body. [kW/(m2.K)] from [kW/(m2.K2), % mass, degC].

    For the difference from the heating vapour to the boiling liquor, at outlet Brix.
    """
    return constant * (110.0 - dissolved_solids) * boiling_temperature


@formula(
    source="hugot1986",
    at="Dessin's formula",
    unit="kW/(m2.K)",
    given={
        "dissolved_solids": "% mass",
        "heating_temperature": "degC",
        "boiling_temperature": "degC",
    },
    equation="U = 0.001 (100 - w)(T_h - 54) r(T_b)/3600",
    known="memory",
    valid=_BODY,
    uncertainty="-6 to +76 % against six values of a textbook quintuple",
    family="coefficient of an evaporator body",
)
def body_coefficient_dessin(
    dissolved_solids: Numeric, heating_temperature: Numeric, boiling_temperature: Numeric
) -> Numeric:
    """Coefficient of an evaporator body by Dessin. [kW/(m2.K)] from [% mass, degC, degC]."""
    rate = dessin_evaporation(dissolved_solids, heating_temperature)
    return rate * steam.latent_heat(boiling_temperature) / 3600.0


@formula(
    source="hugot1986",
    at="Dessin's formula, metric form",
    unit="kg/(m2.h.K)",
    given={"dissolved_solids": "% mass", "heating_temperature": "degC"},
    equation="c = 0.001 (100 - w)(T_h - 54)",
    known="memory",
    valid={"dissolved_solids": (5.0, 88.0), "heating_temperature": (60.0, 135.0)},
)
def dessin_evaporation(dissolved_solids: Numeric, heating_temperature: Numeric) -> Numeric:
    """Evaporation per surface and degree by Dessin. [kg/(m2.h.K)] from [% mass, degC]."""
    return 0.001 * (100.0 - dissolved_solids) * (heating_temperature - 54.0)


@formula(
    source="rein2007",
    at="coefficient of an evaporator body",
    unit="kW/(m2.K)",
    given={"dissolved_solids": "% mass", "boiling_temperature": "degC"},
    equation="U = 0.465 T_b/w",
    known="memory",
    valid=_BODY,
    uncertainty="-33 to +33 % against six values of a textbook quintuple",
    family="coefficient of an evaporator body",
)
def body_coefficient_inverse(dissolved_solids: Numeric, boiling_temperature: Numeric) -> Numeric:
    """Coefficient of an evaporator body, inverse in Brix. [kW/(m2.K)] from [% mass, degC]."""
    return 0.465 * boiling_temperature / dissolved_solids


_TEMPERATURES = {"heating_temperature": "degC", "inlet": "degC", "outlet": "degC"}


@formula(
    source="own_derivation",
    at="counter- or co-current exchange with one side condensing",
    unit="K",
    given=_TEMPERATURES,
    equation="LMTD = (t2 - t1)/ln[(T_h - t1)/(T_h - t2)]",
    known="derived",
    note="0/0 when inlet and outlet are equal: equations use `heated_temperature` instead.",
)
def log_mean_difference(heating_temperature: Numeric, inlet: Numeric, outlet: Numeric) -> Numeric:
    """Logarithmic mean temperature difference of a heater. [K] from [degC]."""
    return (outlet - inlet) / log((heating_temperature - inlet) / (heating_temperature - outlet))


@formula(
    source="own_derivation",
    at="exchange with one side condensing, integrated",
    unit="degC",
    given={
        "heating_temperature": "degC",
        "inlet": "degC",
        "coefficient": "kW/(m2.K)",
        "surface": "m2",
        "capacity": "MJ/(h.K)",
    },
    equation="t2 = T_h - (T_h - t1) exp(-3.6 U A/C)",
    known="derived",
)
def heated_temperature(
    heating_temperature: Numeric,
    inlet: Numeric,
    coefficient: Numeric,
    surface: Numeric,
    capacity: Numeric,
) -> Numeric:
    """Temperature of juice after a heater. [degC] from [degC, kW/(m2.K), m2, MJ/(h.K)]."""
    approach = exp(-KW * coefficient * surface / capacity)
    return heating_temperature - (heating_temperature - inlet) * approach


@formula(
    source="own_derivation",
    at="Q = U A LMTD",
    unit="m2",
    given={"heat": "MJ/h", "coefficient": "kW/(m2.K)", "difference": "K"},
    equation="A = Q/(3.6 U LMTD)",
    known="derived",
)
def surface_needed(heat: Numeric, coefficient: Numeric, difference: Numeric) -> Numeric:
    """Heating surface for a duty. [m2] from [MJ/h, kW/(m2.K), K]."""
    return heat / (KW * coefficient * difference)


@formula(
    source="hugot1986",
    at="coefficient of juice heaters",
    unit="kW/(m2.K)",
    given={"heating_temperature": "degC", "velocity": "m/s"},
    equation="U = T_h (5 + v) kcal/(m2 h K) 4.1868/3600",
    known="memory",
    valid={"heating_temperature": (60.0, 130.0), "velocity": (0.8, 3.0)},
    uncertainty="25 %",
    family="coefficient of a juice heater",
)
def heater_coefficient_hugot(heating_temperature: Numeric, velocity: Numeric) -> Numeric:
    """Coefficient of a juice heater by vapour and velocity. [kW/(m2.K)] from [degC, m/s]."""
    return heating_temperature * (5.0 + velocity) * _KILOCALORIE_HOUR


@formula(
    source="own_derivation",
    at="resistances in series",
    unit="kW/(m2.K)",
    given={
        "juice_film": "kW/(m2.K)",
        "steam_film": "kW/(m2.K)",
        "wall": "m2.K/kW",
        "fouling": "m2.K/kW",
    },
    equation="1/U = 1/h_j + 1/h_s + R_wall + R_f",
    known="derived",
    uncertainty="25 %, from the fouling",
    family="coefficient of a juice heater",
    default=True,
    note="""Shows what commands it: fouling. Handbook equations scatter widely. Prior for a
    heater in work 0.9 to 1.4 kW/(m2 K).""",
)
def heater_coefficient(
    juice_film: Numeric, steam_film: Numeric, wall: Numeric, fouling: Numeric
) -> Numeric:
    """Coefficient of a heater from its films, wall and fouling. [kW/(m2.K)].

    From [kW/(m2.K)] of the films and [m2.K/kW] of wall and fouling.
    """
    return 1.0 / (1.0 / juice_film + 1.0 / steam_film + wall + fouling)


@formula(
    source="dittus_boelter1930",
    at="turbulent flow in tubes, fluid heated",
    unit="kW/(m2.K)",
    given={
        "velocity": "m/s",
        "bore": "mm",
        "liquor_density": "kg/m3",
        "viscosity": "mPa.s",
        "specific_heat": "kJ/(kg.K)",
        "conductivity": "W/(m.K)",
    },
    equation="h = 0.023 Re^0.8 Pr^0.4 k/d",
    known="memory",
    valid={"velocity": (0.3, 4.0), "bore": (15.0, 80.0)},
    uncertainty="25 %; Reynolds number above 10 000",
)
def tube_film(
    velocity: Numeric,
    bore: Numeric,
    liquor_density: Numeric,
    viscosity: Numeric,
    specific_heat: Numeric,
    conductivity: Numeric,
) -> Numeric:
    """Film coefficient in heater tubes. [kW/(m2.K)].

    From [m/s, mm, kg/m3, mPa.s, kJ/(kg.K), W/(m.K)].
    """
    reynolds = liquor_density * velocity * bore / viscosity
    prandtl = viscosity * specific_heat / conductivity
    return 0.023 * reynolds**0.8 * prandtl**0.4 * conductivity / bore


@formula(
    source="own_derivation",
    at="definition of the fouling resistance",
    unit="m2.K/kW",
    given={"clean": "kW/(m2.K)", "present": "kW/(m2.K)"},
    equation="R_f = 1/U - 1/U_0",
    known="derived",
)
def fouling_resistance(clean: Numeric, present: Numeric) -> Numeric:
    """Resistance of scale from two coefficients. [m2.K/kW] from [kW/(m2.K)]."""
    return 1.0 / present - 1.0 / clean


@formula(
    source="own_derivation",
    at="conduction through a layer",
    unit="m2.K/kW",
    given={"thickness": "mm", "conductivity": "W/(m.K)"},
    equation="R = thickness/conductivity",
    known="derived",
)
def scale_resistance(thickness: Numeric, conductivity: Numeric) -> Numeric:
    """Resistance of a layer of scale. [m2.K/kW] from [mm, W/(m.K)]."""
    return thickness / conductivity


@formula(
    source="berk_food_process",
    at="eq. 3.71",
    unit="kW/(m2.K)",
    given={"clean": "kW/(m2.K)", "fouling_rate": "m2.K/(kW.h)", "hours": "h"},
    equation="1/U = 1/U_0 + beta t",
    known="read",
    family="coefficient as scale grows",
    default=True,
    note="One rate per vessel, and the rate adds up with other resistances.",
)
def scaled_coefficient(clean: Numeric, fouling_rate: Numeric, hours: Numeric) -> Numeric:
    """Coefficient some hours after cleaning. [kW/(m2.K)] from [kW/(m2.K), m2.K/(kW.h), h]."""
    return 1.0 / (1.0 / clean + fouling_rate * hours)


@formula(
    source="mccabe_robinson1924",
    at="growth of scale with the heat passed",
    unit="kW/(m2.K)",
    given={"growth": "m4.K2/(kW2.h)", "start": "m4.K2/kW2", "hours": "h"},
    equation="1/U^2 = a t + b",
    known="memory",
    family="coefficient as scale grows",
)
def scaled_coefficient_square(growth: Numeric, start: Numeric, hours: Numeric) -> Numeric:
    """Coefficient some hours after cleaning, square law. [kW/(m2.K)] from [a, b, h]."""
    return 1.0 / sqrt(growth * hours + start)


_CYCLE = {"growth": "m4.K2/(kW2.h)", "start": "m4.K2/kW2", "stop": "h"}


@formula(
    source="own_derivation",
    at="greatest mean coefficient over run and stop, square law",
    unit="h",
    given=_CYCLE,
    equation="t* = t_c + (2/a) sqrt(a b t_c)",
    known="derived",
)
def best_run(growth: Numeric, start: Numeric, stop: Numeric) -> Numeric:
    """Hours between cleanings that give the greatest mean duty. [h] from [a, b, h]."""
    return stop + 2.0 / growth * sqrt(growth * start * stop)


@formula(
    source="own_derivation",
    at="mean of the square law over run and stop",
    unit="kW/(m2.K)",
    given={**_CYCLE, "run": "h"},
    equation="mean U = (2/a)[sqrt(a t + b) - sqrt(b)]/(t + t_c)",
    known="derived",
)
def mean_coefficient(growth: Numeric, start: Numeric, stop: Numeric, run: Numeric) -> Numeric:
    """Mean coefficient over a run and its cleaning. [kW/(m2.K)] from [a, b, h, h]."""
    passed = 2.0 / growth * (sqrt(growth * run + start) - sqrt(start))
    return passed / (run + stop)
