"""Adjustment reduced to the quantities that are independent: settings, performance, stocks.

Where as many other quantities remain as there are constraints, the constraints give them, and
the soft priors know the independent ones. With x the independent and d the other variables, J
the constraint and H the data Jacobian (scaled, in standard uncertainties), L = J_d^-T H_d' and
G = H_x - L' J_x, the adjusted point of the linearised problem is

    x = V (b - G' a),  (I + G V G') a = G V b - f,

with V the covariance of x by priors alone. One factor of J_d (sparse), one of a matrix of the
size of the readings (dense, small), and no matrix of the size of the problem. Exactly the
solution of the KKT matrix of `kkt`. Source: [own_derivation], block elimination.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Any

import numpy as np
import numpy.typing as npt
import scipy.sparse as sparse
from scipy import linalg
from scipy.sparse.csgraph import connected_components

from canewright.engine.algebra.evaluate import Evaluator
from canewright.engine.algebra.square import Pair, SquareBlock, SquareFactor

Vector = npt.NDArray[np.float64]
Matrix = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]


OPEN = 1e-12
"""Part of what is known of a variable, below which nothing is known once others are."""


class NotReducible(ArithmeticError):
    """The independent quantities do not give the others, or priors do not know them here."""


class Part:
    """Some rows and columns of a Jacobian, cut out of its entries.

    Attributes
    ----------
    taken : array of int (z)
        Which entries, row by row; `rows` and `columns` say where they stand in the part.
    """

    def __init__(self, source: Evaluator, rows: Places, columns: Places, size: int) -> None:
        row_place = np.full(source.shape[0], -1)
        row_place[rows] = np.arange(rows.size)
        column_place = np.full(size, -1)
        column_place[columns] = np.arange(columns.size)
        r, c = row_place[source.rows], column_place[source.columns]
        taken = np.flatnonzero((r >= 0) & (c >= 0))
        taken = taken[np.lexsort((c[taken], r[taken]))]
        self.taken, self.rows, self.columns = taken, r[taken], c[taken]
        self.shape = (rows.size, columns.size)
        self._template = sparse.csr_array(
            (np.ones(taken.size), (self.rows, self.columns)), shape=self.shape
        )
        self._turned = self._template.T

    def entries(self, scaled: Vector) -> Vector:
        """Those of the part out of all of them."""
        return scaled[self.taken]

    def pair(self, scaled: Vector) -> Pair:
        """The part and its transpose, from all entries."""
        return Pair(self._template, self._turned, scaled[self.taken])


@dataclass
class Linear:
    """The linearised problem at a point, scaled, in the blocks of the elimination.

    `constraints` are misses of the constraints, `misfits` predictions less values; the other
    fields are their derivatives by the other (square) and the independent (free) variables.
    """

    constraints: Vector
    misfits: Vector
    constraints_square: Pair
    constraints_free: Pair
    far_square: Pair
    far_free: Pair
    own: Pair
    factorise: Callable[[], SquareFactor]

    @cached_property
    def square(self) -> SquareFactor:
        """Factor of the constraints' derivatives by the other variables.

        Raises
        ------
        NotReducible
            If the constraints do not give the other variables here.
        """
        try:
            return self.factorise()
        except RuntimeError as error:  # how scipy says "exactly singular"
            raise NotReducible(f"The constraints are dependent here: {error}.") from error


class Elimination:
    """What of the elimination belongs to the layout: blocks and their patterns.

    Parameters
    ----------
    constraints, predictions : Evaluator
    independent : sequence of int
        Positions of the independent variables.
    size : int
        Number of variables.

    Raises
    ------
    NotReducible
        If the number of other variables is not that of the constraints, or an independent one
        has no datum of its own (a prior).
    """

    def __init__(
        self,
        constraints: Evaluator,
        predictions: Evaluator,
        independent: Sequence[int],
        size: int,
    ) -> None:
        self.free = np.array(sorted(independent), dtype=np.intp)
        self.other = np.setdiff1d(np.arange(size), self.free)
        if self.other.size != constraints.shape[0]:
            raise NotReducible(
                f"{constraints.shape[0]} constraints cannot give {self.other.size} quantities."
            )
        self.constraints, self.predictions = constraints, predictions
        self.is_free = np.zeros(size, dtype=bool)
        self.is_free[self.free] = True
        self.place = np.empty(size, dtype=np.intp)
        self.place[self.free] = np.arange(self.free.size)
        self.place[self.other] = np.arange(self.other.size)
        self.own = _own_rows(predictions, self.free, size)
        self.far = np.setdiff1d(np.arange(predictions.shape[0]), self.own)
        everything = np.arange(constraints.shape[0])
        self._square_part = Part(constraints, everything, self.other, size)
        self._square = SquareBlock(
            self._square_part.rows, self._square_part.columns, self.other.size, transposed=True
        )
        self._constraints_free = Part(constraints, everything, self.free, size)
        self._far_square = Part(predictions, self.far, self.other, size)
        self._far_free = Part(predictions, self.far, self.free, size)
        self._own = Part(predictions, self.own, self.free, size)
        self._alone, self._groups = _groups(self._own)
        places = [np.stack([self._alone, self._alone])]
        places += [group.members[np.stack(group.upper)] for group in self._groups]
        row, column = np.concatenate(places, axis=1)
        self._spread_sequence = np.lexsort((column, row))
        self._spread = sparse.csr_array(
            (np.ones(row.size), (row, column)), shape=(self.free.size,) * 2
        )
        self._spread_turned = self._spread.T

    def linear(
        self,
        scaled_constraints: tuple[Vector, Vector],
        scaled_predictions: tuple[Vector, Vector],
    ) -> Linear:
        """Blocks from scaled values and entries of constraints and data.

        Raises
        ------
        NotReducible
            If a derivative is not a finite number here.
        """
        misses, constraint_entries = scaled_constraints
        misfits, data_entries = scaled_predictions
        if not (np.isfinite(constraint_entries).all() and np.isfinite(data_entries).all()):
            raise NotReducible("A derivative is not a finite number here.")
        entries = self._square_part.entries(constraint_entries)
        return Linear(
            misses,
            misfits,
            self._square_part.pair(constraint_entries),
            self._constraints_free.pair(constraint_entries),
            self._far_square.pair(data_entries),
            self._far_free.pair(data_entries),
            self._own.pair(data_entries),
            partial(self._square.factor, entries),
        )

    def spread(self, own: Pair) -> Pair:
        """W with W W' the covariance of the independent variables by their own data alone.

        Raises
        ------
        NotReducible
            If their own data leave one of them open.
        """
        entries = own.matrix.data
        squares = np.bincount(self._own.columns, entries * entries, minlength=self.free.size)
        if not (squares > 0).all():
            raise NotReducible("Priors leave an independent quantity open.")
        values = [1 / np.sqrt(squares[self._alone])]
        for group in self._groups:
            block = np.zeros(group.shape)
            block[group.rows, group.columns] = entries[group.entries]
            triangle = np.linalg.qr(block, mode="r")
            if (np.abs(np.diag(triangle)) < OPEN * np.sqrt(squares[group.members])).any():
                raise NotReducible("Priors leave a direction of independent quantities open.")
            inverse, _ = linalg.lapack.dtrtri(triangle)
            values.append(inverse[group.upper])
        found = np.concatenate(values)[self._spread_sequence]
        return Pair(self._spread, self._spread_turned, found)


@dataclass(frozen=True)
class _Group:
    """Independent variables that share data: their block, and where its entries come from."""

    shape: tuple[int, int]
    rows: Places
    columns: Places
    entries: Places
    members: Places
    upper: tuple[Places, Places]


def _own_rows(predictions: Evaluator, free: Places, size: int) -> Places:
    """Data that concern independent variables only."""
    is_free = np.zeros(size, dtype=bool)
    is_free[free] = True
    good = np.zeros(predictions.shape[0], dtype=bool)
    good[predictions.rows] = True
    good[predictions.rows[~is_free[predictions.columns]]] = False
    own = np.flatnonzero(good)
    seen = np.unique(predictions.columns[good[predictions.rows]])
    if seen.size != free.size:
        raise NotReducible("An independent quantity has no prior.")
    return own


def _groups(own: Part) -> tuple[Places, list[_Group]]:
    """Independent variables that share no data with others, and groups of those that do."""
    count, size = own.shape
    links = sparse.coo_array(
        (np.ones(own.rows.size), (own.rows, own.columns + count)), shape=(count + size,) * 2
    )
    _, label = connected_components(links, directed=False)
    of_variable = label[count:]
    sizes = np.bincount(of_variable, minlength=label.max() + 1)
    alone = np.flatnonzero(sizes[of_variable] == 1)
    groups = []
    for number in np.flatnonzero(sizes > 1):
        rows, members = (
            np.flatnonzero(label[:count] == number),
            np.flatnonzero(of_variable == number),
        )
        entries = np.flatnonzero(of_variable[own.columns] == number)
        groups.append(
            _Group(
                (max(rows.size, members.size), members.size),
                np.searchsorted(rows, own.rows[entries]),
                np.searchsorted(members, own.columns[entries]),
                entries,
                members,
                np.triu_indices(members.size),
            )
        )
    return alone, groups


def held_slopes(
    layout: Elimination, linear: Linear, variables: Sequence[int] | Places
) -> tuple[Matrix, Matrix]:
    """Back and slopes (as of `Reduced`) of variables, in place of those of the far data."""
    back = np.zeros((layout.other.size, len(variables)), order="F")
    slopes = np.zeros((len(variables), layout.free.size))
    for k, variable in enumerate(variables):
        if layout.is_free[variable]:
            slopes[k, layout.place[variable]] = 1.0
        else:
            back[layout.place[variable], k] = 1.0
    if back.any():
        back = linear.square.solve(back, transposed=True)
        slopes -= (linear.constraints_free.transposed @ back).T
    return back, slopes


class Reduced:
    """Dense part of the elimination at one point: sensitivities of the far data.

    Attributes
    ----------
    back : array (d, r)
        L: change of each far datum by a miss of each constraint.
    slopes : array (r, x)
        G: change of each far datum by each independent variable, all others following.
    """

    def __init__(self, linear: Linear, spread: Pair, factorise: bool = True) -> None:
        self.spread = spread
        pulls = linear.far_square.transposed.toarray(order="F")
        self.back = linear.square.solve(pulls, transposed=True)
        followed = linear.constraints_free.transposed @ self.back
        self.slopes = linear.far_free.matrix.toarray() - followed.T
        self.whitened = np.asarray(self.slopes @ spread.matrix)
        if factorise:
            size = self.whitened.shape[0]
            self._factor = _cholesky(np.eye(size) + self.whitened @ self.whitened.T)

    def covariance_times(self, gradient: Vector) -> Vector:
        """Covariance of the independent variables by priors and readings, times a gradient."""
        white = self.spread.transposed @ gradient
        small = linalg.cho_solve(self._factor, self.whitened @ white, check_finite=False)
        return np.asarray(self.spread.matrix @ (white - self.whitened.T @ small))


def _cholesky(matrix: Matrix) -> Any:
    try:
        return linalg.cho_factor(matrix, lower=True, check_finite=False)
    except linalg.LinAlgError as error:
        raise NotReducible("The readings cannot be weighed against the priors here.") from error
