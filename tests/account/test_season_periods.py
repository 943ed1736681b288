"""Figures and ledgers of every period, and what of them priors alone would give."""

import re
from datetime import datetime, timedelta

import casadi
import numpy as np
import pytest

from canewright.account import balance
from canewright.account.season import balance_season, put_last_season_beside
from canewright.account.season_payload import payload
from canewright.account.season_periods import CALENDAR
from canewright.demo.factory import POORLY_READ, write_demonstration
from canewright.engine.chain.amounts import Amount, Amounts
from canewright.engine.chain.carried import Carried
from canewright.engine.chain.prior_spread import lasting
from canewright.figures.control import control_figures
from canewright.figures.ledgers import ledgers
from canewright.figures.to_date import PeriodFigures
from canewright.files.problems import InputRefused
from tests.engine import chained_factory

SHIFTS = 6
ROUNDING = 1e-9
STOCKS = ("stock", "recovery", "boiling_house", "virtual")
"""Words in the names of figures that count what is in stock."""


def test_what_lasts_adds_up_as_every_pair_of_shifts():
    carried = Carried(chained_factory.workshop().reconciler)
    keep, count = np.sqrt(1 - carried.drift**2), 7
    pairs = [keep ** abs(s - t) for s in range(count) for t in range(count)]
    np.testing.assert_allclose(lasting(carried, count), np.sum(pairs, axis=0), rtol=ROUNDING)
    np.testing.assert_allclose(lasting(carried, 1), 1.0, rtol=ROUNDING)


def test_a_period_of_one_shift_has_the_figures_of_that_shift():
    """Also where variables that only enter as a sum are added up together."""
    made = chained_factory.workshop()
    reconciler, model = made.reconciler, made.prepared.model
    found = ledgers(model)
    figures = control_figures(model, reconciler.relations, found)
    periods = PeriodFigures(reconciler, found, figures)
    amounts = Amounts(reconciler, periods.amounts)
    of_shift = Amounts(reconciler, [Amount(n, f.unit, f.expression) for n, f in figures.items()])
    names = tuple(amount.name for amount in periods.amounts)
    used = sum(len(group) for group in periods._used.values())
    assert len(periods._used) < used  # some are added up together
    drawn = np.random.default_rng(7)
    usual = reconciler.start(made.prepared.usual.values)
    for _ in range(3):
        point = usual * drawn.uniform(0.9, 1.1, size=usual.size)
        parameters = reconciler.parameters(7.0)
        totals, _ = amounts.at(point, parameters)
        values, _ = of_shift.at(point, parameters)
        nothing = np.zeros((totals.size, totals.size))
        told = {f.name: f.value for f in periods.of(names, totals, nothing)}
        assert set(told) == set(figures)
        for name, value in zip(figures, values, strict=True):
            assert told[name] == pytest.approx(value, rel=1e-8), name  # sums in another order


def test_variables_that_enter_figures_differently_are_not_put_together():
    made = chained_factory.workshop()
    from canewright.figures.to_date import alike

    variables = made.reconciler.variables
    a, b, c, d = (variables[i] for i in range(4))
    expressions = casadi.vertcat((a + b) / c, d * (a + b), c + d)
    assert alike(made.reconciler, expressions, {}) == [[0, 1], [2], [3]]
    assert alike(made.reconciler, expressions, {0: "first"}) == [[0], [1], [2], [3]]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("periods")
    write_demonstration(POORLY_READ, place, SHIFTS)
    return place


@pytest.fixture(scope="module")
def season(folder):
    return balance_season(folder / "factory.toml", folder / "season", keep=False)


@pytest.mark.slow
def test_every_period_has_every_figure_and_every_row(season):
    every = [figure.name for figure in season.figures]
    for kind in CALENDAR:
        for standing in season.standings(kind):
            assert [figure.name for figure in standing.figures] == every
            assert set(standing.ledgers) == set(season.ledgers)
            for name, rows in standing.ledgers.items():
                ledger = season.ledgers[name]
                assert len(rows) == len(ledger.entering) + len(ledger.leaving)


@pytest.mark.slow
def test_days_make_the_week(season):
    days = season.standings("day")
    (week,) = season.standings("week")
    assert [day.shifts for day in days] == [3, 3]
    for name in ("cane_tonnes", "raw_sugar_tonnes"):
        total = sum(day.figure(name).value for day in days)
        # What the second day said of the weighbridge has corrected the first one too.
        assert total == pytest.approx(week.figure(name).value, rel=ROUNDING)
    assert [day.over for day in days] == [True, False]
    for day in days:
        rows = day.ledgers["sucrose"]
        entering = sum(row.amount for row in rows if row.side == "in")
        leaving = sum(row.amount for row in rows if row.side == "out")
        assert entering == pytest.approx(leaving, rel=1e-5)  # linear updates of what closes
        assert sum(row.share for row in rows if row.side == "in") == pytest.approx(100)


@pytest.mark.slow
def test_what_changed_between_periods_adds_up(season):
    first, second = season.standings("day")
    change = season.compare(first.period, second.period)
    assert list(change.contributions) == ["cane", "extraction", "boiling house", "measurement"]
    assert sum(change.contributions.values()) == pytest.approx(change.total, abs=1e-9)
    assert abs(change.total) > 1e-3


@pytest.mark.slow
def test_the_only_week_is_the_season(season):
    (week,) = season.standings("week")
    for own, to_date in zip(week.figures, season.figures, strict=True):
        assert own.value == pytest.approx(to_date.value, rel=ROUNDING, abs=ROUNDING)
        assert own.prior_share == pytest.approx(to_date.prior_share, rel=ROUNDING, abs=ROUNDING)


@pytest.mark.slow
def test_a_season_of_one_shift_stands_on_priors_as_the_balance_of_that_shift(folder, tmp_path):
    place = tmp_path / "season"
    place.mkdir()
    first = sorted((folder / "season").glob("*.csv"))[0]
    (place / first.name).write_bytes(first.read_bytes())
    season = balance_season(folder / "factory.toml", place, keep=False)
    alone = balance(folder / "factory.toml", place / first.name)
    told = [f for f in season.figures if f.name in alone.statements]
    assert len(told) > 50
    for figure in told:
        statement = alone.statements[figure.name]
        # Nearer to a half than the shares part, the one may say yes and the other no.
        if abs(statement.prior_share - 0.5) > 0.02:
            assert figure.determined == statement.determined, figure.name
        # The chain carries what is said of stocks by its tangent at the usual stock, the balance
        # as it stands, so that figures with stocks part; the others by linearisation only.
        if not any(word in figure.name for word in STOCKS):
            assert figure.prior_share == pytest.approx(statement.prior_share, abs=0.02), figure.name
    assert any(not figure.determined for figure in told)


def moved(text, days):
    """Readings with every moment some days earlier."""
    return re.sub(
        r"2026-\d\d-\d\dT\d\d:\d\d",
        lambda found: (datetime.fromisoformat(found[0]) - timedelta(days=days)).isoformat(),
        text,
    )


@pytest.fixture(scope="module")
def earlier(folder, tmp_path_factory):
    """A season 366 days before, whose second day had more cane by the weighbridge."""
    place = tmp_path_factory.mktemp("earlier")
    for path in sorted((folder / "season").glob("*.csv")):
        text = moved(path.read_text(encoding="utf-8"), 366)
        (place / path.name).write_text(text, encoding="utf-8")
    return place


@pytest.mark.slow
def test_last_season_is_taken_over_the_same_days_of_the_crop(folder, earlier, tmp_path):
    place = tmp_path / "season"
    place.mkdir()
    for path in sorted((folder / "season").glob("*.csv"))[:4]:
        (place / path.name).write_bytes(path.read_bytes())
    season = balance_season(folder / "factory.toml", place, keep=False)
    put_last_season_beside(season, folder / "factory.toml", earlier, keep=False)
    last = season.last_season(season.season)
    # The same readings a year before, up to the same hour: the same figures.
    assert last.shifts == season.season.shifts == 4
    for own, then in zip(season.figures, last.figures, strict=True):
        assert then.value == pytest.approx(own.value, rel=1e-7, abs=1e-7), own.name  # rounding
    for kind in ("day", "week"):
        for standing in season.standings(kind):
            then = season.last_season(standing)
            assert (then.period.name, then.shifts) == (standing.period.name, standing.shifts)
    assert payload(season)["last_season"]["days_between"] == 366
    since = season.compare_with_last_season(season.season)
    assert since.total == pytest.approx(0.0, abs=1e-6)
    with pytest.raises(InputRefused, match="shifts are shifts of this season"):
        put_last_season_beside(season, folder / "factory.toml", place, keep=False)


@pytest.mark.slow
def test_a_week_that_goes_on_is_taken_up_with_its_totals(folder, tmp_path, season):
    place = tmp_path / "season"
    place.mkdir()
    files = sorted((folder / "season").glob("*.csv"))
    for path in files[:4]:
        (place / path.name).write_bytes(path.read_bytes())
    balance_season(folder / "factory.toml", place)
    for path in files[4:]:
        (place / path.name).write_bytes(path.read_bytes())
    again = balance_season(folder / "factory.toml", place, resume=True)
    assert again.taken_up == 4
    (week,), (whole,) = again.standings("week"), season.standings("week")
    assert week.shifts == whole.shifts == SHIFTS
    for own, other in zip(week.figures, whole.figures, strict=True):
        assert own.value == pytest.approx(other.value, rel=1e-6, abs=1e-6), own.name
