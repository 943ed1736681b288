"""Packing: sampling factors, target fill, overfill, checkweigher, bulk store.

Tables of tolerable deficiency and sampling plans are data, by edition and place, in
`net_content`. Formulas that use a probability distribution or choose the larger of
several limits do not trace into the solver and say so. The legal text of the place
governs; this is arithmetic, not advice.
"""

import math

import numpy as np

from canewright.ops import Numeric, log, sqrt
from canewright.registry import formula


@formula(
    source="own_derivation",
    at="one-sided Student bound with the finite-lot correction",
    unit="-",
    given={
        "sample_size": "count",
        "lot_size": "count",
    },
    equation="k = t(0.995, n - 1)/sqrt(n) sqrt((N - n)/N)",
    known="derived",
)
def sampling_mean_factor(
    sample_size: Numeric,
    lot_size: Numeric,
) -> Numeric:
    """Factor on the sample standard deviation in the mean test of a lot. [-] from [count].

    Uses the Student distribution: does not trace. Every printed factor follows from it.
    """
    from scipy import stats  # half a second, only when asked

    share = np.sqrt((lot_size - sample_size) / lot_size)
    return stats.t.ppf(0.995, sample_size - 1.0) / np.sqrt(sample_size) * share


@formula(
    source="oiml_r87",
    at="mean rule: accept when not negative",
    unit="g",
    given={
        "average_error": "g",
        "factor": "-",
        "standard_deviation": "g",
    },
    equation="e + k s",
    known="memory",
)
def corrected_average_error(
    average_error: Numeric,
    factor: Numeric,
    standard_deviation: Numeric,
) -> Numeric:
    """Average error of a sample with its allowance. [g] from [g, -, g]."""
    return average_error + factor * standard_deviation


@formula(
    source="directive_76_211_eec",
    at="mean rule of the reference test",
    unit="g",
    given={
        "nominal": "g",
        "factor": "-",
        "standard_deviation": "g",
    },
    equation="Qn - k s",
    known="read",
)
def least_sample_mean(
    nominal: Numeric,
    factor: Numeric,
    standard_deviation: Numeric,
) -> Numeric:
    """Smallest sample mean that passes. [g] from [g, -, g]."""
    return nominal - factor * standard_deviation


@formula(
    source="own_derivation",
    at="normal fills",
    unit="%",
    given={
        "mean_shortfall": "g",
        "standard_deviation": "g",
        "sample_size": "count",
        "factor": "-",
    },
    equation="P(mean + k s >= Qn), noncentral t",
    known="derived",
    note=("Passing the test proves nothing about the mean: the packer must meet the mean."),
)
def acceptance_probability(
    mean_shortfall: Numeric,
    standard_deviation: Numeric,
    sample_size: Numeric,
    factor: Numeric,
) -> Numeric:
    """Chance that a lot with a short mean passes the mean test. [%] from [g, g, count, -].

    Uses the noncentral Student distribution: does not trace.
    """
    from scipy import stats  # half a second, only when asked

    root = np.sqrt(sample_size)
    centre = -mean_shortfall * root / standard_deviation
    return 100.0 * stats.nct.sf(-factor * root, sample_size - 1.0, centre)


@formula(
    source="uk_si_2006_1258",
    at="Schedule 5, class X(1) is the band table",
    unit="g",
    given={
        "tolerable_deficiency": "g",
        "class_factor": "-",
    },
    equation="deviation = class factor x band value",
    known="read",
)
def filling_scale_deviation(
    tolerable_deficiency: Numeric,
    class_factor: Numeric,
) -> Numeric:
    """Permitted deviation of one fill from the mean, in service. [g] from [g, -]."""
    return tolerable_deficiency * class_factor


@formula(
    source="uk_packers_guidance",
    at="2.5 % and 1 in 10 000",
    unit="g",
    given={
        "nominal": "g",
        "allowance": "g",
        "tolerable_deficiency": "g",
        "standard_deviation": "g",
    },
    equation="max(Qn + allowance, Qn - T + 1.960 s, Qn - 2T + 3.719 s)",
    known="memory",
)
def target_fill(
    nominal: Numeric,
    allowance: Numeric,
    tolerable_deficiency: Numeric,
    standard_deviation: Numeric,
) -> Numeric:
    """Least mean fill that meets the three rules. [g] from [g].

    Takes the largest of three limits: does not trace.
    """
    mean_rule = nominal + allowance
    short_rule = nominal - tolerable_deficiency + 1.960 * standard_deviation
    none_rule = nominal - 2.0 * tolerable_deficiency + 3.719 * standard_deviation
    return np.maximum(mean_rule, np.maximum(short_rule, none_rule))


@formula(
    source="own_derivation",
    at="minimum of c m + r Phi(-m/s), for c s/r below 0.399",
    unit="-",
    given={
        "give_cost": "money/kg",
        "standard_deviation": "kg",
        "short_cost": "money",
    },
    equation="z = sqrt(-2 ln(sqrt(2 pi) c s/r))",
    known="derived",
    note="Legal rules are limits on top of it.",
)
def economic_overfill_deviate(
    give_cost: Numeric,
    standard_deviation: Numeric,
    short_cost: Numeric,
) -> Numeric:
    """Overfill in standard deviations at least cost. [-] from [money/kg, kg, money]."""
    return sqrt(-2.0 * log(math.sqrt(2.0 * math.pi) * give_cost * standard_deviation / short_cost))


@formula(
    source="own_derivation",
    at="minimum of c m + r Phi(-m/s)",
    unit="kg",
    given={
        "give_cost": "money/kg",
        "standard_deviation": "kg",
        "short_cost": "money",
    },
    equation="m = z s",
    known="derived",
)
def economic_overfill(
    give_cost: Numeric,
    standard_deviation: Numeric,
    short_cost: Numeric,
) -> Numeric:
    """Mean overfill at least cost of giveaway and of short bags. [kg]."""
    return economic_overfill_deviate(give_cost, standard_deviation, short_cost) * standard_deviation


@formula(
    source="own_derivation",
    at="normal fills",
    unit="%",
    given={
        "overfill_deviate": "-",
    },
    equation="100 Phi(-z)",
    known="derived",
)
def short_percent(
    overfill_deviate: Numeric,
) -> Numeric:
    """Share of bags below nominal. [%] from [-].

    Uses the normal distribution: does not trace.
    """
    from scipy import special  # half a second, only when asked

    return 100.0 * special.ndtr(-overfill_deviate)


@formula(
    source="own_derivation",
    at="mass balance",
    unit="t",
    given={
        "packed": "t",
        "mean_overfill": "g",
        "nominal": "g",
    },
    equation="t given = t packed x mean overfill / Qn",
    known="derived",
)
def giveaway(
    packed: Numeric,
    mean_overfill: Numeric,
    nominal: Numeric,
) -> Numeric:
    """Sugar given away. [t] from [t, g, g]."""
    return packed * mean_overfill / nominal


@formula(
    source="own_derivation",
    at="independent variances add",
    unit="g",
    given={
        "filler": "g",
        "scale": "g",
        "tare": "g",
    },
    equation="s = sqrt(filler^2 + scale^2 + tare^2)",
    known="derived",
)
def combined_scatter(
    filler: Numeric,
    scale: Numeric,
    tare: Numeric,
) -> Numeric:
    """Scatter of net content from its parts. [g] from [g]."""
    return sqrt(filler**2 + scale**2 + tare**2)


@formula(
    source="own_derivation",
    at="normal fills",
    unit="%",
    given={
        "mean": "kg",
        "standard_deviation": "kg",
        "limit": "kg",
    },
    equation="100 Phi(a), a = (L - mu)/s",
    known="derived",
)
def checkweigher_rejects(
    mean: Numeric,
    standard_deviation: Numeric,
    limit: Numeric,
) -> Numeric:
    """Bags a checkweigher rejects below its limit. [%] from [kg].

    Uses the normal distribution: does not trace.
    """
    from scipy import special  # half a second, only when asked

    return 100.0 * special.ndtr((limit - mean) / standard_deviation)


@formula(
    source="own_derivation",
    at="normal fills cut at the limit",
    unit="kg",
    given={
        "mean": "kg",
        "standard_deviation": "kg",
        "limit": "kg",
    },
    equation="mu + s phi(a)/(1 - Phi(a)), a = (L - mu)/s",
    known="derived",
)
def checkweigher_accepted_mean(
    mean: Numeric,
    standard_deviation: Numeric,
    limit: Numeric,
) -> Numeric:
    """Mean of the bags a checkweigher lets pass. [kg] from [kg].

    Uses the normal distribution: does not trace.
    """
    from scipy import special  # half a second, only when asked

    deviate = (limit - mean) / standard_deviation
    density = np.exp(-0.5 * deviate**2) / math.sqrt(2.0 * math.pi)
    return mean + standard_deviation * density / special.ndtr(-deviate)


@formula(
    source="common_practice",
    at="chart of means, factors 2.326, 0.577, 1.427, 0.9400 for samples of five",
    unit="kg",
    given={
        "standard_deviation": "kg",
        "factor": "-",
    },
    equation="limits = mean +- A3 s; A3 1.427 for five",
    known="memory",
)
def control_limit_width(
    standard_deviation: Numeric,
    factor: Numeric,
) -> Numeric:
    """Half width of the limits of a chart of means. [kg] from [kg, -]."""
    return factor * standard_deviation


@formula(
    source="own_derivation",
    at="cylinder with a cone at the angle of repose",
    unit="t",
    given={
        "diameter": "m",
        "wall_height": "m",
        "repose_angle": "degree",
        "bulk_density": "t/m3",
    },
    equation="m = rho [pi D^2 H/4 + pi D^2/4 (D/2 tan a)/3]",
    known="derived",
)
def silo_content(
    diameter: Numeric,
    wall_height: Numeric,
    repose_angle: Numeric,
    bulk_density: Numeric,
) -> Numeric:
    """Sugar in a flat-bottomed store. [t] from [m, m, degree, t/m3]."""
    angle = repose_angle * math.pi / 180.0
    # Continued fraction of the tangent, good to 1e-8 up to 45 degrees.
    square = angle**2
    tangent = angle / (
        1.0 - square / (3.0 - square / (5.0 - square / (7.0 - square / (9.0 - square / 11.0))))
    )
    floor = math.pi * diameter**2 / 4.0
    return bulk_density * floor * (wall_height + diameter / 2.0 * tangent / 3.0)


@formula(
    source="own_derivation",
    at="1.44 = 1440 min/d / 1000",
    unit="count",
    given={
        "sugar_per_day": "t",
        "bag": "kg",
        "bags_per_minute": "1/min",
        "availability": "%",
    },
    equation="lines = t/d / (bag x bags/min x 1.44 x availability)",
    known="derived",
)
def bag_lines(
    sugar_per_day: Numeric,
    bag: Numeric,
    bags_per_minute: Numeric,
    availability: Numeric,
) -> Numeric:
    """Bag lines needed, before rounding up. [count] from [t, kg, 1/min, %]."""
    return sugar_per_day / (bag * bags_per_minute * 1.44 * availability / 100.0)
