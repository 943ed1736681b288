"""Net content of packages: tolerable deficiency and the judgement of a lot, from data.

The tables and plans are in `net_content.toml`, each with its edition and place. They are
lookups, not formulas, and do not trace into the solver. The text in force at the place
governs.
"""

import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, Literal

from canewright.laws.packing import corrected_average_error
from canewright.registry import Known

Outcome = Literal["accept", "reject", "second sample"]


@dataclass(frozen=True)
class SamplingPlan:
    """One row of a sampling table, with the text it comes from."""

    source: str
    test: str
    at: str
    known: Known
    lot: tuple[int, int]
    sample: int
    accept: int | None = None
    reject: int | None = None
    factor: float | None = None
    second_sample: int | None = None
    second_accept: int | None = None
    second_reject: int | None = None


@dataclass(frozen=True)
class LotJudgement:
    """What a sample says of a lot, rule by rule, with the sentence to print."""

    outcome: Outcome
    sample_mean: float
    standard_deviation: float
    corrected_error: float | None
    short_by_more_than_tolerable: int
    short_by_more_than_twice: int
    sentence: str


@cache
def _data() -> dict[str, Any]:
    text = resources.files("canewright.laws").joinpath("net_content.toml").read_text("utf-8")
    return tomllib.loads(text)


def tolerable_deficiency(nominal: float, edition: str) -> float:
    """Tolerable deficiency T of one package. [g] from [g].

    Parameters
    ----------
    nominal : float
        Nominal quantity, g (or ml).
    edition : str
        Source key of the text, for instance `nz_weights_1999`.

    Raises
    ------
    KeyError
        If the edition is not in the table.
    ValueError
        If the nominal quantity lies outside what was read of that edition.
    """
    editions = _data()["tolerable"]
    if edition not in editions:
        raise KeyError(f"No tolerable deficiency by {edition!r}. Choose one of {sorted(editions)}.")
    entry = editions[edition]
    if not 0.0 < nominal <= entry["greatest"]:
        raise ValueError(
            f"The nominal quantity {nominal:g} g is outside the table of {edition}, known from "
            f"above 0 to {entry['greatest']:g} g. Choose another edition or correct the quantity."
        )
    band = next(row for row in _data()["band"] if row["above"] < nominal <= row["to"])
    if "grams" in band:
        return float(band["grams"])
    step = next(row["step"] for row in entry["rounding"] if nominal <= row["to"])
    exact = nominal * band["percent"] / 100.0
    return float(math.ceil(round(exact / step, 6)) * step)


def sampling_plans() -> list[SamplingPlan]:
    """Every sampling plan we know, in the order of the data file."""
    plans = []
    for row in _data()["plan"]:
        second = row.get("second", {})
        plans.append(
            SamplingPlan(
                source=row["source"],
                test=row["test"],
                at=row["at"],
                known=row["known"],
                lot=(row["lot"][0], row["lot"][1]),
                sample=row["sample"],
                accept=row.get("accept"),
                reject=row.get("reject"),
                factor=row.get("factor"),
                second_sample=second.get("sample"),
                second_accept=second.get("accept"),
                second_reject=second.get("reject"),
            )
        )
    return plans


def sampling_plan(source: str, test: str, lot_size: int) -> SamplingPlan:
    """Find the plan of a text, a test and a lot size.

    Parameters
    ----------
    source : str
        Source key of the text.
    test : str
        Name of the test in the data, for instance "mean and count".
    lot_size : int
        Packages in the lot, count.

    Raises
    ------
    LookupError
        If no plan fits; the message lists the lot sizes known.
    """
    fitting = [p for p in sampling_plans() if p.source == source and p.test == test]
    for plan in fitting:
        if plan.lot[0] <= lot_size <= plan.lot[1]:
            return plan
    if not fitting:
        pairs = sorted({f"{p.source}: {p.test}" for p in sampling_plans()})
        raise LookupError(f"No test {test!r} by {source!r}. Known: {'; '.join(pairs)}.")
    ranges = ", ".join(f"{p.lot[0]} to {p.lot[1]}" for p in fitting)
    raise LookupError(
        f"{source}, {test}: no plan for a lot of {lot_size}. Plans are known for {ranges}. "
        "Below 100 bags all are weighed and the plain mean must reach the nominal."
    )


def judge_counts(plan: SamplingPlan, short_first: int, short_both: int | None = None) -> Outcome:
    """Judge the packages short by more than T, in one or two stages.

    Parameters
    ----------
    plan : SamplingPlan
        A plan with a counting rule.
    short_first : int
        Packages of the first sample short by more than T, count.
    short_both : int, optional
        The same in both samples together, once the second was taken.

    Raises
    ------
    ValueError
        If the plan has no counting rule, or no second sample although one is given.
    """
    if plan.accept is None or plan.reject is None:
        raise ValueError(f"The plan {plan.source}, {plan.test} counts nothing: use its mean rule.")
    if short_first <= plan.accept:
        return "accept"
    if short_first >= plan.reject:
        return "reject"
    if short_both is None:
        return "second sample"
    if plan.second_accept is None:
        raise ValueError(f"The plan {plan.source}, {plan.test} has no second sample.")
    return "accept" if short_both <= plan.second_accept else "reject"


def judge_lot(
    plan: SamplingPlan, nominal: float, tolerable: float, contents: Sequence[float]
) -> LotJudgement:
    """Judge a lot from the net contents of one sample.

    Parameters
    ----------
    plan : SamplingPlan
        The plan of the text in force.
    nominal : float
        Nominal quantity, g.
    tolerable : float
        Tolerable deficiency T, g.
    contents : sequence of float
        Net contents of the sample, g; as many as the plan asks for.

    Raises
    ------
    ValueError
        If the sample is not of the size the plan asks for.
    """
    if len(contents) != plan.sample:
        raise ValueError(
            f"The plan {plan.source}, {plan.test} takes {plan.sample} packages; "
            f"{len(contents)} were weighed. Weigh exactly {plan.sample}."
        )
    mean = math.fsum(contents) / len(contents)
    spread = math.fsum((value - mean) ** 2 for value in contents)
    deviation = math.sqrt(spread / (len(contents) - 1))
    short = sum(value < nominal - tolerable for value in contents)
    twice = sum(value < nominal - 2.0 * tolerable for value in contents)
    corrected: float | None = None
    reasons = []
    outcome: Outcome = "accept"
    if plan.factor is not None:
        corrected = float(corrected_average_error(mean - nominal, plan.factor, deviation))
        if corrected < 0.0:
            reasons.append(
                f"the mean {mean:.2f} g is below {nominal:g} - {plan.factor:g} x {deviation:.2f} g"
            )
    if twice:
        reasons.append(f"{twice} are short by more than {2.0 * tolerable:g} g")
    if plan.accept is not None:
        outcome = judge_counts(plan, short)
        if outcome == "reject":
            reasons.append(f"{short} are short by more than {tolerable:g} g")
    if reasons:
        outcome = "reject"
    words = {"accept": "passes", "reject": "fails", "second sample": "needs its second sample"}
    because = f": {'; '.join(reasons)}" if reasons else ""
    return LotJudgement(
        outcome=outcome,
        sample_mean=mean,
        standard_deviation=deviation,
        corrected_error=corrected,
        short_by_more_than_tolerable=short,
        short_by_more_than_twice=twice,
        sentence=f"The lot {words[outcome]} {plan.test} by {plan.source}, {plan.at}{because}.",
    )
