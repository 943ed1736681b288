"""Quantities of a station: sizes, settings, performance parameters, results.

One declaration gives the first guess, the scale, the bounds, the soft prior, the form
field, the row in the handbook and the heading of a column.
"""

from dataclasses import dataclass
from typing import Any, Literal

Role = Literal["design", "setting", "fitted", "result"]

PRIOR_WIDTHS = 4.0
"""A typical range is read as mean +/- 2 standard deviations (95 %): sd = range / 4."""


@dataclass(frozen=True)
class Quantity:
    """A number that belongs to a station.

    Parameters
    ----------
    label : str
        In the trade's words, without the station's name.
    unit : str
        Internal unit.
    typical : (low, high)
        Range that holds about 95 % of well-run factories. It is the soft prior of a
        setting or a performance parameter, and the first guess of a result.
    role : {"design", "setting", "fitted", "result"}
        Design: a size, always known. Setting: chosen by the operators. Fitted: a
        performance parameter, estimated. Result: follows from the equations.
    bounds : (low, high)
        Hard limits inside the validity of the formulas that the quantity enters.
    source : str
        Key in the bibliography for the typical range; "common_practice" where none is
        published.
    why : str
        One line for the handbook.
    """

    label: str
    unit: str
    typical: tuple[float, float]
    role: Role
    bounds: tuple[float, float]
    source: str = "common_practice"
    why: str = ""

    @property
    def guess(self) -> float:
        """Middle of the typical range."""
        return (self.typical[0] + self.typical[1]) / 2

    @property
    def sd(self) -> float:
        """Standard deviation of the soft prior that the typical range stands for."""
        return (self.typical[1] - self.typical[0]) / PRIOR_WIDTHS

    @property
    def scale(self) -> float:
        """Typical size, for scaling."""
        return max(abs(self.typical[0]), abs(self.typical[1]))


def _bounds(
    typical: tuple[float, float], bounds: tuple[float, float] | None
) -> tuple[float, float]:
    if bounds is not None:
        return bounds
    low, high = typical
    reach = 3.0 * (high - low)
    return (max(low - reach, 0.0) if low >= 0 else low - reach, high + reach)


# The four below return Any so that inside `equations` a quantity reads as the number it is.


def Design(  # noqa: N802
    label: str,
    unit: str,
    typical: tuple[float, float],
    bounds: tuple[float, float] | None = None,
    source: str = "common_practice",
    why: str = "",
) -> Any:
    """A size that is always known: it is never estimated. See `Quantity`."""
    return Quantity(label, unit, typical, "design", _bounds(typical, bounds), source, why)


def Setting(  # noqa: N802
    label: str,
    unit: str,
    typical: tuple[float, float],
    bounds: tuple[float, float] | None = None,
    source: str = "common_practice",
    why: str = "",
) -> Any:
    """Chosen by the operators, or brought by the cane or the weather. See `Quantity`."""
    return Quantity(label, unit, typical, "setting", _bounds(typical, bounds), source, why)


def Fitted(  # noqa: N802
    label: str,
    unit: str,
    typical: tuple[float, float],
    bounds: tuple[float, float] | None = None,
    source: str = "common_practice",
    why: str = "",
) -> Any:
    """A performance parameter, estimated from the readings. See `Quantity`."""
    return Quantity(label, unit, typical, "fitted", _bounds(typical, bounds), source, why)


def Result(  # noqa: N802
    label: str,
    unit: str,
    typical: tuple[float, float],
    bounds: tuple[float, float] | None = None,
    source: str = "common_practice",
    why: str = "",
) -> Any:
    """A number that follows from the equations. See `Quantity`."""
    return Quantity(label, unit, typical, "result", _bounds(typical, bounds), source, why)


@dataclass(frozen=True)
class StockDeclaration:
    """A vessel's content at the opening and at the closing of the period, in t by component."""

    label: str
    like: str
    sized_by: str


def Stock(label: str, *, like: str, sized_by: str) -> Any:  # noqa: N802
    """Stock held in the station: same components as the stream at port `like`.

    `sized_by` names the quantity that says how much is usually held, t; the soft prior of
    the opening stock is that mass, with the composition of the usual closing stock. Inside
    `equations` a stock has `.opening`, `.closing` (states, t) and `.change(component)`, the
    gain of stock in t/h.
    """
    return StockDeclaration(label, like, sized_by)
