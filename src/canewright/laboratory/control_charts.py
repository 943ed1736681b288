"""Control charts of check samples and instruments: whether each is still what it was.

Shewhart charts see blunders, a moving average that forgets (EWMA) and cumulative sums see
slow drifts. Values, centres and standard deviations are in the unit of what is charted.

Sources: [shewhart_charts], [roberts1959], [page1954].
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from canewright.laboratory.chart_constants import constants
from canewright.laboratory.run_rules import RunRule, broken, rule_sets

Vector = npt.NDArray[np.float64]

WEIGHT, WIDTH = 0.2, 2.86
"""Of the moving average: weight of the newest value, half width of its limits in sd.

In control it runs 370 points between false alarms, as Shewhart limits do
[lucas_saccucci1990].
"""

SLACK, DECISION = 0.5, 5.0
"""Of cumulative sums, in sd: half the shift to be seen, and the sum that signals."""

DEFAULT_RULES = "western_electric"


@dataclass(frozen=True)
class Signal:
    """A point (counted from 0) at which a chart says that something changed, and why."""

    at: int
    rule: str
    words: str
    look_for: str
    source: str


@dataclass(frozen=True)
class Chart:
    """A control chart: what is plotted, its limits at each point, and its signals.

    `below` holds the second line of a chart of cumulative sums, else nothing.
    """

    kind: str
    plotted: Vector
    centre: float
    lower: Vector
    upper: Vector
    sd: float
    signals: tuple[Signal, ...]
    below: Vector | None = None

    @property
    def in_control(self) -> bool:
        """Whether nothing was signalled."""
        return not self.signals

    @property
    def signalled(self) -> list[int]:
        """Points with a signal, each once, in order."""
        return sorted({signal.at for signal in self.signals})


def _finite(values: npt.ArrayLike, least: int, what: str) -> Vector:
    found = np.asarray(values, dtype=float)
    if found.ndim != 1 or found.size < least:
        raise ValueError(f"{what} needs at least {least} values in a row.")
    if not np.isfinite(found).all():
        raise ValueError(f"{what}: a value is not a number.")
    return found


def _spread(sd: float, what: str) -> float:
    if not (sd > 0 and math.isfinite(sd)):
        raise ValueError(
            f"{what}: the values do not differ, or their standard deviation of {sd:g} is not above "
            "zero. Give the method's repeatability."
        )
    return sd


def short_term_sd(values: npt.ArrayLike) -> float:
    """Standard deviation from differences of neighbours, which a slow drift hardly moves.

    Mean moving range over d2 of two, 1.128. Source: [shewhart_charts].

    Raises
    ------
    ValueError
        If there are fewer than two values, or they do not differ.
    """
    found = _finite(values, 2, "A moving range")
    mean_range = float(np.abs(np.diff(found)).mean())
    return _spread(mean_range / constants(2).d2, "A moving range")


def individuals(
    values: npt.ArrayLike,
    *,
    centre: float | None = None,
    sd: float | None = None,
    rules: str = DEFAULT_RULES,
) -> Chart:
    """Shewhart chart of single values: centre +/- 3 sd, with run rules.

    Parameters
    ----------
    values : array (n)
    centre : float, optional
        Such as the value of a standard; the mean when left out.
    sd : float, optional
        Standard deviation of one value; from the moving range when left out, so that the
        limits are centre +/- 2.66 mean moving ranges.
    rules : str
        Name of one of `rule_sets`.

    Raises
    ------
    ValueError
        If there are too few values or no standard deviation can be had from them.
    """
    found = _finite(values, 1 if sd is not None else 2, "A chart of single values")
    spread = short_term_sd(found) if sd is None else _spread(sd, "A chart of single values")
    middle = float(found.mean()) if centre is None else centre
    signals = _signals((found - middle) / spread, rule_sets()[rules].rules)
    edge = np.full(found.size, 3 * spread)
    return Chart("single values", found, middle, middle - edge, middle + edge, spread, signals)


def _signals(standard: Vector, rules: Iterable[RunRule]) -> tuple[Signal, ...]:
    found = [
        Signal(int(at), rule.name, rule.words, rule.look_for, rule.source)
        for rule in rules
        for at in np.flatnonzero(broken(rule, standard))
    ]
    return tuple(sorted(found, key=lambda signal: signal.at))


def moving_range(values: npt.ArrayLike, sd: float | None = None) -> Chart:
    """Chart of the differences of neighbours, without sign: upper limit 3.267 mean ranges.

    Raises
    ------
    ValueError
        If there are fewer than two values, or they do not differ.
    """
    found = _finite(values, 2, "A moving range")
    spread = short_term_sd(found) if sd is None else _spread(sd, "A moving range")
    return _range_chart("moving range", np.abs(np.diff(found)), spread, 2)


def _range_chart(kind: str, ranges: Vector, spread: float, group: int) -> Chart:
    known = constants(group)
    middle = known.d2 * spread
    upper = np.full(ranges.size, known.high_range * middle)
    lower = np.full(ranges.size, known.low_range * middle)
    signals = tuple(
        Signal(
            int(at),
            "beyond_limits",
            "a range beyond its limit",
            "a blunder, or repeats that are worse than they were",
            "shewhart_charts",
        )
        for at in np.flatnonzero((ranges > upper) | (ranges < lower))
    )
    return Chart(kind, ranges, middle, lower, upper, spread, signals)


def mean_and_range(
    groups: npt.ArrayLike, *, centre: float | None = None, rules: str = DEFAULT_RULES
) -> tuple[Chart, Chart]:
    """Shewhart charts of means and ranges of groups of repeats.

    Limits are mean +/- A2 mean ranges, and D3 and D4 mean ranges.

    Parameters
    ----------
    groups : array (k, n)
        k groups of n repeats.
    centre : float, optional
        The mean of all when left out.
    rules : str
        Name of one of `rule_sets`, for the means.

    Raises
    ------
    ValueError
        If the groups are not of one size from 2 to 25, or no repeat differs.
    """
    try:
        table = np.asarray(groups, dtype=float)
    except ValueError:
        table = np.zeros(0)
    if table.ndim != 2 or table.shape[0] < 2:
        raise ValueError("Charts of means and ranges need two groups or more, all of one size.")
    if not np.isfinite(table).all():
        raise ValueError("Charts of means and ranges: a value is not a number.")
    known = constants(table.shape[1])
    ranges = np.ptp(table, axis=1)
    spread = _spread(float(ranges.mean()) / known.d2, "A chart of ranges")
    means = table.mean(axis=1)
    of_means = individuals(means, centre=centre, sd=spread / math.sqrt(table.shape[1]), rules=rules)
    of_means = Chart(**{**vars(of_means), "kind": "means"})
    return of_means, _range_chart("ranges", ranges, spread, table.shape[1])


def smoothed(values: npt.ArrayLike, centre: float, weight: float = WEIGHT) -> Vector:
    """Exponentially weighted moving average z = w x + (1 - w) z, from the centre on.

    Along the last axis. Source: [roberts1959].
    """
    found = np.asarray(values, dtype=float)
    plotted = np.empty(found.shape)
    level = np.full(found.shape[:-1], float(centre))
    for k in range(found.shape[-1]):
        level = weight * found[..., k] + (1 - weight) * level
        plotted[..., k] = level
    return plotted


def smoothed_limits(count: int, sd: float, weight: float = WEIGHT, width: float = WIDTH) -> Vector:
    """Half width of the limits of a moving average at each of its points.

    width sd sqrt(w/(2 - w) (1 - (1 - w)^(2 i))). Source: [roberts1959]; [lucas_saccucci1990].
    """
    order = np.arange(1, count + 1)
    final = width * sd * math.sqrt(weight / (2 - weight))
    return np.asarray(final * np.sqrt(1 - (1 - weight) ** (2 * order)))


def moving_average(
    values: npt.ArrayLike,
    *,
    centre: float | None = None,
    sd: float | None = None,
    weight: float = WEIGHT,
    width: float = WIDTH,
) -> Chart:
    """Chart of the exponentially weighted moving average, for slow drifts.

    Parameters
    ----------
    values, centre, sd
        As for `individuals`.
    weight : float
        Of the newest value; above 0, up to 1.
    width : float
        Half width of the limits, in standard deviations of the average.

    Raises
    ------
    ValueError
        As for `individuals`, and if the weight is not above 0 and up to 1.
    """
    if not 0 < weight <= 1:
        raise ValueError(f"A weight of {weight:g} is not possible: give one above 0, up to 1.")
    plain = individuals(values, centre=centre, sd=sd, rules="limits_only")
    plotted = smoothed(plain.plotted, plain.centre, weight)
    edge = smoothed_limits(plotted.size, plain.sd, weight, width)
    outside = np.flatnonzero(np.abs(plotted - plain.centre) > edge)
    signals = tuple(
        Signal(
            int(at),
            "average_beyond_limit",
            "the moving average is beyond its limit",
            "a drift or a small lasting shift: a soiled prism or cell, an old standard",
            "roberts1959",
        )
        for at in outside
    )
    return Chart(
        "moving average", plotted, plain.centre, plain.centre - edge, plain.centre + edge,
        plain.sd, signals,
    )  # fmt: skip


def sums(standard: npt.ArrayLike, slack: float = SLACK) -> tuple[Vector, Vector]:
    """Cumulative sums upward and downward, both counted from nought, in sd.

    up = max(0, up + z - slack), down = max(0, down - z - slack), along the last axis.
    Source: [page1954].
    """
    found = np.asarray(standard, dtype=float)
    above, below = np.empty(found.shape), np.empty(found.shape)
    up = down = np.zeros(found.shape[:-1])
    for k in range(found.shape[-1]):
        up = np.maximum(0.0, up + found[..., k] - slack)
        down = np.maximum(0.0, down - found[..., k] - slack)
        above[..., k], below[..., k] = up, down
    return above, below


def cumulative_sums(
    values: npt.ArrayLike,
    *,
    centre: float | None = None,
    sd: float | None = None,
    slack: float = SLACK,
    decision: float = DECISION,
) -> Chart:
    """Chart of cumulative sums, in standard deviations; the downward one is drawn below nought.

    Parameters
    ----------
    values, centre, sd
        As for `individuals`.
    slack, decision : float
        Half the shift to be seen, and the sum that signals. [sd]

    Raises
    ------
    ValueError
        As for `individuals`.
    """
    plain = individuals(values, centre=centre, sd=sd, rules="limits_only")
    above, below = sums((plain.plotted - plain.centre) / plain.sd, slack)
    signals = tuple(
        Signal(
            int(at),
            "sum_beyond_limit",
            f"the sum {'upward' if above[at] > decision else 'downward'} is beyond its limit",
            "a lasting shift since the sum left nought",
            "page1954",
        )
        for at in np.flatnonzero((above > decision) | (below > decision))
    )
    edge = np.full(above.size, decision)
    return Chart("cumulative sums", above, 0.0, -edge, edge, 1.0, signals, below=-below)
