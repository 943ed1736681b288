"""Repeated sparse factorisation of matrices that share one pattern.

The order of elimination is found once; later factorisations only choose pivots (measured: 0.4
of the time of one from scratch).
"""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import numpy.typing as npt
import scipy.sparse as sparse
from scipy.sparse.linalg import splu

from canewright.engine.algebra.kkt import Matrix, blocked_solve

Vector = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]


def with_entries(template: Any, entries: Vector) -> Any:
    """A sparse matrix of the same pattern; without the checks of a new one, which cost more."""
    matrix = copy.copy(template)
    matrix.data = entries
    return matrix


class Pair:
    """A sparse matrix and its transpose, by a template of each: both share the entries."""

    def __init__(self, template: Any, turned: Any, entries: Vector) -> None:
        self.matrix = with_entries(template, entries)
        self.transposed = with_entries(turned, entries)


class SquareFactor:
    """Factor of one matrix: solves with it and with its transpose."""

    def __init__(self, factor: Any, order: Places, transposed: bool) -> None:
        self._factor, self._order, self._transposed = factor, order, transposed

    def solve(self, right: Matrix, transposed: bool = False) -> Matrix:
        """Solve for one right side or for columns of them."""
        if transposed == self._transposed:
            found = blocked_solve(self._factor, right)
            result = np.empty_like(found)
            result[self._order] = found
            return result
        return blocked_solve(self._factor, right[self._order], transposed=True)


class SquareBlock:
    """Square matrices of one pattern, given by their entries.

    Parameters
    ----------
    rows, columns : array of int (z)
        Place of each entry.
    size : int
    transposed : bool
        Whether solves with the transpose are the many ones, to be made the quick ones.
    """

    def __init__(
        self, rows: Places, columns: Places, size: int, *, transposed: bool = False
    ) -> None:
        self.size, self.transposed = size, transposed
        self._rows, self._columns = (columns, rows) if transposed else (rows, columns)
        self._order = np.arange(size)
        self._arrange()
        self._ordered = False

    def _arrange(self) -> None:
        rank = np.empty(self.size, dtype=np.intp)
        rank[self._order] = np.arange(self.size)
        place = rank[self._columns]
        self._sequence = np.lexsort((self._rows, place))
        counts = np.bincount(place, minlength=self.size)
        starts = np.concatenate([[0], np.cumsum(counts)]).astype(np.int32)
        indices = self._rows[self._sequence].astype(np.int32)
        self._template = sparse.csc_array(
            (np.ones(indices.size), indices, starts), shape=(self.size, self.size)
        )

    def factor(self, entries: Vector) -> SquareFactor:
        """Factorise.

        Raises
        ------
        RuntimeError
            If the matrix is exactly singular.
        """
        if not self._ordered:
            first = splu(self._matrix(entries), permc_spec="COLAMD")
            self._order = np.argsort(first.perm_c)
            self._arrange()
            self._ordered = True
        factor = splu(
            self._matrix(entries),
            permc_spec="NATURAL",
            relax=1,
            panel_size=4,
            options={"Equil": False},
        )
        return SquareFactor(factor, self._order, self.transposed)

    def _matrix(self, entries: Vector) -> Any:
        return with_entries(self._template, entries[self._sequence])
