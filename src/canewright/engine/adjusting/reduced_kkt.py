"""The KKT matrix of an adjustment solved by elimination: what `kkt` does, several times quicker.

Same blocks and same answers as `KktFactor`, for problems whose independent quantities are known
(see `elimination`) and whose matrix is regular.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy import linalg

from canewright.engine.adjusting.elimination import (
    Elimination,
    Linear,
    Matrix,
    NotReducible,
    Reduced,
    Vector,
    held_slopes,
)

Places = npt.NDArray[np.intp]
PROBE_AGREES = 1e-4
"""A solve of a known case that misses by more than this part says the matrix is singular."""


class ReducedKkt:
    """Factor of the KKT matrix, with blocks for data, variables and constraint rows.

    Parameters
    ----------
    layout : Elimination
    linear : Linear
        The linearised problem; absent data have weight zero.
    present : array of int
        Data that are there, in order: the data block.
    active : array of int
        Variables held by a bound: rows after those of the constraints.

    Attributes
    ----------
    data, variables, rows : slice
        Places of the three blocks.
    null_variables, null_rows : array (n, 0), (m, 0)
        Empty: nothing is unobservable or said twice, or else this class refuses.

    Raises
    ------
    NotReducible
        If the matrix is singular or close to it.
    """

    def __init__(
        self, layout: Elimination, linear: Linear, present: Places, active: Places
    ) -> None:
        self._layout, self._linear, self._active = layout, linear, active
        count, size = present.size, layout.free.size + layout.other.size
        self._equations = layout.other.size
        self.total = count + size + self._equations + active.size
        self.data = slice(0, count)
        self.variables = slice(count, count + size)
        self.rows = slice(count + size, self.total)
        self.null_variables = np.zeros((size, 0))
        self.null_rows = np.zeros((self._equations + active.size, 0))
        place = np.full(layout.predictions.shape[0], -1)
        place[present] = np.arange(count)
        far, own = place[layout.far], place[layout.own]
        here = np.flatnonzero(far >= 0)
        self._far, self._own = far[here], own[own >= 0]
        self._far_here = here
        self._own_rows = linear.own.matrix[np.flatnonzero(own >= 0)]

        reduced = Reduced(linear, layout.spread(linear.own), factorise=False)
        back, slopes = held_slopes(layout, linear, active)
        self._spread = reduced.spread
        self._back = np.hstack([reduced.back[:, here], back])
        self._white = np.vstack([reduced.whitened[here], slopes @ self._spread.matrix])
        noise = np.concatenate([np.ones(here.size), np.zeros(active.size)])
        try:
            self._triangle = np.asarray(
                linalg.cholesky(
                    np.diag(noise) + self._white @ self._white.T, lower=True, check_finite=False
                )
            )
        except linalg.LinAlgError as error:
            raise NotReducible("Bounds that hold depend on each other.") from error
        self._probe()

    def solve(self, right: Matrix, variables: bool = True) -> Matrix:
        """Solve for one right side or for columns of them.

        Without `variables` the block of the variables is left at zero, which saves a solve.
        """
        if right.ndim == 1:
            return np.asarray(self.solve(right[:, None], variables)[:, 0])
        layout, linear = self._layout, self._linear
        on_data, on_variables = right[self.data], right[self.variables]
        on_rows = right[self.rows]
        on_equations, on_held = on_rows[: self._equations], on_rows[self._equations :]
        pull = on_variables[layout.free] + self._own_rows.T @ on_data[self._own]
        multipliers: Matrix = np.zeros((self._equations, right.shape[1]))
        if on_variables.any():
            multipliers = linear.square.solve(on_variables[layout.other], transposed=True)
            pull = pull - linear.constraints_free.transposed @ multipliers
        white = self._spread.transposed @ pull
        small = self._white @ white - np.concatenate([on_data[self._far], on_held])
        if on_equations.any():
            small += self._back.T @ on_equations
        small = linalg.cho_solve((self._triangle, True), small, check_finite=False)
        free = self._spread.matrix @ (white - self._white.T @ small)
        found = np.zeros(right.shape, order="F")
        block = found[self.data]
        block[self._far] = small[: self._far.size]
        block[self._own] = self._own_rows @ free - on_data[self._own]
        rows = found[self.rows]
        rows[: self._equations] = multipliers - self._back @ small
        rows[self._equations :] = small[self._far.size :]
        if variables:
            block = found[self.variables]
            block[layout.free] = free
            block[layout.other] = linear.square.solve(
                on_equations - linear.constraints_free.matrix @ free
            )
        return found

    def residual_diagonal(self) -> Vector:
        """Redundancy number of each present datum: diagonal of R = I - G P G'."""
        inverse = linalg.solve_triangular(
            self._triangle, np.eye(self._triangle.shape[0]), lower=True, check_finite=False
        )
        result = np.empty(self._far.size + self._own.size)
        result[self._far] = (inverse * inverse).sum(axis=0)[: self._far.size]
        own = (self._own_rows @ self._spread.matrix).tocsr()
        seen = own @ (inverse @ self._white).T
        known = np.asarray(own.multiply(own).sum(axis=1)).ravel()
        result[self._own] = 1 - known + np.einsum("ij,ij->i", seen, seen)
        return result

    def zeros(self, columns: int) -> Matrix:
        """Empty right sides."""
        return np.zeros((self.total, columns), order="F")

    def _probe(self) -> None:
        """Solve a case whose answer is known; a singular matrix does not give it back."""
        layout, linear = self._layout, self._linear
        answer = np.random.default_rng(1).standard_normal(self.total)
        data, values, rows = answer[self.data], answer[self.variables], answer[self.rows]
        free, other = values[layout.free], values[layout.other]
        right = np.zeros(self.total)
        far_square, far_free = (
            part.matrix[self._far_here] for part in (linear.far_square, linear.far_free)
        )
        on_data = right[self.data]
        on_data[self._far] = far_square @ other + far_free @ free
        on_data[self._own] = self._own_rows @ free
        on_data -= data
        equations = rows[: self._equations]
        on_variables = right[self.variables]
        on_variables[layout.other] = (
            far_square.T @ data[self._far] + linear.constraints_square.transposed @ equations
        )
        on_variables[layout.free] = (
            far_free.T @ data[self._far]
            + self._own_rows.T @ data[self._own]
            + linear.constraints_free.transposed @ equations
        )
        on_variables[self._active] += rows[self._equations :]
        on_rows = right[self.rows]
        on_rows[: self._equations] = (
            linear.constraints_square.matrix @ other + linear.constraints_free.matrix @ free
        )
        on_rows[self._equations :] = values[self._active]
        miss = np.linalg.norm(self.solve(right) - answer)
        if not miss <= PROBE_AGREES * np.linalg.norm(answer):
            raise NotReducible("The matrix is singular, or too close to it.")
