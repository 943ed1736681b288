"""A season of made-up shifts: forward pass, smoothing, memory, against cold reconciliations.

    OPENBLAS_NUM_THREADS=1 python -m benchmarks.season [SHIFTS ...]

Each length runs in a process of its own, so that its memory is its own. Times are of the
processor (all threads of the process), for the machine may be busy; "wall" is the clock beside
the forward pass, which adds shifts to their periods on a second core. What the smoother needs is
put down in files every 50 shifts, as `canewright season` does. In between, every so often, a shift
is reconciled cold: alone, with the intervals of all its readings and figures, and by IPOPT.
"""

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from benchmarks.measuring import machine, workshop
from canewright.account.season_memories import Memories
from canewright.account.season_periods import CALENDAR, Standings, season_periods
from canewright.demo.factory import WELL_RUN
from canewright.demo.season import Season, as_measurements
from canewright.engine.adjusting.posterior import Posterior
from canewright.engine.chain import keeping
from canewright.engine.chain.amounts import Amount, Amounts
from canewright.engine.chain.chain import Chain, ShiftReadings
from canewright.engine.chain.smoother import smooth
from canewright.engine.chain.watch import Watch
from canewright.figures.control import control_figures
from canewright.figures.ledgers import ledgers
from canewright.figures.to_date import PeriodFigures

STRETCH, COLD, INTERIOR = 50, 5, 2
"""Shifts run at a time; how many of them are also reconciled cold, and by IPOPT."""
LENGTHS = (90, 180, 450, 900, 1800)


def one(count: int, whole: tuple[str, ...]) -> None:
    """One season: a line of the table."""
    made = workshop()
    reconciler, model = made.reconciler, made.prepared.model
    usual = made.prepared.usual.values
    found = ledgers(model)
    figures = control_figures(model, reconciler.relations, found)
    periods = PeriodFigures(reconciler, found, figures)
    amounts = Amounts(reconciler, periods.amounts)
    of_shift = Amounts(reconciler, [Amount(n, f.unit, f.expression) for n, f in figures.items()])
    shifts = [
        ShiftReadings(s.facts.name, s.facts.start, s.facts.hours, tuple(as_measurements(s)))
        for s in Season(made, WELL_RUN.losses, WELL_RUN.faults).shifts(count)
    ]
    parts = season_periods([shift.start for shift in shifts], whole)
    chain = Chain(reconciler, usual, amounts, of_shift, parts)
    chain.running.tell = Standings(periods, amounts, chain.carried).tell
    chain.watcher = Watch()
    memories, state, skipped = Memories(), chain.begin(), []
    expressions = [figure.expression for figure in figures.values()]
    forward = wall = 0.0
    cold, told, interior = [], [], []
    with tempfile.TemporaryDirectory() as folder:
        for first in range(0, count, STRETCH):
            stretch = shifts[first : first + STRETCH]
            begun, began = time.process_time(), time.perf_counter()
            state, _, failed = chain.run(stretch, state, memories=memories)
            forward += time.process_time() - begun
            wall += time.perf_counter() - began
            skipped += failed
            path = Path(folder) / f"{first}.npz"
            path.write_bytes(keeping.written(memories.held))
            memories.put_down(path)
            cold_solves(reconciler, stretch, usual, expressions, (cold, told, interior))
        begun = time.process_time()
        for _ in smooth(chain.carried, memories):
            pass
        backward = time.process_time() - begun
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    each = forward / count
    ratios = [float(np.median(times)) / each for times in (cold, told, interior)]
    print(
        f"{count:6d} {forward:9.1f} {1000 * each:8.1f} {wall:7.1f} {backward:8.1f} {memory:6.0f} "
        f"{len(skipped):5d} {1000 * np.median(cold):8.1f} "
        + " ".join(f"{ratio:7.2f}" for ratio in ratios),
        flush=True,
    )


def cold_solves(reconciler, stretch, usual, expressions, times):
    """Processor time of cold reconciliations: alone, with all intervals, and by IPOPT."""
    cold, told, interior = times
    gradients = None
    for shift in stretch[:: max(len(stretch) // COLD, 1)]:
        begun = time.process_time()
        estimate = reconciler.solve(shift.measurements, usual, hours=shift.hours)
        cold.append(time.process_time() - begun)
        if gradients is None:
            _, gradients = estimate.evaluate(expressions)
        begun = time.process_time()
        posterior = Posterior.at(reconciler.problem, estimate.solution)
        _ = posterior.fitted_sd, posterior.redundancy
        posterior.influences_of(gradients)
        told.append(cold[-1] + time.process_time() - begun)
    quick, reconciler.problem.elimination = reconciler.problem.elimination, None
    try:
        for shift in stretch[:INTERIOR]:
            begun = time.process_time()
            reconciler.solve(shift.measurements, usual, hours=shift.hours)
            interior.append(time.process_time() - begun)
    finally:
        reconciler.problem.elimination = quick


def main(counts: tuple[int, ...], whole: tuple[str, ...]) -> None:
    print(machine())
    kinds = ", ".join(whole) or "no period but the season"
    print(f"every figure and ledger row of: {kinds}")
    print(
        f"{'shifts':>6} {'forward s':>9} {'ms/shift':>8} {'wall s':>7} {'smooth s':>8} {'MiB':>6} "
        f"{'left':>5} {'cold ms':>8} {'ratio':>7} {'of all':>7} {'IPOPT':>7}",
        flush=True,
    )
    for count in counts:
        words = [sys.executable, "-m", "benchmarks.season", "--one", str(count), *whole]
        subprocess.run(words, check=True)


if __name__ == "__main__":
    typed = sys.argv[1:]
    if typed[:1] == ["--one"]:
        one(int(typed[1]), tuple(typed[2:]))
    else:
        lengths = tuple(int(word) for word in typed if word.isdecimal()) or LENGTHS
        main(lengths, () if "--losses" in typed else tuple(CALENDAR))
