"""Robust weights: efficiency, shape, and what they do to a biased reading."""

import itertools

import numpy as np
import pytest
from scipy import integrate, stats

from canewright.engine.adjusting import robust
from tests.engine.published_problems import PROBLEMS, adjust, as_printed

# -- robust weights --------------------------------------------------------------------------


@pytest.mark.published
@pytest.mark.parametrize(
    ("name", "efficiency"),
    [
        ("Huber", 0.9500),
        ("Fair", 0.9500),
        ("Cauchy", 0.9500),
        ("Welsch", 0.9500),
        ("logistic", 0.9499),
        ("Hampel", 0.946),
    ],
)
def test_tuning_constants_give_95_per_cent_efficiency(name, efficiency):
    # Efficiency of the estimate of a mean: E[psi']^2 / E[psi^2] with psi = r w(r), r normal;
    # E[psi'] = E[r psi] for the normal (Stein). Expected digits from the reference.
    weight = robust.WEIGHTS[name]
    corners = [0, *robust.HAMPEL, robust.HUBER, 12]
    corners = sorted(set(corners))

    def expectation(function):
        return 2 * sum(
            integrate.quad(lambda r: function(r) * stats.norm.pdf(r), a, b)[0]
            for a, b in itertools.pairwise(corners)
        )

    slope = expectation(lambda r: r * r * float(weight(r)))
    square = expectation(lambda r: (r * float(weight(r))) ** 2)
    digits = 3 if name == "Hampel" else 4
    assert slope**2 / square == pytest.approx(efficiency, abs=0.55 * 10**-digits)  # printed digits


@pytest.mark.parametrize("name", list(robust.WEIGHTS))
def test_weights_begin_at_one_and_fall(name):
    grid = np.linspace(0, 30, 400)
    weight = robust.WEIGHTS[name](grid)
    share, wider = robust.CONTAMINATION
    least = (1 - share + share / wider**3) / (1 - share + share / wider)  # the formula at 0
    assert weight[0] == pytest.approx(least if name == "contaminated normal" else 1, rel=1e-9)
    assert np.all(np.diff(weight) <= 1e-15)  # rounding
    assert weight[-1] < 0.1
    assert weight.min() >= 0


@pytest.mark.parametrize("name", list(robust.WEIGHTS))
def test_robust_fits_bring_the_truth_nearer(name):
    # Truth 100, 64, 36; least squares 100.89, 65.83, 35.05.
    problem, plain, _ = adjust(PROBLEMS["hx-bypass-bias"])
    fit = robust.fit(problem, plain, name)
    assert fit.settled
    truth = np.array(PROBLEMS["hx-bypass"]["published"]["true"])
    assert np.linalg.norm(fit.solution.z - truth) < np.linalg.norm(plain.z - truth)


def test_an_unknown_weight_is_refused():
    problem, solution, _ = adjust(PROBLEMS["hx-bypass"])
    with pytest.raises(ValueError, match="no weight"):
        robust.fit(problem, solution, "square")


# -- robust fits -----------------------------------------------------------------------------


@pytest.mark.published
@pytest.mark.parametrize("name", ["Huber", "Fair", "Cauchy", "Welsch"])
def test_robust_fit_of_the_biased_heat_exchanger(name):
    built, solution, _ = adjust(PROBLEMS["hx-bypass-bias"])
    expected = PROBLEMS["robust-tuning"]["example"]["reconciled_F1_F2_F3"]
    found = robust.fit(built, solution, name)
    assert found.settled
    assert list(found.solution.z[:3]) == as_printed(expected[name])
    assert list(solution.z[:3]) == as_printed(expected["least_squares"])
    assert int(np.argmin(found.weights)) == 1  # the true culprit ranks first
