"""What an adjustment knows: variances, influences, redundancy, from one sparse factorisation.

The first block of the inverse of the KKT matrix (see `kkt`) is minus R = I - G P G', whose
diagonal holds the redundancy numbers; P, the middle block, is the covariance of the scaled
variables. Sources: [own_derivation]; [narasimhan_jordache2000] for adjustment and its tests.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np
import numpy.typing as npt
import scipy.sparse as sparse

from canewright.engine.adjusting.adjustment import Problem
from canewright.engine.adjusting.elimination import NotReducible
from canewright.engine.adjusting.influences import DETERMINED_UP_TO as DETERMINED_UP_TO
from canewright.engine.adjusting.influences import Influences as Influences
from canewright.engine.adjusting.reduced_kkt import ReducedKkt
from canewright.engine.adjusting.solution import Kind, Solution, Vector
from canewright.engine.algebra.kkt import KktFactor, Matrix

IN_NULL_SPACE = 1e-6
"""Part of a unit direction that must lie in the null space to call it unobservable."""
CHECKED = 1e-7
"""Redundancy number below which nothing checks a datum (rounding stays below it)."""


class Posterior:
    """Uncertainty of an adjusted point, read off one factorisation.

    Parameters
    ----------
    data_jacobian : sparse (k, n)
        Derivatives of the predictions.
    constraint_jacobian : sparse (m, n)
        Derivatives of the constraints.
    sd : array_like (k)
        Standard uncertainty of each datum; inf where absent.
    adjustments : array_like (k)
        Value less prediction of each datum at the point of linearisation.
    misfits : array_like (m), optional
        Constraints less what they must equal, at that point; zeros when not given. The point
        need not be the adjusted one: `step` leads there (exactly, for a linear problem).
    scale : array_like (n), optional
        Typical size of each variable; ones when not given.
    row_scale : array_like (m), optional
        Typical size of the terms of each constraint; ones when not given.
    active : array_like of bool (n), optional
        Variables held by a bound.
    kinds, data_names, variable_names, constraint_names : sequences, optional
        Kind of each datum and names for messages and findings.
    factor : KktFactor or ReducedKkt, optional
        Of these derivatives; made when not given.
    """

    def __init__(
        self,
        data_jacobian: sparse.sparray | npt.ArrayLike,
        constraint_jacobian: sparse.sparray | npt.ArrayLike,
        sd: npt.ArrayLike,
        adjustments: npt.ArrayLike,
        misfits: npt.ArrayLike | None = None,
        *,
        scale: npt.ArrayLike | None = None,
        row_scale: npt.ArrayLike | None = None,
        active: npt.ArrayLike | None = None,
        kinds: Sequence[Kind] | None = None,
        data_names: Sequence[str] | None = None,
        variable_names: Sequence[str] | None = None,
        constraint_names: Sequence[str] | None = None,
        factor: KktFactor | ReducedKkt | None = None,
    ) -> None:
        data_part = sparse.csr_array(data_jacobian)
        rows = sparse.csr_array(constraint_jacobian)
        self.data_count, self.size = data_part.shape
        self.constraint_count = rows.shape[0]
        self.sd = np.asarray(sd, dtype=float)
        self.scale = np.ones(self.size) if scale is None else np.asarray(scale, dtype=float)
        self.row_scale = (
            np.ones(self.constraint_count) if row_scale is None else np.asarray(row_scale, float)
        )
        held = np.zeros(self.size, bool) if active is None else np.asarray(active, dtype=bool)
        self.active = np.flatnonzero(held)
        reading: Kind = "reading"
        self.kinds = tuple(kinds) if kinds is not None else (reading,) * self.data_count
        self.data_names = _named(data_names, self.data_count, "datum")
        self.variable_names = _named(variable_names, self.size, "variable")
        self.constraint_names = _named(constraint_names, self.constraint_count, "constraint")

        self.present = np.flatnonzero(np.isfinite(self.sd))
        self._all_data = data_part
        self._row_count = self.constraint_count + self.active.size
        self._kkt = factor or self._factor(data_part, rows)
        self._step(np.asarray(adjustments, dtype=float), misfits)

    @classmethod
    def at(cls, problem: Problem, solution: Solution, held: bool = True) -> Posterior:
        """Posterior of a solved problem.

        Parameters
        ----------
        problem, solution : Problem, Solution
        held : bool
            Whether variables at a bound stay there, or move as if it were not.

        Raises
        ------
        ValueError
            If the solution failed: figures without a solution mean nothing.
        """
        if not solution.ok:
            row, size = solution.worst_constraint
            name = problem.constraint_names[row] if row >= 0 else "no constraint"
            raise ValueError(
                f"The adjustment did not close ({solution.message}); worst is {name!r}, "
                f"off by {size:.3g} of its terms. Correct the readings around it first."
            )
        at = problem.linearise(solution.z, solution.parameters)
        active = (solution.active != 0) & held
        return cls(
            at.data_jacobian,
            at.constraint_jacobian,
            solution.sd,
            solution.values - at.predictions,
            at.constraints - (0.0 if solution.offsets is None else solution.offsets),
            scale=problem.scale,
            row_scale=solution.row_scale,
            active=active,
            kinds=problem.kinds,
            data_names=problem.data_names,
            variable_names=problem.variable_names,
            constraint_names=problem.constraint_names,
            factor=_reduced(problem, solution, active),
        )

    def _factor(self, data_part: sparse.csr_array, rows: sparse.csr_array) -> KktFactor:
        sizes = sparse.diags_array(self.scale)
        pins = sparse.csr_array(
            (np.ones(self.active.size), (np.arange(self.active.size), self.active)),
            shape=(self.active.size, self.size),
        )
        return KktFactor(
            sparse.diags_array(1 / self.sd[self.present]) @ data_part[self.present] @ sizes,
            sparse.vstack(
                [sparse.diags_array(1 / self.row_scale) @ rows @ sizes, pins], format="csr"
            ),
        )

    def _step(self, adjustments: Vector, misfits: npt.ArrayLike | None) -> None:
        """Last Gauss-Newton step: adjustments and multipliers of the linearised problem."""
        kkt = self._kkt
        right = np.zeros(kkt.total)
        right[kkt.data] = adjustments[self.present] / self.sd[self.present]
        if misfits is not None:
            scaled = np.asarray(misfits, dtype=float) / self.row_scale
            right[kkt.rows][: self.constraint_count] = -scaled
        found = kkt.solve(right)
        self.standardised = -found[kkt.data]
        self.step = found[kkt.variables] * self.scale
        self._multipliers = found[kkt.rows][: self.constraint_count]
        self.adjustments = np.full(self.data_count, np.nan)
        self.adjustments[self.present] = self.standardised * self.sd[self.present]

    # -- unobservable directions ----------------------------------------------------------

    @property
    def unobservable(self) -> Matrix:
        """Directions (d, n), in the units of the variables, that no datum can see."""
        return np.asarray((self.scale[:, None] * self._kkt.null_variables).T)

    @cached_property
    def observable_variables(self) -> npt.NDArray[np.bool_]:
        """For each variable, whether readings and priors fix it."""
        return np.asarray(np.linalg.norm(self._kkt.null_variables, axis=1) <= IN_NULL_SPACE)

    @property
    def redundant_constraints(self) -> int:
        """Number of constraints (bounds held included) that repeat others."""
        return int(self._kkt.null_rows.shape[1])

    def _blind(self, scaled: Matrix) -> npt.NDArray[np.bool_]:
        """Which of the scaled gradients (columns) have a part no datum can see."""
        part = np.linalg.norm(self._kkt.null_variables.T @ scaled, axis=0)
        return np.asarray(part > IN_NULL_SPACE * np.linalg.norm(scaled, axis=0))

    # -- figures --------------------------------------------------------------------------

    def _scaled(self, directions: npt.ArrayLike) -> Matrix:
        array = np.atleast_2d(np.asarray(directions, dtype=float))
        if array.shape[1] != self.size:
            raise ValueError(f"A direction needs {self.size} entries; {array.shape[1]} were given.")
        return np.asarray(array.T * self.scale[:, None])

    def _data_part(self, scaled: Matrix) -> Matrix:
        """Contributions of present data (rows) to figures with these scaled gradients."""
        right = self._kkt.zeros(scaled.shape[1])
        right[self._kkt.variables] = scaled
        return self._kkt.solve(right, variables=False)[self._kkt.data]

    def covariance(self, directions: npt.ArrayLike) -> Matrix:
        """Covariance of figures, from their gradients.

        Parameters
        ----------
        directions : array_like (q, n) or (n)
            Derivatives of each figure with respect to the variables.

        Returns
        -------
        array (q, q)
            Covariances; the row and column of a figure no datum can see are nan, with inf on
            the diagonal.
        """
        scaled = self._scaled(directions)
        contributions = self._data_part(scaled)
        result = np.asarray(contributions.T @ contributions)
        blind = self._blind(scaled)
        result[blind, :] = np.nan
        result[:, blind] = np.nan
        result[blind, blind] = np.inf
        return result

    def variances(self, directions: npt.ArrayLike) -> Vector:
        """Variances of figures, from their gradients (q, n); inf where no datum sees them."""
        scaled = self._scaled(directions)
        contributions = self._data_part(scaled)
        result = np.einsum("ij,ij->j", contributions, contributions)
        return np.where(self._blind(scaled), np.inf, result)

    def variable_sd(self, which: Sequence[int] | None = None) -> Vector:
        """Standard uncertainties of the variables asked for (all when not said)."""
        chosen = np.arange(self.size) if which is None else np.asarray(which, dtype=int)
        directions = np.zeros((chosen.size, self.size))
        directions[np.arange(chosen.size), chosen] = 1.0
        return np.sqrt(self.variances(directions))

    def influences(self, direction: npt.ArrayLike) -> Influences:
        """Where the uncertainty of one figure comes from.

        Parameters
        ----------
        direction : array_like (n)
            Derivatives of the figure with respect to the variables.
        """
        return self.influences_of(np.atleast_2d(np.asarray(direction, dtype=float)))[0]

    def influences_of(self, directions: npt.ArrayLike) -> list[Influences]:
        """Influences of several figures (q, n) in one back-substitution."""
        scaled = self._scaled(directions)
        parts, blind = self._data_part(scaled), self._blind(scaled)
        prior = np.array([kind == "prior" for kind in self.kinds])
        found = []
        for part, unseen in zip(parts.T, blind, strict=True):
            contributions = np.zeros(self.data_count)
            contributions[self.present] = part
            squares = contributions**2
            total = float(squares.sum())
            shares = squares / total if total > 0 else squares
            if unseen:
                found.append(Influences(contributions, np.inf, shares, 1.0))
            else:
                found.append(Influences(contributions, total, shares, float(shares[prior].sum())))
        return found

    # -- data -------------------------------------------------------------------------------

    @cached_property
    def residual_matrix(self) -> Matrix:
        """R = I - G P G' of the present data, one back-substitution for each of them."""
        right = self._kkt.zeros(self.present.size)
        np.fill_diagonal(right, 1.0)
        block = -self._kkt.solve(right, variables=False)[self._kkt.data]
        return np.asarray(0.5 * (block + block.T))

    @cached_property
    def redundancy(self) -> Vector:
        """Redundancy number of each datum, 0 (nobody checks it) to 1; nan where absent."""
        result = np.full(self.data_count, np.nan)
        if isinstance(self._kkt, ReducedKkt):
            diagonal = self._kkt.residual_diagonal()
        else:
            diagonal = np.diag(self.residual_matrix)
        result[self.present] = np.clip(diagonal, 0.0, 1.0) + 0.0
        return result

    @property
    def checked(self) -> npt.NDArray[np.bool_]:
        """Data that something else checks."""
        return np.nan_to_num(self.redundancy) > CHECKED

    @cached_property
    def fitted_sd(self) -> Vector:
        """Standard uncertainty of each adjusted datum; also of absent ones (their forecast)."""
        result = np.empty(self.data_count)
        result[self.present] = self.sd[self.present] * np.sqrt(1 - self.redundancy[self.present])
        absent = np.setdiff1d(np.arange(self.data_count), self.present)
        if absent.size:
            result[absent] = np.sqrt(self.variances(self._all_data[absent].toarray()))
        return result

    @cached_property
    def standardised_adjustments(self) -> Vector:
        """Measurement test z of each datum: adjustment over its own standard uncertainty.

        nan where absent or where nobody checks the datum.
        """
        result = np.full(self.data_count, np.nan)
        with np.errstate(invalid="ignore", divide="ignore"):
            z = self.standardised / np.sqrt(self.redundancy[self.present])
        result[self.present] = np.where(self.checked[self.present], z, np.nan)
        return result

    @cached_property
    def gamma(self) -> float:
        """Weighted sum of squares of the adjustments: the global statistic."""
        return float(self.standardised @ self.standardised)

    @cached_property
    def degrees_of_freedom(self) -> int:
        """Data present less variables that they fix: readings + priors - (n - rank J)."""
        rank = self._row_count - self.redundant_constraints
        return int(self.present.size - (self.size - rank - self._kkt.null_variables.shape[1]))

    @property
    def multipliers(self) -> Vector:
        """Change of half the global statistic per unit by which a constraint is let go."""
        return self._multipliers / self.row_scale

    # -- directions of possible errors -------------------------------------------------------

    def test_directions(
        self, data_parts: npt.ArrayLike, constraint_parts: npt.ArrayLike
    ) -> tuple[Vector, Matrix]:
        """Scores and Gram matrix of supposed errors, for likelihood ratio tests.

        A supposed error of size b adds b times its data part to the data and makes the
        constraints equal to b times its constraint part. To first order its best size is
        score / gram_ii, with standard uncertainty 1 / sqrt(gram_ii), and allowing for it
        lowers the global statistic by score^2 / gram_ii. Source: [own_derivation], which for
        linear problems gives the test of [narasimhan_mah1987].

        Parameters
        ----------
        data_parts : array_like (c, k)
        constraint_parts : array_like (c, m)

        Returns
        -------
        scores : array (c)
        gram : array (c, c)
        """
        on_data = np.asarray(data_parts, dtype=float)[:, self.present] / self.sd[self.present]
        on_rows = np.asarray(constraint_parts, dtype=float) / self.row_scale
        right = self._kkt.zeros(on_data.shape[0])
        right[self._kkt.data] = -on_data.T
        right[self._kkt.rows][: self.constraint_count] = on_rows.T
        gram = -(right.T @ self._kkt.solve(right, variables=False))
        scores = on_data @ self.standardised + on_rows @ self._multipliers
        return np.asarray(scores), np.asarray(0.5 * (gram + gram.T))


def _reduced(
    problem: Problem, solution: Solution, active: npt.NDArray[np.bool_]
) -> ReducedKkt | None:
    """The quick factor, where the problem has one."""
    try:
        linear = problem.blocks(solution)
        if linear is None or problem.elimination is None:
            return None
        present, held = np.flatnonzero(np.isfinite(solution.sd)), np.flatnonzero(active)
        return ReducedKkt(problem.elimination, linear, present, held)
    except NotReducible:
        return None


def _named(names: Sequence[str] | None, count: int, what: str) -> tuple[str, ...]:
    return tuple(names) if names is not None else tuple(f"{what} {i + 1}" for i in range(count))
