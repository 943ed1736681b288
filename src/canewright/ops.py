"""Elementary functions that work alike on a float, an array and a CasADi symbol.

Formulas use these instead of `math`, `numpy` or `casadi`, so that one text of an
equation serves the calculator, the table and the solver.
"""

from typing import Any

import numpy as np

Numeric = Any
"""A float, a numpy array or a CasADi SX: whatever a formula is asked with."""


def _is_symbol(value: Numeric) -> bool:
    return type(value).__module__.startswith("casadi")


def _apply(name: str, value: Numeric) -> Numeric:
    if _is_symbol(value):
        import casadi

        return getattr(casadi, name)(value)
    return getattr(np, name)(value)


def exp(value: Numeric) -> Numeric:
    """Exponential."""
    return _apply("exp", value)


def log(value: Numeric) -> Numeric:
    """Natural logarithm."""
    return _apply("log", value)


def log10(value: Numeric) -> Numeric:
    """Logarithm to base 10."""
    return _apply("log10", value)


def sqrt(value: Numeric) -> Numeric:
    """Square root."""
    return _apply("sqrt", value)


def smooth_positive(value: Numeric, width: float) -> Numeric:
    """Smooth stand-in for max(value, 0): rounds the corner over about `width`."""
    return 0.5 * (value + sqrt(value * value + width * width))
