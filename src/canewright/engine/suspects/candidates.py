"""Gross errors that might be in a shift: biases, shared biases, swapped samples, losses."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import combinations
from typing import Literal

import casadi
import numpy as np

from canewright.engine.adjusting.reconcile import Estimate
from canewright.engine.equations.points import Channel
from canewright.engine.suspects.gross_errors import Candidate
from canewright.laboratory.reading import stream_class
from canewright.laboratory.readings import READINGS

SAMPLED = (
    "brix",
    "pol",
    "apparent_purity",
    "mother_liquor_purity",
    "mother_liquor_brix",
    "sucrose",
    "reducing_sugars",
    "ash",
    "moisture",
    "dry_solids",
    "insoluble_solids",
    "colour",
)
"""Analyses made on a sample that can be taken for another."""
SWAP_SIZE = (0.6, 1.4)
"""A swap of two samples explains the whole difference between them, give or take this."""

Kind = Literal["bias", "shared bias", "swapped samples", "loss", "sucrose loss"]


@dataclass(frozen=True)
class Supposition:
    """A candidate with what it is about.

    `channels` are the readings it moves; `place` the section of a loss; `unit` that of the
    size: the reading's, "standard uncertainties" of a calibration, % of a section, or 1 for
    samples that are wholly swapped.
    """

    candidate: Candidate
    kind: Kind
    channels: tuple[Channel, ...] = ()
    place: str = ""
    unit: str = ""
    partner: Mapping[str, str] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """Name of the candidate."""
        return self.candidate.name


def present_channels(estimate: Estimate) -> list[tuple[int, Channel]]:
    """Readings of this shift with their place among the data."""
    sd = estimate.solution.sd
    return [
        (place, channel)
        for place, channel in enumerate(estimate.reconciler.channels)
        if np.isfinite(sd[place])
    ]


def suppositions(estimate: Estimate) -> dict[str, Supposition]:
    """Everything that could be wrong in a shift, by name.

    A bias of each reading; of each instrument with two readings or more; each pair of
    samples taken for each other; liquor spilled, and sucrose lost, in each section that the
    factory file gives a `section_loss`.
    """
    found = [
        *_biases(estimate),
        *_shared(estimate),
        *_swaps(estimate),
        *_spills(estimate),
        *_sucrose_losses(estimate),
    ]
    return {supposition.name: supposition for supposition in found}


def _biases(estimate: Estimate) -> list[Supposition]:
    return [
        Supposition(
            Candidate(f"bias of {channel.name}", "bias", data={channel.name: 1.0}),
            "bias",
            (channel,),
            unit=channel.unit,
        )
        for _, channel in present_channels(estimate)
    ]


def _shared(estimate: Estimate) -> list[Supposition]:
    together: dict[str, list[tuple[int, Channel]]] = {}
    for place, channel in present_channels(estimate):
        together.setdefault(channel.instrument, []).append((place, channel))
    found = []
    for instrument, readings in together.items():
        if len(readings) < 2:
            continue
        factors = {}
        for place, channel in readings:
            size = channel.bias
            if channel.bias_relative:
                size *= abs(float(estimate.solution.fitted[place])) / 100
            factors[channel.name] = size
        if not any(factors.values()):
            continue
        found.append(
            Supposition(
                Candidate(f"calibration of {instrument}", "shared bias", data=factors),
                "shared bias",
                tuple(channel for _, channel in readings),
                instrument,
                "standard uncertainties",
            )
        )
    return found


def _swaps(estimate: Estimate) -> list[Supposition]:
    """Two samples of one kind whose analyses were booked under each other's name."""
    samples: dict[str, dict[str, tuple[int, Channel]]] = {}
    for place, channel in present_channels(estimate):
        if channel.kind == "stream" and channel.analysis in SAMPLED:
            samples.setdefault(channel.point, {})[channel.analysis] = (place, channel)
    values, sd = estimate.solution.values, estimate.solution.sd
    found = []
    for one, other in combinations(samples, 2):
        common = [name for name in samples[one] if name in samples[other]]
        if not common or not _alike(estimate, samples[one], samples[other]):
            continue
        factors, partner, channels = {}, {}, []
        for analysis in common:
            (i, first), (j, second) = samples[one][analysis], samples[other][analysis]
            gap = float(values[i] - values[j])
            if abs(gap) > sd[i] + sd[j]:
                factors[first.name], factors[second.name] = gap, -gap
            partner[first.name], partner[second.name] = second.name, first.name
            channels += [first, second]
        if factors:
            found.append(
                Supposition(
                    Candidate(f"{one} and {other} swapped", "shared bias", data=factors),
                    "swapped samples",
                    tuple(channels),
                    unit="1",
                    partner=partner,
                )
            )
    return found


def _alike(
    estimate: Estimate,
    one: Mapping[str, tuple[int, Channel]],
    other: Mapping[str, tuple[int, Channel]],
) -> bool:
    states = estimate.model.states
    kinds = [
        stream_class(states[next(iter(sample.values()))[1].owner].kind) for sample in (one, other)
    ]
    return kinds[0] == kinds[1]


def _sections(estimate: Estimate) -> list[str]:
    return [
        placed.name
        for placed in estimate.model.flowsheet.placed
        if placed.cls.kind == "section_loss"
    ]


def _spills(estimate: Estimate) -> list[Supposition]:
    """Liquor lost where a loss can be: a spill makes each balance of the section unequal."""
    model, solution = estimate.model, estimate.solution
    sections = _sections(estimate)
    if not sections:
        return []
    spills = casadi.vertcat(
        *[model.parameters[model.parameter_names.index(f"{name}.spill")] for name in sections]
    )
    slope = casadi.Function(
        "spill", [model.symbols, model.parameters], [casadi.jacobian(model.residuals, spills)]
    )
    count = len(model.variables)
    table = slope(solution.z[:count], solution.parameters[: len(model.parameter_names)]).full()
    found = []
    for k, name in enumerate(sections):
        # With a spill s the equations hold at residual(0) + slope s = 0.
        factors = {
            model.equations[row].name: -float(table[row, k]) for row in np.flatnonzero(table[:, k])
        }
        candidate = Candidate(f"loss of liquor in {name}", "loss", constraints=factors)
        found.append(Supposition(candidate, "loss", place=name, unit="% of its liquor"))
    return found


def _sucrose_losses(estimate: Estimate) -> list[Supposition]:
    """Sucrose lost by itself, beyond what is usual in a section."""
    found = []
    for name in _sections(estimate):
        datum = f"{name}.undetermined"
        variable = estimate.model.variables[estimate.model.position(datum)]
        if variable.name in estimate.reconciler.problem.data_names:
            candidate = Candidate(f"loss of sucrose in {name}", "loss", data={variable.name: -1.0})
            found.append(
                Supposition(candidate, "sucrose loss", place=name, unit="% of its sucrose")
            )
    return found


def is_possible(supposition: Supposition, size: float, corrected: Mapping[str, float]) -> bool:
    """Whether what is supposed could physically be.

    A corrected reading must lie within what can be read at all, a loss must take and not
    give, and swapped samples must differ by what was booked.
    """
    if supposition.kind in ("loss", "sucrose loss"):
        return 0 < size < 100
    if supposition.kind == "swapped samples":
        return SWAP_SIZE[0] < size < SWAP_SIZE[1]
    limits = {channel.name: (channel.low, channel.high) for channel in supposition.channels}
    return all(limits[name][0] <= value <= limits[name][1] for name, value in corrected.items())


def instrument_kind(supposition: Supposition) -> str:
    """The kind of instrument to look at first, as in the table of first checks."""
    if supposition.kind in ("loss", "sucrose loss"):
        return "place"
    if supposition.kind == "swapped samples":
        return "sample"
    channel = supposition.channels[0]
    reading = READINGS.get(channel.analysis) if channel.kind != "quantity" else None
    return reading.instrument if reading is not None else "log"
