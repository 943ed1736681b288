"""Solids from a density or a refractive index: the tables read backwards.

For numbers only. In a set of equations use the forward formula and let the solver turn it.
"""

from canewright.properties.density import density
from canewright.properties.refraction import refractive_index

LOWEST = -1.0
HIGHEST = 95.0
"""Range of solids searched, % mass: a little beyond the validity of the equations."""
_TOLERANCE = 1e-12


def brix_from_density(measured: float, temperature: float = 20.0) -> float:
    """Solids of the sucrose solution that has this density.

    Parameters
    ----------
    measured : float
        Density. [kg/m3]
    temperature : float
        Temperature. [degC]

    Returns
    -------
    float
        Sucrose. [% mass]

    Raises
    ------
    ValueError
        If no solution between -1 and 95 % has this density.
    """
    from scipy.optimize import brentq  # half a second, only when asked

    low, high = density(LOWEST, temperature), density(HIGHEST, temperature)
    if not low <= measured <= high:
        raise ValueError(
            f"A density of {measured:g} kg/m3 at {temperature:g} degC belongs to no sugar "
            f"solution; it must lie between {low:.1f} and {high:.1f} kg/m3. "
            "Check the unit and the temperature."
        )
    return float(
        brentq(lambda w: density(w, temperature) - measured, LOWEST, HIGHEST, xtol=_TOLERANCE)
    )


def brix_from_refractive_index(measured: float, temperature: float = 20.0) -> float:
    """Solids of the sucrose solution that has this refractive index at 589.3 nm.

    Parameters
    ----------
    measured : float
        Refractive index against air. [1]
    temperature : float
        Temperature. [degC]

    Returns
    -------
    float
        Sucrose. [% mass]

    Raises
    ------
    ValueError
        If no solution between -1 and 95 % has this refractive index.
    """
    from scipy.optimize import brentq  # half a second, only when asked

    low, high = refractive_index(LOWEST, temperature), refractive_index(HIGHEST, temperature)
    if not low <= measured <= high:
        raise ValueError(
            f"A refractive index of {measured:g} at {temperature:g} degC belongs to no sugar "
            f"solution; it must lie between {low:.5f} and {high:.5f}. "
            "Check the reading and the temperature."
        )
    return float(
        brentq(
            lambda w: refractive_index(w, temperature) - measured,
            LOWEST,
            HIGHEST,
            xtol=_TOLERANCE,
        )
    )
