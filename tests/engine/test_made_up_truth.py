"""Made-up truth for the whole demonstration factory: do the statistics keep their promises?

Truth is drawn from the very priors and noise that the balance assumes, simulated by the
tool's own equations, read with noise, and reconciled. Limits are binomial, at the 99 % level
where nothing else is said.
"""

import pytest
from scipy import stats

from canewright.engine.adjusting.statistics import CONFIDENCE, chi_square_limit
from canewright.engine.suspects.suspects import find_suspects
from canewright.figures.control import control_figures
from tests.whole_factory import Figures, balance

SEEDS = 200
QUICK_SEEDS = 10
LOWEST, HIGHEST = 0.91, 0.985
"""2.6 standard errors below and 2.3 above 95 % in 200 draws (house style, section 6)."""

FIGURES = (
    "sucrose_extraction",
    "pol_extraction",
    "reduced_extraction",
    "mixed_juice_percent_cane",
    "pol_percent_cane",
    "fibre_percent_cane",
    "imbibition_percent_fibre",
    "bagasse_moisture",
    "purity_of_mixed_juice",
    "purity_of_clear_juice",
    "purity_of_syrup",
    "purity_of_a_massecuite_boiled",
    "purity_of_b_massecuite",
    "purity_of_final_molasses",
    "crystal_content_of_a_massecuite_boiled",
    "exhaustion_of_c_massecuite_boiled",
    "undetermined_loss",
    "undetermined_loss_juice_section",
    "undetermined_loss_evaporator_section",
    "undetermined_loss_boiling_section",
    "loss_bagasse",
    "loss_filter_cake",
    "loss_final_molasses",
    "loss_inverted",
    "boiling_house_recovery",
    "overall_recovery",
    "reduced_overall_recovery",
    "sugar_percent_cane",
    "water_evaporated",
    "evaporator_economy",
    "steam_raised_percent_cane",
    "heat_transfer_coefficient_of_evaporator_body_1",
    "heat_transfer_coefficient_of_evaporator_body_3",
    "heat_transfer_coefficient_of_evaporator_body_5",
    "mill 1.mixing",
    "mill 3.mixing",
    "mill 6.mixing",
    "mill 6.moisture",
    "A pans.purity_drop",
    "C machines.crystal_loss",
)


def between(count, probability, level=0.99):
    """Smallest and largest number of events that chance gives at this level."""
    tail = (1 - level) / 2
    return stats.binom.ppf([tail, 1 - tail], count, probability)


class Season:
    """What many made-up shifts say together."""

    def __init__(self, workshop, seeds, names):
        self.figures = Figures(workshop, names)
        self.gamma, self.freedom, self.told, self.alarms, self.worse = [], [], [], [], []
        for seed in seeds:
            made_up = workshop.shift(seed)
            estimate = balance(workshop, made_up.measurements)
            self.gamma.append(estimate.posterior.gamma)
            self.freedom.append(estimate.posterior.degrees_of_freedom)
            self.told.append(self.figures.told(estimate, made_up))
            self.alarms.append(bool(find_suspects(estimate).findings))
            from_truth = workshop.reconciler.solve(made_up.measurements, made_up.truth.values)
            self.worse.append(estimate.solution.objective - from_truth.solution.objective)

    @property
    def count(self):
        return len(self.gamma)

    @property
    def global_alarms(self):
        return sum(
            gamma > chi_square_limit(freedom, CONFIDENCE)
            for gamma, freedom in zip(self.gamma, self.freedom, strict=True)
        )

    def coverage(self, name):
        """Share of shifts whose two-sided interval covers the truth."""
        told = [t for shift in self.told for t in shift if t.name == name]
        free = [t for t in told if not t.statement.one_sided]
        return sum(t.covered for t in free) / len(free)

    def varies(self, name):
        """Whether the figure is uncertain at all: a spill that nobody supposes is 0."""
        return all(t.statement.sd > 0 for shift in self.told for t in shift if t.name == name)

    @property
    def one_sided(self):
        """Figures that rest on a bound, apart."""
        return [t for shift in self.told for t in shift if t.statement.one_sided]


@pytest.fixture(scope="module")
def few(workshop):
    return Season(workshop, range(QUICK_SEEDS), FIGURES)


@pytest.fixture(scope="module")
def many(workshop):
    every = control_figures(workshop.prepared.model, workshop.reconciler.relations)
    return Season(workshop, range(SEEDS), dict.fromkeys((*every, *FIGURES)))


def test_a_few_shifts_keep_the_promises(few):
    # The sum of independent chi-squares is one with the sum of their freedoms.
    total = stats.chi2.cdf(sum(few.gamma), sum(few.freedom))
    assert 0.005 < total < 0.995
    told = [t for shift in few.told for t in shift if not t.statement.one_sided]
    share = sum(t.covered for t in told) / len(told)
    # 40 figures of 10 shifts; figures of one shift go together, as about ten independent
    # ones would (judgement): 100 draws, so 2.6 standard errors are 0.057.
    assert share == pytest.approx(0.95, abs=0.057)
    low, high = between(few.count, 1 - CONFIDENCE)
    assert low <= few.global_alarms <= high


@pytest.mark.slow
def test_the_global_statistic_follows_chi_square(many):
    probabilities = stats.chi2.cdf(many.gamma, many.freedom)
    assert stats.kstest(probabilities, "uniform").pvalue > 0.01
    low, high = between(many.count, 1 - CONFIDENCE)
    assert low <= many.global_alarms <= high


@pytest.mark.slow
@pytest.mark.parametrize("name", FIGURES)
def test_intervals_cover_the_truth_as_often_as_they_say(many, name):
    assert LOWEST <= many.coverage(name) <= HIGHEST


@pytest.mark.slow
def test_all_figures_together_cover_neither_too_often_nor_too_rarely(many):
    shares = [many.coverage(name) for name in many.figures.names if many.varies(name)]
    assert len(shares) > 80
    # Figures of one shift go together, as about ten independent ones would (judgement):
    # 2000 draws, and 2.6 standard errors are 0.013.
    assert sum(shares) / len(shares) == pytest.approx(0.95, abs=0.013)
    # The lowest of a hundred: 4 standard errors of one figure in 200 draws.
    assert min(shares) > 0.95 - 4 * 0.0154


@pytest.mark.slow
def test_figures_on_a_bound_are_rare_and_covered_on_their_free_side(many):
    apart = many.one_sided
    assert len(apart) < 0.02 * many.count * len(many.figures.names)
    # One-sided intervals promise 95 % too; few as they are, nine in ten must hold.
    assert sum(t.covered for t in apart) >= 0.9 * len(apart)


@pytest.mark.slow
def test_a_search_among_many_suppositions_rarely_accuses_the_innocent(many):
    # The limit of the family is an upper bound (Sidak): suppositions are correlated and some
    # are impossible. So the share must not exceed 5 % beyond chance; it may well be smaller.
    _, high = between(many.count, 1 - CONFIDENCE)
    assert sum(many.alarms) <= high


@pytest.mark.slow
def test_the_usual_point_leads_to_the_best_of_all_solutions(many):
    # No second minimum: started from the truth itself, no shift ends lower. Objectives of
    # about 80 agree to the solver's tolerance.
    assert max(abs(worse) for worse in many.worse) < 1e-4
