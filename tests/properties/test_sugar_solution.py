"""Density, refraction, enthalpy and saturation: consistency, inverses and traps."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import _iapws

from canewright.properties import (
    brix_corrections,
    crystal,
    density,
    heat,
    inverses,
    massecuite,
    refraction,
    rotation,
    solubility,
    sugar_solution,
    viscosity,
)

SOLIDS = st.floats(0, 85)
WARMTH = st.floats(5, 95)
PURITY = st.floats(30, 100)


@given(SOLIDS, WARMTH)
def test_density_read_backwards_gives_the_solids(solids, temperature):
    there = density.density(solids, temperature)
    # Asked: 1e-9 % mass, far below any instrument.
    assert inverses.brix_from_density(there, temperature) == pytest.approx(solids, abs=1e-9)


@given(SOLIDS, st.floats(10, 40))
def test_refractive_index_read_backwards_gives_the_solids(solids, temperature):
    there = refraction.refractive_index(solids, temperature)
    back = inverses.brix_from_refractive_index(there, temperature)
    # An index carries 16 digits and 1e-3 per %: 1e-9 is far above rounding.
    assert back == pytest.approx(solids, abs=1e-9)


@pytest.mark.parametrize("inverse", ["brix_from_density", "brix_from_refractive_index"])
def test_impossible_readings_are_refused_in_words(inverse):
    with pytest.raises(ValueError, match="belongs to no sugar solution"):
        getattr(inverses, inverse)(1.2)


@given(SOLIDS, WARMTH)
def test_density_rises_with_solids(solids, temperature):
    assert density.density(solids + 1, temperature) > density.density(solids, temperature)


@given(SOLIDS, st.floats(6, 94))
def test_density_falls_with_temperature(solids, temperature):
    assert density.density(solids, temperature + 1) < density.density(solids, temperature)


def test_normal_sugar_solution():
    """26.0160 g in vacuum in 100.000 mL at 20 degC is 23.7017 % mass (ICUMSA definition)."""
    assert 0.237017 * density.density(23.7017, 20.0) == pytest.approx(
        260.16,
        abs=0.001,  # rounding of the percentage
    )


def test_a_published_density_table_is_one_of_relative_density():
    """Table A.1 of a beet handbook prints 1000.00 at 0 % and 1039.98 at 10 % as kg/m3."""
    assert abs(density.density(10.0, 20.0) - 1039.98) > 1.5
    # Rounding of the print.
    assert 1000 * density.relative_density(10.0) == pytest.approx(1039.98, abs=0.015)


@pytest.mark.parametrize(
    ("saturated_at", "solids", "printed"), [(20.0, 67.09, 1332.7), (100.0, 82.97, 1435.9)]
)
def test_published_densities_of_saturated_solutions_are_those_near_15_degrees(
    saturated_at, solids, printed
):
    """Antokolskaya 1964, as printed by Mohos with solids of Herzfeld's type: not a hot magma's."""
    # Solubilities in print scatter by 0.3 % mass, and 0.2 % mass is 1.3 kg/m3.
    assert density.density(solids, 15.0) == pytest.approx(printed, abs=1.3)
    assert density.density(solids, saturated_at) < printed - 2.5


def test_a_spindle_reads_molasses_high():
    """80 % true solids with 12 % ash reads 6.7 above (worked by hand with rounded volumes)."""
    heavy = density.density_with_ash(80.0, 12.0, 20.0)
    reading = inverses.brix_from_density(heavy, 20.0)
    # The hand calculation is 0.9 kg/m3, 0.13 % mass, below.
    assert reading - 80 == pytest.approx(6.7, abs=0.2)


@pytest.mark.parametrize("temperature", [15.0, 20.0, 25.0, 30.0, 40.0])
def test_refractive_index_of_water_against_an_independent_library(temperature):
    library = _iapws._Refractive(density.water_density(temperature), temperature + 273.15, 0.5893)
    # Both follow the IAPWS release; the index of air is the only addition here.
    assert refraction.water_refractive_index(temperature) == pytest.approx(
        library / 1.000272, abs=1e-9
    )


@pytest.mark.parametrize("reading", [0.0, 10.0, 20.0, 40.0, 60.0, 75.0])
@pytest.mark.parametrize("temperature", [10.0, 15.0, 25.0, 30.0, 40.0])
def test_refractometer_correction_follows_the_model(reading, temperature):
    index = refraction.refractive_index(reading, 20.0)
    exact = inverses.brix_from_refractive_index(index, temperature) - reading
    # Error of the fit: 0.012 is stated; 0.02 is the uncertainty of the correction.
    assert brix_corrections.refractometer_correction(reading, temperature) == pytest.approx(
        exact, abs=0.013
    )


@pytest.mark.parametrize("reading", [0.0, 5.0, 15.0, 25.0, 45.0, 65.0])
@pytest.mark.parametrize("temperature", [15.0, 25.0, 30.0, 45.0])
def test_spindle_correction_follows_the_density(reading, temperature):
    floated = density.density(reading, 20.0) / (1 + 25e-6 * (temperature - 20))
    exact = inverses.brix_from_density(floated, temperature) - reading
    # Error of the fit, as stated.
    assert brix_corrections.spindle_correction(reading, temperature) == pytest.approx(
        exact, abs=0.013
    )


@given(st.floats(0, 65), st.floats(15, 40))
def test_readings_and_corrections_are_inverse(brix, temperature):
    for instrument in ("refractometer", "spindle"):
        reading = getattr(brix_corrections, f"{instrument}_reading")(brix, temperature)
        added = getattr(brix_corrections, f"{instrument}_correction")(reading, temperature)
        # A root of a quadratic: rounding only.
        assert reading + added == pytest.approx(brix, abs=1e-10)


@given(st.floats(1, 25))
def test_short_schmitz_factor_follows_the_definition(brix):
    # The stated error of the fit, largest at 1 Brix.
    assert rotation.schmitz_factor_short(brix) == pytest.approx(
        rotation.schmitz_factor(brix), abs=2.5e-6
    )


@given(PURITY, st.floats(20, 95))
def test_a_liquor_at_its_saturation_brix_is_just_saturated(purity, temperature):
    solids = solubility.saturation_brix(purity, temperature)
    # Algebra: rounding only.
    assert solubility.supersaturation(solids, purity, temperature) == pytest.approx(1, abs=1e-11)


@given(st.floats(60, 85), PURITY, st.floats(30, 90))
def test_cooling_and_concentrating_raise_supersaturation(solids, purity, temperature):
    here = solubility.supersaturation(solids, purity, temperature)
    assert solubility.supersaturation(solids + 1, purity, temperature) > here
    assert solubility.supersaturation(solids, purity, temperature - 1) > here


def test_cane_lowers_and_beet_raises_the_solubility():
    for ratio in (0.5, 1.0, 2.0, 3.0):
        assert solubility.saturation_coefficient(ratio) < 1
    for ratio in (1.0, 2.0, 3.0):
        assert solubility.saturation_coefficient_exponential(ratio) > 1


@pytest.mark.parametrize(
    ("temperature", "printed", "likely"), [(15, 66.53, 66.33), (65, 75.88, 75.18)]
)
def test_misprints_of_the_solubility_table(temperature, printed, likely):
    """Table of Herzfeld's type: the likely figure lies nearer to the equation than the print."""
    exact = solubility.solubility(temperature)
    assert abs(likely - exact) < abs(printed - exact)


@given(st.floats(0, 90), PURITY, st.floats(5, 120))
def test_specific_heat_is_the_slope_of_the_enthalpy(solids, purity, temperature):
    step = 0.01
    slope = (
        heat.solution_enthalpy(solids, purity, temperature + step)
        - heat.solution_enthalpy(solids, purity, temperature - step)
    ) / (2 * step)
    # Along saturation the pressure rises too: v dp is 0.004 kJ/(kg.K) at 120 degC.
    assert heat.specific_heat(solids, purity, temperature) == pytest.approx(slope, abs=0.005)


@given(st.floats(30, 95), st.floats(40, 100), st.floats(20, 90))
def test_crystallising_releases_the_heat_of_crystallisation(solids, purity, temperature):
    """A kg of sucrose leaves the liquor: enthalpy of the whole falls by L, for any purity."""
    sucrose, formed = solids * purity / 100, 1.0
    left_solids = 100 * (solids - formed) / (100 - formed)
    left_purity = 100 * (sucrose - formed) / (solids - formed)
    before = 100 * heat.solution_enthalpy(solids, purity, temperature)
    after = 100 * massecuite.massecuite_enthalpy(formed, left_solids, left_purity, temperature)
    # Exact algebra of the additive form: rounding only.
    assert before - after == pytest.approx(
        formed * heat.heat_of_crystallisation(temperature), abs=1e-8
    )


def test_enthalpies_imply_a_heat_of_crystallisation_inside_the_published_range():
    assert 10 < heat.HEAT_AT_25 < 17  # kJ/kg, handbooks


@given(st.floats(1, 70), st.floats(1350, 1500))
def test_massecuite_lies_between_liquor_and_crystal(crystal_percent, liquor):
    mixture = massecuite.massecuite_density(crystal_percent, liquor)
    assert liquor < mixture < crystal.crystal_density()
    by_volume = massecuite.crystal_volume_percent(crystal_percent, liquor)
    # A sum of two parts: rounding only.
    parts = by_volume * crystal.crystal_density() + (100 - by_volume) * liquor
    assert parts == pytest.approx(100 * mixture, rel=1e-12)


def test_crystal_density_from_the_unit_cell():
    """Cell 10.863, 8.705, 7.758 angstrom, 102.94 degrees, two molecules of 342.3 g/mol."""
    volume = 10.863 * 8.705 * 7.758 * math.sin(math.radians(102.94)) * 1e-30
    by_x_rays = 2 * 342.3e-3 / 6.02214076e23 / volume
    # Handbooks scatter from 1587 to 1588, the cell has no inclusions.
    assert crystal.crystal_density() == pytest.approx(by_x_rays, abs=4)


@given(st.floats(20, 80), st.floats(10, 78))
def test_viscosity_rises_with_solids_and_falls_with_temperature(solids, temperature):
    here = viscosity.sucrose_viscosity(solids, temperature)
    assert viscosity.sucrose_viscosity(solids + 1, temperature) > here
    assert viscosity.sucrose_viscosity(solids, temperature + 1) < here
    assert viscosity.viscosity(solids, 80.0, temperature, 0.02) > here


def test_everything_gathered_is_defined_elsewhere_and_registered():
    for name in sugar_solution.__all__:
        assert getattr(sugar_solution, name).__module__ != sugar_solution.__name__
