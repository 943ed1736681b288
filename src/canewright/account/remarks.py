"""What is to be remarked of a shift's analyses before anything is balanced."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from canewright.engine.points import point_name
from canewright.figures.figure import USUAL_NAMES
from canewright.files.rows import CombinedReading
from canewright.flowsheet import Factory
from canewright.laboratory.plausibility import alarms

Kind = Literal["alarm", "near a limit"]


@dataclass(frozen=True)
class Remark:
    """A sentence about analyses and what to do, and the kind of it."""

    kind: Kind
    words: str


def remarks(factory: Factory, readings: Sequence[CombinedReading]) -> list[Remark]:
    """What to stop at when the analyses lie beside each other, and near-limits at the bench."""
    found = [Remark("alarm", words) for words in alarms(_by_trade(factory, readings))]
    found += [
        Remark("near a limit", words)
        for reading in readings
        if reading.bench is not None
        for words in reading.bench.warnings
    ]
    return found


def _by_trade(
    factory: Factory, readings: Sequence[CombinedReading]
) -> dict[tuple[str, str], float]:
    """Analyses by the trade's name of the stream, where the factory calls it otherwise."""
    trade: dict[str, str] = {}
    for part, usual in USUAL_NAMES.items():
        stream = factory.control.get(part, usual[0] if usual else "")
        if stream:
            trade[point_name(stream)] = part
    streams = {point_name(name): point_name(stream) for name, stream in factory.points.items()}
    found = {}
    for reading in readings:
        stream = streams.get(reading.point, reading.point)
        found[trade.get(stream, stream), reading.analysis] = reading.value
    return found
