"""Steam against two independent libraries, and alike on float, array and symbol."""

import casadi
import numpy as np
import pytest
import seuif97
from iapws import IAPWS97
from iapws.iapws97 import _Region1, _Region2

from canewright import registry
from canewright.properties import steam

SAME_EQUATION = 1e-6  # relative; the same published polynomials in another arithmetic
CHECKS = [check for check in registry.checks() if check.formula.startswith("steam")]
FIRST_CHECK = {check.formula: check for check in reversed(CHECKS)}

TEMPERATURES = np.linspace(1.0, 345.0, 87)
SATURATED = [
    (steam.liquid_enthalpy, seuif97.tx2h, 0),
    (steam.vapour_enthalpy, seuif97.tx2h, 1),
    (steam.liquid_entropy, seuif97.tx2s, 0),
    (steam.vapour_entropy, seuif97.tx2s, 1),
    (steam.liquid_volume, seuif97.tx2v, 0),
    (steam.vapour_volume, seuif97.tx2v, 1),
]


@pytest.mark.parametrize(("ours", "theirs", "dryness"), SATURATED)
def test_saturated_states_agree_with_a_compiled_library(ours, theirs, dryness):
    expected = [theirs(float(t), dryness) for t in TEMPERATURES]
    np.testing.assert_allclose(ours(TEMPERATURES), expected, rtol=SAME_EQUATION)


def test_saturation_line_agrees_with_two_libraries_both_ways():
    pressures = steam.saturation_pressure(TEMPERATURES)
    theirs = [seuif97.tx2p(float(t), 0) * 10 for t in TEMPERATURES]
    pure_python = [IAPWS97(T=t + 273.15, x=0).P * 10 for t in TEMPERATURES[::8]]
    np.testing.assert_allclose(pressures, theirs, rtol=SAME_EQUATION)
    np.testing.assert_allclose(pressures[::8], pure_python, rtol=SAME_EQUATION)
    # the release states that eqs. 30 and 31 are one equation: only arithmetic is left
    np.testing.assert_allclose(steam.saturation_temperature(pressures), TEMPERATURES, atol=1e-7)


@pytest.mark.parametrize("pressure", [1.0, 2.5, 21.0, 45.0, 67.0, 110.0])
def test_water_under_pressure_agrees_with_two_libraries(pressure):
    boiling = float(steam.saturation_temperature(pressure))
    for temperature in np.linspace(5.0, boiling - 0.5, 12):
        theirs = _Region1(temperature + 273.15, pressure / 10)
        given = (pressure, temperature)
        assert steam.water_enthalpy(*given) == pytest.approx(theirs["h"], rel=SAME_EQUATION)
        assert steam.water_entropy(*given) == pytest.approx(theirs["s"], rel=SAME_EQUATION)
        assert steam.water_volume(*given) == pytest.approx(theirs["v"], rel=SAME_EQUATION)
        assert steam.water_heat_capacity(*given) == pytest.approx(theirs["cp"], rel=SAME_EQUATION)
        assert steam.water_enthalpy(*given) == pytest.approx(
            seuif97.pt2h(pressure / 10, temperature), rel=SAME_EQUATION
        )


@pytest.mark.parametrize("pressure", [0.1, 1.0, 2.5, 21.0, 45.0, 67.0, 110.0])
def test_superheated_steam_agrees_with_two_libraries(pressure):
    boiling = float(steam.saturation_temperature(pressure))
    for temperature in np.linspace(boiling + 0.5, 600.0, 12):
        theirs = _Region2(temperature + 273.15, pressure / 10)
        given = (pressure, temperature)
        assert steam.steam_enthalpy(*given) == pytest.approx(theirs["h"], rel=SAME_EQUATION)
        assert steam.steam_entropy(*given) == pytest.approx(theirs["s"], rel=SAME_EQUATION)
        assert steam.steam_volume(*given) == pytest.approx(theirs["v"], rel=SAME_EQUATION)
        assert steam.steam_heat_capacity(*given) == pytest.approx(theirs["cp"], rel=SAME_EQUATION)
        assert steam.steam_enthalpy(*given) == pytest.approx(
            seuif97.pt2h(pressure / 10, temperature), rel=SAME_EQUATION
        )


@pytest.mark.parametrize("pressure", [0.08, 0.16, 1.0, 2.5, 6.0, 12.0, 25.0])
def test_expansion_agrees_with_a_library_wet_and_superheated(pressure):
    hottest = steam.steam_entropy(pressure, 600.0)
    for entropy in np.linspace(5.5, hottest, 67):
        # 0.03 kJ/kg: backward equations of IF97 (0.02) and our rounded corner (0.01)
        assert steam.isentropic_enthalpy(pressure, entropy) == pytest.approx(
            seuif97.ps2h(pressure / 10, entropy), abs=0.03
        )


@pytest.mark.parametrize("pressure", [0.08, 0.16, 1.0, 2.5, 6.0, 12.0, 25.0])
def test_steam_temperature_agrees_with_a_library_across_saturation(pressure):
    for enthalpy in np.linspace(2200.0, 3300.0, 67):
        # 0.05 K: our corner rounded over 0.2 kJ/kg (0.5 K per kJ/kg) and IF97's 0.01 K
        assert steam.steam_temperature(pressure, enthalpy) == pytest.approx(
            seuif97.ph2t(pressure / 10, enthalpy), abs=0.05
        )


def test_expansion_has_a_slope_equal_to_the_absolute_temperature():
    pressure, entropy = casadi.SX.sym("p"), casadi.SX.sym("s")
    enthalpy = steam.isentropic_enthalpy(pressure, entropy)
    slope = casadi.Function("f", [pressure, entropy], [casadi.jacobian(enthalpy, entropy)])
    for given in (6.3, 7.0, 7.5, 8.0):
        kelvin = seuif97.ps2t(0.25, given) + 273.15
        # (dh/ds)_p = T; the rounded corner moves it by under 0.1 K
        assert float(slope(2.5, given)) == pytest.approx(kelvin, abs=0.1)


@pytest.mark.parametrize(
    ("fast", "exact", "error"),
    [
        (steam.liquid_enthalpy_fast, steam.liquid_enthalpy, 0.02),
        (steam.vapour_enthalpy_fast, steam.vapour_enthalpy, 0.06),
        (steam.latent_heat_fast, steam.latent_heat, 0.07),
    ],
)
def test_cubic_fits_stay_within_their_stated_error(fast, exact, error):
    temperatures = np.linspace(40.0, 165.0, 251)
    worst = np.max(np.abs(fast(temperatures) - exact(temperatures)))
    # stated to two decimals, so up to half a unit more
    assert worst <= error + 0.005


@pytest.mark.parametrize("name", FIRST_CHECK)
def test_formula_is_alike_on_float_array_and_symbol(name):
    function, given = registry.formulas()[name].function, FIRST_CHECK[name].given
    value = function(**given)
    array = function(**{key: np.array([number, number]) for key, number in given.items()})
    symbols = {key: casadi.SX.sym(key) for key in given}
    traced = casadi.Function("f", list(symbols.values()), [function(**symbols)])
    # the same operations in another order: rounding of double precision
    np.testing.assert_allclose(array, [value, value], rtol=1e-11)
    assert float(traced(*given.values())) == pytest.approx(float(value), rel=1e-11)
