"""Honest suspects: what is wrong in a shift, what else it could be, and the shift without it."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from canewright.engine.adjusting.explain import COVERAGE
from canewright.engine.adjusting.reconcile import Estimate, Measurement
from canewright.engine.adjusting.statistics import (
    CONFIDENCE,
    POWER,
    GlobalTest,
    family_limit,
    global_test_of,
)
from canewright.engine.equations.simulate import SolveFailed
from canewright.engine.suspects.candidates import (
    Kind,
    Supposition,
    instrument_kind,
    is_possible,
    present_channels,
    suppositions,
)
from canewright.engine.suspects.compensation import Verdict, compensate
from canewright.engine.suspects.first_checks_words import CHECK_CAUTIONS, FIRST_CHECKS
from canewright.engine.suspects.gross_errors import (
    Candidate,
    Directions,
    Finding,
    findings_of,
    score,
)
from canewright.engine.suspects.rivals import Rival, Rivals, times_less_likely

AGREEING = 3
"""Readings named as agreeing with each other against a suspect, at most."""
LEANS_ON = 0.1
"""Effect of a reading, % per %, from which on a prediction stands on it; our choice."""


@dataclass(frozen=True)
class Suspect:
    """One thing found to be wrong, with what else it could be.

    Attributes
    ----------
    kind : str
        "bias", "shared bias", "swapped samples", "loss" (of liquor) or "sucrose loss".
    name : str
        As in the list of suppositions.
    readings : tuple of str
        Names of the readings concerned (`point analysis`); none for a loss.
    place : str
        Section of a loss, or instrument of a shared bias.
    reading, estimate : float
        For a bias: what was read, and what the other readings say it should be; else nan.
    bias, sd, unit : float, float, str
        Size, its standard uncertainty, and its unit. A loss is in t/h of liquor, or of
        sucrose.
    interval : (float, float)
        Of the size, 95 %.
    statistic : float
        Fall of the global statistic when it is allowed for.
    equivalents : tuple of str
        Suppositions that these readings cannot tell from it.
    next_best, less_likely : str, float
        The best explanation that is not equivalent, and how many times less likely it is;
        empty and inf where there is none.
    check_first : str
        What to look at first, by the kind of instrument.
    cautions : tuple of str
        Cautions that looking there touches.
    agreeing : tuple of str
        Readings that together say what this one should be.
    """

    kind: Kind
    name: str
    readings: tuple[str, ...]
    place: str
    reading: float
    estimate: float
    bias: float
    sd: float
    unit: str
    interval: tuple[float, float]
    statistic: float
    equivalents: tuple[str, ...]
    next_best: str
    less_likely: float
    check_first: str
    cautions: tuple[str, ...]
    agreeing: tuple[str, ...] = ()


@dataclass(frozen=True)
class Suspects:
    """What the search found.

    Attributes
    ----------
    before, after : GlobalTest
        Test of the readings as they came, and with what was found allowed for.
    findings : tuple of Suspect
        Strongest first.
    rejected : tuple of str
        Explanations that are as strong but cannot be.
    explained : bool
        Whether nothing else speaks for an error.
    estimate : Estimate
        The shift with the findings allowed for: figures are taken from it.
    detectable : mapping
        Reading -> smallest bias that would be seen with 90 % probability, in its unit; inf
        where nothing checks the reading.
    unusual : tuple of str
        Names of priors that the readings contradict, where the findings do not explain all.
    """

    before: GlobalTest
    after: GlobalTest
    findings: tuple[Suspect, ...]
    rejected: tuple[str, ...]
    explained: bool
    estimate: Estimate
    detectable: Mapping[str, float]
    unusual: tuple[str, ...] = ()


def find_suspects(estimate: Estimate, confidence: float = CONFIDENCE) -> Suspects:
    """Look for gross errors in a reconciled shift, and reconcile it without them.

    Parameters
    ----------
    estimate : Estimate
        The plain reconciliation.
    confidence : float
        Of the global test and of the whole family of suppositions.

    Raises
    ------
    SolveFailed
        If the shift cannot be reconciled without what was found.
    """
    supposed = suppositions(estimate)
    problem = estimate.reconciler.problem
    candidates = [item.candidate for item in supposed.values()]
    directions = Directions(candidates, problem.data_names, problem.constraint_names)
    before = global_test_of(estimate.posterior, confidence)
    testable = int(score(estimate.posterior, directions).testable.sum())
    detectable = smallest_detectable(estimate, max(testable, 1), confidence)

    def possible(candidate: Candidate, size: float, corrected: Mapping[str, float]) -> bool:
        return is_possible(supposed[candidate.name], size, corrected)

    first = findings_of(
        estimate.posterior, directions, estimate.solution.values, possible, confidence
    )
    if before.passes and not any(f.significant and f.possible for _, f in first):
        return Suspects(before, before, (), (), True, estimate, detectable)
    verdict = compensate(
        problem, estimate.solution, candidates, possible=possible, confidence=confidence
    )
    clean = _without(estimate, verdict, supposed)
    rivals = Rivals(verdict, directions, estimate.solution.values, possible)
    found = [
        _suspect(finding, rivals.ranked(finding), supposed, estimate, clean)
        for finding in sorted(verdict.findings, key=lambda f: -f.statistic)
    ]
    explained = verdict.explained
    return Suspects(
        before,
        verdict.overall,
        tuple(found),
        tuple(finding.candidate.name for finding in verdict.rejected),
        explained,
        clean,
        detectable,
        () if explained else _unusual(clean, confidence),
    )


def smallest_detectable(
    estimate: Estimate, tests: int, confidence: float = CONFIDENCE, power: float = POWER
) -> dict[str, float]:
    """Smallest bias of each reading that the search would see with probability `power`.

    In the unit of the reading; inf where nothing checks it. Source: [narasimhan_jordache2000].
    """
    factor = family_limit(tests, confidence) + float(special.ndtri(power))
    posterior = estimate.posterior
    found = {}
    for place, channel in present_channels(estimate):
        checked = bool(posterior.checked[place])
        spread = np.sqrt(posterior.redundancy[place]) if checked else 0.0
        size = factor * posterior.sd[place] / spread if checked else np.inf
        found[channel.name] = float(size)
    return found


def _without(estimate: Estimate, verdict: Verdict, supposed: Mapping[str, Supposition]) -> Estimate:
    """Reconcile again with what was found allowed for, and its size left to the other readings."""
    begun = time.perf_counter()
    reconciler, solution = estimate.reconciler, estimate.solution
    place = {name: i for i, name in enumerate(reconciler.problem.data_names)}
    values, sd, parameters = solution.values.copy(), solution.sd.copy(), solution.parameters.copy()
    gone: set[str] = set()
    booked = {measurement.name: measurement for measurement in estimate.measurements}
    for finding in verdict.findings:
        item = supposed[finding.candidate.name]
        if item.kind == "bias":
            gone.add(item.channels[0].name)
            sd[place[item.channels[0].name]] = np.inf
        elif item.kind == "shared bias":
            sd[place[item.name]] = np.inf
        elif item.kind == "swapped samples":
            _swap(item, place, values, sd, booked)
        elif item.kind == "sucrose loss":
            sd[place[next(iter(item.candidate.data))]] = np.inf
        else:
            names = estimate.model.parameter_names
            parameters[names.index(f"{item.place}.spill")] += finding.size
    again = reconciler.problem.solve(
        values, sd, solution.z, warm=verdict.solution, parameters=parameters
    )
    if not again.ok:
        raise SolveFailed(f"Without what was found the balance does not close ({again.message}).")
    kept = tuple(m for name, m in booked.items() if name not in gone)
    return Estimate(reconciler, kept, again, time.perf_counter() - begun)


def _swap(
    item: Supposition,
    place: Mapping[str, int],
    values: np.ndarray,
    sd: np.ndarray,
    booked: dict[str, Measurement],
) -> None:
    before = {name: (values[place[name]], sd[place[name]], booked[name]) for name in item.partner}
    for name, partner in item.partner.items():
        values[place[name]], sd[place[name]], measurement = before[partner]
        booked[name] = replace(booked[name], value=measurement.value)


def _suspect(
    finding: Finding,
    ranked: Sequence[Rival],
    supposed: Mapping[str, Supposition],
    estimate: Estimate,
    clean: Estimate,
) -> Suspect:
    item = supposed[finding.candidate.name]
    own = next(rival for rival in ranked if rival.name == item.name)
    others = [rival for rival in ranked if rival.possible and rival.name != item.name]
    equivalents = tuple(rival.name for rival in others if rival.equivalent)
    next_best = next((rival for rival in others if not rival.equivalent), None)
    kind = instrument_kind(item)
    factor, unit = _unit_of_size(item, clean)
    size, spread = finding.size * factor, finding.sd * abs(factor)
    reading = should_be = float("nan")
    if item.kind == "shared bias":
        # Of an instrument whose checks say what it is off by, this is what comes on top.
        known = estimate.reconciler.problem.data_names.index(item.name)
        size += float(estimate.solution.values[known]) * factor
    if item.kind == "bias":
        place = clean.reconciler.problem.data_names.index(item.channels[0].name)
        reading = float(estimate.solution.values[place])
        should_be = float(clean.solution.fitted[place])
    return Suspect(
        kind=item.kind,
        name=item.name,
        readings=tuple(channel.name for channel in item.channels),
        place=item.place,
        reading=reading,
        estimate=should_be,
        bias=size,
        sd=spread,
        unit=unit,
        interval=(size - COVERAGE * spread, size + COVERAGE * spread),
        statistic=finding.statistic,
        equivalents=equivalents,
        next_best=next_best.name if next_best else "",
        less_likely=times_less_likely(own, next_best),
        check_first=FIRST_CHECKS[kind],
        cautions=CHECK_CAUTIONS.get(kind, ()),
        agreeing=_agreeing(item, clean),
    )


def _unit_of_size(item: Supposition, clean: Estimate) -> tuple[float, str]:
    """Factor and unit that turn a size into what a chemist would say."""
    if item.kind in ("loss", "sucrose loss"):
        placed = next(p for p in clean.model.flowsheet.placed if p.name == item.place)
        feed = clean.model.states[placed.connections["feed"][0]]
        flow = feed.flow if item.kind == "loss" else feed.sucrose
        values, _ = clean.evaluate([flow])
        return float(values[0]) / 100, "t/h of liquor" if item.kind == "loss" else "t/h of sucrose"
    if item.kind == "shared bias":
        first = item.channels[0]
        alike = all(
            (c.bias, c.bias_relative, c.unit if not c.bias_relative else "")
            == (first.bias, first.bias_relative, first.unit if not first.bias_relative else "")
            for c in item.channels
        )
        if alike:
            return first.bias, "% of value" if first.bias_relative else first.unit
    return 1.0, item.unit


def _agreeing(item: Supposition, clean: Estimate) -> tuple[str, ...]:
    """Readings on which what the doubted reading should be stands.

    Those with the largest effect: change of it in % per % of the reading.
    """
    if item.kind != "bias":
        return ()
    reconciler, solution = clean.reconciler, clean.solution
    count = len(reconciler.channels)
    place = reconciler.problem.data_names.index(item.channels[0].name)
    value, gradients = clean.evaluate([reconciler.plain[place]])
    moves = clean.posterior.influences(gradients[0]).contributions[:count]
    effect = np.abs(moves / solution.sd[:count] * solution.values[:count] / value[0])
    strong = [i for i in np.argsort(-effect, kind="stable")[:AGREEING] if effect[i] > LEANS_ON]
    return tuple(reconciler.channels[i].name for i in strong)


def _unusual(clean: Estimate, confidence: float) -> tuple[str, ...]:
    """Priors that stand further off than chance allows, worst first."""
    problem, z = clean.reconciler.problem, clean.posterior.standardised_adjustments
    size = np.nan_to_num(np.abs(z))
    tested = int(np.isfinite(z).sum())
    limit = family_limit(max(tested, 1), confidence)
    order = [i for i in np.argsort(-size, kind="stable") if size[i] > limit]
    return tuple(problem.data_names[i] for i in order if problem.kinds[i] == "prior")
