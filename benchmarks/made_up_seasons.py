"""Made-up seasons by the hundred: coverage to date, and how soon a drifting juice scale is named.

    OPENBLAS_NUM_THREADS=1 python -m benchmarks.made_up_seasons [SEASONS [SHIFTS]]

Each season is 20 shifts of the well-read demonstration factory, drawn with its own seed; in half
of them the juice scale reads 0.15 % more in each shift from the ninth on. Of as many more it
reads 0.5 % more from there on: less than the watch can be sure to see. With another number of
shifts only seasons without a fault are made: whether totals lean to one side shows in long ones.
They are made twice, the second time with settings and performance that wander as their priors say.
"""

import sys

import numpy as np

from benchmarks.measuring import workshop
from canewright.demo.factory import WELL_RUN
from canewright.demo.season import AS_PRIORS, STEADY, Season, as_measurements
from canewright.engine.adjusting.statistics import family_limit
from canewright.engine.chain.amounts import Amount, Amounts
from canewright.engine.chain.chain import Chain, Period, ShiftReadings
from canewright.engine.chain.watch import SEASON, SHAPES, Watch
from canewright.figures.ledgers import ledgers

FIRST, SHIFTS, DRIFT, STEP = 8, 20, 0.15, 0.5
DRAWN = 100_000
ROWS = (
    "sucrose in cane",
    "bagasse",
    "filter cake",
    "final molasses",
    "undetermined",
    "raw sugar",
    "plantation white sugar",
    "inverted",
)


def season(made, amounts, seed, drift=0.0, step=0.0, shifts=SHIFTS, wander=STEADY):
    """The watch, and how far totals to date are from the truth, in standard uncertainties."""
    reconciler = made.reconciler
    periods = (Period("season", 0, shifts - 1, kept_until=shifts),)
    chain = Chain(reconciler, made.prepared.usual.values, amounts, periods=periods)
    chain.watcher = watch = Watch()
    read, truth = [], 0.0
    for shift in Season(made, WELL_RUN.losses, (), seed, wander).shifts(shifts):
        age = max(0, shift.number - FIRST + 1)
        factor = 1 + (drift * age + step * (age > 0)) / 100
        measured = tuple(
            type(m)(m.point, m.analysis, m.value * factor, m.count)
            if m.name == "mixed_juice weight"
            else m
            for m in as_measurements(shift)
        )
        read.append(ShiftReadings(shift.facts.name, shift.facts.start, shift.facts.hours, measured))
        true = reconciler.start(shift.truth.values)
        truth = truth + amounts.at(true, reconciler.parameters(shift.facts.hours))[0]
    state, _, skipped = chain.run(read)
    assert not skipped, skipped
    places = state.blocks[0].rows
    sd = np.sqrt(np.maximum(np.diag(state.totals.covariance)[places], 1e-300))
    return watch, (state.totals.mean[places] - truth) / sd


def main(count: int, shifts: int) -> None:
    made = workshop()
    ledger = ledgers(made.prepared.model)["sucrose"]
    rows = [Amount("sucrose in cane", "t", ledger.base, headline=True)]
    rows += [Amount(row.name, "t", row.expression, headline=True) for row in ledger.leaving]
    amounts = Amounts(made.reconciler, rows)
    places = [amounts.places[name] for name in ROWS]
    runs = [(0.0, STEADY), (DRIFT, STEADY) if shifts == SHIFTS else (0.0, AS_PRIORS)]
    for drift, wander in runs:
        found = [
            season(made, amounts, seed, drift, shifts=shifts, wander=wander)
            for seed in range(count)
        ]
        off = np.array([how_far[places] for _, how_far in found])
        if not drift and wander is STEADY:
            good = [watch for watch, _ in found]
        inside = np.abs(off) < 1.96
        moves = "steadier than" if wander is STEADY else "as"
        print(
            f"{count} seasons of {shifts} shifts, moving {moves} the priors say, "
            f"juice scale drifting {drift} % a shift"
        )
        print(f"  within 1.96 standard uncertainties: {100 * inside.mean():.1f} %")
        for name, share, row in zip(ROWS, inside.mean(0), off.T, strict=True):
            print(
                f"    {name:24} {100 * share:5.0f} %   mean square {np.mean(row**2):.2f}   "
                f"mean {row.mean():+.2f} (by chance +-{count**-0.5:.2f})"
            )
        first = [watch.calls[0] for watch, _ in found if watch.calls]
        print(f"  seasons with a call: {len(first)}")
        if drift and first:
            named = sum("juice scale" in (call.instrument, *call.rivals) for call in first)
            late = np.array([call.called - FIRST for call in first])
            print(f"  juice scale named, or among those as likely: {named}")
            told = [c for c in first if c.instrument == "juice scale" and c.earliest >= 0]
            held = np.mean([call.earliest <= FIRST <= call.latest for call in told])
            wide = np.mean([call.latest - call.earliest + 1 for call in told])
            print(
                f"  a span of its start said: {len(told)}, {wide:.1f} shifts wide; "
                f"holds it: {100 * held:.0f} %"
            )
            print(
                f"  delay in shifts: mean {late.mean():.1f}, "
                + ", ".join(
                    f"{share} % by {int(np.percentile(late, share))}"
                    for share in (5, 25, 50, 75, 95)
                )
            )
    if shifts == SHIFTS:
        small_steps(made, amounts, good, count)


def small_steps(made, amounts, good, count: int) -> None:
    """A step near the limit: how many are called, and how many the covariance promises.

    The score of the true start has independent normal increments: their means are the size times
    what the information grows, their variances what it grows. From these alone, seasons are drawn
    until the ratio passes its limit. Other starts and shapes may pass too: a little more is called.
    """
    names = made.reconciler.instruments
    bias = next(c.bias for c in made.reconciler.channels if c.name == "mixed_juice weight")
    place = SHAPES.index("step") * len(names) + names.index("juice scale")
    told = np.array(
        [
            [shift[place] for shift in start.history]
            for watch in good
            for start in watch.starts
            if start.number == FIRST
        ]
    )
    limit = family_limit(len(names) * SEASON)
    grown = np.diff(told.mean(0), prepend=0.0)
    noise = np.random.default_rng(1).normal(size=(DRAWN, grown.size)) * np.sqrt(grown)
    score = np.cumsum(STEP / bias * grown + noise, axis=1)
    over = np.abs(score) > limit * np.sqrt(np.cumsum(grown))
    promised = np.logical_or.accumulate(over, axis=1).mean(0)
    calls = [season(made, amounts, seed, step=STEP)[0].calls for seed in range(count)]
    first = [found[0] for found in calls if found]
    print(
        f"{count} seasons of {SHIFTS} shifts, juice scale {STEP} % more from shift {FIRST + 1} on"
    )
    even = bias * limit / np.sqrt(told[:, -1].mean())
    print(f"  a step that has even odds to be over the limit at the end: {even:.2f} %")
    for after in (2, 5, 8, SHIFTS - FIRST - 1):
        called = np.mean([len(found) > 0 and found[0].called - FIRST <= after for found in calls])
        print(
            f"  called {after:2} shifts after the first: {100 * called:.0f} %, "
            f"promised {100 * promised[after]:.0f} %"
        )
    named = sum("juice scale" in (call.instrument, *call.rivals) for call in first)
    print(f"  of {len(first)} calls the juice scale named, or among those as likely: {named}")


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]]
    main(given[0] if given else 100, given[1] if len(given) > 1 else SHIFTS)
