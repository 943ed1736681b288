"""Check samples: what an instrument read of a standard, charted, and turned into a bias.

The standard is a quartz plate, a sucrose solution of known Brix, potassium chloride, a
certified weight. Reading less certificate is the instrument's error of the moment; its slow
part is what the balance calls the bias of that instrument.
"""

import datetime
import math
from collections.abc import Sequence
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


def bias_prior(check_record: CheckRecord, drift: float | None = None) -> tuple[float, float]:
    """The instrument's bias now, as a prior for the balance: mean and standard uncertainty.

    The bias is taken to walk at random between checks. The first check sets it, each further
    one corrects it by its weight; after many, this is the moving average of the chart, with
    uncertainty s sqrt(w). The uncertainty of the standard itself is added: no number of
    checks makes it less. Source: [muth1960]; [own_derivation].

    Parameters
    ----------
    check_record : CheckRecord
    drift : float, optional
        Standard deviation of the change of the bias from one check to the next; that for which
        the chart's weight of 0.2 is best when left out.

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
    spread = check_record.sd
    walk = drift_of_weight(WEIGHT, spread) if drift is None else drift
    if walk < 0:
        raise ValueError(f"{check_record.instrument}: a drift cannot be below zero.")
    deviations = check_record.deviations
    mean, variance = float(deviations[0]), spread**2
    for deviation in deviations[1:]:
        variance += walk**2
        weight = variance / (variance + spread**2)
        mean += weight * (float(deviation) - mean)
        variance *= 1 - weight
    return mean, math.sqrt(variance + check_record.standard_uncertainty**2)


def calibration_priors(
    records: Sequence[CheckRecord], bias_sizes: dict[str, float]
) -> dict[str, tuple[float, float]]:
    """Priors by the name the balance gives them, in its unit: multiples of the bias size.

    Parameters
    ----------
    records : sequence of CheckRecord
        Of instruments as the factory file names them.
    bias_sizes : dict
        Instrument -> size of its bias in the balance (`Channel.bias`), in the record's unit.

    Raises
    ------
    KeyError
        If the balance has no such instrument.
    """
    priors = {}
    for record in records:
        size = bias_sizes[record.instrument]
        mean, sd = bias_prior(record)
        priors[f"calibration of {record.instrument}"] = (mean / size, sd / size)
    return priors
