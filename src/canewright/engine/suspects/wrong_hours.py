"""Whether a shift that does not close would close had it been longer or shorter."""

from __future__ import annotations

from collections.abc import Mapping

from canewright.engine.adjusting.reconcile import Estimate
from canewright.engine.adjusting.statistics import GlobalTest, global_test_of
from canewright.engine.equations.simulate import SolveFailed
from canewright.engine.suspects.suspects import Suspects

LENGTHS = (4.0, 6.0, 7.0, 8.0, 9.0, 10.0, 12.0, 16.0, 24.0)
"""Lengths of shift that are tried, h; our choice."""
SEVERAL = 2
"""Errors found from which one wrong length is the simpler explanation; our choice."""


def hours_that_fit(
    plain: Estimate,
    suspects: Suspects,
    hours: float,
    priors: Mapping[str, tuple[float, float]] | None = None,
) -> tuple[float, GlobalTest] | None:
    """The length with which the readings agree best, where they agree with it and not as given.

    Weights of a shift over the wrong hours are rates that no station of the factory usually
    has: no single reading explains that, one length does.

    Parameters
    ----------
    plain : Estimate
        The shift as it came.
    suspects : Suspects
        What was found in it; where that is one error that explains all, no length is looked for.
    hours : float
        The length as it came. [h]
    priors : mapping, optional
        As the shift was balanced with.

    Returns
    -------
    tuple of float and GlobalTest, or None
        Length [h] and its test.
    """
    if suspects.explained and len(suspects.findings) < SEVERAL:
        return None
    found = []
    for length in LENGTHS:
        if length == hours:
            continue
        try:
            again = plain.reconciler.solve(
                plain.measurements, suspects.estimate.values, hours=length, priors=priors
            )
        except SolveFailed:
            continue  # a length with which nothing closes is not the one
        test = global_test_of(again.posterior)
        if test.passes:
            found.append((length, test))
    return min(found, key=lambda each: each[1].gamma, default=None)
