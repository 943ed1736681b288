"""Thousands of scenarios of the demonstration factory: how many a second, beside the usual ways.

Run `python benchmarks/scenarios.py`. Everything is measured in one run on one machine, warm:

* batches without a C compiler (one thread), and with one (1 and 2 threads);
* a Python loop of cold solves (IPOPT from the factory file's guesses), one of warm Newton
  solves, and SciPy's `fsolve` and `least_squares` given our exact derivatives;
* a study on 1 and on 2 processes.

Promised: 2,000 scenarios a second without a compiler and 20,000 with one on two threads, each
checked; 1 to 2 workers at least 1.7 times. A machine that is busy with other work shows less:
the load is printed.
"""

import os
import tempfile
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line sets it

import casadi
import numpy as np
from scipy import optimize

from canewright.account.study import Study
from canewright.account.study_start import start
from canewright.demo.factory import WELL_RUN
from canewright.engine.equations.nominal import prepare
from canewright.engine.equations.settled import Square
from canewright.engine.scenarios.batch import make_batch
from canewright.engine.scenarios.scenarios import Runner
from canewright.engine.scenarios.tape_c import compiler
from canewright.figures.control import control_figures
from canewright.figures.money import earnings
from canewright.files.factory import read_factory

COUNT, FEW, SCIPY = 8192, 40, 3
VARIED = {
    "imbibition.imbibition_percent_fibre": (220.0, 20.0),
    "cane yard.cane_rate": (210.0, 6.0),
    "C crystallisers.temperature": (46.0, 2.0),
    "turbine.steam_flow": (60.0, 2.0),
}
PLAN = """
[study]
factory = "factory.toml"
draws = {draws}
uncertain = "nothing"
figures = ["earned", "sucrose_extraction"]
[[vary]]
name = "imbibition"
mean = 220
sd = 20
[[vary]]
name = "cane_rate"
mean = 210
sd = 6
"""


def figures(model):
    written = {name: f.expression for name, f in control_figures(model).items()}
    return written | {"earned": earnings(model).total}


def best(function, rounds=3):
    """Shortest time of a few runs, and the last result. [s]."""
    spent = []
    for _ in range(rounds):
        begun = time.perf_counter()
        result = function()
        spent.append(time.perf_counter() - begun)
    return min(spent), result


def row(name, per_second, more=""):
    print(f"{name:58s} {per_second:10,.0f} a second  {more}")


def main():
    prepared = prepare(read_factory(WELL_RUN.path))
    model, usual = prepared.model, prepared.usual
    rng = np.random.default_rng(1)
    table = {name: rng.normal(*spread, COUNT) for name, spread in VARIED.items()}
    begun = time.perf_counter()
    batch = make_batch(model, usual.values, figures)
    print(
        f"{batch.size} quantities, {len(batch.figure_names)} figures, made ready in "
        f"{time.perf_counter() - begun:.1f} s; {os.cpu_count()} cores, load "
        f"{os.getloadavg()[0]:.1f}"
    )
    plain = Runner(batch, compile=False)
    spent, outcome = best(lambda: plain.run(table))
    without = COUNT / spent
    row(
        "batch, no compiler, one thread",
        without,
        f"failed {outcome.failed}, by IPOPT {outcome.rescued}",
    )
    rates = {}
    if compiler() is not None:
        for threads in (1, 2):
            begun = time.perf_counter()
            made = Runner(batch, compile=True, threads=threads)
            ready = time.perf_counter() - begun
            spent, found = best(lambda made=made: made.run(table), 5)
            rates[threads] = COUNT / spent
            off = max(
                np.nanmax(np.abs(found.figures[n] - outcome.figures[n]) / np.abs(found.figures[n]))
                for n in ("earned", "sucrose_extraction")
            )
            row(
                f"batch, compiled, {threads} thread(s)",
                rates[threads],
                f"ready in {ready:.1f} s, differs by {off:.0e}",
            )

    square = Square(model, "settled")
    places = {name: model.position(name) for name in VARIED}
    targets = square.targets(usual.values)

    def warm():
        for k in range(FEW):
            values = usual.values.copy()
            for name, place in places.items():
                values[place] = table[name][k]
            square.solve(values, targets=targets)

    warm_rate = FEW / best(warm)[0]
    row("loop, warm Newton, one at a time", warm_rate)
    guess = model.guess

    def cold():
        for k in range(FEW // 4):
            values = guess.copy()
            for name, place in places.items():
                values[place] = table[name][k]
            prepared.simulator.solve(values, cold=True)

    cold_rate = FEW // 4 / best(cold, 1)[0]
    row("loop, cold solves by IPOPT", cold_rate)

    scale = square.scale[square.free]
    evaluate = casadi.Function("e", [model.symbols, model.parameters], [model.residuals])
    slope = casadi.Function(
        "s", [model.symbols, model.parameters], [casadi.jacobian(model.residuals, model.symbols)]
    )
    as_found = Square(model, "as found")
    free, scale = as_found.free, as_found.scale[as_found.free]
    weights = as_found._weights(
        as_found._linearise(usual.values, model.parameter_values, np.zeros(0))[1]
    )
    current = usual.values.copy()

    def residual(point):
        current[free] = point * scale
        return weights * np.array(evaluate(current, model.parameter_values)).ravel()

    def jacobian(point):
        current[free] = point * scale
        dense = np.array(casadi.densify(slope(current, model.parameter_values)))
        return weights[:, None] * dense[:, free] * scale

    for name, call in (
        (
            "scipy fsolve, our derivatives, warm",
            lambda x: optimize.fsolve(residual, x, fprime=jacobian),
        ),
        (
            "scipy least_squares, our derivatives, warm",
            lambda x: optimize.least_squares(residual, x, jacobian, method="lm").x,
        ),
    ):

        def loop(call=call):
            for k in range(SCIPY):
                for item, place in places.items():
                    current[place] = table[item][k]
                call(usual.values[free] / scale)

        row(name, SCIPY / best(loop, 1)[0])

    print(f"batch without a compiler over a loop of cold solves: {without / cold_rate:,.0f} times")
    if rates:
        print(f"batch compiled over a loop of cold solves: {rates[2] / cold_rate:,.0f} times")

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "factory.toml").write_bytes(WELL_RUN.path.read_bytes())
        (folder / "plan.toml").write_text(PLAN.format(draws=49152))
        work = start(folder / "plan.toml", may_compile=False)
        spent = {}
        for workers in (1, 2):
            study = Study(work, folder / f"on-{workers}")
            begun = time.perf_counter()
            study.run(workers)
            spent[workers] = time.perf_counter() - begun
            row(f"study, {workers} process(es), everything counted", study.count / spent[workers])
        print(f"1 to 2 workers: {spent[1] / spent[2]:.2f} times; load {os.getloadavg()[0]:.1f}")


if __name__ == "__main__":
    main()
