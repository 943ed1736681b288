"""What certificates and checks of standards tell a season of its instruments.

Before the first shift they are the prior of an instrument's bias, as in a single balance. A check
during the season is a reading of the bias in the shift in which it was made: from there the bias
wanders on, and the backward pass carries it to the shifts before.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime

import numpy as np

from canewright.account.instruments import check_record, known_biases, no_scatter, standings
from canewright.engine.adjusting.reconcile import Measurement
from canewright.engine.chain.chain import ShiftReadings
from canewright.engine.equations.points import CHECK, Channel, check_channel
from canewright.files.check_records import CheckFile
from canewright.files.problems import InputRefused, Problem
from canewright.files.rows import ShiftFacts
from canewright.flowsheet import Factory
from canewright.laboratory.instruments import Overdue, overdue


def standard_of(instrument: str) -> str:
    """The error that all checks of an instrument share: that of the standard's own value."""
    return f"standard of {instrument}"


def known_at_first(
    factory: Factory,
    checks: Mapping[str, CheckFile],
    shifts: Sequence[ShiftReadings],
    channels: Sequence[Channel],
) -> dict[str, tuple[float, float]]:
    """Mean and standard uncertainty of biases when the season begins, by instrument.

    In standard uncertainties of the calibration; only those of which more is known than the
    factory file states.

    Raises
    ------
    InputRefused
        If a record cannot tell how far its readings scatter.
    """
    first = shifts[0].start if shifts else None
    if first is None:
        return {}
    return known_biases(standings(factory, ShiftFacts(first), 0.0, checks), channels)


def with_checks(
    factory: Factory,
    checks: Mapping[str, CheckFile],
    shifts: Sequence[ShiftReadings],
    channels: Sequence[Channel],
) -> tuple[list[ShiftReadings], list[Channel], list[tuple[str, str]]]:
    """Shifts with the checks made in them, channels with those of the checks, errors shared.

    A check after the last shift, or before the first, is of none.

    Parameters
    ----------
    factory : Factory
    checks : mapping
        Records of checks by instrument.
    shifts : sequence of ShiftReadings
        In the order of their starts.
    channels : sequence of Channel
        Of the readings.

    Raises
    ------
    InputRefused
        If a record cannot tell how far its readings scatter.
    """
    sizes = {channel.instrument: channel.bias for channel in channels}
    starts, end = _starts(shifts), shifts[-1].end if shifts else None
    added: list[list[Measurement]] = [[] for _ in shifts]
    more, shared, problems = [], [], list[Problem]()
    for instrument in factory.instruments:
        file, bias = checks.get(instrument.name), instrument.bias
        size = sizes.get(instrument.name, 0.0)
        if file is None or bias is None or not size > 0:
            continue
        try:
            record = check_record(instrument, bias, file)
            spread = record.sd
        except ValueError as error:
            problems.append(no_scatter(instrument, error))
            continue
        channel = check_channel(instrument.name)
        more.append(channel)
        standard = record.standard_uncertainty / size
        if standard > 0:
            shared.append((channel.name, standard_of(instrument.name)))
        places = np.array([_shift_of(moment, starts, end) for moment in record.times])
        for place in np.unique(places[places >= 0]):
            deviations = record.deviations[places == place] / size
            added[place].append(
                Measurement(
                    instrument.name,
                    CHECK,
                    float(deviations.mean()),
                    deviations.size,
                    spread / size / deviations.size**0.5,
                    {standard_of(instrument.name): standard} if standard > 0 else {},
                )
            )
    if problems:
        raise InputRefused(problems)
    taken = [
        replace(shift, measurements=(*shift.measurements, *checked)) if checked else shift
        for shift, checked in zip(shifts, added, strict=True)
    ]
    return taken, [*channels, *more], shared


def _starts(shifts: Sequence[ShiftReadings]) -> list[datetime]:
    """When the shifts began; none where one of them does not tell."""
    starts = [shift.start for shift in shifts if shift.start is not None]
    return starts if len(starts) == len(shifts) else []


def _shift_of(moment: datetime, starts: Sequence[datetime], end: datetime | None) -> int:
    """Number of the shift in which a check was made, or after which until the next; -1: none."""
    if end is not None and moment > end:
        return -1
    return bisect_left(starts, moment) - 1


def late_at_the_end(factory: Factory, shifts: Sequence[datetime | None]) -> list[Overdue]:
    """Instruments past their due date at the last shift, the longest overdue first.

    Parameters
    ----------
    factory : Factory
    shifts : sequence of datetime
        Starts of the shifts, as far as they are known.
    """
    last = max((start for start in shifts if start is not None), default=None)
    return overdue(factory, last.date()) if last is not None else []
