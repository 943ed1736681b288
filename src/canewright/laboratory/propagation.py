"""How sure an analysis is, and which analyses err together.

The uncertainty of a result follows from those of its raw readings, to first order, by the
slopes of the method's own steps. What an instrument shares between analyses is kept apart
from what each reading has of its own, so that a day's analyses come with their covariance:
one refractometer's error moves all its Brix readings together.

Where a method's precision is published, that is taken instead: it holds what no sum of
raw readings knows. Between laboratories s_R^2 = s_r^2 + (bias of a laboratory)^2, so the
bias, common to all results of the method, is sqrt(s_R^2 - s_r^2) [iso5725_1].

Source: [gum2008] 5.1 and 5.2. Drawing instead of slopes: `canewright.laboratory.drawing`.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from canewright.laboratory.method import Method

Vector = npt.NDArray[np.float64]
Matrix = npt.NDArray[np.float64]
Basis = Literal["published precision", "raw readings"]


@dataclass(frozen=True)
class Uncertain:
    """Results of one method with their uncertainty; arrays of one entry a determination.

    `own` is the standard uncertainty that each result has to itself, `shared` maps each
    error source in common to what one standard uncertainty of it moves each result, with
    its sign. `contributions` maps each raw reading to its part c u, and `sampling` is that
    of the sample; they tell the raw readings' story even where the published precision is used.
    """

    method: Method
    value: Vector
    own: Vector
    shared: Mapping[str, Vector]
    basis: tuple[Basis, ...]
    contributions: Mapping[str, Vector]
    sampling: float

    @property
    def uncertainty(self) -> Vector:
        """Standard uncertainty of each result."""
        return np.sqrt(self.own**2 + sum((part**2 for part in self.shared.values()), np.zeros(1)))

    @property
    def from_raw_readings(self) -> Vector:
        """Standard uncertainty by the raw readings and the sample, whatever the basis."""
        own, shared = _split(self.method, self.contributions, self.value.shape)
        own = np.sqrt(own**2 + self.sampling**2)
        return np.sqrt(own**2 + sum((part**2 for part in shared.values()), np.zeros(1)))


def propagate(
    method: Method,
    values: Mapping[str, npt.ArrayLike],
    *,
    published: bool = True,
    uncertainties: Mapping[str, npt.ArrayLike] | None = None,
) -> Uncertain:
    """Results of a method with their standard uncertainty, many determinations at once.

    Parameters
    ----------
    method : Method
    values : mapping
        Raw readings by name: numbers, or arrays of one entry a determination.
    published : bool
        Take the method's published precision where one is stated for a result of that size.
    uncertainties : mapping, optional
        Standard uncertainty of a raw reading in place of the method's, in its unit.

    Returns
    -------
    Uncertain
        Arrays even for a single determination.

    Raises
    ------
    KeyError
        If a raw reading that the method cannot do without is missing.
    """
    given = {name: np.asarray(value, dtype=float) for name, value in values.items()}
    lacking = [raw.name for raw in method.inputs if raw.required and raw.name not in given]
    if lacking:
        raise KeyError(f"{method.name} needs {', '.join(lacking)}.")
    filled = method.filled(given)
    replaced = uncertainties or {}
    spreads = {
        name: np.asarray(
            replaced.get(name, method.input(name).standard_uncertainty(entry)), dtype=float
        )
        for name, entry in filled.items()
    }
    # A reading of nought that is known to some % has no uncertainty, and no slope is asked.
    uncertain = [name for name, spread in spreads.items() if (spread > 0).any()]
    with np.errstate(invalid="ignore", divide="ignore"):
        result, slopes = method.sensitivities(given, uncertain)
    value = np.atleast_1d(np.asarray(result, dtype=float))
    parts = {}
    for name, slope in slopes.items():
        spread = np.broadcast_to(spreads[name], value.shape)
        part = np.zeros(value.shape)
        parts[name] = np.multiply(slope, spread, out=part, where=spread > 0)
    own, shared = _split(method, parts, value.shape)
    by_readings: Basis = "raw readings"
    basis = (by_readings,) * value.size
    if published and method.precision is not None:
        own, shared, basis = _published(method, value, own, shared)
    own = np.sqrt(own**2 + method.sampling**2)
    return Uncertain(method, value, own, shared, basis, parts, method.sampling)


def _split(
    method: Method, parts: Mapping[str, Vector], shape: tuple[int, ...]
) -> tuple[Vector, dict[str, Vector]]:
    """Own standard uncertainty and shared parts from the parts of the raw readings."""
    squares = np.zeros(shape)
    shared: dict[str, Vector] = {}
    for name, part in parts.items():
        source = method.input(name).shared
        if source:
            shared[source] = shared.get(source, np.zeros(shape)) + part
        else:
            squares = squares + part**2
    return np.sqrt(squares), shared


def _published(
    method: Method, value: Vector, own: Vector, shared: dict[str, Vector]
) -> tuple[Vector, dict[str, Vector], tuple[Basis, ...]]:
    """Replace what the raw readings say by the published precision, where one is stated."""
    assert method.precision is not None
    within, between = np.full(value.shape, np.nan), np.full(value.shape, np.nan)
    for level in (method.precision, *method.precision.others):
        stated = (level.low <= value) & (value <= level.high) & np.isnan(within)
        within[stated], between[stated] = level.s_r, level.s_R
    taken = ~np.isnan(within)
    own = np.where(taken, within, own)
    shared = {source: np.where(taken, 0.0, part) for source, part in shared.items()}
    # A laboratory cannot agree worse with itself than with others; s_R = s_r leaves no bias.
    bias = np.sqrt(np.maximum(between**2 - within**2, 0.0))
    shared[f"laboratory's bias in {method.name}"] = np.where(taken, bias, 0.0)
    basis: tuple[Basis, ...] = tuple(
        "published precision" if one else "raw readings" for one in taken.ravel()
    )
    return own, shared, basis


@dataclass(frozen=True)
class Correlated:
    """Analyses of a day with what they share: V = diag(own^2) + L L'.

    `loadings` has a row for each analysis and a column for each of `sources`.
    """

    value: Vector
    own: Vector
    loadings: Matrix
    sources: tuple[str, ...]

    @property
    def uncertainty(self) -> Vector:
        """Standard uncertainty of each analysis."""
        return np.asarray(np.sqrt(self.own**2 + (self.loadings**2).sum(axis=1)))

    @property
    def covariance(self) -> Matrix:
        """Covariance of the analyses."""
        matrix = self.loadings @ self.loadings.T
        matrix.flat[:: len(matrix) + 1] += self.own**2
        return np.asarray(matrix)

    @property
    def correlation(self) -> Matrix:
        """Correlation coefficients; an analysis without uncertainty leans on none."""
        size = self.uncertainty
        scale = np.divide(1.0, size, out=np.zeros_like(size), where=size > 0)
        return np.asarray(self.covariance * np.outer(scale, scale))

    def of_sum(self, weights: npt.ArrayLike) -> float:
        """Standard uncertainty of a weighted sum of the analyses."""
        lead = np.asarray(weights, dtype=float)
        return float(np.sqrt(((lead * self.own) ** 2).sum() + ((lead @ self.loadings) ** 2).sum()))


def correlated(groups: Sequence[Uncertain]) -> Correlated:
    """Put results of several methods together, one after the other, with what they share."""
    sources = tuple(dict.fromkeys(source for group in groups for source in group.shared))
    columns = {source: k for k, source in enumerate(sources)}
    loadings = np.zeros((sum(group.value.size for group in groups), len(sources)))
    row = 0
    for group in groups:
        for source, part in group.shared.items():
            loadings[row : row + group.value.size, columns[source]] = part
        row += group.value.size
    return Correlated(
        np.concatenate([group.value for group in groups]) if groups else np.zeros(0),
        np.concatenate([group.own for group in groups]) if groups else np.zeros(0),
        loadings,
        sources,
    )


def effective_degrees_of_freedom(
    contributions: Iterable[float], degrees_of_freedom: Iterable[float]
) -> float:
    """Degrees of freedom of a combined uncertainty: u^4 / sum(u_i^4 / nu_i).

    Source: [gum2008] G.4, the formula of Welch and Satterthwaite.

    Parameters
    ----------
    contributions : iterable of float
        Parts c u, in the unit of the result.
    degrees_of_freedom : iterable of float
        Of each part; infinite for one that is known from elsewhere than repeats.

    Raises
    ------
    ValueError
        If lengths differ or a degree of freedom is not above zero.
    """
    parts, freedoms = list(contributions), list(degrees_of_freedom)
    if len(parts) != len(freedoms):
        raise ValueError("Each contribution needs its degrees of freedom.")
    if not all(freedom > 0 for freedom in freedoms):
        raise ValueError("Degrees of freedom must be above zero.")
    total = sum(part**2 for part in parts) ** 2
    lost = sum(part**4 / freedom for part, freedom in zip(parts, freedoms, strict=True))
    return total / lost if lost > 0 else math.inf
