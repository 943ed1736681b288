"""Every formula is registered, sourced and gives its published values."""

import inspect

import pytest

from canewright import registry

FORMULAS = registry.formulas()
CHECKS = list(registry.checks())


@pytest.mark.published
@pytest.mark.parametrize("check", CHECKS, ids=lambda c: f"{c.formula}-{c.at}-{c.expect:g}")
def test_formula_gives_the_published_value(check):
    formula = FORMULAS[check.formula]
    value = float(formula.function(**check.given))
    assert value == pytest.approx(check.expect, abs=check.within, rel=0), (
        f"{check.formula} gives {value!r}; {check.source}, {check.at} ({check.known}) prints "
        f"{check.expect!r} within {check.within!r}. {check.note}"
    )


@pytest.mark.parametrize("name", FORMULAS)
def test_every_formula_has_a_published_check(name):
    assert any(check.formula == name for check in CHECKS), f"{name} has no check point."


@pytest.mark.parametrize("name", FORMULAS)
def test_every_formula_names_a_source_and_says_its_units(name):
    formula = FORMULAS[name]
    assert formula.source in registry.sources(), f"{name}: unknown source key {formula.source!r}."
    assert formula.at, f"{name}: no place in the source."
    assert formula.equation, f"{name}: no equation."
    assert inspect.getdoc(formula.function), f"{name}: no docstring."


def test_every_check_names_a_known_formula_and_source():
    for check in CHECKS:
        assert check.formula in FORMULAS, f"{check.file}: no formula {check.formula!r}."
        assert check.source in registry.sources(), f"{check.file}: no source {check.source!r}."
        assert check.known in registry.KNOWN


def test_each_family_has_one_default_that_says_why():
    families = {}
    for formula in FORMULAS.values():
        if formula.family:
            families.setdefault(formula.family, []).append(formula)
    for family, members in families.items():
        defaults = [member for member in members if member.default]
        assert len(defaults) == 1, f"{family}: {len(defaults)} defaults."
        assert len(members) == 1 or defaults[0].note, f"{family}: the default does not say why."
