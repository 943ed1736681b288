"""Check samples: what an instrument read of a standard, charted, and turned into a bias.

The standard is a quartz plate, a sucrose solution of known Brix, potassium chloride, a
certified weight. Reading less certificate is the instrument's error of the moment; its slow
part is what the balance calls the bias of that instrument.
"""

import datetime
import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from canewright.laboratory.control_charts import (
    DEFAULT_RULES,
    WEIGHT,
    Chart,
    individuals,
    moving_average,
    short_term_sd,
)

Vector = npt.NDArray[np.float64]

LEAST_FOR_SD = 5
"""Readings from which their own scatter is taken; with fewer, give the repeatability."""

FASTER = (0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)
"""Weights that are tried where the usual one lags behind."""

LIKELIHOOD_LIMIT = 3.841
"""Twice the gain in log-likelihood that chance exceeds in 5 % of records: chi-square, one
degree of freedom, 95 % [wilks1938]."""


@dataclass(frozen=True)
class CheckRecord:
    """Readings of a check standard by one instrument, in order of time.

    `values` and `expected` in `unit`. `standard_uncertainty` is that of the standard's own
    value, `repeatability` the standard deviation of one reading where it is known.
    """

    instrument: str
    values: tuple[float, ...]
    expected: tuple[float, ...]
    unit: str = ""
    times: tuple[datetime.datetime, ...] = ()
    standard_uncertainty: float = 0.0
    repeatability: float | None = None

    def __post_init__(self) -> None:
        if not self.values:
            raise ValueError(f"{self.instrument}: there is no reading of the check standard.")
        if len(self.expected) != len(self.values):
            raise ValueError(f"{self.instrument}: each reading needs the value expected of it.")
        if not np.isfinite([*self.values, *self.expected]).all():
            raise ValueError(f"{self.instrument}: a reading or its standard is not a number.")

    @property
    def deviations(self) -> Vector:
        """Reading less standard, in `unit`: positive where the instrument reads high."""
        return np.subtract(self.values, self.expected)

    @property
    def sd(self) -> float:
        """Standard deviation of one reading: the one given, or from neighbours' differences.

        Raises
        ------
        ValueError
            If none is given and there are fewer than five readings, or they do not differ.
        """
        if self.repeatability is not None:
            if not self.repeatability > 0:
                raise ValueError(f"{self.instrument}: its repeatability must be above zero.")
            return self.repeatability
        if len(self.values) < LEAST_FOR_SD:
            raise ValueError(
                f"{self.instrument}: {len(self.values)} readings do not tell how far they scatter; "
                f"give the repeatability, or {LEAST_FOR_SD} readings and more."
            )
        return short_term_sd(self.deviations)


@dataclass(frozen=True)
class CheckVerdict:
    """What the charts say of an instrument: blunders by single values, drift by the average."""

    record: CheckRecord
    single: Chart
    average: Chart
    bias: float
    bias_sd: float

    @property
    def fit(self) -> bool:
        """Whether neither chart signals at its newest point."""
        newest = self.single.plotted.size - 1
        return not any(
            signal.at == newest for chart in (self.single, self.average) for signal in chart.signals
        )

    @property
    def words(self) -> str:
        """The finding in one sentence or two."""
        unit = f" {self.record.unit}" if self.record.unit else ""
        found = f"It reads {self.bias:+.3g} +/- {1.96 * self.bias_sd:.2g}{unit} off its standard"
        newest = self.single.plotted.size - 1
        drift = [signal for signal in self.average.signals if signal.at == newest]
        if drift:
            return f"It has drifted. {found}: clean it, check the standard, calibrate it."
        single = [signal for signal in self.single.signals if signal.at == newest]
        if single:
            said = single[0]
            return f"The newest check signals: {said.words}; look for {said.look_for}. {found}."
        earlier = sorted({*self.single.signalled, *self.average.signalled})
        if earlier:
            told = ", ".join(str(at + 1) for at in earlier)
            return f"It is in control now; earlier signals at check {told}. {found}."
        return f"It is in control. {found}."


def chart_checks(record: CheckRecord, rules: str = DEFAULT_RULES) -> CheckVerdict:
    """Chart the deviations of a check record about nought, and estimate the bias.

    Raises
    ------
    ValueError
        If the scatter of the readings is not known; see `CheckRecord.sd`.
    """
    spread = record.sd
    single = individuals(record.deviations, centre=0.0, sd=spread, rules=rules)
    average = moving_average(record.deviations, centre=0.0, sd=spread)
    mean, sd = bias_prior(record)
    return CheckVerdict(record, single, average, mean, sd)


def drift_of_weight(weight: float, sd: float) -> float:
    """Drift per check for which an average of this weight follows the bias best.

    A bias that walks at random by q from check to check, read with scatter s, is followed
    best with weight w where q^2 = s^2 w^2/(1 - w). Source: [muth1960].
    """
    return sd * weight / math.sqrt(1 - weight)


def bias_prior(
    check_record: CheckRecord, drift: float | None = None, elapsed: float = 0.0
) -> tuple[float, float]:
    """The instrument's bias now, as a prior for the balance: mean and standard uncertainty.

    The bias is taken to walk at random between checks. The first check sets it, each further
    one corrects it by its weight; after many, this is the moving average of the chart, with
    uncertainty s sqrt(w). The uncertainty of the standard itself is added: no number of
    checks makes it less. Source: [muth1960]; [own_derivation].

    Parameters
    ----------
    check_record : CheckRecord
    drift : float, optional
        Standard deviation of the change of the bias from one check to the next. When left
        out, that for which the chart's weight of 0.2 is best, or a larger one where the
        record itself speaks for it (`likely_drift`).
    elapsed : float
        Time since the newest check, in times between checks: the bias walks on meanwhile.

    Returns
    -------
    mean, sd : float
        In the unit of the record. Subtracting `mean` from readings is not needed: the balance
        does it.

    Raises
    ------
    ValueError
        If the scatter of the readings is not known, or the drift is below zero.
    """
    walk = likely_drift(check_record) if drift is None else drift
    if walk < 0:
        raise ValueError(f"{check_record.instrument}: a drift cannot be below zero.")
    mean, variance, _ = _followed(check_record.deviations, check_record.sd, walk)
    variance += walk**2 * max(elapsed, 0.0) + check_record.standard_uncertainty**2
    return mean, math.sqrt(variance)


def likely_drift(record: CheckRecord) -> float:
    """Drift per check, in the record's unit: the usual one, or a larger that fits far better.

    A bias that runs away is followed with a lag by the usual weight. Where a larger weight
    makes what was read more likely by more than the 95 % limit of a likelihood ratio, the
    drift of that weight is taken. Source: [own_derivation].
    """
    spread, deviations = record.sd, record.deviations
    usual = _followed(deviations, spread, drift_of_weight(WEIGHT, spread))[2]
    found = {
        weight: _followed(deviations, spread, drift_of_weight(weight, spread))[2]
        for weight in FASTER
    }
    best = max(found, key=lambda weight: found[weight])
    faster = 2 * (found[best] - usual) > LIKELIHOOD_LIMIT
    return drift_of_weight(best if faster else WEIGHT, spread)


def _followed(deviations: Vector, spread: float, walk: float) -> tuple[float, float, float]:
    """Bias after the newest check, its variance, and the logarithm of the likelihood."""
    mean, variance, likelihood = float(deviations[0]), spread**2, 0.0
    for deviation in deviations[1:]:
        variance += walk**2
        total = variance + spread**2
        away = float(deviation) - mean
        likelihood -= 0.5 * (away**2 / total + math.log(total))
        weight = variance / total
        mean += weight * away
        variance *= 1 - weight
    return mean, variance, likelihood
