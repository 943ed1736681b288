"""Closed periods of a season corrected by everything read since: Friday's bias in Monday's loss."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from canewright.engine.adjusting.solution import Vector
from canewright.engine.chain.carried import Carried
from canewright.engine.chain.chain_parts import ClosedPeriod, EndedPeriod, Memory
from canewright.engine.chain.filter import Totals
from canewright.engine.chain.smoother import smooth, smooth_totals


@dataclass(frozen=True)
class SmoothedShift:
    """What was carried after a shift, from all shifts of the season.

    `carried` and `carried_sd` (n) are in the order of the chain's carried variables; `jump` (n)
    is how many standard deviations the later shifts ask of each for a jump just after it, nan
    where they say nothing.
    """

    number: int
    carried: Vector
    carried_sd: Vector
    jump: Vector


@dataclass(frozen=True)
class Corrected:
    """The backward pass over a season.

    Attributes
    ----------
    closed : list of ClosedPeriod
        Those that were put down, with their totals corrected.
    ended : list of EndedPeriod
        Those of which everything was added up, told again.
    shifts : dict
        Number of each shift -> what was carried after it.
    """

    closed: list[ClosedPeriod] = field(default_factory=list)
    ended: list[EndedPeriod] = field(default_factory=list)
    shifts: dict[int, SmoothedShift] = field(default_factory=dict)


def corrected(
    carried: Carried,
    memories: Sequence[Memory],
    closed: Sequence[ClosedPeriod],
    ended: Sequence[EndedPeriod] = (),
    tell_again: Callable[[EndedPeriod, Totals], EndedPeriod] = lambda ended, totals: ended,
    done: Callable[[], None] = lambda: None,
) -> Corrected:
    """Run backwards over a season.

    Parameters
    ----------
    carried : Carried
    memories : sequence of Memory
        Of every shift that was balanced.
    closed : sequence of ClosedPeriod
        As the chain put them down.
    ended : sequence of EndedPeriod
        As they were told of when they ended.
    tell_again : callable
        Given one of them and its corrected totals, what is told of it then.
    done : callable
        Called after each shift.
    """
    found = Corrected(ended=list(ended))
    if not memories:
        return found
    told = {(item.period.name, item.period.first): place for place, item in enumerate(ended)}
    after: dict[int, list[int]] = {}
    totals = [period.totals for period in closed]
    for place, period in enumerate(closed):
        after.setdefault(period.after, []).append(place)
    for place, smoothed in enumerate(smooth(carried, memories)):
        memory = memories[len(memories) - 1 - place]
        for put_down in after.get(smoothed.number, ()):
            totals[put_down] = smooth_totals(closed[put_down], memory, smoothed)
        for whole in memory.ended:
            at = told.get((whole.period.name, whole.period.first))
            if at is not None:
                found.ended[at] = tell_again(ended[at], smooth_totals(whole, memory, smoothed))
        found.shifts[smoothed.number] = SmoothedShift(
            smoothed.number, smoothed.mean, smoothed.sd, smoothed.jump
        )
        done()
    found.closed.extend(
        replace(period, totals=total) for period, total in zip(closed, totals, strict=True)
    )
    return found
