"""Every formula of sugar solutions works alike on a float, an array and a symbol."""

import casadi
import numpy as np
import pytest

from canewright import registry

MODULES = {
    "bagasse",
    "boiling_point",
    "brix_corrections",
    "crystal",
    "density",
    "heat",
    "massecuite",
    "milk_of_lime",
    "refraction",
    "rotation",
    "solubility",
    "transport",
    "viscosity",
}
OURS = {
    name: formula
    for name, formula in registry.formulas().items()
    if formula.function.__module__.startswith("canewright.properties.")
    and name.split(".")[0] in MODULES
}
# Arguments for which no range is stated in the register: a usual value of each.
USUAL = {
    "ash_volume": 0.4,
    "decay": 2.1,
    "density_in_vacuum": 1050.0,
    "heat_at_25": 14.6,
    "intercept": 0.82,
    "mother_liquor_density": 1450.0,
    "mother_liquor_viscosity": 5000.0,
    "nonsucrose_molar_mass": 210.0,
    "purity_coefficient": 0.02,
    "slope": 0.1,
}


def points(formula):
    """Three points inside the stated validity, as columns."""
    columns = {}
    for argument in formula.given:
        low, high = formula.valid.get(argument, (USUAL.get(argument), USUAL.get(argument)))
        assert low is not None, f"{formula.name}: no range and no usual value of {argument}."
        columns[argument] = np.array([low + share * (high - low) for share in (0.2, 0.5, 0.8)])
    return columns


def test_the_list_of_modules_is_complete():
    assert {name.split(".")[0] for name in OURS} == MODULES


@pytest.mark.parametrize("name", [name for name in OURS if OURS[name].given])
def test_array_and_symbol_give_the_same_as_floats(name):
    formula = OURS[name]
    columns = points(formula)
    one_by_one = [
        float(formula.function(*(float(column[row]) for column in columns.values())))
        for row in range(3)
    ]
    assert np.isfinite(one_by_one).all()

    # Same operations in another order of evaluation: a few units of the last place.
    together = formula.function(**columns)
    assert together == pytest.approx(one_by_one, rel=1e-12, abs=1e-13)

    symbols = [casadi.SX.sym(argument) for argument in columns]
    traced = casadi.Function("traced", symbols, [formula.function(*symbols)])
    by_symbol = [float(traced(*(column[row] for column in columns.values()))) for row in range(3)]
    assert by_symbol == pytest.approx(one_by_one, rel=1e-12, abs=1e-13)


@pytest.mark.parametrize("name", [name for name in OURS if OURS[name].given])
def test_derivatives_agree_with_finite_differences(name):
    formula = OURS[name]
    values = [float(column[1]) for column in points(formula).values()]
    symbols = casadi.SX.sym("arguments", len(values))
    traced = formula.function(*casadi.vertsplit(symbols))
    slopes = casadi.Function("slopes", [symbols], [casadi.jacobian(traced, symbols)])
    exact = np.array(slopes(values)).ravel()
    for place, value in enumerate(values):
        step = 1e-5 * max(abs(value), 1e-2)
        up, down = list(values), list(values)
        up[place] += step
        down[place] -= step
        numeric = (formula.function(*up) - formula.function(*down)) / (2 * step)
        # Error of a central difference: rounding of the value over the step.
        size = abs(float(formula.function(*values)))
        assert exact[place] == pytest.approx(numeric, rel=1e-5, abs=1e-9 + 1e-11 * size / step)


@pytest.mark.parametrize("name", [name for name in OURS if not OURS[name].given])
def test_constants_are_plain_numbers(name):
    assert isinstance(OURS[name].function(), float)
