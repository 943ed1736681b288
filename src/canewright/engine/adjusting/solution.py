"""What goes into an adjustment and what comes out: data, a linearisation, a solution."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt
import scipy.sparse as sparse

Vector = npt.NDArray[np.float64]
Kind = Literal["reading", "prior"]


@dataclass(frozen=True)
class Datum:
    """One reading (from an instrument) or soft prior (from experience).

    `name` is that of its prediction, `sd` the standard uncertainty of `value`, both in the unit
    of the prediction; `sd = inf` says that the datum is absent.
    """

    name: str
    kind: Kind
    value: float
    sd: float


@dataclass(frozen=True)
class Linearisation:
    """Predictions, constraints and their sparse derivatives at one point, unscaled."""

    predictions: Vector
    constraints: Vector
    data_jacobian: sparse.csc_array
    constraint_jacobian: sparse.csc_array


@dataclass(frozen=True)
class Solution:
    """The adjusted point and how it was reached.

    `z` are the adjusted variables, `fitted` the predictions there (absent data included).
    `multipliers` (unscaled) are those of `objective + multipliers . constraints`,
    `bound_multipliers` the pull of the bounds per typical size. `active` is -1 where a variable
    rests on its lower bound, 1 on its upper, else 0. `worst_constraint` is the index and scaled
    misfit of the one that closes worst, `objective` half the sum of squared standardised
    misfits. Figures of a failed solution must not be printed; `message` says how it ended.
    """

    z: Vector
    multipliers: Vector
    bound_multipliers: Vector
    fitted: Vector
    active: npt.NDArray[np.int8]
    status: Literal["ok", "failed"]
    message: str
    iterations: int
    seconds: float
    worst_constraint: tuple[int, float]
    objective: float
    values: Vector
    sd: Vector
    row_scale: Vector
    parameters: Vector = field(default_factory=lambda: np.zeros(0))
    offsets: Vector | None = None

    @property
    def ok(self) -> bool:
        """Whether the figures of this solution may be used."""
        return self.status == "ok"


def checked_vector(value: npt.ArrayLike, size: int, what: str, finite: bool = True) -> Vector:
    """A vector of this size; a sentence where it has another, or holds no number."""
    array = np.array(value, dtype=float).ravel()
    if array.size != size:
        raise ValueError(f"The {what} must have {size} entries; {array.size} were given.")
    if finite and what not in ("lower bounds", "upper bounds") and not np.all(np.isfinite(array)):
        bad = int(np.flatnonzero(~np.isfinite(array))[0])
        raise ValueError(f"The {what} must be finite numbers; entry {bad} is not.")
    return array


def checked_names(given: Sequence[str] | None, count: int, what: str) -> tuple[str, ...]:
    """Names for every entry, made up from `what` where none are given; all different."""
    names = tuple(given) if given is not None else tuple(f"{what} {i + 1}" for i in range(count))
    if len(names) != count:
        raise ValueError(f"{len(names)} {what} names were given for {count}.")
    if len(set(names)) != count:
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"The {what} name {twice!r} is used twice; names must differ.")
    return names
