"""Compiled evaluation of expressions and their sparse derivatives, without copying through lists.

A function is built once, kept, and called through buffers; it can be stored and read back.
"""

from __future__ import annotations

from typing import Any

import casadi
import numpy as np
import numpy.typing as npt
import scipy.sparse as sparse

Vector = npt.NDArray[np.float64]


class Evaluator:
    """Values and sparse derivatives of expressions at a point.

    Parameters
    ----------
    variables, parameters : casadi.SX (n), (p)
        What the expressions are of; derivatives are by the variables.
    expressions : casadi.SX (m)
    tidy : bool
        Look for common parts before compiling: slower to build, quicker to call.

    Attributes
    ----------
    rows, columns : array of int (z)
        Place of each entry of the derivatives, column by column; `shape` (m, n) of the whole.
    """

    def __init__(
        self, variables: Any, parameters: Any, expressions: Any, *, tidy: bool = False
    ) -> None:
        jacobian = casadi.jacobian(expressions, variables)
        function = casadi.Function(
            "evaluate",
            [variables, parameters],
            [casadi.densify(expressions), jacobian],
            {"cse": tidy},
        )
        self._load(function)

    def _load(self, function: Any) -> None:
        self._function = function
        pattern = function.sparsity_out(1)
        self.shape: tuple[int, int] = pattern.shape
        self.rows = np.array(pattern.row(), dtype=np.int32)
        self.starts = np.array(pattern.colind(), dtype=np.int32)
        self.columns = np.repeat(np.arange(self.shape[1]), np.diff(self.starts))
        self._point = np.zeros(function.nnz_in(0))
        self._given = np.zeros(function.nnz_in(1))
        self.values, self.entries = (np.zeros(function.nnz_out(i)) for i in range(2))
        # The memory behind the call must stay alive.
        self._buffer, self._call = function.buffer()
        for place, array in enumerate((self._point, self._given)):
            self._buffer.set_arg(place, array.data)
        for place, array in enumerate((self.values, self.entries)):
            self._buffer.set_res(place, array.data)

    def __getstate__(self) -> dict[str, Any]:
        return {"function": self._function}

    def __setstate__(self, state: dict[str, Any]) -> None:
        self._load(state["function"])

    def __call__(self, point: Vector, given: Vector) -> tuple[Vector, Vector]:
        """Values (m) and entries of the derivatives; both are overwritten by the next call."""
        self._point[:] = point[: self._point.size]
        self._given[:] = given[: self._given.size]
        self._call()
        return self.values, self.entries

    def matrix(self, entries: Vector, columns: int | None = None) -> sparse.csc_array:
        """Derivatives as a matrix; `columns` adds empty ones at its end."""
        width = self.shape[1] if columns is None else columns
        starts = np.concatenate(
            [self.starts, np.full(width - self.shape[1], self.starts[-1], dtype=np.int32)]
        )
        return sparse.csc_array((entries, self.rows, starts), shape=(self.shape[0], width))
