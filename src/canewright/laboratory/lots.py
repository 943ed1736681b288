"""Whether a lot is inside its specification, given how sure its analyses are.

A result is compared with its limit after a guard band of z standard uncertainties on either
side: inside the limit by more than the band it conforms, outside by more it does not, and
between the two it cannot be said. Source: [jcgm106], guarded acceptance and guarded
rejection, one-sided with z = 1.645 for 95 %.
"""

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from statistics import NormalDist
from typing import Any, Literal

from canewright.laboratory.specifications import (
    PROPERTIES,
    Limit,
    PointsLimit,
    Specification,
    raw_beet_yield,
    raw_cane_yield,
)
from canewright.registry import Known

Verdict = Literal["conforms", "does not conform", "cannot be said"]
CONFIDENCE = 95.0

SULPHITE_CAUTION = (
    "Sulphur dioxide in sugar can harm people with asthma; in many countries more than "
    "10 mg/kg must be declared on the label. Follow the local food law."
)


@dataclass(frozen=True)
class Precision:
    """Standard uncertainty of one result, for a range of the property in a product."""

    property: str
    s_r: float
    s_R: float  # noqa: N815 - the published symbol
    unit: str
    source: str
    at: str
    known: Known
    product: str = ""
    low: float = -math.inf
    high: float = math.inf

    def suits(self, value: float, product: str) -> bool:
        """Whether it is stated for this value in this product."""
        return self.low <= value <= self.high and self.product in ("", product)

    def at_value(self, value: float) -> float:
        """Standard uncertainty s_R of a result of this size, in the unit of the property."""
        return abs(value) * self.s_R / 100 if self.unit == "% of value" else self.s_R


@cache
def precisions() -> tuple[Precision, ...]:
    """The table of precisions, published ones first."""
    text = resources.files("canewright.laboratory").joinpath("lot_precision.toml")
    rows: list[dict[str, Any]] = tomllib.loads(text.read_text(encoding="utf-8"))["precision"]
    for row in rows:
        row["low"], row["high"] = row.pop("from", -math.inf), row.pop("to", math.inf)
    return tuple(Precision(**row) for row in rows)


def precision_of(name: str, value: float, product: str) -> Precision | None:
    """The precision stated for a property of this size in this product, if there is one."""
    stated = (row for row in precisions() if row.property == name and row.suits(value, product))
    return next(stated, None)


@dataclass(frozen=True)
class Result:
    """A result of a lot: value, standard uncertainty, and where that uncertainty is from."""

    value: float
    uncertainty: float
    basis: str
    source: str = ""


@dataclass(frozen=True)
class Row:
    """One requirement and what can be said of it.

    `guard_band` and `uncertainty` in the unit of the property; `probability` that the true
    value is inside the limit. [%]
    """

    name: str
    label: str
    unit: str
    at_least: float | None
    at_most: float | None
    result: Result | None
    guard_band: float
    probability: float
    verdict: Verdict
    words: str
    source: str
    at: str
    known: str
    note: str = ""

    @property
    def limit(self) -> str:
        """The limit in words, with its unit."""
        unit = "" if self.unit == "1" else f" {self.unit}"
        parts = [f"at least {self.at_least:g}{unit}"] if self.at_least is not None else []
        parts += [f"at most {self.at_most:g}{unit}"] if self.at_most is not None else []
        return ", ".join(parts)


@dataclass(frozen=True)
class LotVerdict:
    """What can be said of a lot: the verdict of its worst requirement, and each of them."""

    specification: Specification
    verdict: Verdict
    rows: tuple[Row, ...]
    confidence: float
    factor: float

    @property
    def guard_band(self) -> str:
        """The decision rule in words."""
        return (
            f"Guard band: {self.factor:.3f} standard uncertainties on either side of a limit "
            f"(one-sided, {self.confidence:g} %; guarded acceptance and guarded rejection, "
            "JCGM 106). The uncertainty is that of the analysis; how well the sample stands for "
            "the lot is not in it."
        )

    @property
    def cautions(self) -> list[str]:
        """Cautions that belong to what was judged."""
        judged = {row.name for row in self.rows if row.result is not None}
        return [SULPHITE_CAUTION] if "sulphite" in judged else []


def judge(
    specification: Specification,
    values: Mapping[str, float],
    uncertainties: Mapping[str, float] | None = None,
    confidence: float = CONFIDENCE,
) -> LotVerdict:
    """Judge a lot against a specification.

    Parameters
    ----------
    specification : Specification
    values : mapping
        Property -> result, in the property's unit.
    uncertainties : mapping, optional
        Property -> standard uncertainty of its result, where it is known better than by the
        published precision.
    confidence : float
        Of the one-sided statement. [%]

    Raises
    ------
    ValueError
        If the confidence is not above 50 and below 100 %, a value is not a number, or an
        uncertainty is below zero.
    """
    if not 50 < confidence < 100:
        raise ValueError(f"A confidence of {confidence:g} % is no use: give 80 to 99.9 %.")
    given = uncertainties or {}
    for name, value in {**values, **given}.items():
        if not math.isfinite(value):
            raise ValueError(f"{name}: {value} is not a number to judge.")
    for name, value in given.items():
        if value < 0:
            raise ValueError(f"The uncertainty of {name} is {value:g}: it cannot be below zero.")
    factor = NormalDist().inv_cdf(confidence / 100)
    results = _results(specification, values, given)
    rows = [_row(limit, results.get(limit.property), factor) for limit in specification.limits]
    if specification.points:
        rows += _points_rows(specification.points, results, factor)
    return LotVerdict(
        specification, worst([row.verdict for row in rows]), tuple(rows), confidence, factor
    )


def worst(verdicts: Sequence[Verdict]) -> Verdict:
    """Verdict of the whole: one failure decides, else one open question does."""
    for verdict in ("does not conform", "cannot be said"):
        if verdict in verdicts:
            return verdict
    return "conforms"


def _results(
    specification: Specification, values: Mapping[str, float], given: Mapping[str, float]
) -> dict[str, Result]:
    results: dict[str, Result] = {}
    stated = {limit.property: limit.uncertainty for limit in specification.limits}
    for name, value in values.items():
        uncertainty = stated.get(name)
        if name in given:
            results[name] = Result(value, given[name], "as given")
        elif uncertainty is not None:
            results[name] = Result(value, uncertainty, "as the specification says")
        else:
            precision = precision_of(name, value, specification.product)
            if precision is None:
                results[name] = Result(value, math.nan, "not known")
            else:
                kind = "judgement" if precision.known == "assumed" else "published"
                results[name] = Result(value, precision.at_value(value), kind, precision.source)
    _add_yields(results)
    return results


def _add_yields(results: dict[str, Result]) -> None:
    """Yields that follow from other results."""
    pol = results.get("pol")
    if pol is None:
        return
    basis = "from its parts"
    if "raw_cane_yield" not in results:
        value = float(raw_cane_yield(pol.value))
        results["raw_cane_yield"] = Result(value, 2 * pol.uncertainty, basis)
    ash, invert = results.get("ash"), results.get("reducing_sugars")
    if ash and invert and "raw_beet_yield" not in results:
        value = float(raw_beet_yield(pol.value, ash.value, invert.value))
        spread = math.hypot(pol.uncertainty, 4 * ash.uncertainty, 2 * invert.uncertainty)
        results["raw_beet_yield"] = Result(value, spread, basis)


def _row(limit: Limit, result: Result | None, factor: float) -> Row:
    band = 0.0 if result is None else factor * result.uncertainty
    verdict, probability, words = _compared(limit, result, band)
    return Row(
        limit.property, limit.label, limit.unit, limit.at_least, limit.at_most, result, band,
        probability, verdict, words, limit.source, limit.at, limit.known, limit.note,
    )  # fmt: skip


def _compared(limit: Limit, result: Result | None, band: float) -> tuple[Verdict, float, str]:
    if result is None:
        return "cannot be said", math.nan, f"{limit.label}: not given."
    if math.isnan(band):
        words = (
            f"{limit.label}: its uncertainty is not known; give it with "
            f"--uncertainty {limit.property}=..."
        )
        return "cannot be said", math.nan, words
    inside = math.inf
    if limit.at_least is not None:
        inside = result.value - limit.at_least
    if limit.at_most is not None:
        inside = min(inside, limit.at_most - result.value)
    probability = 100 * _share_inside(limit, result)
    shown = f"{limit.label} {result.value:g}"
    # A value on the limit is inside it: "not less than", "not more than". Differences below a
    # billionth are those of binary fractions.
    tiny = 1e-9 * max(1.0, abs(result.value))
    if inside >= band - tiny:
        return "conforms", probability, f"{shown} is inside its limit."
    if inside < -band - tiny:
        return "does not conform", probability, f"{shown} is outside its limit."
    words = f"{shown} is nearer to its limit than the guard band of {band:.2g} {limit.unit}."
    return "cannot be said", probability, words


def _share_inside(limit: Limit, result: Result) -> float:
    """Probability that the true value is inside, for a normal error."""
    low = -math.inf if limit.at_least is None else limit.at_least
    high = math.inf if limit.at_most is None else limit.at_most
    if result.uncertainty == 0:
        return float(low <= result.value <= high)
    error = NormalDist(result.value, result.uncertainty)
    below_high = 1.0 if math.isinf(high) else error.cdf(high)
    below_low = 0.0 if math.isinf(low) else error.cdf(low)
    return below_high - below_low


def _points_rows(points: PointsLimit, results: Mapping[str, Result], factor: float) -> list[Row]:
    """Rows of the points of each property, and of their total."""
    rows, parts, known = [], [], True
    for of in points.of:
        result = results.get(of.property)
        label = f"points for {PROPERTIES[of.property].label}"
        scored = None
        if result is None:
            known = False
        else:
            scored = Result(
                result.value / of.one_point, result.uncertainty / of.one_point,
                result.basis, result.source,
            )  # fmt: skip
            parts.append(scored)
        limit = Limit(
            of.property, label, "1", None, of.at_most, points.source, points.at, points.known
        )
        rows.append(_row(limit, scored, factor))
    total = Result(
        math.fsum(part.value for part in parts),
        math.hypot(*(part.uncertainty for part in parts)),
        "from its parts",
    )
    limit = Limit(
        "points", "points in all", "1", None, points.at_most, points.source, points.at, points.known
    )
    row = _row(limit, total if parts else None, factor)
    if parts and not known and row.verdict != "does not conform":
        missing = [of.property for of in points.of if of.property not in results]
        names = " and ".join(PROPERTIES[name].label for name in missing)
        words = f"points in all: {total.value:.1f} without {names}, which was not given."
        row = Row(
            **{**vars(row), "verdict": "cannot be said", "words": words, "probability": math.nan}
        )
    rows.append(row)
    return rows
