"""Lines of the account: ledgers and readings with their intervals."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from canewright.engine.adjusting.explain import COVERAGE, Statement
from canewright.engine.adjusting.reconcile import Estimate
from canewright.engine.adjusting.statistics import told_from_zero
from canewright.engine.suspects.suspects import Suspects
from canewright.figures.ledger import Ledger, LedgerRow


@dataclass(frozen=True)
class LedgerLine:
    """A row of a ledger over the period.

    `amount` is in the ledger's unit; `percent` of the ledger's base, with its own interval
    for sucrose, without one elsewhere.
    """

    name: str
    kind: str
    amount: Statement
    percent: Statement
    parts: tuple[LedgerLine, ...] = ()

    @property
    def told_apart(self) -> bool:
        """Whether readings tell the parts apart: each of them is determined by itself."""
        return all(part.amount.determined for part in self.parts)

    @property
    def told_from_zero(self) -> float:
        """Smallest percentage that would be told from zero with 90 % probability."""
        return told_from_zero(self.percent.sd)


@dataclass(frozen=True)
class LedgerAccount:
    """A ledger with numbers: what came in, and what became of it."""

    component: str
    unit: str
    entering: tuple[LedgerLine, ...]
    leaving: tuple[LedgerLine, ...]
    total_in: float
    total_out: float
    base: float
    base_name: str
    covers: str

    @property
    def rows(self) -> tuple[LedgerLine, ...]:
        """All rows, what came in first."""
        return (*self.entering, *self.leaving)

    @property
    def closes_within(self) -> float:
        """Difference of the two totals, relative to what came in."""
        return abs(self.total_in - self.total_out) / abs(self.total_in)


@dataclass(frozen=True)
class ReadingLine:
    """A reading set against its neighbours.

    `estimate` is what the balance says it should be, `interval` that of 95 %;
    `adjustment_in_sd` how far the reading is from what the others make it, in standard
    uncertainties of that distance (nan where nothing checks it); `redundancy` the share, 0
    to 1, to which others check it; `smallest_detectable_bias` in the reading's unit.
    """

    point: str
    analysis: str
    label: str
    unit: str
    value: float
    estimate: float
    sd: float
    interval: tuple[float, float]
    adjustment_in_sd: float
    redundancy: float
    smallest_detectable_bias: float
    set_aside: bool

    @property
    def name(self) -> str:
        """`point analysis`."""
        return f"{self.point} {self.analysis}"

    @property
    def checked(self) -> bool:
        """Whether anything checks it."""
        return bool(np.isfinite(self.smallest_detectable_bias))


def ledger_expressions(ledger: Ledger) -> list[object]:
    """Amounts of every row and part; for sucrose their percentages too."""
    amounts = [row.expression for row in _all_rows(ledger)]
    amounts += [ledger.total_in, ledger.total_out, ledger.base]
    if ledger.component == "sucrose":
        amounts += [100 * row.expression / ledger.base for row in _all_rows(ledger)]
    return amounts


def _all_rows(ledger: Ledger) -> list[LedgerRow]:
    rows = []
    for row in (*ledger.entering, *ledger.leaving):
        rows += [row, *row.parts]
    return rows


def ledger_account(ledger: Ledger, known: Iterator[Statement]) -> LedgerAccount:
    """Put statements, in the order of `ledger_expressions`, into a ledger."""
    rows = _all_rows(ledger)
    amounts = {id(row): next(known) for row in rows}
    total_in, total_out, base = (next(known).value for _ in range(3))
    if ledger.component == "sucrose":
        percents = {id(row): next(known) for row in rows}
    else:
        percents = {key: _share(amount, base) for key, amount in amounts.items()}

    def line(row: LedgerRow) -> LedgerLine:
        parts = tuple(line(part) for part in row.parts)
        return LedgerLine(row.name, row.kind, amounts[id(row)], percents[id(row)], parts)

    return LedgerAccount(
        ledger.component,
        ledger.unit,
        tuple(line(row) for row in ledger.entering),
        tuple(line(row) for row in ledger.leaving if _is_there(amounts[id(row)])),
        total_in,
        total_out,
        base,
        ledger.base_name,
        ledger.covers,
    )


def _is_there(amount: Statement) -> bool:
    """A row that is nothing and cannot be anything else (no spill is known) is left out."""
    return not (amount.value == 0.0 and amount.sd == 0.0)


def _share(amount: Statement, base: float) -> Statement:
    factor = 100 / base
    low, high = (end * factor for end in amount.interval)
    return Statement(
        amount.value * factor,
        amount.sd * abs(factor),
        (low, high),
        amount.determined,
        amount.prior_share,
        amount.one_sided,
    )


def reading_lines(plain: Estimate, suspects: Suspects) -> list[ReadingLine]:
    """Every reading of the shift with what the balance makes of it."""
    clean = suspects.estimate
    aside = {name for finding in suspects.findings for name in _set_aside(finding.kind, finding)}
    z = clean.posterior.standardised_adjustments
    booked: Mapping[str, float] = {m.name: m.value for m in plain.measurements}
    lines = []
    for place, channel in enumerate(plain.reconciler.channels):
        if channel.name not in booked:
            continue
        value, fitted = booked[channel.name], float(clean.solution.fitted[place])
        sd = float(clean.posterior.fitted_sd[place])
        away = float(z[place])
        if channel.name in aside:
            away = (value - fitted) / float(np.hypot(plain.solution.sd[place], sd))
        lines.append(
            ReadingLine(
                channel.point,
                channel.analysis,
                channel.label,
                channel.unit,
                value,
                fitted,
                sd,
                (fitted - COVERAGE * sd, fitted + COVERAGE * sd),
                away,
                float(plain.posterior.redundancy[place]),
                suspects.detectable[channel.name],
                channel.name in aside,
            )
        )
    return lines


def _set_aside(kind: str, finding: object) -> tuple[str, ...]:
    readings: tuple[str, ...] = getattr(finding, "readings", ())
    return readings if kind in ("bias", "swapped samples") else ()
