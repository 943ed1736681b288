"""Tables of a laboratory's own in place of a method's: a spindle's, a refractometer's, a factor's.

A printed table belongs to its glass, its prism, its copper solution. Loaded, it takes the place
of the method's formula for that one line of the working; all else stays as it is.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from canewright.laboratory.method import Method, RawInput, Step, methods
from canewright.ops import Numeric

TABULATED = {
    "brix_of_juice": ("correction", "temperature", "reading"),
    "brix_of_syrup": ("correction", "temperature", "reading"),
    "brix_after_dilution": ("correction", "temperature", "reading"),
    "brix_by_hydrometer": ("correction", "temperature", "reading"),
    "reducing_sugars": ("table_factor", "titre", "sucrose"),
}
"""Method -> the raw reading that a table gives it, and what it goes by: rows and columns."""


class TableRefused(ValueError):
    """A table cannot be used; `problems` holds a sentence for each thing wrong with it."""

    def __init__(self, problems: Sequence[str]) -> None:
        super().__init__("\n".join(problems))
        self.problems = list(problems)


@dataclass(frozen=True)
class OwnTable:
    """A table: `values[i][k]` stands for `rows[i]` and `columns[k]`; between, straight lines.

    `uncertainty` is the standard uncertainty of its entries, common to all of them.
    """

    title: str
    source: str
    method: str
    rows: tuple[float, ...]
    columns: tuple[float, ...]
    values: tuple[tuple[float, ...], ...]
    uncertainty: float = 0.0

    def __post_init__(self) -> None:
        wrong = []
        if self.method not in TABULATED:
            listed = ", ".join(TABULATED)
            raise TableRefused([f"'{self.method}' takes no table of one's own; {listed} do."])
        _, by, along = TABULATED[self.method]
        for name, ends in ((by, self.rows), (along, self.columns)):
            if len(ends) < 2 or not (np.diff(ends) > 0).all():
                wrong.append(f"'{name}' must hold two numbers or more, each above the last.")
        if len(self.values) != len(self.rows):
            wrong.append(
                f"The table has {len(self.values)} rows for {len(self.rows)} values of '{by}'."
            )
        wrong += [
            f"Row {k + 1} of the table has {len(row)} entries for {len(self.columns)} values of "
            f"'{along}'."
            for k, row in enumerate(self.values)
            if len(row) != len(self.columns)
        ]
        if self.uncertainty < 0:
            wrong.append("'uncertainty' cannot be below zero.")
        if wrong:
            raise TableRefused(wrong)

    def at(self, row: Numeric, column: Numeric) -> Numeric:
        """Entry for these values, straight lines between; floats or arrays, within its ends."""
        table = np.asarray(self.values)
        i, u = _place(np.asarray(self.rows), row)
        k, v = _place(np.asarray(self.columns), column)
        low = table[i, k] * (1 - v) + table[i, k + 1] * v
        high = table[i + 1, k] * (1 - v) + table[i + 1, k + 1] * v
        return low * (1 - u) + high * u


def _place(ends: Numeric, value: Numeric) -> tuple[Numeric, Numeric]:
    """The interval in which a value lies, and how far along it."""
    at = np.clip(np.searchsorted(ends, value, side="right") - 1, 0, len(ends) - 2)
    return at, (value - ends[at]) / (ends[at + 1] - ends[at])


def with_table(table: OwnTable) -> Method:
    """The method with the table in place of its own; it is refused outside the table's ends."""
    plain = methods()[table.method]
    given, by, along = TABULATED[table.method]
    error = RawInput(
        "table_error",
        f"error of {table.title}",
        plain.input(given).unit,
        -np.inf,
        np.inf,
        uncertainty=table.uncertainty,
        shared=table.title,
        default=0.0,
    )

    def steps(values: Mapping[str, Numeric]) -> list[Step]:
        found = table.at(values[by], values[along]) + values["table_error"]
        lines = plain.steps({**values, given: found})
        note = f"from {table.title}"
        return [replace(lines[0], source=table.source, note=note), *lines[1:]]

    inputs = [
        _within(raw, table) for raw in plain.inputs if raw.name != given
    ]  # the table gives it
    return replace(
        plain,
        inputs=(*inputs, error),
        steps=steps,
        valid={},
        source="common_practice",
        at=f"by a table of the laboratory's own: {table.title}, {table.source}",
        known="assumed",
        text="",
    )


def _within(raw: RawInput, table: OwnTable) -> RawInput:
    _, by, along = TABULATED[table.method]
    ends = {by: table.rows, along: table.columns}.get(raw.name)
    if ends is None:
        return raw
    bench = f"The table of {table.title} ends there: bring the sample within it and read again."
    return replace(raw, low=ends[0], high=ends[-1], bench=bench)
