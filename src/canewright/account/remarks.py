"""What is to be remarked of a shift's analyses before anything is balanced."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from canewright.engine.equations.points import point_name
from canewright.figures.figure import USUAL_NAMES
from canewright.files.rows import CombinedReading, ReadingRow, ShiftFacts
from canewright.flowsheet import Factory
from canewright.laboratory.plausibility import alarms

Kind = Literal["alarm", "repeats", "late", "excluded", "near a limit"]


@dataclass(frozen=True)
class Remark:
    """A sentence about analyses and what to do, and the kind of it."""

    kind: Kind
    words: str


def remarks(
    factory: Factory,
    readings: Sequence[CombinedReading],
    rows: Sequence[ReadingRow] = (),
    shift: ShiftFacts | None = None,
) -> list[Remark]:
    """What to stop at when the analyses of a shift lie beside each other.

    Alarms first; then repeats that disagree, samples that came late, those that are kept and
    do not count; near-limits at the bench last.

    Parameters
    ----------
    factory : Factory
    readings : sequence of CombinedReading
    rows : sequence of ReadingRow
        As they were read, those that do not count too.
    shift : ShiftFacts, optional
        When it was; without its start and hours no sample is late.
    """
    found = [Remark("alarm", words) for words in alarms(_by_trade(factory, readings))]
    found += [Remark("repeats", words) for reading in readings for words in reading.repeats]
    end = shift.end if shift else None
    late = [row for row in rows if end and row.received and row.received > end and not row.excluded]
    found += [Remark("late", _late(row)) for row in late]
    found += [Remark("excluded", _excluded(row)) for row in rows if row.excluded]
    found += [
        Remark("near a limit", words)
        for reading in readings
        if reading.bench is not None
        for words in reading.bench.warnings
    ]
    return found


def _late(row: ReadingRow) -> str:
    return (
        f"{_called(row)} came {row.received:%d %b %H:%M}, after the shift: a balance made before "
        "lacks it, and its report is to be made again."
    )


def _excluded(row: ReadingRow) -> str:
    return f"{_called(row)} is kept and does not count: {row.excluded.rstrip('.')}."


def _called(row: ReadingRow) -> str:
    taken = f", taken {row.time:%d %b %H:%M}," if row.time else ""
    return f"{row.analysis} of {row.point} {row.value_as_read:g} {row.unit_as_read}{taken}"


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
