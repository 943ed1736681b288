"""What all measurements share: the quickest of several runs, rows of the table, the machine."""

import datetime
import gc
import os
import platform
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path


@dataclass(frozen=True)
class Row:
    """One line of the table: a time, the time it is held against, and what was promised.

    `promised` is the largest ratio of `seconds` to `against` that was promised, or the
    smallest of `against` to `seconds` where `times_faster` says so; None where nothing was.
    """

    what: str
    seconds: float
    beside: str = ""
    against: float = float("nan")
    promised: float | None = None
    times_faster: bool = False
    note: str = ""

    @property
    def ratio(self) -> float:
        """As promised: below 1 is quicker, or times faster."""
        return self.against / self.seconds if self.times_faster else self.seconds / self.against

    @property
    def kept(self) -> bool | None:
        """Whether the promise is kept; None without one."""
        if self.promised is None:
            return None
        return self.ratio >= self.promised if self.times_faster else self.ratio <= self.promised


@dataclass
class Table:
    """Rows in order, printed as they come."""

    rows: list[Row] = field(default_factory=list)

    def add(self, row: Row) -> None:
        self.rows.append(row)
        print(line(row), flush=True)


HEADER = f"{'':44} {'ms':>9} {'ratio':>8} {'promised':>9}  beside"


def line(row: Row) -> str:
    """A row as text."""
    ratio = promised = ""
    if row.against == row.against:
        ratio = f"{row.ratio:.2f}" if row.ratio < 10 else f"{row.ratio:.0f}"
    if row.promised is not None:
        promised = f"{'>=' if row.times_faster else '<='} {row.promised:g}"
        promised += "" if row.kept else " !"
    words = "; ".join(word for word in (row.beside, row.note) if word)
    return f"{row.what:44} {1000 * row.seconds:9.2f} {ratio:>8} {promised:>9}  {words}"


def quickest(work: Callable[[], object], rounds: int = 7, budget: float = 5.0) -> float:
    """Processor time of the shortest of several runs: what others do on the machine is not in
    it, but for the memory they share. [s]

    At most `rounds`, and no more once `budget` seconds have gone by.
    """
    best, begun = float("inf"), time.perf_counter()
    gc.collect()
    for _ in range(rounds):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
        if time.perf_counter() - begun > budget:
            break
    return best


def once(work: Callable[[], object]) -> float:
    """One run. [s]"""
    return quickest(work, 1)


def machine() -> str:
    """Processor, cores, load and versions, in words."""
    name = platform.processor() or platform.machine()
    facts = Path("/proc/cpuinfo")
    if facts.exists():
        models = [text for text in facts.read_text().splitlines() if text.startswith("model name")]
        name = models[0].split(":")[1].strip() if models else name
    import casadi
    import numpy
    import scipy

    load = f", load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    return (
        f"{datetime.datetime.now(datetime.UTC):%Y-%m-%d}, {name}, {os.cpu_count()} cores{load}, "
        f"{platform.system()}, Python {platform.python_version()}, casadi {casadi.__version__}, "
        f"numpy {numpy.__version__}, scipy {scipy.__version__}, one thread, processor time"
    )


@cache
def workshop():
    """The demonstration factory with the readings of its plan."""
    from canewright.demo.factory import WELL_RUN
    from canewright.demo.plan import planned
    from canewright.demo.truth import Workshop
    from canewright.engine.equations.nominal import prepare
    from canewright.engine.equations.points import Points
    from canewright.files.factory import read_factory

    prepared = prepare(read_factory(WELL_RUN.path))
    return Workshop(prepared, planned(Points(prepared.model), WELL_RUN.plan))


@cache
def shifts(count: int = 12):
    """Consecutive shifts of the demonstration's season: values of what its plan reads."""
    from canewright.demo.factory import WELL_RUN
    from canewright.demo.season import Season, as_measurements

    made = Season(workshop(), WELL_RUN.losses, WELL_RUN.faults).shifts(count)
    return [(as_measurements(shift), shift.facts.hours) for shift in made]
