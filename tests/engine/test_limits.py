"""Limits of a factory file: what they are on, what they exempt, and when they are passed."""

from dataclasses import replace

import numpy as np
import pytest

from canewright.engine.adjusting.reconcile import Reconciler
from canewright.engine.advising.limits import Watch, bounds_of, quality_of
from canewright.figures.ledgers import products
from canewright.flowsheet import Limit
from canewright.laboratory.predictions import RELATIONS


@pytest.fixture(scope="module")
def usual(halcyon_bend):
    """The model, symbols of the relations, and the usual point with them."""
    model = halcyon_bend.model
    relations = Reconciler(model, []).relations
    means = [relation.mean for relation in RELATIONS.values()]
    point = np.concatenate([halcyon_bend.usual.values, means])
    return model, relations, point, model.parameter_values


def limited(model, monkeypatch, *limits):
    monkeypatch.setattr(model, "factory", replace(model.factory, limits=limits))


def test_the_demonstration_keeps_its_own_limits_as_it_usually_runs(usual):
    assert len(bounds_of(*usual)) > 15
    assert Watch(*usual).passed(*usual[2:]) == []


def test_the_colour_of_a_product_is_limited_in_icumsa_units(usual, monkeypatch):
    model, *rest = usual
    limited(model, monkeypatch, Limit("bulk bags.colour", at_most=150.0))
    (bound,) = bounds_of(model, *rest)
    assert bound.unit == "IU"
    assert "ICUMSA" in bound.label


def test_a_limit_on_one_stream_of_a_product_stands_for_its_quality(usual, monkeypatch):
    model, *rest = usual
    found = products(model)
    limited(model, monkeypatch)
    every = [one.label for one in quality_of(model, rest[0], found, *rest[1:])]
    limited(model, monkeypatch, Limit("sacks.colour", at_most=150.0))
    fewer = [one.label for one in quality_of(model, rest[0], found, *rest[1:])]
    assert set(every) - set(fewer) == {"colour, ICUMSA units of plantation white sugar"}


def test_a_limit_that_is_passed_is_said_with_its_reason(usual, monkeypatch):
    model, *rest = usual
    wanted = Limit("syrup.brix", at_least=70.0, why="the pans want it")
    limited(model, monkeypatch, wanted, Limit("syrup.brix", at_most=80.0))
    (sentence,) = Watch(model, *rest).passed(*rest[1:])
    assert "refractometer Brix would be" in sentence
    assert sentence.endswith("its limit is at least 70 % (the pans want it).")
