"""The season as tables, a row each: figures by shift and by period, ledgers, instruments."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from importlib import import_module
from pathlib import Path
from typing import Any

from canewright.account.season import SeasonAccount
from canewright.account.season_periods import CALENDAR, Standing
from canewright.engine.adjusting.explain import COVERAGE
from canewright.engine.adjusting.influences import DETERMINED_UP_TO
from canewright.figures.to_date import PeriodFigure
from canewright.files.writing import write_whole

BY_SHIFT = "figures by shift"
LOOKED_AT, WIDEST = 200, 40
"""Rows by which a column's width is chosen, and letters of the widest."""
Cell = str | float | int | datetime | None


@dataclass(frozen=True)
class SeasonTable:
    """One table: its name, its columns and its rows."""

    name: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


def tables(account: SeasonAccount) -> list[SeasonTable]:
    """Every table of a season."""
    return [
        SeasonTable(
            BY_SHIFT,
            ("shift", "name", "start", "hours", "figure", "unit", "value", "half_width_95"),
            tuple(_by_shift(account)),
        ),
        SeasonTable(
            "figures by period",
            (
                "kind", "period", "figure", "unit", "value", "half_width_95", "determined",
                "prior_share", "weighting",
            ),
            tuple(_by_period(account)),
        ),
        SeasonTable(
            "ledgers to date",
            (
                "ledger", "side", "row", "unit", "amount", "half_width_95", "percent_of_base",
                "determined", "prior_share",
            ),
            tuple(row[2:] for row in _ledgers(account, [account.season])),
        ),
        SeasonTable(
            "ledgers by period",
            (
                "kind", "period", "ledger", "side", "row", "unit", "amount", "half_width_95",
                "percent_of_base", "determined", "prior_share",
            ),
            tuple(
                row
                for kind in CALENDAR
                for row in _ledgers(account, account.standings(kind))
            ),
        ),
        SeasonTable(
            "instruments by shift",
            ("shift", "instrument", "bias_in_standard_uncertainties", "half_width_95"),
            tuple(_instruments(account)),
        ),
        SeasonTable(
            "performance by shift",
            ("shift", "level", "value", "half_width_95"),
            tuple(_carried(account, "level")),
        ),
        SeasonTable(
            "performance and history",
            ("parameter", "label", "unit", "before", "low", "high", "now", "outside", "since"),
            tuple(
                (
                    h.name, h.label, h.unit, h.mean, h.low, h.high, h.now,
                    str(h.moved).lower(), h.since,
                )
                for h in account.histories()
            ),
        ),
        SeasonTable(
            "undetermined to date",
            ("shift", "percent", "half_width_95", "half_width_95_if_independent"),
            tuple(
                (point.number + 1, point.value, COVERAGE * point.sd,
                 COVERAGE * point.independent_sd)
                for point in account.undetermined
            ),
        ),
        SeasonTable(
            "readings set aside",
            ("shift", "name", "reading", "read", "expected", "standard_deviations"),
            tuple(
                (r.number + 1, r.name, a.name, a.reading, a.expected, a.standardised)
                for r in account.results
                for a in r.aside
            ),
        ),
    ]  # fmt: skip


def _by_shift(account: SeasonAccount) -> Iterator[tuple[Cell, ...]]:
    figures = list(account.figures_of_shift.values())
    for r in account.results:
        for figure, value, sd in zip(figures, r.figures, r.figures_sd, strict=True):
            yield (
                r.number + 1, r.name, r.start, r.hours, figure.name, figure.unit, float(value),
                float(COVERAGE * sd),
            )  # fmt: skip


def _by_period(account: SeasonAccount) -> Iterator[tuple[Cell, ...]]:
    for kind in CALENDAR:
        for period, figures in account.periods(kind):
            for f in figures:
                yield kind, period.name, *_figure(f)
    for f in account.figures:
        yield "season", "to date", *_figure(f)


def _figure(f: PeriodFigure) -> tuple[Cell, ...]:
    said = str(f.determined).lower()
    return f.name, f.unit, f.value, COVERAGE * f.sd, said, f.prior_share, f.rule


def _ledgers(account: SeasonAccount, standings: Sequence[Standing]) -> Iterator[tuple[Cell, ...]]:
    for standing in standings:
        for name, rows in standing.ledgers.items():
            unit = account.ledgers[name].unit
            for row in rows:
                said = str(row.determined).lower()
                numbers = row.amount, COVERAGE * row.sd, row.share, said, row.prior_share
                yield standing.kind, standing.period.name, name, row.side, row.name, unit, *numbers


def _instruments(account: SeasonAccount) -> Iterator[tuple[Cell, ...]]:
    yield from _carried(account, "bias")


def _carried(account: SeasonAccount, kind: str) -> Iterator[tuple[Cell, ...]]:
    """What was carried after each shift; of levels, those that readings determine."""
    carried = account.chain.carried
    last = account.results[-1]
    places = [
        i
        for i, k in enumerate(carried.kinds)
        if k == kind
        and (kind != "level" or last.carried_sd[i] ** 2 <= DETERMINED_UP_TO * carried.variance[i])
    ]
    for r in account.results:
        for i in places:
            yield (
                r.number + 1,
                carried.names[i],
                float(r.carried[i]),
                float(COVERAGE * r.carried_sd[i]),
            )


def write_parquet(table: SeasonTable, path: Path) -> None:
    """Write one table as Parquet, whole or not at all."""
    import polars

    columns = {name: [row[k] for row in table.rows] for k, name in enumerate(table.columns)}
    file = io.BytesIO()
    polars.DataFrame(columns, strict=False).write_parquet(file)
    write_whole(path, file.getvalue())


def write_workbook(found: Sequence[SeasonTable], path: Path) -> None:
    """Write tables as a workbook, one sheet each, headers frozen; whole or not at all."""
    file = io.BytesIO()
    # Row by row: a season has a million cells, too many to hold.
    book: Any = import_module("xlsxwriter").Workbook(
        file, {"constant_memory": True, "nan_inf_to_errors": True}
    )
    bold = book.add_format({"bold": True})
    moment = book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
    for table in found:
        sheet: Any = book.add_worksheet(table.name[:31])
        sheet.freeze_panes(1, 0)
        sheet.autofilter(0, 0, max(len(table.rows), 1), len(table.columns) - 1)
        for column, name in enumerate(table.columns):
            written = [name, *(str(row[column]) for row in table.rows[:LOOKED_AT])]
            sheet.set_column(column, column, min(max(map(len, written)) + 2, WIDEST))
        for column, name in enumerate(table.columns):
            sheet.write_string(0, column, name.replace("_", " "), bold)
        for place, row in enumerate(table.rows, start=1):
            for column, cell in enumerate(row):
                if isinstance(cell, datetime):
                    sheet.write_datetime(place, column, cell.replace(tzinfo=None), moment)
                elif isinstance(cell, str):
                    sheet.write_string(place, column, cell)
                elif cell is not None:
                    sheet.write_number(place, column, cell)
    book.close()
    write_whole(path, file.getvalue())
