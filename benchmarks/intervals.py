"""Intervals of every reading and a hundred figures, against one more solve."""

from benchmarks.measuring import Row, Table, quickest, shifts, workshop
from canewright.engine.adjusting.posterior import Posterior
from canewright.figures.control import control_figures
from canewright.figures.ledgers import ledgers

FIGURES = 100


def run(table: Table) -> None:
    made = workshop()
    reconciler, usual = made.reconciler, made.prepared.usual.values
    measurements, hours = shifts()[0]
    estimate = reconciler.solve(measurements, usual, hours=hours)
    solution, problem = estimate.solution, reconciler.problem
    model = made.prepared.model
    figures = control_figures(model, reconciler.relations, ledgers(model))
    expressions = [figure.expression for figure in figures.values()][:FIGURES]
    _, gradients = estimate.evaluate(expressions)

    def intervals() -> None:
        posterior = Posterior.at(problem, solution)
        _ = posterior.fitted_sd, posterior.redundancy
        posterior.influences_of(gradients)

    seconds = quickest(intervals, 15)
    solve = quickest(lambda: reconciler.solve(measurements, usual, hours=hours), 15)
    words = f"intervals of {len(reconciler.channels)} readings, {len(expressions)} figures"
    table.add(Row(words, seconds, "one more solve", solve, 1.0))
