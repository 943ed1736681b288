"""The instruments of a shift: what certificates, checks and due dates make of their bias."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from pathlib import Path

from canewright.engine.equations.points import Channel
from canewright.files.check_records import CheckFile, read_check_file
from canewright.files.problems import InputRefused, Problem
from canewright.files.rows import ShiftFacts
from canewright.flowsheet import Factory, Instrument, Spread
from canewright.laboratory import standing
from canewright.laboratory.check_samples import CheckRecord
from canewright.laboratory.instruments import Overdue, overdue
from canewright.laboratory.standing import Standing

OF_VALUE = "% of value"


def read_checks(factory: Factory, folder: Path | str) -> dict[str, CheckFile]:
    """Records of checks by instrument, from the files that the factory file names.

    Parameters
    ----------
    factory : Factory
    folder : path
        In which the factory file stands: names of files count from there.

    Raises
    ------
    InputRefused
        With everything that is wrong with any of them.
    """
    found: dict[str, CheckFile] = {}
    problems: list[Problem] = []
    for instrument in factory.instruments:
        if instrument.checks is None:
            continue
        try:
            file = read_check_file(Path(folder) / instrument.checks.file)
        except InputRefused as refusal:
            problems += refusal.problems
            continue
        what = ""
        if not file.expected:
            what, remedy = "No column is 'expected'.", "Add the value of the standard to each row."
        elif instrument.bias and instrument.bias.relative and not all(file.expected):
            what = f"A standard of nought has no %, and the bias of {instrument.name} is of value."
            remedy = "Check against a standard that is not nought."
        if what:
            problems.append(Problem(file.file, None, "expected", what, remedy))
        found[instrument.name] = file
    if problems:
        raise InputRefused(problems)
    return found


def standings(
    factory: Factory,
    shift: ShiftFacts,
    hours: float,
    checks: Mapping[str, CheckFile] | None = None,
) -> list[Standing]:
    """How each instrument stands in a shift, of those of which something is known.

    Parameters
    ----------
    factory : Factory
    shift : ShiftFacts
        Without its start, dates play no part, and all checks count.
    hours : float
        Length of the shift. [h]
    checks : mapping, optional
        Records of checks by instrument.

    Raises
    ------
    InputRefused
        If a record cannot tell how far its readings scatter.
    """
    end = shift.start + timedelta(hours=hours) if shift.start else None
    day = shift.start.date() if shift.start else None
    late = {one.instrument: one for one in overdue(factory, day)} if day else {}
    found, problems = [], []
    for instrument in factory.instruments:
        try:
            known = _standing(
                instrument, (checks or {}).get(instrument.name), late.get(instrument.name), day, end
            )
        except ValueError as error:
            problems.append(no_scatter(instrument, error))
            continue
        if known is not None:
            found.append(known)
    if problems:
        raise InputRefused(problems)
    return found


def no_scatter(instrument: Instrument, error: ValueError) -> Problem:
    """A record of checks that does not tell how far they scatter."""
    assert instrument.checks is not None
    remedy = 'Write check_repeatability = "0.03 %" at the instrument.'
    return Problem(instrument.checks.file, None, "value", str(error), remedy)


def known_biases(
    known: Iterable[Standing], channels: Iterable[Channel]
) -> dict[str, tuple[float, float]]:
    """Mean and sd of biases by instrument, in standard uncertainties, by certificates and checks.

    Only those of which more is known than the factory file states.
    """
    sizes = {channel.instrument: channel.bias for channel in channels}
    return {
        one.instrument: one.prior(sizes[one.instrument])
        for one in known
        if one.origin != "stated" and sizes.get(one.instrument, 0.0) > 0
    }


def bias_priors(
    known: Iterable[Standing], channels: Iterable[Channel]
) -> dict[str, tuple[float, float]]:
    """The same as priors by the name that the balance gives them."""
    told = known_biases(known, channels)
    return {f"calibration of {instrument}": prior for instrument, prior in told.items()}


def _standing(
    instrument: Instrument,
    file: CheckFile | None,
    late: Overdue | None,
    day: date | None,
    end: datetime | None,
) -> Standing | None:
    bias = instrument.bias
    if bias is None:
        # Sizes are the usual ones of each reading; only the due date is to be told.
        return standing.stated(instrument.name, instrument.unit, 0.0, late) if late else None
    unit = OF_VALUE if bias.relative else instrument.unit
    known = standing.stated(instrument.name, unit, bias.value, late)
    told = _by_certificate(instrument, bias, known, day)
    # What was checked before the last calibration was of an instrument since adjusted.
    since = instrument.calibrated
    kept = file.between(since, end) if file is not None else None
    if kept is not None and kept.values:
        return standing.checked(told, check_record(instrument, bias, kept), end)
    return told if told.origin != "stated" or late else None


def _by_certificate(
    instrument: Instrument, bias: Spread, known: Standing, day: date | None
) -> Standing:
    told = instrument.certificate
    if told is None or (told.value is None and told.uncertainty == 0):
        return known
    if day is not None and instrument.calibrated is not None and instrument.calibrated > day:
        return known  # the shift was before it
    factor = 100 / abs(told.value) if bias.relative and told.value else 1.0
    error = 0.0
    if told.value is not None and told.found is not None:
        error = (told.found - told.value) * factor
    number = told.number
    if instrument.calibrated is not None:
        number = f"{number} of {instrument.calibrated:%d %b %Y}".strip()
    return standing.certified(known, error, told.uncertainty * factor, number)


def check_record(instrument: Instrument, bias: Spread, file: CheckFile) -> CheckRecord:
    """The checks of an instrument in the unit of its bias: absolute, or % of the standard.

    Raises
    ------
    ValueError
        If nothing tells how far they scatter.
    """
    assert instrument.checks is not None
    middle = sum(map(abs, file.expected)) / len(file.expected)

    def size(spread: Spread | None) -> float | None:
        """A standard uncertainty as the deviations count: absolute, or % of the standard."""
        if spread is None:
            return None
        absolute = spread.at(middle)
        return 100 * absolute / middle if bias.relative else absolute

    record = file.record(
        instrument.name,
        OF_VALUE if bias.relative else instrument.unit,
        repeatability=size(instrument.checks.repeatability),
        standard_uncertainty=size(instrument.checks.uncertainty) or 0.0,
        relative=bias.relative,
    )
    return standing.with_scatter(record, size(instrument.random))
