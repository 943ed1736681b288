"""Net content: the tables of the texts, the plans, the worked lots, the arithmetic."""

import itertools
import math
import random

import numpy as np
import pytest
from scipy import optimize, stats

from canewright import registry
from canewright.laws import net_content, packing

TABLE = [
    # nominal g, tolerable deficiency g
    (200.0, 9.0),
    (250.0, 9.0),
    (350.0, 10.5),
    (1000.0, 15.0),
    (2000.0, 30.0),
    (5000.0, 75.0),
    (10000.0, 150.0),
    (25000.0, 250.0),
    (50000.0, 500.0),
]


@pytest.mark.published
@pytest.mark.parametrize("edition", ["nz_weights_1999", "oiml_r87"])
@pytest.mark.parametrize(("nominal", "deficiency"), TABLE)
def test_tolerable_deficiency_of_the_table(nominal, deficiency, edition):
    # 1e-9: rounding of the machine in the step of 0.1 g
    got = net_content.tolerable_deficiency(nominal, edition)
    assert got == pytest.approx(deficiency, abs=1e-9)


def test_percentages_round_up_by_edition():
    # 3 % of 333 g is 9.99 g; 1.5 % of 1 234 g is 18.51 g
    italian, r87 = "italian_decree_690_1978", "oiml_r87"
    assert net_content.tolerable_deficiency(333.0, italian) == pytest.approx(10.0, abs=1e-9)
    assert net_content.tolerable_deficiency(1234.0, italian) == pytest.approx(18.6, abs=1e-9)
    assert net_content.tolerable_deficiency(1234.0, r87) == pytest.approx(19.0, abs=1e-9)


def test_an_edition_answers_only_what_was_read_of_it():
    with pytest.raises(ValueError, match="outside the table of directive_76_211_eec"):
        net_content.tolerable_deficiency(2000.0, "directive_76_211_eec")
    with pytest.raises(KeyError, match="Choose one of"):
        net_content.tolerable_deficiency(2000.0, "somewhere")
    with pytest.raises(ValueError, match="outside the table"):
        net_content.tolerable_deficiency(0.0, "oiml_r87")


def test_bands_join_without_a_gap():
    data = net_content._data()["band"]
    for lower, upper in itertools.pairwise(data):
        assert lower["to"] == upper["above"]


def test_every_edition_is_in_the_bibliography():
    keys = set(net_content._data()["tolerable"]) | {p.source for p in net_content.sampling_plans()}
    assert keys <= set(registry.sources())


@pytest.mark.published
@pytest.mark.parametrize(
    "plan",
    [plan for plan in net_content.sampling_plans() if plan.factor is not None],
    ids=lambda plan: f"{plan.source}-{plan.sample}",
)
def test_every_printed_factor_follows_from_one_formula(plan):
    # National tables take the top lot of a band; the European ones an endless lot.
    lot = plan.lot[1] if plan.source == "nz_weights_1999" else 1e12
    factor = packing.sampling_mean_factor(plan.sample, lot)
    assert factor == pytest.approx(plan.factor, abs=0.0006)  # printed to three decimals


@pytest.mark.parametrize(
    ("source", "test", "lot", "sample"),
    [
        ("uk_si_2006_659", "mean, non-destructive", 100, 30),
        ("uk_si_2006_659", "mean, non-destructive", 500, 30),
        ("uk_si_2006_659", "mean, non-destructive", 501, 50),
        ("directive_76_211_eec", "count, non-destructive", 3200, 50),
        ("directive_76_211_eec", "count, non-destructive", 3201, 80),
        ("oiml_r87", "mean and count", 1000, 80),
        ("nz_weights_1999", "mean and count", 39, 12),
    ],
)
def test_plan_of_a_lot(source, test, lot, sample):
    assert net_content.sampling_plan(source, test, lot).sample == sample


def test_a_lot_without_a_plan_is_told_so():
    with pytest.raises(LookupError, match="Below 100 bags all are weighed"):
        net_content.sampling_plan("oiml_r87", "mean and count", 60)
    with pytest.raises(LookupError, match="no plan for a lot of 200"):
        net_content.sampling_plan("nz_weights_1999", "mean and count", 200)
    with pytest.raises(LookupError, match="No test"):
        net_content.sampling_plan("oiml_r87", "count", 200)


def test_double_counting_plan():
    plan = net_content.sampling_plan("directive_76_211_eec", "count, non-destructive", 300)
    assert net_content.judge_counts(plan, 1) == "accept"
    assert net_content.judge_counts(plan, 2) == "second sample"
    assert net_content.judge_counts(plan, 3) == "reject"
    assert net_content.judge_counts(plan, 2, 4) == "accept"
    assert net_content.judge_counts(plan, 2, 5) == "reject"


def sample_of(count, mean, deviation, short=()):
    """A sample of exactly this mean and standard deviation, some values given."""
    generator = random.Random(7)
    values = [generator.gauss(0, 1) for _ in range(count)]
    centre = sum(values) / count
    spread = math.sqrt(sum((v - centre) ** 2 for v in values) / (count - 1))
    values = [mean + (v - centre) / spread * deviation for v in values]
    return [*short, *values[len(short) :]]


def test_worked_lot_of_fifty_kilogram_bags():
    # 1000 bags, n 80, mean error -12 g, s 55 g: -12 + 0.295 x 55 = +4.2 g, accept
    plan = net_content.sampling_plan("oiml_r87", "mean and count", 1000)
    tolerable = net_content.tolerable_deficiency(50000.0, "oiml_r87")
    judged = net_content.judge_lot(plan, 50000.0, tolerable, sample_of(80, 49988.0, 55.0))
    assert judged.corrected_error == pytest.approx(4.2, abs=0.05)  # printed to one decimal
    assert judged.outcome == "accept"
    assert "passes" in judged.sentence


def test_worked_european_sample_of_kilogram_packs():
    # Qn 1000 g, n 30, mean 998.2, s 4.1: limit 997.94, accept
    plan = net_content.sampling_plan("uk_si_2006_659", "mean, non-destructive", 300)
    judged = net_content.judge_lot(plan, 1000.0, 15.0, sample_of(30, 998.2, 4.1))
    assert judged.outcome == "accept"
    worse = net_content.judge_lot(plan, 1000.0, 15.0, sample_of(30, 997.9, 4.1))
    assert worse.outcome == "reject"
    assert "mean" in worse.sentence


def test_one_pack_short_by_more_than_twice_fails_the_lot():
    plan = net_content.sampling_plan("oiml_r87", "mean and count", 300)
    contents = [1000.0 - 30.1] + [1002.0] * 49
    judged = net_content.judge_lot(plan, 1000.0, 15.0, contents)
    assert judged.short_by_more_than_twice == 1
    assert judged.outcome == "reject"


def test_one_short_pack_too_many_fails_the_lot():
    plan = net_content.sampling_plan("oiml_r87", "mean and count", 300)
    passing = net_content.judge_lot(plan, 1000.0, 15.0, [984.0] * 3 + [1004.0] * 47)
    failing = net_content.judge_lot(plan, 1000.0, 15.0, [984.0] * 4 + [1004.0] * 46)
    assert passing.outcome == "accept"
    assert failing.outcome == "reject"


def test_a_sample_of_the_wrong_size_is_refused():
    plan = net_content.sampling_plan("oiml_r87", "mean and count", 300)
    with pytest.raises(ValueError, match="Weigh exactly 50"):
        net_content.judge_lot(plan, 1000.0, 15.0, [1000.0] * 49)


def test_a_mean_plan_counts_nothing():
    plan = net_content.sampling_plan("uk_si_2006_659", "mean, non-destructive", 300)
    with pytest.raises(ValueError, match="counts nothing"):
        net_content.judge_counts(plan, 0)


def test_acceptance_probability_against_drawing_lots():
    generator = np.random.default_rng(11)
    draws = generator.normal(-10.0, 60.0, size=(20000, 80))
    passed = np.mean(draws.mean(axis=1) + 0.295 * draws.std(axis=1, ddof=1) >= 0)
    got = packing.acceptance_probability(10.0, 60.0, 80.0, 0.295)
    assert got == pytest.approx(100 * passed, abs=1.0)  # four standard errors of 20 000 draws


def test_economic_overfill_is_the_numerical_minimum():
    cost = lambda m: 0.5 * m + 2.0 * stats.norm.sf(m / 0.06)  # noqa: E731
    found = optimize.minimize_scalar(
        cost, bounds=(0.05, 0.5), method="bounded", options={"xatol": 1e-9}
    )
    # accuracy of a minimum found by function values
    assert packing.economic_overfill(0.5, 0.06, 2.0) == pytest.approx(found.x, abs=1e-6)


def test_checkweigher_mean_against_its_distribution():
    exact = stats.truncnorm((49.95 - 50.02) / 0.05, np.inf, loc=50.02, scale=0.05).mean()
    got = packing.checkweigher_accepted_mean(50.02, 0.05, 49.95)
    assert got == pytest.approx(exact, abs=1e-9)  # the same distribution from a library


def test_heap_of_the_silo_uses_the_tangent():
    for angle in (25.0, 34.0, 38.0, 45.0):
        floor = math.pi * 144 / 4
        exact = 0.85 * floor * (15.0 + 6.0 * math.tan(math.radians(angle)) / 3)
        got = packing.silo_content(12.0, 15.0, angle, 0.85)
        assert got == pytest.approx(exact, rel=1e-9)  # truncation of the continued fraction
