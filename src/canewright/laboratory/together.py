"""What several determinations of a period make together.

Determinations of one sample are repeats: the rule judges them, and says which of them stand.
They guard against blunders; they do not make one sample more. Samples make their mean, or by
amount their composite.
"""

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

from canewright.laboratory.duplicates import RULES, judge

MOST = max(rule.most for rule in RULES.values())
"""Repeats of one sample that can be judged."""

USUAL_RULE = "median_of_three"
"""Of two that disagree a third is made, and the median stands: one wild result cannot move it."""


class CannotBeWeighed(ValueError):
    """Determinations that make no value together: a sentence, and what to do."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(f"{what} {remedy}")
        self.what, self.remedy = what, remedy


@dataclass(frozen=True)
class Together:
    """What determinations make together.

    `weights` has one entry a determination and adds up to 1; `samples` is their number.
    `lead` is the weight of each determination's sample times its share in the sample's random
    part, so that the random part of the value is sqrt(sum((lead random)^2)); `apart` is the
    standard uncertainty that disagreeing repeats add, in their unit. `words` says of repeats
    that disagree what became of them.
    """

    weights: tuple[float, ...]
    lead: tuple[float, ...]
    samples: int
    apart: float
    words: tuple[str, ...]

    def value(self, values: Sequence[float]) -> float:
        """The value that they make."""
        return math.fsum(w * v for w, v in zip(self.weights, values, strict=True))

    def own(self, random: Sequence[float]) -> float:
        """Standard uncertainty of its random part, from that of each determination."""
        parts = [(w * u) ** 2 for w, u in zip(self.lead, random, strict=True)]
        return math.sqrt(math.fsum(parts) + self.apart**2)


def together(
    values: Sequence[float],
    samples: Sequence[Hashable],
    repeatability: float,
    amounts: Sequence[float | None] = (),
    rule: str = USUAL_RULE,
) -> Together:
    """Judge repeats, and weigh samples.

    Parameters
    ----------
    values : sequence of float
        Of the determinations, repeats in the order in which they were made.
    samples : sequence
        Of which sample each was made: equal for repeats.
    repeatability : float
        s_r of the method, in the unit of the values; nought where it is not known, so that
        repeats make their mean unjudged.
    amounts : sequence of float or None
        What each determination's sample stands for: flow or mass; none, or one for each.
    rule : str
        Name of the rule for repeats, one of `duplicates.RULES`; of more than it judges, the one
        that judges most.

    Raises
    ------
    CannotBeWeighed
        If only some have an amount, repeats of a sample have different ones, the amounts come
        to nothing, or a sample has more repeats than any rule judges.
    """
    groups: dict[Hashable, list[int]] = {}
    for place, sample in enumerate(samples):
        groups.setdefault(sample, []).append(place)
    shares = _shares(groups, list(amounts) or [None] * len(values))
    weights, lead = [0.0] * len(values), [0.0] * len(values)
    apart, words = 0.0, []
    for sample, places in groups.items():
        inside, disagree, said = _judged([values[k] for k in places], repeatability, rule)
        for place, weight in zip(places, inside, strict=True):
            weights[place] = shares[sample] * weight
            # Each repeat carries the same random part: they are of one sample.
            lead[place] = shares[sample] * math.sqrt(weight)
        apart += (shares[sample] * disagree) ** 2
        words += [said] if said else []
    return Together(tuple(weights), tuple(lead), len(groups), math.sqrt(apart), tuple(words))


def _judged(
    values: Sequence[float], repeatability: float, rule: str
) -> tuple[list[float], float, str]:
    """Weight of each repeat, what their disagreement adds, and what is to be said."""
    count = len(values)
    if count == 1 or not repeatability > 0:
        return [1 / count] * count, 0.0, ""
    if count > MOST:
        raise CannotBeWeighed(
            f"One sample has {count} repeats, and the rule judges up to {MOST}.",
            "Keep the first ones, in the order in which they were made.",
        )
    most = max(RULES, key=lambda name: RULES[name].most)
    found = judge(values, repeatability, rule if count <= RULES[rule].most else most)
    if found.verdict == "repeat":
        # The rule asks for another; until it is made, the mean, no surer than they agree.
        disagree = (max(values) - min(values)) / 2
        return [1 / count] * count, disagree, f"{found.words} Until then their mean counts."
    kept, inside = list(found.taken), []
    for value in values:
        stands = value in kept
        if stands:
            kept.remove(value)
        inside.append(1 / len(found.taken) if stands else 0.0)
    return inside, 0.0, "" if found.verdict == "accept" else found.words


def _shares(
    groups: dict[Hashable, list[int]], amounts: Sequence[float | None]
) -> dict[Hashable, float]:
    given = [amount for amount in amounts if amount is not None]
    if not given:
        return dict.fromkeys(groups, 1 / len(groups))
    found = {}
    for sample, places in groups.items():
        own = {amounts[k] for k in places if amounts[k] is not None}
        if not own:
            raise CannotBeWeighed(
                "Some samples have an amount and others have none.",
                "A composite needs the flow or mass that each sample stands for; or leave the "
                "amounts out for a plain mean.",
            )
        if len(own) > 1:
            raise CannotBeWeighed(
                f"One sample stands for two amounts, {' and '.join(f'{a:g}' for a in own)}.",
                "Keep the one that holds.",
            )
        found[sample] = float(own.pop() or 0.0)
    total = math.fsum(found.values())
    if not total > 0:
        raise CannotBeWeighed(
            "The amounts of the samples come to nothing.", "Give the flow or mass of each."
        )
    return {sample: amount / total for sample, amount in found.items()}
