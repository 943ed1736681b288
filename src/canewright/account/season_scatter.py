"""How far settings, performance and readings scatter in a season, in words."""

from __future__ import annotations

from collections.abc import Sequence

from canewright.account.numbers import rounded
from canewright.account.words import _
from canewright.engine.adjusting.explain import COVERAGE
from canewright.engine.chain.chain_parts import ShiftResult
from canewright.engine.chain.scatter import Factor, factors

SETTLING = 3
"""Shifts after which levels are known well enough for what is left to be scatter; our choice."""


def scatter_of(results: Sequence[ShiftResult]) -> tuple[Factor, Factor] | None:
    """Factors of scatter and of noise by the shifts of a season; None where they tell nothing."""
    return factors(result.scatter for result in results[SETTLING:])


def scatter_sentence(results: Sequence[ShiftResult]) -> str:
    """What is to be said of scatter and noise; empty where the shifts tell nothing."""
    found = scatter_of(results)
    if found is None:
        return ""
    scatter, noise = found
    return _(
        "Readings scatter with {noise} of the variance that is stated for them, settings and "
        "performance from shift to shift with {scatter} of what is taken by their usual ranges."
    ).format(scatter=_with_interval(scatter), noise=_with_interval(noise))


def _with_interval(factor: Factor) -> str:
    half = COVERAGE * factor.sd
    return f"{rounded(factor.value, factor.sd)} +/- {rounded(half, factor.sd)}"
