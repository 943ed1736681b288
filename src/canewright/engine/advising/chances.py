"""How sure advice is: the factory before and after, drawn from what the balance knows.

The factory is drawn as in `draws`, and the slopes of the assumed responses from their own
uncertainty. A setting is moved by the same amount from wherever it truly stood, for the
operators turn the knob and read the same instrument. Source: [own_derivation].
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from canewright.engine.advising.advise import Optimiser
from canewright.engine.advising.limits import KEEPS
from canewright.engine.equations.settled import Matrix, Vector
from canewright.engine.equations.simulate import SolveFailed
from canewright.engine.forecasting.draws import Many, Places, answered, drawn, spread


@dataclass(frozen=True)
class Outcome:
    """What moves do over all draws.

    Attributes
    ----------
    gains : array
        Money a day, of each draw that can run before and after.
    excess : array (draws, limits)
        By how much each limit is passed after, in its unit; a quality against what it was
        before in the same draw.
    failed : int
        Draws that cannot run, before or after; they are counted in nothing else.
    """

    gains: Vector
    excess: Matrix
    failed: int

    @property
    def gain(self) -> float:
        """Mean gain, money a day."""
        return float(self.gains.mean())

    @property
    def interval(self) -> tuple[float, float]:
        """Interval that holds 95 % of the gains."""
        low, high = spread(self.gains)
        return float(low), float(high)

    @property
    def chance_better(self) -> float:
        """Share of the draws in which the moves earn more than doing nothing. 0 to 1."""
        return float(np.mean(self.gains > 0))

    def chance_of(self, money: float) -> float:
        """Share of the draws in which the moves earn so much or more. 0 to 1."""
        return float(np.mean(self.gains >= money))

    def kept(self, sizes: Vector) -> Vector:
        """Share of the draws in which each limit is kept. 0 to 1."""
        return np.asarray(np.mean(self.excess <= KEEPS * sizes, axis=0))


class Chances:
    """Draws of one estimated factory.

    Parameters
    ----------
    optimiser : Optimiser
    count : int
        Draws.
    seed : int
    """

    def __init__(self, optimiser: Optimiser, count: int = 200, seed: int = 1) -> None:
        self.optimiser = optimiser
        self.count = count
        square, program = optimiser.square, optimiser.program
        rng = np.random.default_rng(seed)
        found = drawn(
            optimiser.estimate, square, optimiser.found.values, optimiser.relations, count, rng
        )
        self.held, self.targets, self.relations = found.held, found.targets, found.relations
        self.slopes = program.slopes() + program.response_sd() * rng.standard_normal(
            (count, len(program.responses))
        )
        self._many = Many(square)

    # -- many factories at once ---------------------------------------------------------------

    def after(self, move: Vector, which: Places) -> Matrix:
        """What is held in some draws after settings are moved by so much."""
        optimiser = self.optimiser
        model, program = optimiser.model, optimiser.program
        order = {int(place): k for k, place in enumerate(optimiser.square.held)}
        before = self.held[which]
        held = before.copy()
        for one, step in zip(optimiser.settings, move, strict=True):
            k = order[one.place]
            held[:, k] = np.clip(before[:, k] + step, one.lower, one.upper)
        slopes = {
            response: self.slopes[which, program.place_of(response)]
            for response in program.responses
        }
        answered(model, optimiser.square, program.links, slopes, before, held)
        return held

    def states(
        self, held: Matrix, which: Places, start: Vector, near: Matrix | None = None
    ) -> tuple[Matrix, npt.NDArray[np.bool_]]:
        """Factories (draws, n) with this held, and which of them can run. See `Many`."""
        sizes = self.optimiser.given.sizes
        return self._many.states(held, self.targets[which], sizes, start, near)

    def _told(self, values: Matrix, which: Places) -> tuple[Vector, Matrix]:
        """Money and limited quantities of some draws."""
        program, given = self.optimiser.program, self.optimiser.given
        return program.many(values, given.sizes, self.relations[which])

    @cached_property
    def before(self) -> tuple[Matrix, npt.NDArray[np.bool_], Vector, Matrix]:
        """The factory as found in every draw: values, which run, money, limited quantities."""
        every = np.arange(self.count)
        values, runs = self.states(self.held, every, self.optimiser.found.values)
        money, limited = self._told(values, every)
        return values, runs, money, limited

    def outcome(
        self, settings: Vector, moved: Collection[int] | None = None, count: int | None = None
    ) -> Outcome:
        """What moving the settings does.

        Parameters
        ----------
        settings : array
            The movable settings after.
        moved : collection of int, optional
            Only these of them.
        count : int, optional
            Only so many of the draws.

        Raises
        ------
        SolveFailed
            If fewer than half of the draws can run.
        """
        optimiser = self.optimiser
        which = np.arange(self.count if count is None else min(count, self.count))
        found = optimiser.settings_found
        target = settings if moved is None else optimiser.with_moves(settings, moved)
        start = optimiser.state(target).values
        drawn, ran, earned, was = self.before
        near = drawn[which] + (start - optimiser.found.values)
        values, runs = self.states(self.after(target - found, which), which, start, near)
        money, limited = self._told(values, which)
        good = runs & ran[which]
        if good.sum() < 0.5 * which.size:
            raise SolveFailed(
                f"Only {int(good.sum())} of {which.size} draws of the factory can run: the "
                "readings do not say enough of how it runs."
            )
        excess = np.empty((int(good.sum()), len(optimiser.bounds)))
        for k, bound in enumerate(optimiser.bounds):
            allowed = was[which][good, k] if bound.kind == "quality" else optimiser.given.limits[k]
            excess[:, k] = bound.sign * (limited[good, k] - allowed)
        return Outcome(money[good] - earned[which][good], excess, int((~good).sum()))
