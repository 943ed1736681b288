"""One Newton step written out: elimination in an order chosen once, without any search.

The order of pivots is chosen at a typical point to keep fill low (Markowitz), among entries
that are not small there. It has no safeguard of its own: whoever uses it checks the result.
Source: [own_derivation]; the choice of pivots is common practice in sparse elimination.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import casadi
import numpy as np
import scipy.sparse as sparse

THRESHOLD = 0.05
"""Smallest pivot relative to the largest entry of its row."""
LOOKED_AT = 40
"""Rows and columns with fewest entries among which a pivot is sought."""

Row = dict[int, Any]


def pivots(matrix: sparse.sparray) -> list[tuple[int, int]]:
    """Order of elimination of a square matrix: (row, column) of each pivot.

    Parameters
    ----------
    matrix : sparse (n, n)
        At a typical point, rows and columns scaled; entries that happen to be zero there
        belong to the pattern if they are stored.

    Raises
    ------
    ArithmeticError
        If the matrix is singular there.
    """
    table = sparse.coo_array(matrix)
    rows: list[dict[int, float]] = [{} for _ in range(table.shape[0])]
    columns: list[set[int]] = [set() for _ in range(table.shape[1])]
    for i, j, value in zip(table.row.tolist(), table.col.tolist(), table.data, strict=True):
        rows[i][j] = float(value)
        columns[j].add(i)
    left = set(range(len(rows)))
    order = []
    while left:
        i, j = _pivot(rows, columns, left)
        order.append((i, j))
        eliminate(rows, columns, i, j)
        left.discard(i)
    return order


def _pivot(
    rows: list[dict[int, float]], columns: list[set[int]], left: set[int]
) -> tuple[int, int]:
    best: tuple[int, float, int, int] | None = None
    largest: dict[int, float] = {}

    def consider(i: int, j: int) -> None:
        nonlocal best
        row = rows[i]
        if i not in largest:
            largest[i] = max(map(abs, row.values()))
        size = abs(row[j])
        if size > 0 and size >= THRESHOLD * largest[i]:
            cost = (len(row) - 1) * (len(columns[j]) - 1)
            if best is None or (cost, -size, i, j) < best:
                best = (cost, -size, i, j)

    for i in sorted(left, key=lambda i: (len(rows[i]), i))[:LOOKED_AT]:
        for j in rows[i]:
            consider(i, j)
        if best is not None and best[0] <= (len(rows[i]) - 1) ** 2:
            break
    sparse_columns = sorted(
        (j for j, members in enumerate(columns) if members), key=lambda j: (len(columns[j]), j)
    )
    for j in sparse_columns[:LOOKED_AT]:
        for i in columns[j]:
            consider(i, j)
        if best is not None and best[0] <= (len(columns[j]) - 1) ** 2:
            break
    if best is None:
        raise ArithmeticError("The equations are dependent at the typical point.")
    return best[2], best[3]


def eliminate(
    rows: list[Row], columns: list[set[int]], i: int, j: int, right: list[Any] | None = None
) -> tuple[Any, list[tuple[int, Any]]]:
    """Take a pivot's column out of the other rows, numbers and symbols alike.

    Returns
    -------
    tuple
        One over the pivot, and the other entries of its row.
    """
    pivot = rows[i]
    inverse = 1 / pivot[j]
    others = [(c, value) for c, value in pivot.items() if c != j]
    for r in sorted(columns[j] - {i}):
        factor = rows[r].pop(j) * inverse
        row = rows[r]
        for c, value in others:
            if c in row:
                row[c] = row[c] - factor * value
            else:
                row[c] = -factor * value
                columns[c].add(r)
        if right is not None:
            right[r] = right[r] - factor * right[i]
    for c in pivot:
        columns[c].discard(i)
    columns[j] = set()
    return inverse, others


def newton_step(jacobian: casadi.SX, residuals: casadi.SX, order: Sequence[tuple[int, int]]) -> Any:
    """The step of Newton's method, to be subtracted, as an expression.

    Parameters
    ----------
    jacobian : SX (n, n)
    residuals : SX (n)
    order : sequence of (row, column)
        Of `pivots`.
    """
    size = len(order)
    rows: list[Row] = [{} for _ in range(size)]
    columns: list[set[int]] = [set() for _ in range(size)]
    pattern, entries = jacobian.sparsity(), jacobian.nonzeros()
    for i, j, entry in zip(pattern.row(), pattern.get_col(), entries, strict=True):
        rows[i][j] = entry
        columns[j].add(i)
    right = [residuals[i] for i in range(size)]
    upper = [(i, j, *eliminate(rows, columns, i, j, right)) for i, j in order]
    found: list[Any] = [None] * size
    for i, j, inverse, others in reversed(upper):
        rest = right[i]
        for c, value in others:
            rest = rest - value * found[c]
        found[j] = rest * inverse
    return casadi.vertcat(*found)


def scaled(matrix: sparse.sparray, columns: np.ndarray) -> tuple[sparse.csr_array, np.ndarray]:
    """The matrix with scaled columns and rows of largest entry 1, and the row factors."""
    table = sparse.csr_array(matrix).multiply(columns[None, :]).tocsr()
    largest = np.maximum(abs(table).max(axis=1).toarray().ravel(), 1e-12)
    weights = 1 / largest
    return sparse.csr_array(table.multiply(weights[:, None])), weights
