"""How everything in a shift follows from its inputs.

With settings, performance, opening stocks, relations and biases given, the equations fix
every other variable: one square sparse factorisation gives all their derivatives.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import scipy.sparse as sparse
from scipy.sparse.linalg import splu

from canewright.engine.carried import Carried
from canewright.engine.kkt import Matrix, blocked_solve
from canewright.engine.simulate import SolveFailed
from canewright.engine.solution import Vector


class _Cut:
    """Some rows and columns of a sparse matrix whose pattern stays the same."""

    def __init__(self, matrix: sparse.csc_array, rows: np.ndarray, columns: np.ndarray) -> None:
        row_place = np.full(matrix.shape[0], -1)
        row_place[rows] = np.arange(rows.size)
        column_place = np.full(matrix.shape[1], -1)
        column_place[columns] = np.arange(columns.size)
        of_column = np.repeat(np.arange(matrix.shape[1]), np.diff(matrix.indptr))
        row, column = row_place[matrix.indices], column_place[of_column]
        taken = np.flatnonzero((row >= 0) & (column >= 0))
        self._taken = taken[np.lexsort((row[taken], column[taken]))]
        counts = np.bincount(column[self._taken], minlength=columns.size)
        self._indices = row[self._taken].astype(np.int32)
        self._indptr = np.concatenate([[0], np.cumsum(counts)]).astype(np.int32)
        self._shape = (rows.size, columns.size)
        self._row_of = matrix.indices[self._taken]
        self._column_of = of_column[self._taken]

    def of(
        self,
        matrix: sparse.csc_array,
        by_row: Vector | None = None,
        by_column: Vector | None = None,
    ) -> sparse.csc_array:
        """The part, each entry times the factors of its row and column."""
        data = matrix.data[self._taken]
        if by_row is not None:
            data = data * by_row[self._row_of]
        if by_column is not None:
            data = data * by_column[self._column_of]
        return sparse.csc_array((data, self._indices, self._indptr), shape=self._shape)


class Response:
    """The equations of a factory, solved for everything that follows from the inputs.

    Parameters
    ----------
    carried : Carried
        The inputs.

    Raises
    ------
    SolveFailed
        If the equations are not as many as the variables that follow.
    """

    def __init__(self, carried: Carried) -> None:
        self.carried = carried
        self.problem = carried.reconciler.problem
        self.inputs = carried.positions
        given = np.zeros(self.problem.size, dtype=bool)
        given[self.inputs] = True
        self.free = np.flatnonzero(~given)
        if self.free.size != self.problem.constraint_count:
            raise SolveFailed(
                f"{self.free.size} variables follow from the inputs, but there are "
                f"{self.problem.constraint_count} equations."
            )
        self.read = len(carried.reconciler.channels)
        self._cuts: tuple[_Cut, _Cut, _Cut] | None = None
        self._none = sparse.csc_array((self.read, self.problem.size))

    def at(self, point: Vector, parameters: Vector, row_scale: Vector, factor: Any = None) -> Local:
        """Predictions, misfits and derivatives at a point.

        With the `factor` of a neighbouring point the result only serves to close the equations.

        Raises
        ------
        SolveFailed
            If the equations are singular there, or have no value.
        """
        at = self.problem.linearise(point, parameters)
        rows, data = at.constraint_jacobian, at.data_jacobian
        if not (np.isfinite(rows.data).all() and np.isfinite(at.constraints).all()):
            raise SolveFailed("The equations have no value at this point.")
        if self._cuts is None:
            self._arrange(rows, data, row_scale)
        assert self._cuts is not None
        square, given, readings = self._cuts
        weights = 1 / row_scale
        scale = self.problem.scale
        parts = self, point, at.predictions[: self.read], at.constraints * weights
        if factor is not None:
            return Local(*parts, self._none, given.of(rows, weights, scale), factor)
        try:
            # The order of the columns was found once; small panels suit these thin factors.
            factor = splu(
                square.of(rows, weights, scale), permc_spec="NATURAL", panel_size=1, relax=1
            )
        except RuntimeError as error:
            raise SolveFailed("The equations are singular at this point.") from error
        return Local(*parts, readings.of(data), given.of(rows, weights, scale), factor)

    def _arrange(self, rows: sparse.csc_array, data: sparse.csc_array, row_scale: Vector) -> None:
        """Choose the order of elimination, and cut the Jacobians into their parts."""
        every = np.arange(rows.shape[0])
        first = _Cut(rows, every, self.free)
        try:
            order = splu(first.of(rows, 1 / row_scale, self.problem.scale)).perm_c
        except RuntimeError as error:
            raise SolveFailed("The equations are singular at this point.") from error
        self.free = self.free[np.argsort(order)]
        self._cuts = (
            _Cut(rows, every, self.free),
            _Cut(rows, every, self.inputs),
            _Cut(data, np.arange(self.read), np.arange(self.problem.size)),
        )


@dataclass
class Local:
    """The response linearised at a point.

    `predictions` of the readings, `misfit` of the scaled equations, `readings` the sparse
    derivatives of the readings with respect to all variables.
    """

    response: Response
    point: Vector
    predictions: Vector
    misfit: Vector
    readings: sparse.csc_array
    _given_rows: sparse.csc_array = field(repr=False)
    factor: Any = field(repr=False)

    def follow(self, change: Vector) -> Vector:
        """Change of all variables when the inputs change and the misfit is closed."""
        response = self.response
        scale = response.problem.scale
        right = -self.misfit - self._given_rows @ (change / scale[response.inputs])
        whole = np.zeros(response.problem.size)
        whole[response.inputs] = change
        whole[response.free] = self.factor.solve(right) * scale[response.free]
        return whole

    def gradient(self, weights: Vector) -> Vector:
        """Derivative with respect to the inputs of a sum of variables by their weights."""
        response = self.response
        scale = response.problem.scale
        scaled = weights * scale
        through = self.factor.solve(scaled[response.free], "T")
        inputs = scaled[response.inputs] - self._given_rows.T @ through
        return np.asarray(inputs / scale[response.inputs])

    @cached_property
    def _following(self) -> Matrix:
        """Derivative of the variables that follow with respect to the inputs."""
        response = self.response
        scale = response.problem.scale
        used = np.flatnonzero(np.diff(self._given_rows.indptr))
        right = np.zeros((response.free.size, used.size), order="F")
        part = self._given_rows[:, used].tocoo()
        right[part.row, part.col] = -part.data / scale[response.inputs[used[part.col]]]
        found = np.zeros((response.free.size, response.inputs.size))
        found[:, used] = blocked_solve(self.factor, right) * scale[response.free, None]
        return found

    def through(self, rows: sparse.sparray) -> Matrix:
        """Derivatives with respect to the inputs, from those with respect to all variables."""
        columns = sparse.csc_array(rows)
        result = columns[:, self.response.inputs].toarray()
        result += columns[:, self.response.free].tocsr() @ self._following
        return np.asarray(result)

    def places(self, which: np.ndarray) -> Matrix:
        """Derivatives of some of the variables with respect to the inputs."""
        units = sparse.csc_array(
            (np.ones(which.size), (np.arange(which.size), which)),
            shape=(which.size, self.response.problem.size),
        )
        return self.through(units)

    def moved(self, change: Vector) -> Vector:
        """The point when the inputs change, by the derivatives here."""
        point = self.point.copy()
        point[self.response.free] += self._following @ change
        point[self.response.inputs] += change
        return point

    def rows(self, used: np.ndarray, extra: np.ndarray) -> sparse.csr_array:
        """Derivatives of the readings used, then of the variables at the places `extra`."""
        units = sparse.csr_array(
            (np.ones(extra.size), (np.arange(extra.size), extra)),
            shape=(extra.size, self.response.problem.size),
        )
        return sparse.vstack([self.readings.tocsr()[used], units], format="csr")
