"""Three misprinted cells of a published evaporator table, found by the balance alone.

D. Q. Kern, Process Heat Transfer, McGraw-Hill 1950, example 14.4 (pp. 418 ff.): a quintuple
effect for cane juice with two first bodies, as carried by a textbook companion (the book was
not seen; the misprints may be the companion's). Solids, overall and temperature balances show
that three cells cannot be as printed: juice of body 3 at 34.4 Brix (34.0), of body 5 at 50.0
Brix (60.2), and boiling at 164 F in body 5 (154).
"""

import casadi
import numpy as np
import pytest

from canewright.engine.adjusting.adjustment import Problem
from canewright.engine.adjusting.posterior import Posterior
from canewright.engine.adjusting.statistics import global_test_of
from canewright.engine.suspects.compensation import compensate, eliminate
from canewright.engine.suspects.gross_errors import bias

BODIES = ["1A", "1B", "2", "3", "4", "5"]
# In the units printed: lb/h, deg F, % Brix, Btu/(h ft2 F), Btu/(h ft2).
TABLE = {
    "liquor out": [190_200, 154_000, 117_100, 87_800, 64_000, 49_600],
    "evaporation": [38_800, 36_200, 36_900, 29_300, 23_800, 14_400],
    "Brix out": [15.7, 19.4, 25.5, 34.4, 46.5, 50.0],
    "heating temperature": [274, 274, 250, 227, 205, 181],
    "temperature difference": [23, 23, 21, 20, 20, 27],
    "liquor temperature": [251, 251, 229, 207, 185, 164],
    "boiling point rise": [1, 1, 2, 2, 4, 7],
    "vapour temperature": [250, 250, 227, 205, 181, 147],
    "coefficient": [478, 425, 310, 264, 219, 138],
    "heat flux": [11_000, 9_780, 6_520, 5_270, 4_390, 3_740],
}
FEED = 229_000
LAST_DIGIT = {
    "liquor out": 100,
    "evaporation": 100,
    "Brix out": 0.1,
    "heating temperature": 1,
    "temperature difference": 1,
    "liquor temperature": 1,
    "boiling point rise": 1,
    "vapour temperature": 1,
    "coefficient": 1,
    "heat flux": 10,
}
SLIDE_RULE = 0.002
"""Relative standard uncertainty of a quotient worked in 1950: a slide rule, read to 1 in 500."""
# The cells that are only read or added up agree better than independent rounding would let
# them (the corrected table has gamma 2 on 32 degrees of freedom): the author rounded once and
# then calculated with the rounded figures. The uncertainties are therefore on the safe side.
WORKED = {"Brix out", "coefficient", "heat flux"}
"""Columns worked by division or multiplication; the others are read or added up."""


def uncertainty_of(column, value):
    rounding = LAST_DIGIT[column] / np.sqrt(12)  # even chances within half a digit, GUM 4.3.7
    return float(np.hypot(rounding, SLIDE_RULE * value if column in WORKED else 0))


def the_table():
    """Balances of every body, and all printed cells as readings."""
    cells = {
        (column, body): casadi.SX.sym(f"{column} {body}") for column in TABLE for body in BODIES
    }
    feed, solids = casadi.SX.sym("feed"), casadi.SX.sym("solids")
    rows, names = [], []
    for place, body in enumerate(BODIES):
        at = {column: cells[column, body] for column in TABLE}
        before = cells["liquor out", BODIES[place - 1]] if place else feed
        rows += [
            before - at["evaporation"] - at["liquor out"],
            at["liquor out"] * at["Brix out"] / 100 - solids,
            at["heating temperature"] - at["temperature difference"] - at["liquor temperature"],
            at["vapour temperature"] + at["boiling point rise"] - at["liquor temperature"],
            at["coefficient"] * at["temperature difference"] - at["heat flux"],
        ]
        names += [f"{what} {body}" for what in ("water", "solids", "drop", "rise", "heat")]
    for before, after in (("1A", "2"), ("1B", "2"), ("2", "3"), ("3", "4"), ("4", "5")):
        rows.append(cells["vapour temperature", before] - cells["heating temperature", after])
        names.append(f"vapour {before} heats {after}")
    # Exhaust heats both first bodies.
    rows.append(cells["heating temperature", "1A"] - cells["heating temperature", "1B"])
    names.append("exhaust")

    read = [cells[key] for key in cells]
    printed = np.array([TABLE[column][BODIES.index(body)] for column, body in cells], dtype=float)
    sd = np.array(
        [uncertainty_of(column, value) for (column, _), value in zip(cells, printed, strict=True)]
    )
    start = np.concatenate([printed, [FEED, 30_000]])
    problem = Problem(
        casadi.vertcat(*read, feed, solids),
        casadi.vertcat(*rows),
        casadi.vertcat(*read, feed),
        np.zeros(start.size),
        np.full(start.size, np.inf),
        start,
        data_names=[f"{column}, body {body}" for column, body in cells] + ["feed"],
        constraint_names=names,
    )
    values = np.append(printed, FEED)
    return problem, values, np.append(sd, 1000 / np.sqrt(12)), start


@pytest.fixture(scope="module")
def adjusted():
    problem, values, sd, start = the_table()
    return problem, problem.solve(values, sd, start)


MISPRINTS = {
    "Brix out, body 3": (34.0, 1),
    "Brix out, body 5": (60.2, 1),
    "liquor temperature, body 5": (154, 0),
}
"""Cell -> what it must be, and the decimals it is printed with."""


def test_the_table_as_printed_cannot_be(adjusted):
    problem, solution = adjusted
    assert not global_test_of(Posterior.at(problem, solution)).passes


@pytest.mark.published
def test_compensation_finds_exactly_the_three_cells_and_what_they_should_be(adjusted):
    problem, solution = adjusted
    verdict = compensate(problem, solution, [bias(name) for name in problem.data_names])
    assert verdict.explained
    found = {name: (value, f) for f in verdict.findings for name, value in f.corrected.items()}
    assert set(found) == set(MISPRINTS)
    for name, (right, decimals) in MISPRINTS.items():
        value, finding = found[name]
        printed = solution.sd[problem.data_names.index(name)]
        # Rounding of the right figure, and the 95 % interval of a correction that rests on
        # five other cells worked by slide rule.
        own = 1.96 * np.sqrt(finding.sd**2 - printed**2)
        assert abs(value - right) <= 0.5 * 10**-decimals + own
        assert own < 2 * 10**-decimals
    assert all(f.significant for f in verdict.findings)


@pytest.mark.published
def test_elimination_finds_the_same_cells(adjusted):
    problem, solution = adjusted
    removal = eliminate(problem, solution)
    assert set(removal.removed) == set(MISPRINTS)
    for name, (right, decimals) in MISPRINTS.items():
        place = problem.data_names.index(name)
        own = 1.96 * removal.posterior.fitted_sd[place]  # 95 % interval of the forecast
        assert abs(removal.solution.fitted[place] - right) <= 0.5 * 10**-decimals + own


def test_no_other_cell_explains_a_misprint(adjusted):
    problem, solution = adjusted
    verdict = compensate(problem, solution, [bias(name) for name in problem.data_names])
    assert all(not f.equivalents for f in verdict.findings)


def test_the_corrected_table_passes_without_a_suspect():
    problem, values, sd, start = the_table()
    for name, (right, _) in MISPRINTS.items():
        values[problem.data_names.index(name)] = right
    solution = problem.solve(values, sd, start)
    verdict = compensate(problem, solution, [bias(name) for name in problem.data_names])
    assert verdict.findings == ()
    assert verdict.explained
