"""What a cell of a table can hold, and the refusal of a file for a single reason."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from canewright.files.problems import InputRefused, Problem


@dataclass(frozen=True)
class Fault:
    """What stands in a cell that a workbook holds but cannot give a value for."""

    what: str
    remedy: str


Cell = str | float | bool | datetime | date | time | timedelta | Fault | None


def refuse(file: str, what: str, remedy: str, row: int | None = None) -> InputRefused:
    """The refusal of a file for a single reason."""
    return InputRefused([Problem(file, row, "", what, remedy)])
