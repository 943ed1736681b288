"""One sparse factorisation of the KKT matrix of an adjustment, singular ones included.

The matrix [[G'G, J'], [J, 0]], with G the data Jacobian in units of each standard uncertainty
and J the constraint Jacobian, is factorised with the standardised misfits kept as unknowns,

    [[-I, G, 0], [G', 0, J'], [0, J, 0]],

so that precise data (large G) are not squared. Eliminating the first row gives the form above.
If the matrix is singular its null space is found with a tiny regularisation, which is then
dropped again: the matrix bordered with the null space is regular and exact.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import scipy.sparse as sparse
from scipy.sparse.linalg import splu

Matrix = npt.NDArray[np.float64]

PROBE_AGREES = 1e-4
"""A solve of a known case that misses by more than this says the matrix is singular."""
REGULARISATION = 1e-8
"""Weight of the wide priors (1e4 typical sizes) that find the unobservable directions."""
COLUMNS = 16
"""Right sides solved for at a time."""
BLOCK = 8
"""Directions tried at a time when looking for the null space; doubled when all belong to it."""


class KktFactor:
    """Factor of the matrix, with blocks for data, variables and constraint rows.

    Parameters
    ----------
    data : sparse (k, n)
        Data Jacobian over standard uncertainties, scaled variables.
    rows : sparse (m, n)
        Constraint Jacobian, scaled rows and variables.

    Attributes
    ----------
    data, variables, rows : slice
        Places of the three blocks.
    null_variables : array (n, d)
        Orthonormal directions of the variables that neither data nor rows see.
    null_rows : array (m, d)
        Orthonormal combinations of rows that say nothing new.
    """

    def __init__(self, data: sparse.sparray, rows: sparse.sparray) -> None:
        self._data, self._rows = data, rows
        count, size = data.shape
        self.total = count + size + rows.shape[0]
        self.data = slice(0, count)
        self.variables = slice(count, count + size)
        self.rows = slice(count + size, self.total)
        self.null_variables = np.zeros((size, 0))
        self.null_rows = np.zeros((rows.shape[0], 0))
        matrix = self._matrix(0.0)
        try:
            self._factor = splu(matrix)
            singular = not self._probe(matrix)
        except RuntimeError:  # how scipy says "exactly singular"
            singular = True
        if singular:
            self._border()

    def _matrix(self, regularisation: float) -> sparse.csc_array:
        def eye(size: int, value: float) -> sparse.sparray:
            return value * sparse.eye_array(size)

        count, size = self._data.shape
        middle = eye(size, regularisation) if regularisation else None
        corner = eye(self._rows.shape[0], -regularisation) if regularisation else None
        return sparse.block_array(
            [
                [eye(count, -1.0), self._data, None],
                [self._data.T, middle, self._rows.T],
                [None, self._rows, corner],
            ],
            format="csc",
        )

    def _probe(self, matrix: sparse.csc_array) -> bool:
        """Solve a case whose answer is known; a singular matrix does not give it back."""
        answer = np.random.default_rng(1).standard_normal(self.total)
        found = self._factor.solve(matrix @ answer)
        miss = np.linalg.norm(found - answer)
        return bool(np.isfinite(miss) and miss <= PROBE_AGREES * np.linalg.norm(answer))

    def _border(self) -> None:
        """Find what is unobservable or said twice, and border the matrix with it."""
        self._factor = splu(self._matrix(REGULARISATION))
        null = self._null_basis()
        self.null_variables = _orthonormal(null[self.variables])
        self.null_rows = _orthonormal(null[self.rows])
        border = sparse.block_diag(
            [
                sparse.csr_array((self._data.shape[0], 0)),
                sparse.csr_array(self.null_variables),
                sparse.csr_array(self.null_rows),
            ]
        )
        if border.shape[1]:
            whole = [[self._matrix(0.0), border], [border.T, None]]
            self._factor = splu(sparse.block_array(whole, format="csc"))

    def _null_basis(self) -> Matrix:
        """Null space of the matrix: where the regularised inverse is as large as it can be."""
        rng = np.random.default_rng(2)
        width = BLOCK
        while True:
            width = min(width, self.total)
            basis = np.linalg.qr(rng.standard_normal((self.total, width)))[0]
            for _ in range(4):
                basis = np.linalg.qr(self._factor.solve(basis))[0]
            left, gain, _ = np.linalg.svd(self._factor.solve(basis), full_matrices=False)
            large = gain > 0.5 / REGULARISATION
            if not large.all() or width == self.total:
                return np.asarray(left[:, large])
            width *= 2

    def solve(self, right: Matrix, variables: bool = True) -> Matrix:
        """Solve for one right side or for columns of them.

        Right sides are projected on what the matrix can reach. `variables` says whether that
        block of the answer is wanted; it is always there.
        """
        border = self.null_variables.shape[1] + self.null_rows.shape[1]
        if border:
            right = np.concatenate([right, np.zeros((border, *right.shape[1:]))])
        return blocked_solve(self._factor, right)[: self.total]

    def zeros(self, columns: int) -> Matrix:
        """Empty right sides, in the order of memory the factor likes."""
        return np.zeros((self.total, columns), order="F")


def blocked_solve(factor: Any, right: Matrix, transposed: bool = False) -> Matrix:
    """Solve for one right side, or for columns of them a few at a time.

    SuperLU works on all columns it is given at once; beyond a few dozen they leave the cache
    and wake the threads of the linear algebra library (measured: 10 times slower).
    """
    way = "T" if transposed else "N"
    if right.ndim == 1 or right.shape[1] <= COLUMNS:
        return np.asarray(factor.solve(right, way))
    found = np.empty(right.shape, order="F")
    for first in range(0, right.shape[1], COLUMNS):
        part = slice(first, first + COLUMNS)
        found[:, part] = factor.solve(np.asfortranarray(right[:, part]), way)
    return found


def _orthonormal(part: Matrix) -> Matrix:
    """Orthonormal basis of the span of columns whose singular values are 0 or 1."""
    if not part.size:
        return np.zeros((part.shape[0], 0))
    left, size, _ = np.linalg.svd(part, full_matrices=False)
    return np.asarray(left[:, size > 0.5])
