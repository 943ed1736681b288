"""What to measure next: which reading or calibration narrows what is not known, per hour."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from canewright.account.account import Account
from canewright.account.advice import Adviser
from canewright.account.advice_payload import candidate
from canewright.account.cautions import sentences_of
from canewright.engine.advising.gain import gains_of
from canewright.engine.measuring.value_of_readings import Candidate, Measuring
from canewright.files.problems import known_names

GAIN = "gain"
LOSS = "undetermined_loss"


@dataclass
class Measured:
    """Candidates for one figure.

    Attributes
    ----------
    figure, label, unit : str
    value, sd : float
        The figure now, and its standard uncertainty.
    candidates : list of Candidate
        Each by itself, the most per hour first.
    plan : list of Candidate
        What fits into the hours, each after those before it.
    assumed : float
        Standard deviation that assumed responses bring and no reading takes away.
    """

    account: Account
    figure: str
    label: str
    unit: str
    value: float
    sd: float
    candidates: list[Candidate]
    plan: list[Candidate]
    hours: float
    assumed: float
    cautions: list[str]


def what_to_read(account: Account, hours: float = 4.0, figure: str = LOSS) -> Measured:
    """Readings and calibrations ranked by how much they narrow a figure's interval.

    Parameters
    ----------
    account : Account
    hours : float
        Of an analyst.
    figure : str
        A control figure; "gain" for the gain of advice.

    Raises
    ------
    LookupError
        If there is no such figure.
    """
    estimate = account.estimate
    measuring = Measuring(estimate)
    extra = 0.0
    if figure == GAIN:
        optimiser = Adviser(account).optimiser
        best = optimiser.choose().best
        (gain,) = gains_of(optimiser, [best.settings], [optimiser.settings_found])
        value, direction, extra = gain.value, gain.direction, gain.assumed
        label, unit = "gain of the advice", "a day"
    else:
        if figure not in account.figures:
            raise LookupError(
                f"No figure is called '{figure}'. {known_names(figure, [*account.figures, GAIN])}"
            )
        own = account.figures[figure]
        values, gradients = estimate.evaluate([own.expression])
        value, direction = float(values[0]), gradients[0]
        label, unit = own.label, own.unit
    candidates = measuring.ranked(value, direction, extra)
    plan = measuring.plan(value, direction, hours, extra)
    variance = float(estimate.posterior.variances(direction[None, :])[0])
    return Measured(
        account,
        figure,
        label,
        unit,
        value,
        float((variance + extra**2) ** 0.5),
        candidates,
        plan,
        hours,
        extra,
        sentences_of(_cautions([*candidates[:10], *plan])),
    )


def _cautions(candidates: list[Candidate]) -> list[str]:
    """Keys of what to mind at the bench."""
    lead = any(one.analysis in ("pol", "apparent_purity") for one in candidates)
    return ["lead salts"] if lead else []


def payload(found: Measured) -> dict[str, Any]:
    """The answer as plain data with stable keys, for `--json`."""
    return {
        "factory": found.account.factory.name,
        "invented": found.account.factory.invented,
        "figure": found.figure,
        "label": found.label,
        "unit": found.unit,
        "value": found.value,
        "sd": found.sd,
        "hours": found.hours,
        "candidates": [candidate(one) for one in found.candidates],
        "plan": [candidate(one) for one in found.plan],
        "sd_assumed": found.assumed,
        "cautions": found.cautions,
    }
