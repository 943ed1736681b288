"""Dates and times as a person or a workbook writes them, in the plant's local time."""

import re
from datetime import date, datetime, time, timedelta

from canewright.files.cells import Cell, Fault
from canewright.units import UnitError

EARLIEST, LATEST = 1900, 2999
"""Years within which a moment is taken for more than a slip of the pen."""

_REMEDY = "Write it like 2026-08-14T14:00, or 14:00 for a time within the shift."
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?(?:\.\d+)?")


def read_moment(cell: Cell) -> datetime | time:
    """The date and time in a cell, or the time of day alone.

    Raises
    ------
    UnitError
        If it is neither; the error's sentences say why.
    """
    if isinstance(cell, Fault):
        raise UnitError(cell.what, cell.remedy)
    if isinstance(cell, datetime):
        return _whole_seconds(cell.replace(tzinfo=None))
    if isinstance(cell, time):
        return cell.replace(microsecond=0)
    if isinstance(cell, timedelta) and timedelta(0) <= cell < timedelta(days=1):
        return (datetime.min + cell).time().replace(microsecond=0)
    if isinstance(cell, date):
        raise UnitError(f"'{cell.isoformat()}' is a date without a time.", _REMEDY)
    if isinstance(cell, str):
        return _from_text(cell)
    raise UnitError(f"'{cell}' is not a date and time.", _REMEDY)


def _from_text(text: str) -> datetime | time:
    clock = _CLOCK.fullmatch(text)
    shown = text[:60]
    try:
        if clock:
            hour, minute, second = (int(part or 0) for part in clock.groups())
            return time(hour, minute, second)
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
            raise UnitError(f"'{shown}' is a date without a time.", _REMEDY)
        if not re.match(r"\d{4}-\d{2}-\d{2}[T ]", text):
            what = f"'{shown}' is not a date and time."
            if re.match(r"\d{1,4}[/.\-]\d{1,2}[/.\-]\d{1,4}", text):
                what = f"'{shown}' does not say which number is the day and which the month."
            raise UnitError(what, _REMEDY)
        moment = datetime.fromisoformat(text)
    except UnitError:
        raise
    except ValueError:
        raise UnitError(f"'{shown}' is not a date and time that exists.", _REMEDY) from None
    if moment.tzinfo is not None:
        raise UnitError(
            f"'{shown}' names a time zone.", "Write the plant's own time without a zone."
        )
    return _whole_seconds(moment)


def _whole_seconds(moment: datetime) -> datetime:
    """A workbook holds times as fractions of a day, a few microseconds off."""
    if not EARLIEST <= moment.year <= LATEST:
        raise UnitError(f"'{moment:%Y-%m-%d}' is of no year in which a shift was worked.", _REMEDY)
    return (moment + timedelta(microseconds=500_000)).replace(microsecond=0)


def within_shift(moment: time, start: datetime) -> datetime:
    """The first moment from the start of the shift on at which the clock shows this time."""
    same_day = datetime.combine(start.date(), moment)
    return same_day if same_day >= start else same_day + timedelta(days=1)
