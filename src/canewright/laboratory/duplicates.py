"""Repeats of one analysis: whether they agree, what value to take, and how sure it is.

Results of the same sample by the same method, analyst and instrument within a short time
are compared with the method's repeatability s_r. The number of results decides how far
apart they may lie; where they lie farther, the rule asks for another result or says which
value stands.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

LIMIT_OF_TWO = 2.8
"""Greatest difference of two results, in s_r: 1.96 sqrt 2 rounded [iso5725_6]."""

MEDIAN_OF_THREE = math.sqrt(1 - math.sqrt(3) / math.pi)
"""Standard uncertainty of the median of three, in s_r: 0.6698 [own_derivation]."""

CLOSEST_OF_THREE = math.sqrt(0.5 + math.sqrt(3) / (4 * math.pi))
"""Standard uncertainty of the mean of the closest two of three, in s_r: 0.7987.

More than the 0.7071 of two results taken as they come [own_derivation], [lieblein1952].
"""


@dataclass(frozen=True)
class Rule:
    """A published rule for repeats: how far apart how many may lie, and what then.

    `widest` maps a number of results to the greatest range accepted, in s_r; `otherwise`
    says what is taken once as many results are there as the rule asks for at most.
    """

    name: str
    words: str
    widest: dict[int, float]
    otherwise: Literal["median", "closest pair"]
    source: str
    at: str
    note: str = ""

    @property
    def most(self) -> int:
        """Number of results after which the rule gives a value in any case."""
        return max(self.widest)


RULES = {
    rule.name: rule
    for rule in (
        Rule(
            "median_of_three",
            "two within 2.8 s_r: their mean; else a third, and the median of the three",
            {2: LIMIT_OF_TWO, 3: 0.0},
            "median",
            source="iso5725_6",
            at="5.2.2, the short form laboratories use",
            note="The usual rule here: one wild result cannot move the median.",
        ),
        Rule(
            "widening_range",
            "mean while the range is within 2.8, 3.3, 3.6 s_r for 2, 3, 4 results; else the "
            "median of four",
            {2: LIMIT_OF_TWO, 3: 3.3, 4: 3.6},
            "median",
            source="iso5725_6",
            at="5.2.2.2 and table 1, factors of the critical range",
        ),
        Rule(
            "closest_pair",
            "two within 2.8 s_r: their mean; else a third, and the mean of the closest two",
            {2: LIMIT_OF_TWO, 3: 0.0},
            "closest pair",
            source="common_practice",
            at="bench custom",
            note="Overstates the precision, and its mean is less sure than that of two results "
            "taken as they come (lieblein1952): prefer the median.",
        ),
    )
}


@dataclass(frozen=True)
class Judgement:
    """What a rule says of the repeats of one analysis.

    `value` is what to enter, None while the rule asks for another result; `uncertainty` is
    the standard uncertainty of its random part, in the unit of the results.
    """

    verdict: Literal["accept", "repeat", "median", "closest pair"]
    value: float | None
    uncertainty: float | None
    taken: tuple[float, ...]
    set_aside: tuple[float, ...]
    limit: float
    words: str
    rule: Rule


def judge(results: Sequence[float], s_r: float, rule: str = "median_of_three") -> Judgement:
    """Judge repeats against the repeatability of their method.

    Parameters
    ----------
    results : sequence of float
        In the order in which they were made.
    s_r : float
        Repeatability standard deviation of the method, same unit.
    rule : str
        Name of one of `RULES`.

    Raises
    ------
    ValueError
        If there are no results or more than the rule knows, or s_r is not above zero.
    """
    chosen = RULES[rule]
    values = tuple(float(result) for result in results)
    if not values:
        raise ValueError("There are no results to judge: enter at least one.")
    if not all(math.isfinite(value) for value in values):
        raise ValueError("A result is not a number: enter what was read, or leave it out.")
    if not s_r > 0:
        raise ValueError(f"A repeatability of {s_r:g} cannot judge anything: it must be above 0.")
    count = len(values)
    if count == 1:
        return Judgement(
            "accept",
            values[0],
            s_r,
            values,
            (),
            math.inf,
            "One result: nothing to compare.",
            chosen,
        )
    if count > chosen.most:
        raise ValueError(
            f"The rule '{chosen.name}' judges up to {chosen.most} results and {count} are given: "
            "enter them in the order in which they were made, without later ones."
        )
    limit = chosen.widest[count] * s_r
    spread = max(values) - min(values)
    if spread <= limit:
        words = f"{_apart(values, spread)}, within the limit of {limit:.3g}: take the mean."
        mean = math.fsum(values) / count
        return Judgement("accept", mean, s_r / math.sqrt(count), values, (), limit, words, chosen)
    if count < chosen.most:
        words = (
            f"{_apart(values, spread)}, more than the limit of {limit:.3g}: make another analysis."
        )
        return Judgement("repeat", None, None, (), values, limit, words, chosen)
    if chosen.otherwise == "median":
        return _median(values, s_r, limit, chosen)
    return _closest_pair(values, s_r, limit, chosen)


def _apart(values: Sequence[float], spread: float) -> str:
    return f"{'Both' if len(values) == 2 else f'The {len(values)}'} lie {spread:.3g} apart"


def _median(values: tuple[float, ...], s_r: float, limit: float, rule: Rule) -> Judgement:
    ordered = sorted(values)
    count = len(ordered)
    taken = tuple(ordered[(count - 1) // 2 : count // 2 + 1])
    aside = list(values)
    for value in taken:
        aside.remove(value)
    # The median of four is the mean of the middle two: 0.5461 s_r, by order statistics.
    uncertainty = {3: MEDIAN_OF_THREE, 4: 0.5461}[count] * s_r
    return Judgement(
        "median",
        math.fsum(taken) / len(taken),
        uncertainty,
        taken,
        tuple(aside),
        limit,
        f"{_apart(values, ordered[-1] - ordered[0])}: take the median.",
        rule,
    )


def _closest_pair(values: tuple[float, ...], s_r: float, limit: float, rule: Rule) -> Judgement:
    low, middle, high = sorted(values)
    taken, aside = ((low, middle), high) if middle - low <= high - middle else ((middle, high), low)
    return Judgement(
        "closest pair",
        (taken[0] + taken[1]) / 2,
        CLOSEST_OF_THREE * s_r,
        taken,
        (aside,),
        limit,
        f"The closest two lie {taken[1] - taken[0]:.3g} apart: take their mean. {rule.note}",
        rule,
    )


@dataclass(frozen=True)
class Repeatability:
    """A method's repeatability as a laboratory finds it from its own repeats.

    `s_r` and `limit` (of the difference of two results, 2.8 s_r) in the unit of the analysis.
    """

    s_r: float
    degrees_of_freedom: int

    @property
    def limit(self) -> float:
        """Greatest difference of two results that is accepted."""
        return LIMIT_OF_TWO * self.s_r


def repeatability_of_pairs(differences: npt.ArrayLike) -> Repeatability:
    """Repeatability from differences of duplicates: s_r = sqrt(sum d^2 / (2 n)).

    Source: [iso5725_6]; the pooled variance of groups of two [own_derivation].

    Raises
    ------
    ValueError
        If there is no difference.
    """
    apart = np.asarray(differences, dtype=float).ravel()
    if not apart.size:
        raise ValueError("Repeatability needs at least one pair of duplicates.")
    return Repeatability(float(np.sqrt((apart**2).sum() / (2 * apart.size))), int(apart.size))


def repeatability_of_groups(groups: Sequence[Sequence[float]]) -> Repeatability:
    """Repeatability pooled from groups of repeats of any size; groups of one tell nothing.

    s_r^2 = sum (n_i - 1) s_i^2 / sum (n_i - 1). Source: [iso5725_6]; [own_derivation].

    Raises
    ------
    ValueError
        If no group holds two results.
    """
    squares, freedom = 0.0, 0
    for group in groups:
        results = np.asarray(group, dtype=float)
        if results.size > 1:
            squares += float(((results - results.mean()) ** 2).sum())
            freedom += results.size - 1
    if not freedom:
        raise ValueError("Repeatability needs at least one sample analysed twice.")
    return Repeatability(math.sqrt(squares / freedom), freedom)
