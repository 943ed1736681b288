"""Crystal population, cooling, curing and drying against numbers worked another way."""

import math

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from canewright.laws import cooling_crystallisers as cooling
from canewright.laws import crystal_population as population
from canewright.laws import crystallisation as crystals
from canewright.laws import curing, settling
from canewright.laws import sugar_drying as drying
from canewright.properties import moist_air, solubility


def test_stirred_vessel_against_its_integral():
    nuclei, growth, time, shape, density = 1e12, 1e-4, 2.0, 0.693, 1588.0
    scale = growth * time

    def third(multiple):
        size = multiple * scale
        population_there = population.stirred_vessel_population(nuclei, size, growth, time)
        return size**3 * population_there * scale

    number = integrate.quad(third, 0, 80)[0]
    got = population.stirred_vessel_density(nuclei, growth, time, shape, density)
    assert got == pytest.approx(shape * density * number, rel=1e-8)  # accuracy of quadrature


def test_stirred_vessel_spread_by_mass():
    # mass is gamma of shape 4: std/mean 50 % exactly; from sieves 51.9 % (printed to 0.1)
    mass = stats.gamma(4)
    assert 100 * mass.std() / mass.mean() == pytest.approx(50.0, abs=1e-9)  # identity
    low, middle, high = mass.ppf([0.16, 0.5, 0.84])
    assert population.sieve_variation(low, high, middle) == pytest.approx(51.9, abs=0.05)
    dominant = optimize.minimize_scalar(lambda x: -mass.pdf(x), bounds=(1, 6), method="bounded").x
    # tolerance of the minimiser
    assert population.stirred_vessel_dominant_size(1.0, 1.0) == pytest.approx(dominant, abs=1e-4)


def test_moments_after_growth_against_the_crystals_themselves():
    sizes = np.array([0.1, 0.2, 0.35, 0.5])
    moments = [float(np.sum(sizes**power)) for power in range(4)]
    first = population.first_moment_after_growth(*moments[:2], 0.4)
    second = population.second_moment_after_growth(*moments[:3], 0.4)
    assert first == pytest.approx(float(np.sum(sizes + 0.4)), rel=1e-12)  # identity
    assert second == pytest.approx(float(np.sum((sizes + 0.4) ** 2)), rel=1e-12)  # identity
    got = population.third_moment_after_growth(*moments, 0.4)
    assert got == pytest.approx(float(np.sum((sizes + 0.4) ** 3)), rel=1e-12)  # identity


def test_number_balance_of_the_seed_rule():
    # 160 g seed, 35 % crystal, 1.5 t/m3, 0.18 mm: 2.6 um for 100 m3, 5.6 um for 10 m3
    for volume, micrometres in ((100.0, 2.6), (10.0, 5.6)):
        product = volume * 1.5 * 0.35
        size = 0.18 * (160e-6 / product) ** (1 / 3)
        assert 1000 * size == pytest.approx(micrometres, abs=0.05)  # printed to one decimal
        seed = population.seed_mass(product, size, 0.18)
        assert seed == pytest.approx(160e-6, rel=1e-9)  # the inverse


def test_double_purge_split():
    ratio = crystals.cross_ratio(79.0, 92.0, 62.0)
    # affined solids 0.5667 of feed, printed to four decimals
    assert ratio / (1 + ratio) == pytest.approx(0.5667, abs=0.00005)


def test_cooling_curve_limits():
    time = np.array([25.0, 50.0, 75.0])
    straight = cooling.seeded_cooling_curve(time, 1.0001)
    cubic = cooling.seeded_cooling_curve(time, 1e6)
    assert straight == pytest.approx(time, abs=0.01)  # r near 1: linear
    assert cubic == pytest.approx(time**3 / 1e4, abs=0.001)  # r large: the cube of time


def test_residence_time_of_tanks_against_the_gamma_distribution():
    for tanks in (1, 3, 10):
        exact = 100 * stats.gamma(tanks, scale=1 / tanks).cdf(0.5)
        # the same distribution from a library: rounding only
        assert cooling.leaving_before_half_time(tanks) == pytest.approx(exact, abs=1e-9)


def test_wash_costs_crystal_as_printed():
    sucrose = curing.wash_dissolved_sucrose(2.0, 80.0, 3.690)
    assert 100 * sucrose / 52.0 == pytest.approx(11.35, abs=0.005)  # printed to two decimals


def test_doubling_spin_time_cuts_the_film_by_root_two():
    one = curing.residual_film(500.0, 0.15, 1400.0, 1000.0, 60.0)
    two = curing.residual_film(500.0, 0.15, 1400.0, 1000.0, 120.0)
    assert one / two == pytest.approx(math.sqrt(2.0), rel=1e-12)  # identity


@pytest.mark.parametrize(
    ("temperature", "printed"), [(20.0, 0.853), (25.0, 0.847), (40.0, 0.823), (60.0, 0.776)]
)
def test_water_activity_of_saturated_syrup(temperature, printed):
    sucrose = solubility.solubility(temperature)
    got = drying.syrup_water_activity(sucrose, 0.0, 100.0 - sucrose)
    assert got / 100 == pytest.approx(printed, abs=0.0006)  # printed to three decimals


def test_dryer_exit_air_closes():
    air = drying.dryer_air(30.0, 1.0, 0.05, 55.0, 50.0, 90.0, 55.0, 18.8)
    water = drying.dryer_evaporation(30.0, 1.0, 0.05)
    humidity = 0.0188 + water / air
    assert humidity == pytest.approx(0.03997, abs=0.00001)  # printed to five decimals
    # 38.8 % printed to 0.1, vapour pressure fits differ by 0.1
    assert moist_air.relative_humidity(55.0, 1000.0 * humidity) == pytest.approx(38.8, abs=0.15)


def test_limiting_flux_against_a_search():
    for underflow, flux in ((60.0, 29.18), (80.0, 11.47)):

        def total(c, underflow=underflow):
            velocity = settling.exponential_velocity(6.0, c, 0.08)
            # flux by settling and withdrawal that reaches the underflow
            return velocity * c / (1.0 - c / underflow)

        found = optimize.minimize_scalar(
            total, bounds=(25.5, underflow * 0.999), method="bounded", options={"xatol": 1e-9}
        )
        got = settling.limiting_flux(6.0, underflow, 0.08)
        assert got == pytest.approx(found.fun, rel=1e-5)  # stated: agrees to five digits
        assert got == pytest.approx(flux, abs=0.005)  # printed to two decimals


def test_thickening_area_of_the_worked_thickener():
    layers = np.linspace(1.0, 7.99, 20000)
    velocity = 9.0 * np.exp(-80.0 * layers / 100.0)
    area = settling.thickening_area(300.0, 1.0, layers, 8.0, velocity)
    interior = layers > 3.0
    # 174.39 m2 printed to two decimals, at c 0.0645; a grid of 0.00035 % costs below 0.01
    assert area[interior].max() == pytest.approx(174.39, abs=0.01)
    assert layers[interior][area[interior].argmax()] == pytest.approx(6.45, abs=0.01)
    assert area[0] == pytest.approx(64.91, abs=0.01)  # the clarification limit at the feed
