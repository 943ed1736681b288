"""Formulas of heat, power and money are alike on a float, an array and a symbol."""

import casadi
import numpy as np
import pytest

from canewright import registry

MODULES = (
    "calorific_value",
    "combustion",
    "economics",
    "evaporation",
    "heat_transfer",
    "turbines",
)
FORMULAS = registry.formulas()
FIRST_CHECK = {
    check.formula: check for check in registry.checks() if check.formula.split(".")[0] in MODULES
}
NAMES = [name for name in FORMULAS if name.split(".")[0] in MODULES]


@pytest.mark.parametrize("name", NAMES)
def test_formula_is_alike_on_float_array_and_symbol(name):
    function, given = FORMULAS[name].function, FIRST_CHECK[name].given
    value = float(function(**given))
    array = function(**{key: np.array([number, number]) for key, number in given.items()})
    symbols = {key: casadi.SX.sym(key) for key in given}
    traced = casadi.Function("f", list(symbols.values()), [function(**symbols)])
    # the same operations in another order: rounding of double precision, magnified where
    # two enthalpies near each other are subtracted
    np.testing.assert_allclose(array, [value, value], rtol=1e-9, atol=1e-12)
    assert float(traced(*given.values())) == pytest.approx(value, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("name", NAMES)
def test_slope_of_formula_agrees_with_differences(name):
    function, given = FORMULAS[name].function, FIRST_CHECK[name].given
    symbol = casadi.SX.sym("arguments", len(given))
    expression = function(**dict(zip(given, casadi.vertsplit(symbol), strict=True)))
    slope = casadi.Function("f", [symbol], [casadi.jacobian(expression, symbol)])
    here = np.array(list(given.values()), dtype=float)
    exact = np.asarray(slope(here)).ravel()
    for place, number in enumerate(here):
        step = 1e-5 * max(abs(number), 1e-3)
        ends = []
        for side in (1.0, -1.0):
            moved = here.copy()
            moved[place] += side * step
            ends.append(float(function(*moved)))
        difference = (ends[0] - ends[1]) / (2.0 * step)
        scale = abs(float(function(*here))) / max(abs(number), 1e-3)
        # central differences with a step of 1e-5: truncation 1e-10, rounding 1e-10
        assert exact[place] == pytest.approx(difference, rel=1e-5, abs=1e-6 * (scale + 1e-6))
