"""Moist air against an independent library, and alike on float, array and symbol."""

import casadi
import numpy as np
import psychrolib
import pytest

from canewright import registry
from canewright.properties import moist_air

psychrolib.SetUnitSystem(psychrolib.SI)
PASCAL = 101325.0
FIRST_CHECK = {
    check.formula: check for check in registry.checks() if check.formula.startswith("moist_air.")
}
STATES = [(float(t), float(rh)) for t in (10, 25, 40, 55, 70, 90) for rh in (12, 35, 60, 85, 100)]
STATES_OF_A_WET_BULB = [state for state in STATES if moist_air.humidity_ratio(*state) <= 250.0]
# the library uses another saturation line, 0.03 % from IF97 in the range; near 100 degC
# the share of vapour in the mixture magnifies that
SATURATION_LINES = 4e-4


@pytest.mark.parametrize(("temperature", "relative"), STATES)
def test_states_agree_with_the_library(temperature, relative):
    theirs = 1000 * psychrolib.GetHumRatioFromRelHum(temperature, relative / 100, PASCAL)
    share = 1 + theirs / 621.945
    ours = moist_air.humidity_ratio(temperature, relative)
    assert ours == pytest.approx(theirs, rel=SATURATION_LINES * share)
    assert moist_air.relative_humidity(temperature, ours) == pytest.approx(
        relative,
        rel=1e-12,  # its own inverse: rounding
    )
    # the same straight equations; the gas constants are quoted to six figures
    assert moist_air.enthalpy(temperature, theirs) == pytest.approx(
        psychrolib.GetMoistAirEnthalpy(temperature, theirs / 1000) / 1000, rel=1e-9
    )
    assert moist_air.specific_volume(temperature, theirs) == pytest.approx(
        psychrolib.GetMoistAirVolume(temperature, theirs / 1000, PASCAL), rel=1e-5
    )


@pytest.mark.parametrize(("temperature", "relative"), STATES_OF_A_WET_BULB)
def test_wet_bulb_and_dew_point_agree_with_the_library(temperature, relative):
    ratio = psychrolib.GetHumRatioFromRelHum(temperature, relative / 100, PASCAL)
    wet = psychrolib.GetTWetBulbFromHumRatio(temperature, ratio, PASCAL)
    dew = psychrolib.GetTDewPointFromHumRatio(temperature, ratio, PASCAL)
    if wet > 0.0:
        # the library stops its search within 0.001 K; saturation lines differ by 0.01 K
        assert moist_air.wet_bulb(temperature, 1000 * ratio) == pytest.approx(wet, abs=0.012)
    if dew > 0.0:
        assert moist_air.dew_point(1000 * ratio) == pytest.approx(dew, abs=0.012)


@pytest.mark.parametrize(("temperature", "relative"), STATES_OF_A_WET_BULB)
def test_wet_bulb_solves_its_equation(temperature, relative):
    ratio = moist_air.humidity_ratio(temperature, relative)
    back = moist_air.humidity_ratio_by_wet_bulb(temperature, moist_air.wet_bulb(temperature, ratio))
    # 0.001 K stated for the unrolled steps is worth 1e-4 of the ratio at the most
    assert back == pytest.approx(ratio, rel=1e-4, abs=1e-3)


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
