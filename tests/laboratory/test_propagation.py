"""Uncertainty from raw readings: against drawing them anew, and against published examples."""

import math
import subprocess
import sys

import numpy as np
import pytest

from canewright.laboratory.drawing import (
    agreement_tolerance,
    compare,
    linear_agrees,
    monte_carlo,
)
from canewright.laboratory.method import Method, RawInput, Step, methods
from canewright.laboratory.propagation import (
    correlated,
    effective_degrees_of_freedom,
    propagate,
)
from tests.laboratory.bench_sheet import SHEETS


def made_up(steps, **inputs):
    """A method for a test: each input a spread, a shape and a shared source."""
    raw = tuple(
        RawInput(name, name, "1", -1e9, 1e9, uncertainty=spread, shape=shape, shared=shared)
        for name, (spread, shape, shared) in inputs.items()
    )
    return Method(
        "made_up", "made up", "", "1", (), raw,
        lambda values: [Step("result", steps(values), "1", "own_derivation")],
        "own_derivation", "test", "derived",
    )  # fmt: skip


def test_every_method_has_a_row_on_the_bench_sheet():
    assert set(SHEETS) == set(methods())


@pytest.mark.parametrize("name", SHEETS)
def test_the_linear_law_agrees_with_drawing_the_raw_readings(name):
    compared = compare(methods()[name], SHEETS[name])
    assert compared.drawn.lost == 0
    # The project's claim for near linear methods, 3 %; drawing itself is off by 0.16 %.
    assert compared.linear == pytest.approx(compared.drawn.uncertainty, rel=0.03)
    assert compared.near_linear


@pytest.mark.parametrize("name", ["pol_of_juice", "brix_of_juice", "colour", "fibre_of_cane"])
def test_many_determinations_at_once_are_each_as_one_alone(name):
    method, sheet = methods()[name], SHEETS[name]
    first = next(iter(sheet))
    several = np.array([0.98, 1.0, 1.01]) * sheet[first]
    together = propagate(method, {**sheet, first: several}, published=False)
    for k, value in enumerate(several):
        alone = propagate(method, {**sheet, first: float(value)}, published=False)
        # The same arithmetic on arrays: rounding, magnified by the differences of the slopes.
        assert together.value[k] == pytest.approx(alone.value[0], rel=1e-12)
        assert together.uncertainty[k] == pytest.approx(alone.uncertainty[0], rel=1e-7)


def test_a_linear_method_gives_the_textbook_sum_of_squares():
    method = made_up(
        lambda v: 2 * v["one"] - 3 * v["other"],
        one=(0.3, "normal", ""), other=(0.2, "rectangular", ""),
    )  # fmt: skip
    found = propagate(method, {"one": 5.0, "other": 1.0})
    # (2 x 0.3)^2 + (3 x 0.2)^2 = 0.72; the slopes come from differences, good to 1e-9.
    assert found.uncertainty[0] == pytest.approx(math.sqrt(0.72), rel=1e-9)
    assert found.contributions["other"][0] == pytest.approx(-0.6, rel=1e-9)


def test_what_is_shared_adds_with_its_sign():
    method = made_up(
        lambda v: v["gross"] - v["tare"], gross=(0.05, "normal", "balance"),
        tare=(0.05, "normal", "balance"),
    )  # fmt: skip
    found = propagate(method, {"gross": 50.0, "tare": 10.0})
    # The balance's error cancels; slopes by differences leave rounding of 50/0.005.
    assert found.uncertainty[0] == pytest.approx(0.0, abs=1e-9)
    # Drawn, the two move together: rounding of 50 only.
    assert monte_carlo(method, {"gross": 50.0, "tare": 10.0}).uncertainty < 1e-12


def test_a_reading_of_nought_known_to_a_percentage_is_certain():
    raw = RawInput("sugars", "", "%", 0, 10, uncertainty=5.0, relative=True, shared="")
    method = Method(
        "made_up", "made up", "", "1", (), (raw,),
        lambda v: [Step("result", 3 * v["sugars"], "1", "own_derivation")],
        "own_derivation", "test", "derived",
    )  # fmt: skip
    found = propagate(method, {"sugars": np.array([0.0, 2.0])})
    # 3 x 5 % of 2; slopes by differences.
    assert found.uncertainty == pytest.approx([0.0, 0.3], rel=1e-9)


@pytest.mark.published
def test_four_rectangular_errors_give_the_published_interval():
    # JCGM 101:2008, 9.2.3: Y = X1 + X2 + X3 + X4, each rectangular of standard deviation 1:
    # u = 2.0 and the 95 % interval -3.88 to 3.88, where the linear law has -3.92 to 3.92.
    inputs = {f"x{k}": (1.0, "rectangular", "") for k in range(4)}
    method = made_up(lambda v: sum(v.values()), **inputs)
    zero = dict.fromkeys(inputs, 0.0)
    drawn = monte_carlo(method, zero, draws=1_000_000)
    # Half the last digit printed and four standard errors: of u 0.0014 each, of a quantile
    # 0.0053 each.
    assert drawn.uncertainty == pytest.approx(2.0, abs=0.006)
    assert (drawn.low, drawn.high) == pytest.approx((-3.88, 3.88), abs=0.005 + 0.021)
    linear = propagate(method, zero)
    assert linear.uncertainty[0] == pytest.approx(2.0, rel=1e-9)  # slopes by differences
    # The ends differ by 0.04: inside the tolerance of one digit, 0.5, not of three, 0.005.
    assert linear_agrees(0.0, 2.0, drawn, digits=1)
    assert not linear_agrees(0.0, 2.0, drawn, digits=3)


@pytest.mark.published
def test_the_tolerance_of_the_comparison_is_the_published_one():
    # JCGM 101:2008, 7.9.2: u = 0.00035 with two digits: 35 x 10^-5, tolerance 0.5 x 10^-5;
    # u = 2 K with one digit: 0.5 K. Rounding only.
    assert agreement_tolerance(0.00035, 2) == pytest.approx(0.000005)
    assert agreement_tolerance(2.0, 1) == pytest.approx(0.5)


@pytest.mark.published
def test_effective_degrees_of_freedom_of_the_end_gauge():
    # JCGM 100:2008, H.1.6: 25, 9.7, 2.9 and 16.6 nm with 18, 25.6, 50 and 2 degrees of
    # freedom give 16, truncated.
    found = effective_degrees_of_freedom([25, 9.7, 2.9, 16.6], [18, 25.6, 50, 2])
    assert math.floor(found) == 16
    assert effective_degrees_of_freedom([1.0, 2.0], [math.inf, math.inf]) == math.inf


def test_where_a_method_is_not_linear_the_drawn_uncertainty_is_reported():
    weak = {"at_ph_9": 0.062, "at_ph_4": 0.012}
    compared = compare(methods()["indicator_value"], weak)
    assert not compared.near_linear
    assert compared.uncertainty == compared.drawn.uncertainty
    low, high = compared.interval
    # A quotient of a small number is skewed upward.
    assert high - compared.value > 1.3 * (compared.value - low)


def test_the_published_precision_is_taken_and_split_into_what_is_common():
    method = methods()["pol_of_white_sugar"]
    found = propagate(method, SHEETS["pol_of_white_sugar"])
    # ICUMSA GS2-1: r 0.066, R 0.094 Z; s = limit/2.8. Rounding only.
    assert found.basis == ("published precision",)
    assert found.uncertainty[0] == pytest.approx(0.094 / 2.8, rel=1e-9)
    assert found.own[0] == pytest.approx(0.066 / 2.8, rel=1e-9)
    # laboratory reference, section 8: laboratory bias sqrt(R^2 - r^2)/2.8.
    bias = found.shared["laboratory's bias in pol_of_white_sugar"][0]
    assert bias == pytest.approx(math.sqrt(0.094**2 - 0.066**2) / 2.8, rel=1e-9)
    assert found.from_raw_readings[0] == pytest.approx(
        propagate(method, SHEETS["pol_of_white_sugar"], published=False).uncertainty[0]
    )


def test_the_published_precision_follows_the_level_of_the_result():
    sheet = {**SHEETS["colour"], "absorbance": np.array([0.0123, 0.0615, 0.184, 0.492])}
    found = propagate(methods()["colour"], sheet)
    # 20, 100, 300 and 800 IU: below 50 IU nothing is published (laboratory reference, section
    # 8: R 18, 68 and 140 IU from 50, 200 and 500 IU on). Rounding only.
    assert found.basis == ("raw readings", *["published precision"] * 3)
    assert found.uncertainty[1:] == pytest.approx([18 / 2.8, 68 / 2.8, 140 / 2.8], rel=1e-9)


def test_an_uncertainty_of_ones_own_replaces_that_of_the_method():
    sheet = SHEETS["apparent_purity"]
    # laboratory reference, section 2: 12.00 +/- 0.03, 14.20 +/- 0.05 -> 84.51 +/- 0.36.
    plain = propagate(
        methods()["apparent_purity"], sheet, uncertainties={"pol": 0.03, "brix": 0.05}
    )
    # Half the last digit printed.
    assert plain.value[0] == pytest.approx(84.51, abs=0.005)
    assert plain.uncertainty[0] == pytest.approx(0.36, abs=0.005)
    worse = propagate(methods()["apparent_purity"], sheet, uncertainties={"brix": 0.10})
    assert worse.uncertainty[0] > plain.uncertainty[0]


def test_a_missing_reading_is_named():
    with pytest.raises(KeyError, match="brix"):
        propagate(methods()["pol_of_juice"], {"rotation": 48.0})


DAY = ["brix_of_juice", "brix_of_syrup", "pol_of_juice", "pol_of_syrup"]


def drawn_together(names, draws=200_000):
    """Results of several methods, whatever they share drawn once for all of them."""
    random = np.random.default_rng(41)
    shared = {}
    results = []
    for name in names:
        method = methods()[name]
        drawn = {}
        for key, value in method.filled(SHEETS[name]).items():
            raw = method.input(key)
            # Covariances do not ask for the shape: all are drawn as normal.
            standard = random.standard_normal(draws)
            if raw.shared:
                standard = shared.setdefault(raw.shared, standard)
            drawn[key] = value + raw.standard_uncertainty(value) * standard
        noise = method.sampling * random.standard_normal(draws)
        results.append(method.result(drawn) + noise)
    return np.array(results)


def test_the_covariance_of_a_day_is_that_of_drawing_it():
    day = correlated([propagate(methods()[name], SHEETS[name], published=False) for name in DAY])
    drawn = np.cov(drawn_together(DAY))
    size = np.sqrt(np.outer(np.diag(drawn), np.diag(drawn)))
    # Standard error of a covariance: sd sd sqrt((1 + rho^2)/n), at most 0.32 %; five of them,
    # with the curvature of the methods below that.
    assert np.abs(day.covariance - drawn).max() < np.abs(0.016 * size).max()
    assert (np.abs(day.covariance - drawn) <= 0.016 * size).all()
    correlation = day.correlation
    # One thermometer stands in the refractometer, another beside the polarimeter.
    assert correlation[0, 1] > 0.05
    assert correlation[2, 3] > 0
    assert np.diag(correlation) == pytest.approx(1.0)  # rounding


def test_analyses_that_share_nothing_do_not_lean_on_each_other():
    groups = [
        propagate(methods()[name], SHEETS[name])
        for name in ("moisture_of_sugar", "settling_rate", "alkalinity")
    ]
    correlation = correlated(groups).correlation
    assert np.array_equal(correlation - np.diag(np.diag(correlation)), np.zeros((3, 3)))


def test_a_shared_error_does_not_average_out():
    method = methods()["brix_of_syrup"]
    many = propagate(method, {"reading": np.full(100, 60.0), "temperature": 27.0}, published=False)
    day = correlated([many])
    of_mean = day.of_sum(np.full(100, 0.01))
    common = math.sqrt(sum(part[0] ** 2 for part in many.shared.values()))
    # Worked by hand: own/sqrt(100) and the common part whole; rounding only.
    assert of_mean == pytest.approx(math.hypot(many.own[0] / 10, common), rel=1e-9)
    weights = np.full(100, 0.01)
    assert of_mean == pytest.approx(math.sqrt(weights @ day.covariance @ weights), rel=1e-9)


def test_no_analyses_have_an_empty_covariance():
    day = correlated([])
    assert day.covariance.shape == (0, 0)


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda: agreement_tolerance(0.0), "above zero"),
        (lambda: effective_degrees_of_freedom([1.0], []), "Each contribution"),
        (lambda: effective_degrees_of_freedom([1.0], [0.0]), "above zero"),
        (
            lambda: monte_carlo(
                made_up(lambda v: np.log(-np.abs(v["x"]) - 1), x=(0.1, "normal", "")), {"x": 1.0}
            ),
            "No draw",
        ),
    ],
)
def test_what_cannot_be_propagated_is_refused_in_words(make, told):
    with pytest.raises(ValueError, match=told):
        make()


def test_the_laboratory_starts_without_solver_or_statistics_library():
    modules = (
        "propagation",
        "drawing",
        "lots",
        "together",
        "standing",
        "determinations",
        "duplicates",
        "check_samples",
        "chart_drawing",
        "instruments",
        "method",
    )
    imports = "; ".join(f"import canewright.laboratory.{name}" for name in modules)
    listed = subprocess.run(
        [sys.executable, "-c", f"{imports}; import sys; print(*sys.modules)"],
        check=True, capture_output=True, text=True,
    ).stdout.split()  # fmt: skip
    assert not {"casadi", "scipy", "pint"} & set(listed)
