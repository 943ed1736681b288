"""A warm what-if, its draws, and advice: the solving against what was promised of it."""

import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np

from benchmarks.measuring import Row, Table, once, quickest
from canewright.account import balance
from canewright.account.advice import Adviser
from canewright.account.whatif import WhatIf
from canewright.demo.factory import WELL_RUN, write_demonstration

IMBIBITION = "imbibition.imbibition_percent_fibre"
WHAT_IF, ADVICE, WITH_DRAWS = 0.010, 2.0, 10.0
"""Seconds promised."""
DRAWS = 200


def run(table: Table) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_demonstration(WELL_RUN, folder, 1)
        account = balance(folder / "factory.toml", folder / "readings.csv")
    question = WhatIf(account, draws=0)
    forecaster = question.forecaster
    sizes = iter(range(1, 1000))
    question.ask([f"{IMBIBITION}=+10"])

    def solve() -> None:
        changes = forecaster.changes([f"{IMBIBITION}=+{10 + 0.01 * next(sizes)}"])
        before = forecaster.before.values
        square = forecaster.square
        values = before.copy()
        place = account.estimate.model.position(IMBIBITION)
        values[place] = changes[0].applied(float(before[place]))
        square.solve(values, forecaster.before.parameters, square.targets(before))

    one = quickest(solve, 30)
    table.add(Row("what-if, warm, the solve", one, "10 ms", WHAT_IF, 1.0))
    whole = quickest(lambda: question.ask([f"{IMBIBITION}=+{10 + 0.01 * next(sizes)}"]), 9)
    table.add(Row("what-if, every figure with its interval", whole, "its solve", one))
    drawn = WhatIf(account, draws=DRAWS)
    spent = once(lambda: drawn.ask([f"{IMBIBITION}=+10"]))
    table.add(Row(f"what-if, {DRAWS} draws", spent, "as many single solves", 2 * DRAWS * one))
    adviser = Adviser(account)
    optimiser = adviser.optimiser

    def afresh(work: Callable[[], object]) -> Callable[[], None]:
        def done() -> None:
            optimiser.forget()
            work()

        return done

    best = quickest(afresh(optimiser.choose), 3)
    table.add(Row("advice, the solving", best, "2 s", ADVICE, 1.0))
    plain = quickest(afresh(lambda: adviser.advise(draws=0)), 2)
    table.add(Row("advice, all told, without draws", plain, "2 s", ADVICE, 1.0))
    full = once(afresh(lambda: adviser.advise(draws=DRAWS)))
    table.add(Row(f"advice with {DRAWS} draws", full, "10 s", WITH_DRAWS, 1.0))
    found = optimiser.settings_found
    at = next(k for k, one in enumerate(optimiser.settings) if one.name == IMBIBITION)

    def sweep() -> None:
        for step in np.linspace(-10, 10, 21):
            settings = found.copy()
            settings[at] += step
            optimiser.money_at(settings)

    table.add(
        Row("the solving of advice", best, "a sweep of 21 points", quickest(afresh(sweep), 3))
    )
