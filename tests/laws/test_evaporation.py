"""Evaporation laws: examples from end to end, and identities that must hold."""

import numpy as np
import pytest

from canewright.laws import evaporation, heat_transfer
from canewright.properties import boiling_point, density, heat, steam


def celsius(fahrenheit):
    return (fahrenheit - 32.0) / 1.8


@pytest.mark.parametrize(
    ("solids", "pressure", "depth", "rise"),
    [
        (20.0, 1.5, 0.5, 0.996),
        (30.0, 1.0, 0.5, 1.452),
        (45.0, 0.5, 0.5, 2.725),
        (62.0, 0.15, 0.25, 3.987),
        (62.0, 0.15, 0.5, 7.424),
    ],
)
def test_hydrostatic_rise_with_the_density_of_the_liquor(solids, pressure, depth, rise):
    saturation = steam.saturation_temperature(pressure)
    elevation = boiling_point.boiling_point_elevation(solids, 100.0, saturation)
    liquor = density.density(solids, saturation + elevation)
    found = evaporation.hydrostatic_rise(pressure, liquor, depth)
    # worked with the same density and elevation equations, printed to 0.001
    assert found == pytest.approx(rise, abs=0.001)


def test_juice_flash_closes_the_heat_balance_with_solution_enthalpies():
    # 15 Brix, purity 85, from 104 degC to atmospheric pressure: 0.656 %, worked with the
    # elevation of pure sucrose
    saturation = steam.saturation_temperature(1.01325)
    elevation = boiling_point.boiling_point_elevation(15.0, 100.0, saturation)
    boiling = saturation + elevation
    flash = evaporation.juice_flash(heat.specific_heat(15.0, 85.0, 102.0), 104.0, boiling)
    left = 100.0 - flash
    after = evaporation.solids_after_evaporation(15.0, flash)
    into = 100.0 * heat.solution_enthalpy(15.0, 85.0, 104.0)
    vapour = steam.vapour_enthalpy(saturation) + 1.95 * elevation
    out = left * heat.solution_enthalpy(after, 85.0, boiling) + flash * vapour
    assert flash == pytest.approx(0.656, abs=0.003)  # first order in the flash: 0.5 %
    # 0.003 % of juice times the latent heat
    assert into == pytest.approx(out, abs=0.003 * 2257.0)


def test_direct_contact_heating_closes_the_heat_balance():
    cold = heat.solution_enthalpy(15.0, 85.0, 75.0)
    hot = heat.solution_enthalpy(15.0, 85.0, 95.0)
    vapour_enthalpy = steam.vapour_enthalpy(103.0)
    vapour = evaporation.direct_contact_vapour(
        400.0, cold, hot, vapour_enthalpy, steam.liquid_enthalpy(95.0)
    )
    diluted = 15.0 * 400.0 / (400.0 + vapour)
    into = 400.0 * cold + vapour * vapour_enthalpy
    out = (400.0 + vapour) * heat.solution_enthalpy(diluted, 85.0, 95.0)
    assert vapour == pytest.approx(13.70, abs=0.006)  # printed to 0.01
    assert diluted == pytest.approx(14.503, abs=0.001)  # printed to 0.001
    # water in the additive enthalpy is IF97's at 1 bar or at saturation: 0.02 kJ/kg
    assert into == pytest.approx(out, rel=5e-5)


def test_bleed_saving_is_the_slope_of_the_identity():
    for effects in (3.0, 4.0, 5.0):
        for place in range(1, int(effects) + 1):
            bleeds = [0.0] * 5
            bleeds[place - 1] = 10.0
            extra = evaporation.ideal_steam(80.0, effects, *bleeds) - 80.0 / effects
            saved = evaporation.bleed_saving(10.0, place, effects)
            # an identity: rounding only
            assert 10.0 - extra == pytest.approx(saved, abs=1e-12)


def test_condenser_closes_its_heat_balance():
    vapour = steam.vapour_enthalpy(steam.saturation_temperature(0.12))
    ratio = evaporation.condenser_water(vapour, 45.0, 32.0)
    into = vapour + ratio * evaporation.WATER_HEAT * 32.0
    # an identity: rounding only
    assert into == pytest.approx((1.0 + ratio) * evaporation.WATER_HEAT * 45.0, rel=1e-12)
    assert ratio == pytest.approx(44.1, abs=0.05)  # printed to 0.1


def test_one_constant_fits_six_printed_coefficients_and_older_laws_do_not():
    """Kern 1950, example 14.4: the six bodies of a quintuple with two first bodies."""
    bodies = [
        (15.7, 274, 251, 2.71),
        (19.4, 274, 251, 2.41),
        (25.5, 250, 229, 1.76),
        (34.0, 227, 207, 1.50),
        (46.5, 205, 185, 1.24),
        (60.2, 181, 154, 0.784),
    ]
    solids, heating, boiling, printed = np.array(bodies).T
    heating, boiling = celsius(heating), celsius(boiling)
    fitted = printed / heat_transfer.body_coefficient(1.0, solids, boiling)
    assert np.mean(fitted) == pytest.approx(2.19e-4, abs=0.01e-4)  # printed to 0.01e-4
    assert np.std(fitted, ddof=1) == pytest.approx(0.17e-4, abs=0.02e-4)  # printed to 0.01e-4

    def worst(coefficients):
        return np.max(np.abs(coefficients / printed - 1.0))

    best = worst(heat_transfer.body_coefficient(2.2e-4, solids, boiling))
    assert best < 0.17
    assert worst(heat_transfer.body_coefficient_inverse(solids, boiling)) > 0.30
    assert worst(heat_transfer.body_coefficient_dessin(solids, heating, boiling)) > 0.70


def test_heater_by_mean_difference_and_by_exponential_is_one_heater():
    inlet, heating, coefficient, surface, capacity = 35.0, 105.0, 0.7, 104.829, 381.0
    outlet = heat_transfer.heated_temperature(heating, inlet, coefficient, surface, capacity)
    mean = heat_transfer.log_mean_difference(heating, inlet, outlet)
    needed = heat_transfer.surface_needed(capacity * (outlet - inlet), coefficient, mean)
    # an identity: rounding only
    assert needed == pytest.approx(surface, rel=1e-9)


@pytest.mark.parametrize(("growth", "start", "stop"), [(0.002, 0.16, 12.0), (0.0015, 0.1111, 16.0)])
def test_best_run_is_where_a_search_finds_it(growth, start, stop):
    runs = np.linspace(20.0, 200.0, 180_001)
    means = heat_transfer.mean_coefficient(growth, start, stop, runs)
    searched = runs[np.argmax(means)]
    # grid of 0.001 h, and the top is flat: double precision sees it to some 0.001 h
    assert heat_transfer.best_run(growth, start, stop) == pytest.approx(searched, abs=0.005)


def test_scale_of_a_fifth_is_worse_in_the_last_body():
    first = heat_transfer.fouling_resistance(2.0, 1.6)
    last = heat_transfer.fouling_resistance(0.75, 0.6)
    assert last > 2.5 * first
