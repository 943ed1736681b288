"""How everything in a shift follows from its inputs.

With settings, performance, opening stocks, relations and biases given, the equations fix
every other variable: one square sparse factorisation gives all their derivatives. Patterns and
the order of elimination are found once.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import scipy.sparse as sparse

from canewright.engine.adjusting.elimination import Part
from canewright.engine.adjusting.solution import Vector
from canewright.engine.algebra.evaluate import Evaluator
from canewright.engine.algebra.kkt import Matrix
from canewright.engine.algebra.square import Pair, SquareBlock, SquareFactor
from canewright.engine.chain.carried import Carried
from canewright.engine.equations.simulate import SolveFailed


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
        self.problem = problem = carried.reconciler.problem
        self.inputs = carried.positions
        self.is_input = np.zeros(problem.size, dtype=bool)
        self.is_input[self.inputs] = True
        self.free = np.flatnonzero(~self.is_input)
        self.place = np.empty(problem.size, dtype=np.intp)
        self.place[self.inputs] = np.arange(self.inputs.size)
        self.place[self.free] = np.arange(self.free.size)
        if self.free.size != problem.constraint_count:
            raise SolveFailed(
                f"{self.free.size} variables follow from the inputs, but there are "
                f"{problem.constraint_count} equations."
            )
        self.read = len(carried.reconciler.channels)
        self._constraints, self._predictions = problem.evaluators
        every = np.arange(self.free.size, dtype=np.intp)
        self._square = Part(self._constraints, every, self.free, problem.size)
        self._given = Part(self._constraints, every, self.inputs, problem.size)
        self._block = SquareBlock(self._square.rows, self._square.columns, self.free.size)
        self._readings = Lead(self, self._predictions, np.arange(self.read, dtype=np.intp))
        self.input_scale, self.free_scale = problem.scale[self.inputs], problem.scale[self.free]

    def at(
        self,
        point: Vector,
        parameters: Vector,
        row_scale: Vector,
        factor: SquareFactor | None = None,
    ) -> Local:
        """Predictions, misfits and derivatives at a point.

        With the `factor` of a neighbouring point the result only serves to close the equations.

        Raises
        ------
        SolveFailed
            If the equations are singular there, or have no value.
        """
        misses, entries = self._constraints(point, parameters)
        if not (np.isfinite(misses).all() and np.isfinite(entries).all()):
            raise SolveFailed("The equations have no value at this point.")
        weights = 1 / row_scale
        misfit = misses * weights
        scaled = entries * weights[self._constraints.rows]
        scaled *= self.problem.scale[self._constraints.columns]
        given = self._given.pair(scaled)
        if factor is None:
            try:
                factor = self._block.factor(self._square.entries(scaled))
            except RuntimeError as error:
                raise SolveFailed("The equations are singular at this point.") from error
        predictions, slopes = self._predictions(point, parameters)
        return Local(
            self,
            point,
            predictions[: self.read].copy(),
            misfit,
            self._readings.parts(slopes),
            given,
            factor,
            weights,
        )


class Lead:
    """Derivatives of some expressions, parted into those by what follows and by the inputs.

    Parameters
    ----------
    response : Response
    source : Evaluator
        Of the expressions.
    rows : array of int
        Which of them.
    """

    def __init__(self, response: Response, source: Evaluator, rows: np.ndarray) -> None:
        size = response.problem.size
        self._by_free = Part(source, rows, response.free, size)
        self._by_input = Part(source, rows, response.inputs, size)

    def parts(self, entries: Vector) -> tuple[Pair, Pair]:
        """By what follows, and by the inputs, from all entries."""
        return self._by_free.pair(entries), self._by_input.pair(entries)


@dataclass
class Local:
    """The response linearised at a point.

    `predictions` of the readings, `misfit` of the scaled equations, `lead` the sparse
    derivatives of the readings with respect to what follows and to the inputs, `weights` of
    the equations: one over their sizes.
    """

    response: Response
    point: Vector
    predictions: Vector
    misfit: Vector
    lead: tuple[Pair, Pair] = field(repr=False)
    _given: Pair = field(repr=False)
    factor: SquareFactor = field(repr=False)
    weights: Vector = field(repr=False)

    def follow(self, change: Vector) -> Vector:
        """Change of all variables when the inputs change and the misfit is closed."""
        response = self.response
        right = self.misfit + self._given.matrix @ (change / response.input_scale)
        whole = np.empty(response.problem.size)
        whole[response.inputs] = change
        whole[response.free] = self.factor.solve(right) * -response.free_scale
        return whole

    def closing(self) -> Vector:
        """Change of what follows that closes the misfit, the inputs as they are."""
        return self._answer(self.misfit)

    def made_up(self, misses: Vector) -> Vector:
        """Change of what follows that makes up for misses of the equations, unscaled."""
        return self._answer(misses * self.weights)

    def _answer(self, misses: Vector) -> Vector:
        """The same of scaled misses."""
        return np.asarray(self.factor.solve(misses) * -self.response.free_scale)

    @cached_property
    def prices(self) -> Matrix:
        """Change of each reading (columns) by a miss of each equation, unscaled."""
        return np.asarray(-self.weights[:, None] * self._back)

    @cached_property
    def _back(self) -> Matrix:
        """Pull of each reading (columns) on the scaled equations."""
        by_free, _by_input = self.lead
        pulls = by_free.transposed.toarray(order="F") * self.response.free_scale[:, None]
        return self.factor.solve(pulls, transposed=True)

    def pull(self, readings: Vector, held: np.ndarray, on_held: Vector) -> Vector:
        """Derivative with respect to the inputs of a sum of readings and of variables held.

        Parameters
        ----------
        readings : array
            Weight of each reading.
        held, on_held : array
            Places of variables, and their weights.
        """
        response = self.response
        by_free, by_input = self.lead
        weights = np.zeros(response.problem.size)
        weights[response.free] = by_free.transposed @ readings
        weights[response.inputs] = by_input.transposed @ readings
        weights[held] += on_held
        through = self.factor.solve(weights[response.free] * response.free_scale, transposed=True)
        beside = (self._given.transposed @ through) / response.input_scale
        return np.asarray(weights[response.inputs] - beside)

    @cached_property
    def following(self) -> Matrix:
        """Derivative of the variables that follow with respect to the inputs."""
        response = self.response
        part = self._given.matrix
        used = np.unique(part.indices)
        right = np.zeros((response.free.size, used.size), order="F")
        row = np.repeat(np.arange(response.free.size), np.diff(part.indptr))
        column = np.searchsorted(used, part.indices)
        right[row, column] = -part.data / response.input_scale[part.indices]
        found = np.zeros((response.free.size, response.inputs.size))
        found[:, used] = self.factor.solve(right) * response.free_scale[:, None]
        return found

    @cached_property
    def sensitivity(self) -> Matrix:
        """Derivative of every reading with respect to the inputs."""
        if "following" in self.__dict__:
            return self.leading(self.lead)
        return np.asarray(self.lead[1].matrix.toarray() + self._by_inputs(self._back))

    def leading(self, lead: tuple[Pair, Pair]) -> Matrix:
        """Derivatives with respect to the inputs, from those by what follows and the inputs."""
        by_free, by_input = lead
        return np.asarray(by_free.matrix @ self.following + by_input.matrix.toarray())

    def through(self, rows: sparse.sparray) -> Matrix:
        """Derivatives with respect to the inputs, from those with respect to all variables."""
        columns = sparse.csc_array(rows)
        result = columns[:, self.response.inputs].toarray()
        result += columns[:, self.response.free].tocsr() @ self.following
        return np.asarray(result)

    def places(self, which: np.ndarray) -> Matrix:
        """Derivatives of some of the variables with respect to the inputs."""
        response = self.response
        found = np.zeros((which.size, response.inputs.size))
        given = response.is_input[which]
        found[np.flatnonzero(given), response.place[which[given]]] = 1.0
        follows, rows = response.place[which[~given]], np.flatnonzero(~given)
        if "following" in self.__dict__:
            found[rows] = self.following[follows]
        elif rows.size:
            units = np.zeros((response.free.size, rows.size), order="F")
            units[follows, np.arange(rows.size)] = response.free_scale[follows]
            found[rows] = self._by_inputs(self.factor.solve(units, transposed=True))
        return found

    def _by_inputs(self, back: Matrix) -> Matrix:
        """Derivatives with respect to the inputs, from pulls on the scaled equations (columns)."""
        through = (self._given.transposed @ back) / self.response.input_scale[:, None]
        return np.asarray(-through.T)
