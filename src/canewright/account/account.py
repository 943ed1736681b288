"""From a factory file and a file of readings to the account of the shift."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from canewright.account.instruments import bias_priors, read_checks, standings
from canewright.account.lines import (
    LedgerAccount,
    ReadingLine,
    ledger_account,
    ledger_expressions,
    reading_lines,
)
from canewright.account.remarks import Remark, remarks
from canewright.account.sentences import closing, other_hours, undetermined
from canewright.account.start import prepared_of
from canewright.engine.adjusting.explain import Statement, statements
from canewright.engine.adjusting.reconcile import Estimate, Measurement, Reconciler
from canewright.engine.adjusting.statistics import GlobalTest
from canewright.engine.adjusting.wild_readings import reconcile
from canewright.engine.equations.model import compile
from canewright.engine.equations.nominal import Prepared
from canewright.engine.equations.points import Points
from canewright.engine.equations.simulate import SolveFailed
from canewright.engine.measuring.what_to_measure import Hint, what_to_measure
from canewright.engine.suspects.suspects import Suspects, find_suspects
from canewright.engine.suspects.wrong_hours import hours_that_fit
from canewright.figures.control import control_figures
from canewright.figures.figure import Figure
from canewright.figures.ledger import Ledger
from canewright.figures.ledgers import ledgers
from canewright.files.catalogue import FactoryCatalogue
from canewright.files.check_records import CheckFile
from canewright.files.factory import read_factory
from canewright.files.readings import combine_all, read_readings
from canewright.files.rows import CombinedReading, ReadingsFile, ShiftFacts
from canewright.files.table_files import own_methods
from canewright.flowsheet import Factory
from canewright.laboratory.bench import BenchResult
from canewright.laboratory.standing import Standing

Progress = Callable[[str], None]
HINTED = ("undetermined_loss", "boiling_house_recovery", "sucrose_extraction")
"""Figures that get a hint of what to measure where they are not determined; besides them
the figures of the undetermined loss by section."""


@dataclass
class Account:
    """Everything that can be said of a shift.

    Attributes
    ----------
    factory, shift, hours
        What was balanced, and over how long. [h]
    plain : Estimate
        The readings as they came.
    suspects : Suspects
        What is wrong with them, and the estimate from which all figures are taken.
    figures, statements : dict
        Control figures by name, and what is known of each.
    ledgers : dict
        Ledgers by component.
    readings : list
        Every reading, in the order of the file.
    hints : dict
        Figure -> what to measure, for those not determined.
    seconds : float
        From the files to here.
    bench : dict
        Reading, as `point analysis` -> its working from raw readings of the bench; those that
        stand beside the balance too.
    instruments : list of Standing
        What certificates, checks and due dates say of the instruments.
    remarks : list of Remark
        What is to be looked at in the analyses themselves.
    fitting_hours : tuple, optional
        Length [h] with which a shift that does not close would close, and its test.
    """

    factory: Factory
    shift: ShiftFacts
    hours: float
    plain: Estimate
    suspects: Suspects
    figures: dict[str, Figure]
    statements: dict[str, Statement]
    ledgers: dict[str, LedgerAccount]
    readings: list[ReadingLine]
    hints: dict[str, Hint | None]
    seconds: float
    file: str = ""
    notes: list[str] = field(default_factory=list)
    bench: dict[str, BenchResult] = field(default_factory=dict)
    instruments: list[Standing] = field(default_factory=list)
    remarks: list[Remark] = field(default_factory=list)
    fitting_hours: tuple[float, GlobalTest] | None = None

    @property
    def estimate(self) -> Estimate:
        """The reconciled shift with what was found allowed for."""
        return self.suspects.estimate

    @property
    def closing(self) -> str:
        """Whether the balance closes."""
        said = closing(self.suspects)
        if self.fitting_hours is None:
            return said
        return f"{said} {other_hours(self.hours, *self.fitting_hours)}"

    @property
    def sucrose(self) -> str:
        """What is undetermined, and whether that is a finding; empty without a loss to find."""
        known = self.statements.get("undetermined_loss")
        if known is None:
            return ""
        hint = self.hints.get("undetermined_loss")
        return undetermined(known, self.ledgers["sucrose"].base_name, hint)

    @property
    def verdict(self) -> str:
        """One or two sentences: does it close, what is doubtful, is sucrose missing."""
        from canewright.account.sentences import headline

        doubtful = [f"Doubtful: {headline(finding)}." for finding in self.suspects.findings]
        sucrose = self.sucrose
        sucrose = f"Sucrose: {sucrose}" if sucrose else ""
        return " ".join(part for part in (self.closing, *doubtful, sucrose) if part)

    @property
    def beside(self) -> dict[str, BenchResult]:
        """Analyses of the bench that the balance does not take, by `point analysis`."""
        taken = {line.name for line in self.readings}
        return {name: result for name, result in self.bench.items() if name not in taken}

    @property
    def shown(self) -> list[str]:
        """Names of the figures printed without being asked for."""
        return [name for name, figure in self.figures.items() if figure.headline]


def balance(
    factory_path: str | Path, readings_path: str | Path, progress: Progress | None = None
) -> Account:
    """Balance a shift from its files.

    Parameters
    ----------
    factory_path, readings_path : path
        The factory file (TOML) and the shift's readings (CSV, XLSX, ODS).
    progress : callable, optional
        Told what is being done, in a few words.

    Raises
    ------
    InputRefused
        With everything that is wrong with either file.
    SolveFailed
        If the shift cannot be balanced, naming the equations that did not close.
    """
    begun = time.perf_counter()
    say = progress or (lambda words: None)
    say("Reading the factory")
    factory = read_factory(factory_path)
    prepared, notes = _prepared(factory, factory_path)
    say("Reading the readings")
    tables = own_methods(factory.tables, Path(factory_path).parent)
    catalogue = FactoryCatalogue(Points(prepared.model), tables)
    taken = read_readings(readings_path, catalogue)
    combined, beside = combine_all(taken.rows, catalogue)
    checks = read_checks(factory, Path(factory_path).parent)
    return account_of(
        prepared,
        combined,
        taken,
        beside=beside,
        checks=checks,
        notes=notes,
        begun=begun,
        progress=say,
    )


def _prepared(factory: Factory, path: str | Path) -> tuple[Prepared, list[str]]:
    """The factory at its usual point, or at its first guess where that cannot be solved."""
    try:
        return prepared_of(factory, path), []
    except SolveFailed as failure:
        model = compile(factory)
        usual: Any = _Unsolved(model.guess)
        note = (
            f"The factory file's usual figures do not make a factory that runs "
            f"({failure.sentence.rstrip('.')}); the balance started from first guesses."
        )
        return Prepared(model, usual, usual, []), [note]


@dataclass
class _Unsolved:
    """Stands in for a solution of the usual point that could not be found."""

    values: np.ndarray


def account_of(
    prepared: Prepared,
    readings: Sequence[CombinedReading],
    taken: ReadingsFile | None = None,
    *,
    beside: Sequence[CombinedReading] = (),
    priors: Mapping[str, tuple[float, float]] | None = None,
    checks: Mapping[str, CheckFile] | None = None,
    notes: Sequence[str] = (),
    begun: float | None = None,
    progress: Progress | None = None,
) -> Account:
    """The account of a shift whose factory is compiled and whose readings are combined.

    Parameters
    ----------
    prepared : Prepared
    readings : sequence of CombinedReading
        One for each point and analysis.
    taken : ReadingsFile, optional
        For the facts of the shift and the name of the file.
    beside : sequence of CombinedReading
        Analyses of the bench that the balance does not take.
    priors : mapping, optional
        Priors (mean, sd) by name in place of the model's: stocks and biases carried over.
    checks : mapping, optional
        Records of check samples by instrument, which tell its bias.
    notes : sequence of str
        What is to be said about the start, should the balance fail.
    begun : float, optional
        When the work began, by `time.perf_counter`.
    progress : callable, optional

    Raises
    ------
    SolveFailed
        If the shift cannot be balanced.
    """
    begun = time.perf_counter() if begun is None else begun
    say = progress or (lambda words: None)
    model = prepared.model
    facts = taken.shift if taken is not None else ShiftFacts()
    hours = facts.hours or model.factory.shift_hours
    points = Points(model, on=facts.start.date() if facts.start else None)
    say("Writing the equations")
    channels = [points.channel(reading.point, reading.analysis) for reading in readings]
    shared = [(f"{r.point} {r.analysis}", source) for r in readings for source in r.shared]
    reconciler = Reconciler(model, channels, prepared.statements, shared)
    measured = [
        Measurement(r.point, r.analysis, r.value, r.count, r.sd, r.shared) for r in readings
    ]
    known_of_instruments = standings(model.factory, facts, hours, checks)
    told = {**bias_priors(known_of_instruments, channels), **(priors or {})}
    say("Balancing")
    try:
        plain = reconcile(reconciler, measured, prepared.usual.values, hours=hours, priors=told)
    except SolveFailed as failure:
        raise SolveFailed(" ".join([failure.sentence, *notes]), failure.open_equations) from failure
    say("Looking for suspects")
    suspects = find_suspects(plain)
    fitting = hours_that_fit(plain, suspects, hours, told)
    say("Working out the figures")
    clean = suspects.estimate
    books = ledgers(model)
    figures = control_figures(model, reconciler.relations, books)
    known, accounts = _numbers(clean, figures, books)
    figures = {name: figures[name] for name in known}
    hints = _hints(clean, figures, known)
    return Account(
        factory=model.factory,
        shift=facts,
        hours=hours,
        plain=plain,
        suspects=suspects,
        figures=figures,
        statements=known,
        ledgers=accounts,
        readings=reading_lines(plain, suspects),
        hints=hints,
        seconds=time.perf_counter() - begun,
        file=taken.file if taken is not None else "",
        bench={
            f"{r.point} {r.analysis}": r.bench for r in (*readings, *beside) if r.bench is not None
        },
        instruments=known_of_instruments,
        remarks=remarks(model.factory, [*readings, *beside], taken.rows if taken else (), facts),
        fitting_hours=fitting,
    )


def _numbers(
    clean: Estimate, figures: Mapping[str, Figure], books: Mapping[str, Ledger]
) -> tuple[dict[str, Statement], dict[str, LedgerAccount]]:
    """Statements of all figures and all rows of all ledgers, at once."""
    expressions = [figure.expression for figure in figures.values()]
    for ledger in books.values():
        expressions += ledger_expressions(ledger)
    numbers = iter(statements(clean, expressions))
    known = {name: next(numbers) for name in figures}
    accounts = {name: ledger_account(ledger, numbers) for name, ledger in books.items()}
    present = {
        name: statement
        for name, statement in known.items()
        if not (statement.value == 0.0 and statement.sd == 0.0)
    }
    return present, accounts


def _hints(
    clean: Estimate, figures: Mapping[str, Figure], known: Mapping[str, Statement]
) -> dict[str, Hint | None]:
    wanted = [
        name
        for name in figures
        if (name in HINTED or name.startswith("undetermined_loss")) and not known[name].determined
    ]
    found = what_to_measure(clean, [figures[name].expression for name in wanted])
    return dict(zip(wanted, found, strict=True))
