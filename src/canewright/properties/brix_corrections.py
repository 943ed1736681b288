"""Brix read at another temperature than 20 degC, by refractometer and by spindle.

Both corrections are quadratic in the reading, so the other direction (what would the
instrument show?) is closed too.
"""

from canewright.ops import Numeric, sqrt
from canewright.registry import formula

_REFRACTOMETER = (
    (0.061698, 6.1436e-4, -5.6548e-6),
    (1.1692e-3, -2.1190e-5, 9.4298e-8),
)
_SPINDLE = (
    (0.048083, 8.4869e-4, -6.0115e-6),
    (1.1915e-3, -2.0608e-5, 8.789e-8),
)
_Table = tuple[tuple[float, float, float], tuple[float, float, float]]


def _powers(table: _Table, temperature: Numeric) -> tuple[Numeric, Numeric, Numeric]:
    """Coefficients of the reading to the power 0, 1 and 2."""
    d = temperature - 20
    first, second = table
    return (
        d * (first[0] + second[0] * d),
        d * (first[1] + second[1] * d),
        d * (first[2] + second[2] * d),
    )


def _correction(table: _Table, reading: Numeric, temperature: Numeric) -> Numeric:
    a, b, c = _powers(table, temperature)
    return a + reading * (b + c * reading)


def _reading(table: _Table, brix: Numeric, temperature: Numeric) -> Numeric:
    """Root of reading + a + b reading + c reading^2 = brix, good for c = 0 too."""
    a, b, c = _powers(table, temperature)
    return 2 * (brix - a) / (1 + b + sqrt((1 + b) ** 2 + 4 * c * (brix - a)))


@formula(
    source="own_derivation",
    at="fit to the refractive index model, 0-75 % and 10-40 degC",
    unit="% mass",
    given={"reading": "% mass", "temperature": "degC"},
    equation="""dB = 0.061698 d + 6.1436e-4 d w - 5.6548e-6 d w^2
        + 1.1692e-3 d^2 - 2.1190e-5 d^2 w + 9.4298e-8 d^2 w^2, d = t - 20, to be added""",
    known="derived",
    valid={"reading": (0, 75), "temperature": (10, 40)},
    uncertainty="0.02; no published value was seen above 22 degC",
)
def refractometer_correction(reading: Numeric, temperature: Numeric) -> Numeric:
    """Correction to be added to a refractometer reading taken at this temperature.

    An instrument that compensates by itself must get none. The international table of 1936
    is smaller (30 degC: 0.67 at 10 %, against 0.77): ask which one the laboratory uses.

    Parameters
    ----------
    reading : numeric
        Refractometer reading, scale for 20 degC. [% mass]
    temperature : numeric
        Temperature of the prism. [degC]

    Returns
    -------
    numeric
        True Brix less reading. [% mass]
    """
    return _correction(_REFRACTOMETER, reading, temperature)


@formula(
    source="own_derivation",
    at="root of the quadratic correction",
    unit="% mass",
    given={"brix": "% mass", "temperature": "degC"},
    equation="r = 2 (B - a)/[1 + b + sqrt((1 + b)^2 + 4 c (B - a))], dB = a + b r + c r^2",
    known="derived",
    valid={"brix": (0, 75), "temperature": (10, 40)},
    uncertainty="0.02",
)
def refractometer_reading(brix: Numeric, temperature: Numeric) -> Numeric:
    """Reading of an uncompensated refractometer at this temperature.

    Parameters
    ----------
    brix : numeric
        Refractometer Brix at 20 degC. [% mass]
    temperature : numeric
        Temperature of the prism. [degC]

    Returns
    -------
    numeric
        Reading on the scale for 20 degC. [% mass]
    """
    return _reading(_REFRACTOMETER, brix, temperature)


@formula(
    source="own_derivation",
    at="fit to rho(B, t) [1 + 25e-6 (t - 20)] = rho(reading, 20), 0-65 % and 15-45 degC",
    unit="% mass",
    given={"reading": "% mass", "temperature": "degC"},
    equation="""dB = 0.048083 d + 8.4869e-4 d B - 6.0115e-6 d B^2
        + 1.1915e-3 d^2 - 2.0608e-5 d^2 B + 8.789e-8 d^2 B^2, d = t - 20, to be added""",
    known="derived",
    valid={"reading": (0, 65), "temperature": (15, 45)},
    uncertainty="0.012 of fit; printed tables for other glass lie up to 0.04 higher",
)
def spindle_correction(reading: Numeric, temperature: Numeric) -> Numeric:
    """Correction to be added to a Brix spindle read at this temperature.

    Parameters
    ----------
    reading : numeric
        Spindle reading, scale for 20 degC. [% mass]
    temperature : numeric
        Temperature of the liquid. [degC]

    Returns
    -------
    numeric
        Spindle Brix less reading. [% mass]
    """
    return _correction(_SPINDLE, reading, temperature)


@formula(
    source="own_derivation",
    at="root of the quadratic correction",
    unit="% mass",
    given={"brix": "% mass", "temperature": "degC"},
    equation="r = 2 (B - a)/[1 + b + sqrt((1 + b)^2 + 4 c (B - a))], dB = a + b r + c r^2",
    known="derived",
    valid={"brix": (0, 65), "temperature": (15, 45)},
    uncertainty="0.012 of fit",
)
def spindle_reading(brix: Numeric, temperature: Numeric) -> Numeric:
    """Reading of a Brix spindle at this temperature.

    Parameters
    ----------
    brix : numeric
        Spindle Brix at 20 degC. [% mass]
    temperature : numeric
        Temperature of the liquid. [degC]

    Returns
    -------
    numeric
        Reading on the scale for 20 degC. [% mass]
    """
    return _reading(_SPINDLE, brix, temperature)


@formula(
    source="icumsa_invert",
    at="correction of refractometer solids for invert sugar",
    unit="% mass",
    given={"invert": "% mass"},
    equation="dB = 0.022 I",
    known="memory",
    valid={"invert": (0, 60)},
    uncertainty="10 %",
)
def invert_correction(invert: Numeric) -> Numeric:
    """Correction to be added to refractometer Brix because invert sugar reads low.

    Parameters
    ----------
    invert : numeric
        Invert sugar in the sample as read. [% mass]

    Returns
    -------
    numeric
        Solids less refractometer Brix. [% mass]
    """
    return 0.022 * invert
