"""From the most likely point of a shift to its mean.

Where equations bend, the mean of what the readings leave possible is not their most likely
point. In one shift the two differ by little. But they differ the same way in every shift, as
each has its own scatter of settings and performance: a chain that took the most likely scatter
for the true one would learn its levels ever more surely, and wrong [lancaster2000]. So a chain
passes on means, to second order [own_derivation]: with J and H the first and second derivatives
of a reading by the inputs, v its variance and P the covariance of the inputs after the readings,

    mean = most likely - P sum over readings of (H P J + J trace(H P) / 2) / v

and whatever follows from the inputs gains half the trace of its own H times P. That holds on
average over inputs that scatter as is taken for them. Where a season shows that they scatter less
(see `scatter`), the covariances are those that the same steps then have: with K the movement of
the inputs by the readings, D the variance not there and S the covariance of the innovations,
P - D + K J D (K J)' in the traces and P J - v K J D J' / S in the first term.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.linalg as linalg

from canewright.engine.adjusting.solution import Vector
from canewright.engine.algebra.kkt import Matrix
from canewright.engine.chain.amounts import Amounts
from canewright.engine.chain.chained_shift import Balanced
from canewright.engine.chain.response import Response

FURTHEST = 1.0
"""Standard deviations by which the mean of an input may lie from its most likely value; further
off two derivatives tell too little, and all go part of the way. Our choice."""


@dataclass(frozen=True)
class Mean:
    """Where the mean of a shift lies.

    Attributes
    ----------
    weights : array (n)
        Movement of the inputs to the mean, over their covariance before the readings.
    follows : array (m)
        What the variables that follow gain besides.
    amounts : array (q)
        What the amounts gain by their own bend, besides what inputs and following make.
    """

    weights: Vector
    follows: Vector
    amounts: Vector


class ToMean:
    """Finds the means of shifts.

    Parameters
    ----------
    response : Response
    amounts : Amounts
        That are added up.
    """

    def __init__(self, response: Response, amounts: Amounts) -> None:
        self._response = response
        self._bends = (*response.carried.reconciler.bends, amounts.bend)
        first = np.concatenate([bend.first for bend in self._bends])
        second = np.concatenate([bend.second for bend in self._bends])
        ends = np.cumsum([bend.first.size for bend in self._bends])
        self._parts = [
            slice(end - bend.first.size, end) for bend, end in zip(self._bends, ends, strict=True)
        ]
        # What bends at all, and each pair of such variables once.
        self._bent, places = np.unique(np.concatenate([first, second]), return_inverse=True)
        self._first, self._second = places[: first.size], places[first.size :]
        self._pairs = _Pairs(self._first, self._second, self._bent, response)

    def __call__(
        self, balanced: Balanced, spread: Matrix, parameters: Vector, absent: Vector
    ) -> Mean:
        """The mean of a shift.

        Parameters
        ----------
        balanced : Balanced
        spread : array (n, n)
            Covariance of the inputs after the readings.
        parameters : array
            Of the reconciler, for this shift.
        absent : array (n)
            Variance that is taken for the scatter of the inputs and is not there.
        """
        local, response = balanced.local, self._response
        of_equations, of_readings, of_amounts = self._parts
        equations, readings, amounts = self._bends
        bends = [bend(local.point, parameters) for bend in self._bends]
        follows = local.places(self._bent)
        said = balanced.update
        # What the readings make of a change of each input, and of that the scatter not there.
        taken_up = said.moved @ said.whitened
        made = taken_up * absent
        real = spread - np.diag(absent) + made @ taken_up.T
        scatter = self._pairs.covariances(follows, real)
        gained = local.made_up(equations.raised(bends[0], scatter[of_equations]))
        raised = readings.raised(bends[1], scatter[of_readings])
        raised += local.lead[0].matrix @ gained
        # Each reading's own derivatives lean towards what the reading itself moved.
        weighted = np.zeros((response.read, response.inputs.size))
        weighted[balanced.used] = balanced.sensitivity / balanced.noise[:, None]
        by_readings = spread @ weighted.T
        by_readings[:, balanced.used] -= linalg.solve_triangular(
            said.lower, said.whitened @ made.T, lower=True, trans=1
        ).T
        moved = follows @ by_readings
        prices = local.prices
        pulled = np.einsum("ij,ij->i", prices[equations.rows], moved[self._first[of_equations]])
        own = moved[self._first[of_readings], readings.rows]
        lean = np.bincount(
            self._second[: of_readings.stop],
            np.concatenate([bends[0] * pulled, bends[1] * own]),
            minlength=self._bent.size,
        )
        pull = follows.T @ lean + weighted.T @ raised
        # The step is -spread times pull; over the covariance before it, that is:
        weights = said.whitened.T @ (said.moved.T @ pull) - pull
        size = np.sqrt(np.maximum(np.diag(spread), 1e-300))
        furthest = float(np.max(np.abs(spread @ pull) / size))
        part = min(1.0, FURTHEST / furthest) if furthest > 0 else 1.0
        gains = amounts.raised(bends[2], scatter[of_amounts])
        return Mean(part * weights, part * gained, part * gains)


class _Pairs:
    """Covariances of pairs of variables, each pair reckoned once.

    Parameters
    ----------
    first, second : array of int (z)
        The pairs, as places in `bent`; the same pair may come often and in both orders.
    bent : array of int
        The variables.
    response : Response
    """

    def __init__(
        self, first: np.ndarray, second: np.ndarray, bent: np.ndarray, response: Response
    ) -> None:
        # Inputs stand second, as their covariances need no sum; else what is in most pairs first.
        often = np.bincount(np.concatenate([first, second]), minlength=bent.size)
        rank = np.lexsort((-often, response.is_input[bent])).argsort()
        swap = rank[first] > rank[second]
        ordered = np.where(swap, second, first) * bent.size + np.where(swap, first, second)
        pairs, self._which = np.unique(ordered, return_inverse=True)
        one, other = np.divmod(pairs, max(bent.size, 1))
        self._rows, self._one = np.unique(one, return_inverse=True)
        self._is_input = response.is_input[bent[other]]
        self._input = response.place[bent[other[self._is_input]]]
        self._other = other[~self._is_input]

    def covariances(self, follows: Matrix, spread: Matrix) -> Vector:
        """Of each pair, from the derivatives of the variables by the inputs and their spread."""
        beside = follows[self._rows] @ spread
        found = np.empty(self._is_input.size)
        found[self._is_input] = beside[self._one[self._is_input], self._input]
        summed = beside[self._one[~self._is_input]]
        summed *= follows[self._other]
        found[~self._is_input] = summed.sum(axis=1)
        return found[self._which]
