"""Checks and certificates in a season: which shift they belong to, and what they tell."""

import json
from datetime import date, datetime, timedelta
from importlib import resources

import numpy as np
import pytest

from canewright.account.season import balance_season
from canewright.account.season_checks import (
    known_at_first,
    late_at_the_end,
    standard_of,
    with_checks,
)
from canewright.engine.adjusting.reconcile import Reconciler
from canewright.engine.chain.chain import Chain, ShiftReadings
from canewright.files.check_records import CheckFile
from canewright.files.factory import read_text
from canewright.files.problems import InputRefused
from tests.engine import chained_factory

SCALE = "juice scale"
START = datetime(2026, 7, 6, 6, 0)
CHECKED = """bias = "1.0 %"
checks = "scale.csv"
check_uncertainty = "0.1 %"
check_repeatability = "0.2 %"
"""


@pytest.fixture(scope="module")
def text():
    written = resources.files("canewright.factories").joinpath("dry_ridge.toml").read_text("utf-8")
    assert written.count('bias = "1.0 %"\n') == 1
    return written.replace('bias = "1.0 %"\n', CHECKED)


@pytest.fixture(scope="module")
def factory(text):
    return read_text(text)


@pytest.fixture(scope="module")
def channels():
    return chained_factory.workshop().reconciler.channels


def shifts(count):
    return [ShiftReadings(str(k), START + timedelta(hours=8 * k), 8.0, ()) for k in range(count)]


def record(*moments):
    """Checks with 500 t: (hours after the start, per cent too high)."""
    times = tuple(START + timedelta(hours=hours) for hours, _ in moments)
    values = tuple(500.0 * (1 + off / 100) for _, off in moments)
    return {SCALE: CheckFile("scale.csv", times, values, (500.0,) * len(moments))}


def test_a_check_belongs_to_the_shift_it_was_made_in(factory, channels):
    # Stated: 1 % of the value. Two checks in the second shift, +1 and +2 %: +1.5 standard
    # uncertainties, each known to 0.2, both together to 0.2/sqrt(2).
    checks = record((-3, 5), (9, 1.0), (10, 2.0), (23, -1.0), (25, 7))
    taken, more, shared = with_checks(factory, checks, shifts(3), channels)
    assert [len(shift.measurements) for shift in taken] == [0, 1, 1]
    second, third = taken[1].measurements[0], taken[2].measurements[0]
    assert (second.point, second.analysis, second.count) == (SCALE, "check", 2)
    assert second.value == pytest.approx(1.5)
    assert second.sd == pytest.approx(0.2 / np.sqrt(2))
    assert (third.value, third.count) == (pytest.approx(-1.0), 1)
    assert second.shared == {standard_of(SCALE): pytest.approx(0.1)}
    assert shared == [(f"{SCALE} check", standard_of(SCALE))]
    assert more[-1].instrument == SCALE


def test_checks_before_the_season_are_what_is_known_at_first(factory, channels):
    found = known_at_first(factory, record((-3, 0.6), (9, 3.0)), shifts(2), channels)
    mean, sd = found[SCALE]
    assert mean == pytest.approx(0.6)
    # Scatter of the check and of the standard's value: hypot(0.2, 0.1).
    assert sd == pytest.approx(np.hypot(0.2, 0.1), rel=1e-9)
    assert known_at_first(factory, {}, shifts(2), channels) == {}


def test_a_record_without_scatter_is_refused_with_what_to_write(text, channels):
    bare = read_text(text.replace('check_repeatability = "0.2 %"\n', "").replace(
        'random = "0.5 %"\nbias = "1.0 %"', 'bias = "1.0 %"'))  # fmt: skip
    with pytest.raises(InputRefused, match="check_repeatability"):
        with_checks(bare, record((9, 1.0)), shifts(3), channels)


def chain_of(measured, channels, shared=(), known=None):
    made = chained_factory.workshop()
    prepared = made.prepared
    reconciler = Reconciler(
        prepared.model, list(channels), prepared.statements, list(shared), known or {}
    )
    amounts = chained_factory.Amounts(reconciler, ())
    chain = Chain(reconciler, prepared.usual.values, amounts)
    state, _, skipped = chain.run(measured, chain.begin())
    assert not skipped
    place = chain.carried.names.index(SCALE)
    return state.mean[place], state.covariance[place, place]


def test_a_check_moves_the_bias_as_a_textbook_reading_does(factory, channels):
    """[kalman1960]: b + P (z - b)/(P + r), and P r/(P + r); the last shift is nearly linear."""
    made = chained_factory.season(3, 11)
    measured = chained_factory.readings(made)
    bias, variance = chain_of(measured, channels)
    checks = {
        SCALE: CheckFile(
            "scale.csv", (measured[-1].start + timedelta(hours=1),), (504.0,), (500.0,)
        )
    }
    taken, more, shared = with_checks(factory, checks, measured, channels)
    then, narrowed = chain_of(taken, more, shared)
    noise = 0.2**2 + 0.1**2  # reading, and standard
    assert then == pytest.approx(bias + variance * (0.8 - bias) / (variance + noise), abs=0.01)
    assert narrowed == pytest.approx(variance * noise / (variance + noise), rel=0.02)


def test_what_is_known_at_first_is_where_the_bias_begins(channels):
    made = chained_factory.workshop()
    known = {SCALE: (0.7, 0.3)}
    prepared = made.prepared
    reconciler = Reconciler(prepared.model, list(channels), prepared.statements, (), known)
    chain = Chain(reconciler, prepared.usual.values, chained_factory.Amounts(reconciler, ()))
    place = chain.carried.names.index(SCALE)
    begun = chain.begin()
    assert begun.mean[place] == 0.7
    assert begun.covariance[place, place] == pytest.approx(0.3**2)


def test_instruments_past_their_due_date_are_told_by_the_last_shift(factory):
    (late,) = late_at_the_end(factory, [None, datetime(2026, 7, 6, 6), datetime(2026, 7, 5, 6)])
    assert (late.instrument, late.due, late.days) == ("weighbridge", date(2025, 2, 10), 511)
    assert late_at_the_end(factory, [None]) == []


@pytest.mark.slow
def test_a_check_added_balances_anew_from_its_shift_on(text, tmp_path, monkeypatch):
    from canewright.account import season_keeping
    from canewright.demo.factory import POORLY_READ, write_demonstration

    monkeypatch.setattr(season_keeping, "EVERY", 2)
    write_demonstration(POORLY_READ, tmp_path, 6)
    (tmp_path / "factory.toml").write_text(text, encoding="utf-8")
    rows = ["time,value,expected", "2026-07-06T10:00,501,500"]
    (tmp_path / "scale.csv").write_text("\n".join(rows), encoding="utf-8")
    where = tmp_path / "factory.toml", tmp_path / "season"
    first = balance_season(*where)
    assert first.taken_up == 0
    rows.append("2026-07-07T20:00,504,500")  # in the fifth shift
    (tmp_path / "scale.csv").write_text("\n".join(rows), encoding="utf-8")
    again = balance_season(*where, resume=True)
    assert again.taken_up == 4
    place = again.chain.carried.names.index(SCALE)
    assert again.results[-1].carried_sd[place] < first.results[-1].carried_sd[place]
    assert json.dumps(again.results[3].amounts.tolist()) == json.dumps(
        first.results[3].amounts.tolist()
    )
