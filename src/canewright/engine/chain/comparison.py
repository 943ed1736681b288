"""What changed between two periods, as contributions that add up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Change:
    """A change of a product of factors, in the unit of the product.

    `contributions` holds one entry for each factor and one for measurement; they add up to
    `after - before`.
    """

    before: float
    after: float
    contributions: dict[str, float]

    @property
    def total(self) -> float:
        """Change of what was reported."""
        return self.after - self.before


def log_mean(first: float, second: float) -> float:
    """Logarithmic mean of two numbers above zero."""
    ratio = np.log(second / first)
    # Below this the difference of the logarithms has lost half its digits; the mean is as near.
    if abs(ratio) < 1e-8:
        return 0.5 * (first + second)
    return float((second - first) / ratio)


def changed(
    before: Mapping[str, float],
    after: Mapping[str, float],
    reported_before: float,
    reported_after: float,
) -> Change:
    """Part a change into its factors and what measurement makes of it.

    Each factor's part is the logarithmic mean of the product times the change of the factor's
    logarithm, so that the parts add up to the change of the product whatever their order
    [own_derivation]. The rest of what was reported is measurement: calibrations and readings
    that later turned out otherwise.

    Parameters
    ----------
    before, after : mapping
        Factor -> value, above zero; their product is what is compared.
    reported_before, reported_after : float
        The product as it was reported, each shift by itself.

    Raises
    ------
    ValueError
        If a factor is missing or not above zero.
    """
    if list(before) != list(after):
        raise ValueError("Both periods need the same factors.")
    if any(not value > 0 for value in (*before.values(), *after.values())):
        raise ValueError("A period without cane, juice or sugar cannot be compared.")
    first, second = float(np.prod(list(before.values()))), float(np.prod(list(after.values())))
    mean = log_mean(first, second)
    parts = {name: mean * float(np.log(after[name] / before[name])) for name in before}
    parts["measurement"] = (reported_after - reported_before) - (second - first)
    return Change(reported_before, reported_after, parts)
