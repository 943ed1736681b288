"""Cooling crystallisers: cooling curves, duty, area, volume, residence times."""

from canewright.ops import Numeric, exp, log
from canewright.registry import formula


@formula(
    source="own_derivation",
    at="seeded crop growing at constant rate",
    unit="%",
    given={
        "time_percent": "%",
        "size_ratio": "-",
    },
    equation="deposited = 100 [(1 + (r - 1) s)^3 - 1]/(r^3 - 1)",
    known="derived",
)
def seeded_cooling_curve(
    time_percent: Numeric,
    size_ratio: Numeric,
) -> Numeric:
    """Deposit reached at a share of the cooling time for constant growth. [%] from [%, -].

    Near a size ratio of one the curve is straight; a large ratio gives the cube of time.
    """
    grown = (1.0 + (size_ratio - 1.0) * time_percent / 100.0) ** 3 - 1.0
    return 100.0 * grown / (size_ratio**3 - 1.0)


@formula(
    source="own_derivation",
    at="heat balance",
    unit="kW",
    given={
        "massecuite_rate": "t/h",
        "specific_heat": "kJ/(kg.K)",
        "temperature_in": "degC",
        "temperature_out": "degC",
    },
    equation="Q = m c (t1 - t2)",
    known="derived",
)
def cooling_duty(
    massecuite_rate: Numeric,
    specific_heat: Numeric,
    temperature_in: Numeric,
    temperature_out: Numeric,
) -> Numeric:
    """Heat to remove from a massecuite. [kW] from [t/h, kJ/(kg K), °C]."""
    return massecuite_rate * specific_heat * (temperature_in - temperature_out) / 3.6


@formula(
    source="own_derivation",
    at="constant coefficient along the surface",
    unit="K",
    given={
        "hot_in": "degC",
        "hot_out": "degC",
        "cold_in": "degC",
        "cold_out": "degC",
    },
    equation="LMTD, counter-current",
    known="derived",
    note="Equal differences at both ends are singular.",
)
def mean_temperature_difference(
    hot_in: Numeric,
    hot_out: Numeric,
    cold_in: Numeric,
    cold_out: Numeric,
) -> Numeric:
    """Logarithmic mean temperature difference in counter-current. [K] from [degC]."""
    warm_end = hot_in - cold_out
    cold_end = hot_out - cold_in
    return (warm_end - cold_end) / log(warm_end / cold_end)


@formula(
    source="own_derivation",
    at="heat transfer; U 15 to 30 W/(m2 K) is practice",
    unit="m2",
    given={
        "duty": "kW",
        "coefficient": "W/(m2.K)",
        "mean_difference": "K",
    },
    equation="A = 1000 Q/(U LMTD)",
    known="derived",
)
def cooling_area(
    duty: Numeric,
    coefficient: Numeric,
    mean_difference: Numeric,
) -> Numeric:
    """Cooling surface for a duty. [m2] from [kW, W/(m2 K), K]."""
    return 1000.0 * duty / (coefficient * mean_difference)


@formula(
    source="own_derivation",
    at="mean residence time",
    unit="m3",
    given={
        "massecuite_rate": "t/h",
        "time": "h",
        "density": "kg/m3",
    },
    equation="V = m t/rho",
    known="derived",
)
def crystalliser_volume(
    massecuite_rate: Numeric,
    time: Numeric,
    density: Numeric,
) -> Numeric:
    """Volume for a mean residence time. [m3] from [t/h, h, kg/m3]."""
    return massecuite_rate * time * 1000.0 / density


@formula(
    source="own_derivation",
    at="N equal stirred tanks in series",
    unit="%",
    given={
        "tanks": "count, whole",
    },
    equation="100 [1 - exp(-N/2) sum over i < N of (N/2)^i/i!]",
    known="derived",
)
def leaving_before_half_time(
    tanks: int,
) -> Numeric:
    """Share that leaves before half the mean residence time. [%] from [count].

    The number of tanks is a whole number and is not traced.
    """
    half = tanks / 2.0
    term, total = 1.0, 0.0
    for step in range(tanks):
        total += term
        term *= half / (step + 1)
    return 100.0 * (1.0 - exp(-half) * total)


@formula(
    source="own_derivation",
    at="batch occupation",
    unit="count",
    given={
        "massecuite_rate": "m3/h",
        "cycle": "h",
        "strike_volume": "m3",
    },
    equation="n = rate x cycle / strike volume",
    known="derived",
)
def pans_needed(
    massecuite_rate: Numeric,
    cycle: Numeric,
    strike_volume: Numeric,
) -> Numeric:
    """Batch pans in continuous use for a rate of massecuite. [count] from [m3/h, h, m3]."""
    return massecuite_rate * cycle / strike_volume
