"""A season of made-up shifts: forward pass, smoothing, memory, against cold reconciliations.

    OPENBLAS_NUM_THREADS=1 python -m benchmarks.season [SHIFTS ...]

One thread, in a process of its own: matrices of some hundred rows are no faster on two.
"""

import resource
import sys
import time

import numpy as np

from canewright.account.season_periods import season_periods
from canewright.demo.factory import WELL_RUN
from canewright.demo.plan import planned
from canewright.demo.season import Season, as_measurements
from canewright.demo.truth import Workshop
from canewright.engine.amounts import Amount, Amounts
from canewright.engine.chain import Chain, ShiftReadings
from canewright.engine.nominal import prepare
from canewright.engine.points import Points
from canewright.engine.smoother import smooth
from canewright.engine.watch import Watch
from canewright.figures.control import control_figures
from canewright.figures.ledgers import ledgers
from canewright.figures.to_date import PeriodFigures
from canewright.files.factory import read_factory

COLD = 30
"""Shifts reconciled one by one for comparison."""
SMOOTHED = 450
"""Longest season that is also smoothed: what is remembered of each shift takes 1 MB."""


def main(counts: list[int]) -> None:
    prepared = prepare(read_factory(WELL_RUN.path))
    workshop = Workshop(prepared, planned(Points(prepared.model), WELL_RUN.plan))
    reconciler = workshop.reconciler
    found = ledgers(prepared.model)
    figures = control_figures(prepared.model, reconciler.relations, found)
    made = PeriodFigures(reconciler, found, figures)
    amounts = Amounts(reconciler, made.amounts)
    of_shift = Amounts(reconciler, [Amount(n, f.unit, f.expression) for n, f in figures.items()])
    shifts = [
        ShiftReadings(s.facts.name, s.facts.start, s.facts.hours, tuple(as_measurements(s)))
        for s in Season(workshop, WELL_RUN.losses, WELL_RUN.faults).shifts(max(counts))
    ]
    usual = prepared.usual.values
    begun = time.perf_counter()
    for shift in shifts[:COLD]:
        _ = reconciler.solve(shift.measurements, usual, hours=shift.hours).posterior.gamma
    cold = (time.perf_counter() - begun) / COLD
    print(f"cold reconciliation with its covariance: {1000 * cold:.1f} ms a shift")
    print(f"{'shifts':>7} {'forward s':>10} {'ms/shift':>9} {'smooth s':>9} {'MiB':>6} {'left':>5}")
    for count in counts:
        periods = season_periods([shift.start for shift in shifts[:count]])
        chain = Chain(reconciler, usual, amounts, of_shift, periods)
        chain.watcher = Watch()
        memories = [] if count <= SMOOTHED else None
        begun = time.perf_counter()
        _, results, skipped = chain.run(shifts[:count], memories=memories)
        forward = time.perf_counter() - begun
        backward = float("nan")
        if memories:
            begun = time.perf_counter()
            for _ in smooth(chain.carried, memories):
                pass
            backward = time.perf_counter() - begun
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        median = 1000 * float(np.median([result.seconds for result in results]))
        print(
            f"{count:7d} {forward:10.1f} {median:9.1f} {backward:9.1f} {memory:6.0f} "
            f"{len(skipped):5d}",
            flush=True,
        )


if __name__ == "__main__":
    main([int(word) for word in sys.argv[1:]] or [90, 450])
