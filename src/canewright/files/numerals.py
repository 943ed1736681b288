"""The number in a cell, and whether the commas of a file are decimal signs."""

import re
from collections.abc import Iterable
from math import isfinite

from canewright.files.cells import Cell, Fault
from canewright.units import UnitError, read_number

_WITH_COMMA = re.compile(r"[+-]?(?:\d{1,3}(?:[   ]\d{3})+|\d+),\d+")
_WITH_POINT = re.compile(r"[+-]?[\d ,]*\.[\d.,]*")
_LONGEST = 40


def commas_mean_points(cells: Iterable[Cell]) -> bool:
    """Whether every number with a decimal sign is written with a comma, and one at least is.

    Only asked of files whose cells are parted by semicolons, as programs write them where
    the comma is the decimal sign.
    """
    texts = [cell for cell in cells if isinstance(cell, str) and len(cell) <= _LONGEST]
    if any(_WITH_POINT.fullmatch(text) for text in texts):
        return False
    return any(_WITH_COMMA.fullmatch(text) for text in texts)


def number_in(cell: Cell, commas: bool, may_have_commas: bool) -> float:
    """The number in a cell.

    Parameters
    ----------
    cell : Cell
        Text or number.
    commas : bool
        Whether a comma is the decimal sign throughout the file.
    may_have_commas : bool
        Whether it could have been, had the whole file been written so; then the refusal of a
        comma says so.

    Raises
    ------
    UnitError
        If it holds no number; the error's sentences say why.
    """
    if isinstance(cell, Fault):
        raise UnitError(cell.what, cell.remedy)
    if isinstance(cell, float) and isfinite(cell):
        return cell
    if not isinstance(cell, str):
        raise UnitError(f"'{cell}' is not a number.", "Write a number, such as 11.93.")
    if commas and len(cell) <= _LONGEST and _WITH_COMMA.fullmatch(cell):
        return read_number(cell.replace(",", "."))
    try:
        return read_number(cell)
    except UnitError as error:
        if may_have_commas and len(cell) <= _LONGEST and _WITH_COMMA.fullmatch(cell):
            raise UnitError(
                error.what,
                f"{error.remedy} (Other numbers of this file have a decimal point.)",
            ) from None
        raise
