"""Each formula is one text: a float, an array and a symbol give the same number."""

import casadi
import numpy as np
import pytest

from canewright import registry

MODULES = {
    "boiling_house_formulas",
    "cane_quality_formulas",
    "extraction_formulas",
    "juice_formulas",
    "loss_and_stock_formulas",
    "milling_formulas",
    "molasses_formulas",
    "sugar_formulas",
    "time_formulas",
    "cooling_crystallisers",
    "crystal_population",
    "crystallisation",
    "curing",
    "inversion",
    "lime_and_phosphate",
    "mud_filtration",
    "packing",
    "settling",
    "sugar_drying",
    "electrolytes",
    "sulphite_equilibrium",
    "sulphur",
}
SAYS_SO = "not trace"
FIRST_CHECK = {}
for entry in registry.checks():
    FIRST_CHECK.setdefault(entry.formula, entry)
OURS = {
    name: formula for name, formula in registry.formulas().items() if name.split(".")[0] in MODULES
}


def whole_counts(formula):
    """Arguments that are whole numbers and stay numbers in every form."""
    return {name for name, unit in formula.given.items() if unit == "count, whole"}


def traces(formula):
    return SAYS_SO not in (formula.function.__doc__ or "") or bool(whole_counts(formula))


TRACED = [
    name
    for name, formula in OURS.items()
    if traces(formula) and set(formula.given) > whole_counts(formula)
]


@pytest.mark.parametrize("name", TRACED)
def test_symbol_gives_the_number(name):
    formula, given = OURS[name], FIRST_CHECK[name].given
    whole = whole_counts(formula)
    free = [key for key in formula.given if key not in whole]
    plain = float(formula.function(**given))
    symbols = {key: casadi.SX.sym(key) for key in free}
    fixed = {key: given[key] for key in whole}
    expression = formula.function(**symbols, **fixed)
    compiled = casadi.Function("f", list(symbols.values()), [casadi.SX(expression)])
    value = float(compiled(*[given[key] for key in free]))
    # the same arithmetic in another order: rounding of the machine only
    assert value == pytest.approx(plain, rel=1e-12, abs=1e-300)


@pytest.mark.parametrize("name", OURS)
def test_array_gives_the_number(name):
    formula, given = OURS[name], FIRST_CHECK[name].given
    whole = whole_counts(formula)
    plain = float(formula.function(**given))
    arrays = {k: v if k in whole else np.array([v, v], dtype=float) for k, v in given.items()}
    value = formula.function(**arrays)
    # rounding of the machine only
    assert np.asarray(value, dtype=float) == pytest.approx(
        np.full(np.shape(value), plain), rel=1e-12, abs=1e-300
    )


def test_only_the_distributions_and_the_largest_of_three_do_not_trace():
    closed = {name for name, formula in OURS.items() if not traces(formula)}
    assert closed == {
        "packing.acceptance_probability",
        "packing.checkweigher_accepted_mean",
        "packing.checkweigher_rejects",
        "packing.sampling_mean_factor",
        "packing.short_percent",
        "packing.target_fill",
    }


def test_a_percentage_formula_never_takes_a_fraction_unit():
    for name, formula in OURS.items():
        assert "fraction" not in formula.given.values(), name
        assert formula.unit != "fraction", name
