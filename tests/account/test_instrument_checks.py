"""Checks, certificates and due dates of instruments: what the balance makes of them."""

import csv
import json
from dataclasses import replace
from datetime import datetime, timedelta

import casadi
import numpy as np
import pytest

from canewright.account import balance
from canewright.account.explanation import explanation
from canewright.account.instruments import OF_VALUE, bias_priors, read_checks, standings
from canewright.cli.main import main
from canewright.engine.adjusting.explain import statements
from canewright.engine.adjusting.reconcile import Measurement, Reconciler
from canewright.engine.suspects.suspects import find_suspects
from canewright.figures.control import control_figures
from canewright.files.check_records import read_check_file
from canewright.files.factory import read_factory, read_text
from canewright.files.problems import InputRefused
from canewright.files.rows import ReadingRow, ShiftFacts
from canewright.files.writing import write_readings
from canewright.laboratory import standing
from canewright.laboratory.check_samples import CheckRecord
from tests.account.shift_files import FACTS
from tests.engine import small_factory
from tests.engine.small_factory import usual_readings

DRIFT = 0.40  # Brix; eight times what is stated of the refractometer
STREAMS = {
    "mixed_juice": "mixed juice",
    "juice_of_mill_1": "juice of mill 1",
    "juice_of_mill_5": "juice of mill 5",
    "clear_juice": "clear juice",
    "syrup": "syrup",
    "melt": "melt",
}
SHIFTS = 60
RANDOM = BIAS = 0.05  # Brix, as the factory file states
CHECKS = 'checks = "refractometer.csv"\ncheck_uncertainty = "0.02 %"'


def entry(more=""):
    """The refractometer of the small factory."""
    reads = json.dumps([f"{stream}.brix" for stream in STREAMS.values()])
    return f"""
[[instrument]]
name = "bench refractometer"
reads = {reads}
random = "{RANDOM} %"
bias = "{BIAS} %"
calibrated = 2026-05-03
due = 2026-11-03
{more}
"""


def made_up(seed, drift):
    """A shift read of the usual point, its refractometer off by `drift`, all else as stated."""
    reconciler = small_factory.small_reconciler()
    random = np.random.default_rng(seed)
    biases = {instrument: random.normal() for instrument in reconciler.instruments}
    rows = []
    for channel, value in zip(reconciler.channels, usual_readings(), strict=True):
        noise = random.normal()
        if channel.analysis == "brix" and channel.point in STREAMS:
            read = value + drift + noise * RANDOM
        else:
            share = abs(value) / 100
            bias = (
                biases[channel.instrument] * channel.bias * (share if channel.bias_relative else 1)
            )
            read = value + bias + noise * channel.random * (share if channel.random_relative else 1)
        rows.append(ReadingRow.of(channel.point, channel.analysis, float(read), channel.unit))
    return rows


def errors(drift, count=24, sd=0.03, seed=5):
    """Errors of checks: the bias came up in the first half."""
    bias = drift * np.minimum(1, np.arange(count) / (count / 2))
    return bias + np.random.default_rng(seed).normal(0, sd, count)


def of_checks(drift):
    """The record of those checks."""
    found = tuple(20 + errors(drift))
    return CheckRecord("bench refractometer", found, (20.0,) * len(found), "%")


def write_checks(path, drift, start=datetime(2026, 8, 6, 15)):
    """Checks every eight hours of a solution of 20.00 Brix."""
    with path.open("w", encoding="utf-8", newline="") as file:
        rows = csv.writer(file)
        rows.writerow(["time", "value", "expected"])
        for k, error in enumerate(errors(drift)):
            moment = start + timedelta(hours=8 * k)
            rows.writerow([f"{moment:%Y-%m-%dT%H:%M}", f"{20 + error:.3f}", "20.00"])


def shift(folder, more, drift=DRIFT, seed=7):
    """A made-up shift in which the refractometer reads `drift` too much, with its factory."""
    factory, read = folder / "factory.toml", folder / "readings.csv"
    write_readings(read, made_up(seed, drift), FACTS)
    factory.write_text(small_factory.text() + entry(more), encoding="utf-8")
    write_checks(folder / "refractometer.csv", drift)
    return factory, read


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    return shift(tmp_path_factory.mktemp("checks"), CHECKS)


@pytest.fixture(scope="module")
def accounts(files, tmp_path_factory):
    """With the record of checks, without it, and of a shift without drift."""
    return (
        balance(*files),
        balance(*shift(tmp_path_factory.mktemp("unchecked"), "")),
        balance(*shift(tmp_path_factory.mktemp("true"), "", drift=0.0)),
    )


@pytest.mark.slow
def test_a_drift_known_from_checks_is_no_suspect_and_no_loss(accounts):
    known, unknown, true = accounts
    assert not known.suspects.findings
    assert known.suspects.before.passes
    # Without its checks the same drift is found, and doubted.
    assert [found.name for found in unknown.suspects.findings] == [
        "calibration of bench refractometer"
    ]
    for name in ("undetermined_loss", "boiling_house_recovery", "sucrose_extraction"):
        one, other = known.statements[name], true.statements[name]
        # 0.02 Brix that the checks and the readings leave open: far within the uncertainty.
        assert one.value == pytest.approx(other.value, abs=0.1 * other.sd)


def test_the_checks_are_the_prior_of_the_bias(accounts):
    known = accounts[0]
    (told,) = known.instruments
    assert told.origin == "checks"
    # Two standard uncertainties hold the planted drift.
    assert told.mean == pytest.approx(DRIFT, abs=2 * told.sd)
    reconciler, solution = known.plain.reconciler, known.plain.solution
    place = reconciler.problem.data_names.index("calibration of bench refractometer")
    assert solution.values[place] * BIAS == pytest.approx(told.mean)
    assert solution.sd[place] * BIAS == pytest.approx(told.sd)


def test_the_drift_is_said_with_what_to_do(files, accounts, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    with pytest.raises(SystemExit) as left:
        main(["balance", *map(str, files)])
    out = capsys.readouterr().out
    assert not left.value.code
    assert max(map(len, out.splitlines())) <= 80
    text = " ".join(out.split())
    assert "bench refractometer reads 0.4" in text or "bench refractometer reads 0.3" in text
    assert "high by 24 checks against its standard, the newest 14 Aug 07:00" in text
    assert "calibrate it" in text
    assert "The balance closes" in text
    found = explanation(accounts[0], "mixed_juice brix")
    assert [one.instrument for one in found.instruments] == ["bench refractometer"]
    with pytest.raises(SystemExit):
        main(["balance", *map(str, files), "--json"])
    (told,) = json.loads(capsys.readouterr().out)["instruments"]
    assert told["known_from"] == "checks"
    assert told["checks"] == {"count": 24, "newest": "2026-08-14T07:00:00", "in_control": False}
    assert told["bias"] == pytest.approx(DRIFT, abs=2 * told["standard_uncertainty"])


def standing_of(more, *, file=None, on=FACTS.start, name="bench refractometer"):
    factory = read_text(small_factory.text() + entry(more))
    checks = {} if file is None else {name: file}
    return standings(factory, ShiftFacts(on, 8.0, ""), 8.0, checks)


def test_checks_of_another_time_do_not_count(tmp_path):
    path = tmp_path / "refractometer.csv"
    write_checks(path, DRIFT)
    file = read_check_file(path)
    # Before the first check, and after a calibration that came later than all of them.
    assert standing_of(CHECKS, file=file, on=datetime(2026, 8, 1, 6)) == []
    later = entry(CHECKS).replace("2026-05-03", "2026-08-20")
    factory = read_text(small_factory.text() + later)
    shift_after = ShiftFacts(datetime(2026, 9, 1, 6), 8.0, "")
    assert standings(factory, shift_after, 8.0, {"bench refractometer": file}) == []
    # Half of them: those up to the end of the shift.
    (half,) = standing_of(CHECKS, file=file, on=datetime(2026, 8, 10, 6))
    assert len(half.verdict.record.values) == 12  # 6 Aug 15:00 to 10 Aug 07:00, every 8 h


def test_an_old_check_is_worth_less(tmp_path):
    path = tmp_path / "refractometer.csv"
    write_checks(path, 0.0)
    file = read_check_file(path)
    fresh, stale = (
        standing_of(CHECKS, file=file, on=day)[0]
        for day in (datetime(2026, 8, 14, 6), datetime(2026, 10, 14, 6))
    )
    assert stale.mean == fresh.mean
    # 61 days are 183 times between checks: 183 steps of the walk of 0.0067 Brix are 0.09.
    assert fresh.sd < 0.035
    assert 0.08 < stale.sd < 0.11


CERTIFICATE = """
certificate = "K 4711"
certificate_value = "20.00 %"
found = "20.12 %"
certificate_uncertainty = "0.02 %"
"""


def test_a_certificate_keeps_its_error_and_adds_its_uncertainty():
    (told,) = standing_of(CERTIFICATE)
    assert told.origin == "certificate"
    assert told.mean == pytest.approx(0.12, abs=1e-9)  # 20.12 - 20.00
    assert told.sd == pytest.approx(np.hypot(BIAS, 0.02))  # worked by hand
    assert "0.12 +/- 0.11 % high by its certificate K 4711 of 03 May 2026" in told.words
    # A shift of a year after it was due: 2 intervals of 184 days.
    (late,) = standing_of(CERTIFICATE, on=datetime(2027, 11, 6, 6))
    assert late.sd == pytest.approx(np.hypot(BIAS * np.sqrt(3), 0.02), rel=1e-3)
    assert "was due for calibration on 2026-11-03, 368 days ago" in late.words
    # A shift from before it was calibrated knows nothing of it.
    assert standing_of(CERTIFICATE, on=datetime(2026, 5, 1, 6)) == []


def test_an_overdue_instrument_is_told_by_the_balance_of_its_shift():
    (told,) = standing_of("", on=datetime(2027, 5, 6, 6))
    assert told.notable
    # 184 days after an interval of 184 days: sqrt(2), the stated rule.
    assert "1.41 times as wide" in told.words
    assert bias_priors([told], []) == {}  # `Points` widens it


POLARIMETER = """
[[instrument]]
name = "polarimeter"
reads = ["mixed juice.pol", "clear juice.pol"]
bias = "0.1 % of value"
certificate_value = "95.80 degZ"
found = "95.99 Z"
certificate_uncertainty = "0.02 degZ"
"""


def test_degrees_of_a_quartz_plate_count_as_percent_of_every_rotation():
    factory = read_text(small_factory.text() + POLARIMETER)
    (told,) = standings(factory, FACTS, 8.0)
    assert told.unit == OF_VALUE
    assert told.mean == pytest.approx(100 * 0.19 / 95.80)
    assert told.sd == pytest.approx(np.hypot(0.1, 100 * 0.02 / 95.80))


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ('checks = "q.csv"\nbias = "0.03 %"', "a degree too many on the quartz"),
        ('checks = "q.csv"', "does not say how a bias counts"),
        ('check_uncertainty = "0.02 degZ"\nbias = "0.1 % of value"', "'checks' is missing"),
        ('bias = "0.1 % of value"\nfound = "95.99 degZ"', "come together"),
        (
            'bias = "0.1 % of value"\ncertificate_value = "95.8 degZ"\nfound = "96 %"',
            "The certificate is written in % and degZ",
        ),
        (
            'bias = "0.1 % of value"\ncertificate_uncertainty = "0.02 degZ"',
            "the value of the standard is not written",
        ),
    ],
)
def test_what_an_entry_does_not_tell_is_asked_for(wrong, sentence):
    bare = '\n[[instrument]]\nname = "polarimeter"\nreads = "mixed juice.pol"\n'
    with pytest.raises(InputRefused) as refused:
        read_text(small_factory.text() + bare + wrong)
    assert sentence in str(refused.value)


def test_a_record_that_cannot_be_used_is_refused_by_name(tmp_path):
    factory, _ = shift(tmp_path, CHECKS)
    made = read_factory(factory)
    record = tmp_path / "refractometer.csv"
    record.unlink()
    with pytest.raises(InputRefused, match=r"refractometer\.csv"):
        read_checks(made, tmp_path)
    record.write_text("time,value\n2026-08-14T06:00,20.1\n", encoding="utf-8")
    with pytest.raises(InputRefused, match="No column is 'expected'"):
        read_checks(made, tmp_path)


@pytest.mark.slow
def test_with_checks_the_intervals_cover_the_truth_as_often_as_they_say():
    known = standing.checked(
        standing.stated("bench refractometer", "%", BIAS), of_checks(DRIFT), None
    )
    small = small_factory.small_reconciler()
    channels = [
        replace(c, instrument="bench refractometer", bias=BIAS, random=RANDOM)
        if c.analysis == "brix" and c.point in STREAMS
        else c
        for c in small.channels
    ]
    reconciler = Reconciler(small.model, channels, small.statements)
    priors = bias_priors([known], channels)
    figures = control_figures(small.model, reconciler.relations)
    names = ("sucrose_extraction", "boiling_house_recovery", "undetermined_loss")
    usual = small_factory.small_prepared().usual
    random = np.random.default_rng(11)
    asked = [figures[name].expression for name in names]
    truly = casadi.Function(
        "true", [reconciler.variables, small.model.parameters], [casadi.vertcat(*asked)]
    )
    true = np.array(truly(reconciler.start(usual.values), usual.parameters)).ravel()
    covered, alarms = np.zeros(len(names)), 0
    for seed in range(SHIFTS):
        # What the checks leave open is drawn anew.
        drift = float(random.normal(known.mean, known.sd))
        rows = made_up(seed, drift)
        found = reconciler.solve(
            [Measurement(row.point, row.analysis, row.value) for row in rows],
            usual.values,
            priors=priors,
        )
        alarms += not find_suspects(found).before.passes
        told = statements(found, asked)
        covered += [
            low <= truth <= high
            for truth, (low, high) in zip(true, (one.interval for one in told), strict=True)
        ]
    # At least as often as 95 % says, less three standard errors of 60 shifts (priors that are
    # wider than what is drawn make more).
    assert (covered / SHIFTS >= 0.95 - 3 * np.sqrt(0.95 * 0.05 / SHIFTS)).all()
    assert alarms / SHIFTS <= 0.05 + 3 * np.sqrt(0.95 * 0.05 / SHIFTS)
