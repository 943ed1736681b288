"""Chains of made-up shifts: totals, stocks, gaps, wild readings, drifts, coverage."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from canewright.demo.factory import WELL_RUN
from canewright.demo.season import Season
from canewright.engine.adjusting.uncertainty import total_uncertainty
from canewright.engine.chain import chained_seek, keeping
from canewright.engine.chain.amounts import Amount, Amounts
from canewright.engine.chain.carried import BIAS_DRIFT, LEVEL_SHARE, Carried
from canewright.engine.chain.chain import Chain, Freed, Period
from canewright.engine.chain.watch import Watch, delay
from canewright.figures.ledgers import ledgers
from tests.engine import chained_factory

SHIFTS = 6
COVERED = (
    "sucrose in cane",
    "bagasse",
    "filter cake",
    "final molasses",
    "undetermined",
    "raw sugar",
    "plantation white sugar",
    "inverted",
)


@pytest.fixture(scope="module")
def measured():
    return chained_factory.readings(chained_factory.season(SHIFTS, 11))


@pytest.fixture(scope="module")
def run(measured):
    chain = chained_factory.chain((Period("season", 0, SHIFTS - 1, kept_until=SHIFTS),))
    memories = []
    state, results, skipped = chain.run(measured, memories=memories)
    assert not skipped
    return chain, state, results, memories


def true_totals(shifts):
    """Sums of the amounts over shifts, from the truth."""
    made, amounts = chained_factory.workshop(), chained_factory.amounts()
    start = made.reconciler.start
    values = [
        amounts.at(start(shift.truth.values), made.reconciler.parameters())[0] for shift in shifts
    ]
    rules = [amount.rule for amount in amounts.amounts]
    total = np.sum(values, axis=0)
    total[rules.index("first")] = values[0][rules.index("first")]
    total[rules.index("last")] = values[-1][rules.index("last")]
    return total


def test_totals_lie_near_the_truth(run):
    chain, state, _, _ = run
    truth = true_totals(chained_factory.season(SHIFTS, 11))
    block = state.blocks[0]
    off = state.totals.mean[block.rows] - truth[block.amounts]
    sd = np.sqrt(np.diag(state.totals.covariance)[block.rows])
    seen = sd > 1e-6
    # One season: none of a dozen figures further off than four standard deviations.
    assert (np.abs(off[seen]) < 4 * sd[seen]).all()
    assert len(chain.amounts) > 10


def test_what_stayed_in_stock_is_the_difference_of_its_ends(run):
    """Both ends of every vessel: the ledger's row is closing less opening, shift on shift."""
    chain, state, _, _ = run
    place = {name: state.blocks[0].rows[i] for name, i in chain.amounts.places.items()}
    mean = state.totals.mean
    stayed = mean[place["molasses at last"]] - mean[place["molasses at first"]]
    syrup = chain.reconciler.model.position
    more = 0.0
    for shift, sign in ((run[2][-1], 1), (run[2][0], -1)):
        side = "closing" if sign > 0 else "opening"
        more += sign * shift.point[syrup(f"syrup tank {side}.sucrose")]
    total = mean[place["more in stock at the end"]]
    # Points are those of their own shifts, totals know of later ones: 1e-2 t apart at most
    # where nothing reads the tanks, against 10 t held.
    assert total == pytest.approx(stayed + more, abs=1.0)


def test_a_period_whose_first_shift_is_missing_begins_with_the_stock_of_the_next(measured):
    chain = chained_factory.chain((Period("season", 0, SHIFTS - 1, kept_until=SHIFTS),))
    state = chain.begin()
    chain.pass_over(state)
    memories = []
    state, _, _ = chain.run(measured[1:2], state, memories=memories)
    place = state.blocks[0].rows[chain.amounts.places["molasses at first"]]
    names = np.array(chain.carried.names)[chain.carried.is_stock]
    opening = memories[0].opening[list(names).index("final molasses tank opening.sucrose")]
    assert opening > 1
    assert state.totals.mean[place] == pytest.approx(opening, rel=1e-12)
    assert (state.blocks[0].since, state.blocks[0].shifts) == (1, 1)


def test_what_came_or_went_in_a_gap_is_not_taken_for_gain_of_stock(measured):
    """Last less first is what stayed in the shifts that were added, whatever the gap did."""
    made = chained_factory.workshop()
    states = made.prepared.model.states
    opening, closing = (
        states[f"final molasses tank {side}"].values["sucrose"] for side in ("opening", "closing")
    )
    amounts = Amounts(
        made.reconciler,
        [
            Amount("stayed", "t", closing - opening),
            Amount("at first", "t", opening, "first", ends_as="at last"),
            Amount("at last", "t", closing, "last"),
            Amount("at first, gap and all", "t", opening, "first"),
        ],
    )
    shifts = [
        measured[0],
        measured[1],
        *(replace(s, start=s.start + timedelta(days=2)) for s in measured[2:4]),
    ]
    usual = made.prepared.usual.values
    chain = Chain(made.reconciler, usual, amounts, periods=(Period("all", 0, 3, kept_until=4),))
    state, results, skipped = chain.run(shifts)
    assert not skipped
    assert [result.joined for result in results] == [False, True, False, True]
    stayed, first, last, whole = state.totals.mean[state.blocks[0].rows]
    assert last - first == pytest.approx(stayed, abs=1e-6 * abs(last))  # rounding
    assert abs(last - whole - stayed) > 0.01
    rows = state.blocks[0].rows[:3]
    spread = state.totals.covariance[np.ix_(rows, rows)]
    none = np.array([1.0, 1.0, -1.0])
    # The three differ by nothing, and of that nothing is uncertain: rounding of their variances.
    assert none @ spread @ none == pytest.approx(0.0, abs=1e-8 * np.trace(spread))


def test_the_ledger_to_date_closes(run):
    chain, state, _, _ = run
    mean = state.totals.mean[state.blocks[0].rows]
    names = list(chain.amounts.places)
    out = sum(mean[names.index(n)] for n in names[1:-2])
    # Equations hold to 1e-9 of their terms in each shift; the linear update keeps them.
    assert out == pytest.approx(mean[0], rel=1e-5)


def test_biases_never_know_less_than_beforehand(run):
    chain, state, _, _ = run
    carried = chain.carried
    after = np.diag(state.covariance)
    wandering = ~carried.is_stock
    assert (after[wandering] <= carried.variance[wandering] * (1 + 1e-9)).all()


def test_a_long_stop_forgets_levels_and_biases():
    carried = Carried(chained_factory.workshop().reconciler)
    mean, spread = carried.beforehand()
    known = spread * 0.01
    step = carried.step(3 * 365, joined=False)
    centre, wide = carried.passed(mean + 1.0, known, step)
    bias = carried.of_kind("bias")
    left = (1 - BIAS_DRIFT**2) ** (3 * 365 / 2)
    np.testing.assert_allclose(centre[bias], left, rtol=1e-12)  # exact, but for rounding
    np.testing.assert_allclose(
        np.diag(wide)[bias], 1 - 0.99 * left**2, rtol=1e-12
    )  # exact, but for rounding
    assert LEVEL_SHARE < 1


def test_order_of_magnitude_of_common_and_random_errors_in_the_total(run):
    """The interval to date is wider than independent shifts would give, by their common part."""
    chain, _, results, _ = run
    place = [chain.amounts.amounts[i].name for i in chain.headline].index("sucrose in cane")
    alone = np.array([np.sqrt(r.alone_covariance[place, place]) for r in results])
    together = np.sqrt(results[-1].to_date_covariance[place, place])
    independent = np.sqrt((alone**2).sum())
    assert independent < together < alone.sum()
    # As if every shift had the same random and common part: uncertainty.total_uncertainty.
    common = np.sqrt((together**2 - independent**2) / (SHIFTS * (SHIFTS - 1)))
    random = np.sqrt(max(alone.mean() ** 2 - common**2, 0.0))
    assert total_uncertainty(SHIFTS, random, common) == pytest.approx(together, rel=0.05)


def test_a_wild_reading_is_set_aside_and_the_rest_is_kept(measured):
    spoilt = [
        replace(
            shift,
            measurements=tuple(
                replace(m, value=m.value * 1.3) if m.name == "mixed_juice weight" else m
                for m in shift.measurements
            ),
        )
        if number == 3
        else shift
        for number, shift in enumerate(measured[:5])
    ]
    _, results, skipped = chained_factory.chain().run(spoilt)
    assert not skipped
    assert [item.name for item in results[3].aside] == ["mixed_juice weight"]
    assert not results[4].aside


@pytest.mark.slow
def test_shifts_that_cannot_be_balanced_are_passed_over(measured):
    broken = replace(
        measured[2],
        measurements=tuple(replace(m, value=m.value * 40) for m in measured[2].measurements),
    )
    chain = chained_factory.chain((Period("season", 0, 4, kept_until=5),))
    state, results, skipped = chain.run([measured[0], measured[1], broken, *measured[3:5]])
    assert [shift.name for shift, _ in skipped] == [broken.name]
    assert [result.number for result in results] == [0, 1, 3, 4]
    assert not results[2].joined
    assert state.number == 5


def test_a_run_written_down_goes_on_to_the_same_numbers(measured):
    periods = (Period("season", 0, SHIFTS - 1, kept_until=SHIFTS), Period("first", 0, 1, True))
    whole = chained_factory.chain(periods)
    whole.watcher = Watch()
    expected, results, _ = whole.run(measured)
    first = chained_factory.chain(periods)
    first.watcher = watch = Watch()
    state, some, _ = first.run(measured[:4])
    kept = keeping.read(keeping.written([state, some, watch, first.running.closed]))
    second = chained_factory.chain(periods)
    second.watcher, second.running.closed = kept[2], kept[3]
    state, more, _ = second.run(measured[4:], kept[0])
    # The neighbour's derivatives are made anew after reading: the same but for rounding.
    np.testing.assert_allclose(state.mean, expected.mean, rtol=1e-6, atol=1e-9)
    np.testing.assert_allclose(
        state.totals.covariance, expected.totals.covariance, rtol=1e-4, atol=1e-9
    )  # the same
    assert [r.number for r in (*kept[1], *more)] == [r.number for r in results]
    assert [c.period.name for c in second.running.closed] == ["first"]


def test_what_was_not_written_here_is_not_taken_up():
    for content in (b"", b"no archive", b"PK\x03\x04"):
        with pytest.raises(ValueError, match="not written by this version"):
            keeping.read(content)


def drifting(measured, first, amount):
    """The juice scale reading `amount` % more in each shift from the first on."""
    return [
        replace(
            shift,
            measurements=tuple(
                replace(m, value=m.value * (1 + amount / 100 * max(0, number - first + 1)))
                if m.name == "mixed_juice weight"
                else m
                for m in shift.measurements
            ),
        )
        for number, shift in enumerate(measured)
    ]


def test_quick_and_guarded_steps_lead_to_the_same_point(measured, monkeypatch):
    """Two routes to the most likely point: one step must not depend on the safeguard of the other.

    Both end where the step still to go is below this many standard deviations.
    """
    still_to_go = 1e-6
    monkeypatch.setattr(chained_seek, "STEP_ENDS", still_to_go)
    _, quick, _ = chained_factory.chain().run(measured[:3])
    monkeypatch.setattr(chained_seek, "QUICK", 0)
    _, guarded, _ = chained_factory.chain().run(measured[:3])
    for one, other in zip(quick, guarded, strict=True):
        sd = np.maximum(other.carried_sd, 1e-12)
        # At a rate of convergence of one half, twice the step is still to go, on either side.
        assert np.max(np.abs(one.carried - other.carried) / sd) < 4 * still_to_go
        assert one.steps > 0


def test_a_bias_let_go_follows_a_drift(measured):
    spoilt = drifting(measured, 2, 1.0)
    held, free = chained_factory.chain(), chained_factory.chain()
    instrument = next(
        channel.instrument
        for channel in held.reconciler.channels
        if channel.name == "mixed_juice weight"
    )
    free.freed = (Freed(instrument, 2, 5.0, 5.0),)
    place = held.carried.names.index(instrument)
    _, before, _ = held.run(spoilt)
    _, after, _ = free.run(spoilt)
    assert after[-1].carried[place] > before[-1].carried[place] + 1
    assert after[-1].carried_sd[place] > before[-1].carried_sd[place]


def test_delay_is_the_first_shift_whose_information_suffices():
    assert delay([1.0, 4.0, 9.0, 16.0], size=2.0, limit=20.0) == 2
    assert delay([1.0, 4.0], size=1.0, limit=20.0) == 2


@pytest.mark.slow
def test_intervals_to_date_cover_the_truth_at_their_rate(workshop):
    """20 made-up seasons of 15 shifts of the well-read factory, eight rows of its ledger."""
    reconciler = workshop.reconciler
    ledger = ledgers(workshop.prepared.model)["sucrose"]
    rows = [Amount("sucrose in cane", "t", ledger.base, headline=True)]
    rows += [Amount(row.name, "t", row.expression, headline=True) for row in ledger.leaving]
    amounts = Amounts(reconciler, rows)
    off = []
    for seed in range(20):
        shifts = list(Season(workshop, WELL_RUN.losses, (), 200 + seed).shifts(15))
        chain = Chain(
            reconciler,
            workshop.prepared.usual.values,
            amounts,
            periods=(Period("season", 0, 14, kept_until=15),),
        )
        state, _, skipped = chain.run(chained_factory.readings(shifts))
        assert not skipped
        truth = sum(
            amounts.at(reconciler.start(shift.truth.values), reconciler.parameters())[0]
            for shift in shifts
        )
        places = state.blocks[0].rows
        sd = np.sqrt(np.maximum(np.diag(state.totals.covariance)[places], 1e-300))
        found = (state.totals.mean[places] - truth) / sd
        off.append([found[amounts.places[name]] for name in COVERED])
    inside = np.abs(off) < 1.96
    # Of 160 figures 152 +/- 2.8 lie inside at 95 %, +/- 4 where two by two they move as one;
    # three of these below is 140. No single row below 16 of 20 (0.3 % at 95 %).
    assert inside.sum() >= 140
    assert inside.sum(axis=0).min() >= 16
    # Nor are the intervals far too wide: a mean square of 1 is right, far below is padding.
    assert np.mean(np.square(off)) > 0.4


def test_hours_between_shifts_decide_whether_they_join(measured):
    later = [measured[0], replace(measured[1], start=measured[1].start + timedelta(minutes=20))]
    _, results, _ = chained_factory.chain().run(later)
    assert results[1].joined
    later[1] = replace(measured[1], start=measured[1].start + timedelta(hours=2))
    _, results, _ = chained_factory.chain().run(later)
    assert not results[1].joined
