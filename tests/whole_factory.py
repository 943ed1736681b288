"""Shifts of the demonstration factory for tests: balanced, spoilt, and their figures."""

from dataclasses import dataclass, replace
from itertools import pairwise

import casadi
import numpy as np
from scipy import stats

from canewright.engine.adjusting.explain import statements
from canewright.engine.adjusting.statistics import POWER, family_limit
from canewright.engine.adjusting.wild_readings import reconcile
from canewright.engine.suspects.candidates import suppositions
from canewright.engine.suspects.gross_errors import Directions, score
from canewright.figures.control import control_figures


def balance(workshop, measurements):
    """The shift reconciled, from the usual point of the factory."""
    return reconcile(workshop.reconciler, measurements, workshop.prepared.usual.values)


def read_of(measurements, name):
    """The value booked for a reading."""
    return next(m.value for m in measurements if m.name == name)


def spoil(measurements, changes):
    """The readings with some of them replaced: name -> function of what was read."""
    unknown = set(changes) - {m.name for m in measurements}
    assert not unknown, f"no such readings: {unknown}"
    return [
        replace(m, value=changes[m.name](m.value)) if m.name in changes else m for m in measurements
    ]


def swap(measurements, one, other):
    """All analyses of two samples booked under each other's name."""
    by_name = {m.name: m.value for m in measurements}
    partner = {one: other, other: one}
    return [
        replace(m, value=by_name[f"{partner[m.point]} {m.analysis}"])
        if m.point in partner and f"{partner[m.point]} {m.analysis}" in by_name
        else m
        for m in measurements
    ]


def exchanged(value):
    """A number typed with two neighbouring figures exchanged: 61.1 as 16.1, 55.2 as 52.5.

    The first two that differ.
    """
    text = f"{value:.1f}"
    places = [i for i, sign in enumerate(text) if sign != "."]
    for one, other in pairwise(places):
        if text[one] != text[other]:
            figures = list(text)
            figures[one], figures[other] = text[other], text[one]
            return float("".join(figures))
    return value


def named(suspects):
    """Everything that the search named: each finding and what cannot be told from it."""
    return {name for found in suspects.findings for name in (found.name, *found.equivalents)}


def smallest_detectable_supposition(estimate, name):
    """Smallest size of a supposed error that is found with 90 %, in its own unit.

    As the tool states it for readings: limit of the family and power, times the standard
    uncertainty of the size.
    """
    supposed = suppositions(estimate)
    problem = estimate.reconciler.problem
    directions = Directions(
        [item.candidate for item in supposed.values()],
        problem.data_names,
        problem.constraint_names,
    )
    scores = score(estimate.posterior, directions)
    limit = family_limit(int(scores.testable.sum()))
    return (limit + float(stats.norm.ppf(POWER))) * float(scores.sd[list(supposed).index(name)])


@dataclass(frozen=True)
class Told:
    """What the tool says of one figure of one shift, and what it truly was."""

    name: str
    truth: float
    statement: object

    @property
    def covered(self):
        low, high = self.statement.interval
        return bool(low <= self.truth <= high)


class Figures:
    """Figures of a workshop's factory: as stated, and as they truly were.

    All control figures, or those named; a quantity of a station is named with a dot.
    """

    def __init__(self, workshop, names=None):
        reconciler = workshop.reconciler
        model = workshop.prepared.model
        every = control_figures(model, reconciler.relations)
        self.names = list(names or every)
        self.expressions = [
            casadi.SX(every[name].expression if name in every else model.symbols[model.index[name]])
            for name in self.names
        ]
        self._true = casadi.Function(
            "true",
            [reconciler.variables, workshop.prepared.model.parameters],
            [casadi.vertcat(*self.expressions)],
        )
        self._reconciler = reconciler

    def true(self, made_up):
        """True values, by name."""
        relations = [made_up.relations[name] for name in self._reconciler.relations]
        biases = [made_up.biases[name] for name in self._reconciler.instruments]
        point = np.concatenate([made_up.truth.values, relations, biases])
        values = np.array(self._true(point, made_up.truth.parameters)).ravel()
        return dict(zip(self.names, values, strict=True))

    def stated(self, estimate):
        """Statements, by name."""
        return dict(zip(self.names, statements(estimate, self.expressions), strict=True))

    def told(self, estimate, made_up):
        """Statement and truth of every figure."""
        true, stated = self.true(made_up), self.stated(estimate)
        return [Told(name, float(true[name]), stated[name]) for name in self.names]
