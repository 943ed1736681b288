"""`canewright study`: the same numbers whoever does the work, stopped and gone on with."""

import csv
import errno
import json
import multiprocessing
import os
import pickle
import signal
from dataclasses import replace

import numpy as np
import polars
import pytest

from canewright.account import study as studies
from canewright.account.study import Study, StudyStopped
from canewright.account.study_plan import read_plan
from canewright.account.study_start import start
from canewright.cli.main import main
from canewright.demo.factory import WELL_RUN
from canewright.files.problems import InputRefused

PLAN = """
[study]
factory = "factory.toml"
draws = 60
seed = 3
figures = ["earned", "sucrose_extraction", "evaporator body 5.solids_percent"]

[[vary]]
name = "imbibition"
from = 200
to = 250
step = 25

[[vary]]
name = "C crystallisers.temperature"
mean = 46
sd = 1.5
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("study")
    (place / "factory.toml").write_bytes(WELL_RUN.path.read_bytes())
    (place / "plan.toml").write_text(PLAN)
    return place


@pytest.fixture(scope="module")
def work(folder):
    return start(folder / "plan.toml", may_compile=False)


@pytest.fixture(scope="module")
def serial(work, tmp_path_factory):
    return Study(work, tmp_path_factory.mktemp("serial") / "results").run()


@pytest.fixture(autouse=True)
def small_parts(monkeypatch):
    """Parts of a few scenarios, so that there are several."""
    monkeypatch.setattr(studies, "PART", 32)


def same(results, other):
    assert results.csv.read_bytes() == other.csv.read_bytes()
    assert polars.read_parquet(results.parquet).equals(polars.read_parquet(other.parquet))


@pytest.mark.slow
def test_every_scenario_is_there_once(serial):
    assert serial.count == 180
    assert np.array_equal(serial.columns["scenario"], np.arange(180))
    assert sorted(set(serial.columns["imbibition"])) == [200.0, 225.0, 250.0]
    # Draw k is the same at every point of the grid.
    cold = serial.columns["C crystallisers.temperature"].reshape(3, 60)
    assert np.array_equal(cold[0], cold[1])
    # 60 draws of sd 1.5: four standard errors of the mean are 0.77.
    assert cold[0].mean() == pytest.approx(46.0, abs=0.78)
    more = serial.columns["sucrose_extraction"].reshape(3, 60)
    good = np.isfinite(more).all(axis=0)
    # More water extracts more, unless the slope by which it mixes less well is drawn steep: in
    # about one draw of ten, of sixty within three standard errors in less than 22 %.
    assert np.mean(more[1, good] > more[0, good]) > 0.78


def test_the_first_part_alone_is_the_start_of_the_whole(work, serial):
    part = work.part(0, 10)
    assert np.array_equal(part["earned"], serial.columns["earned"][:10], equal_nan=True)


def test_failed_scenarios_are_rows_with_their_reason(serial):
    with serial.csv.open(newline="") as opened:
        rows = list(csv.DictReader(opened))
    assert len(rows) == 180
    for row in rows:
        assert bool(row["reason"]) == (row["earned"] in ("", "NaN"))
    assert sum(bool(row["reason"]) for row in rows) == serial.failed


@pytest.mark.slow
def test_two_processes_give_the_same_numbers(work, serial, tmp_path):
    same(Study(work, tmp_path / "two").run(workers=2), serial)


@pytest.mark.slow
def test_a_worker_that_dies_costs_nothing_but_time(work, serial, tmp_path):
    killed = []

    def kill_one(_):
        children = multiprocessing.active_children()
        if children and not killed:
            killed.append(children[0].pid)
            os.kill(children[0].pid, signal.SIGKILL)

    results = Study(work, tmp_path / "dying").run(workers=2, each=kill_one)
    assert killed
    same(results, serial)


@pytest.mark.slow
@pytest.mark.filterwarnings("default")
def test_four_workers_of_a_scheduler_give_the_same_numbers(work, serial, tmp_path):
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=4, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        results = Study(work, tmp_path / "far").run(scheduler=cluster.scheduler_address)
    same(results, serial)


@pytest.mark.slow
def test_a_stopped_study_goes_on_where_it_was(work, serial, tmp_path):
    class Stopped(Exception):
        pass

    done = []

    def stop_after_three(count):
        done.append(count)
        if len(done) == 3:
            raise Stopped

    first = Study(work, tmp_path / "stopped")
    with pytest.raises(Stopped):
        first.run(each=stop_after_three)
    assert len(first.missing) == len(first.parts) - 3
    with pytest.raises(StudyStopped, match="Add --resume"):
        Study(work, tmp_path / "stopped")
    more = []
    results = Study(work, tmp_path / "stopped", resume=True).run(each=more.append)
    assert sum(done) + sum(more) == 180
    same(results, serial)


def test_another_plan_does_not_go_on_with_these_parts(work, tmp_path):
    Study(work, tmp_path / "mine")
    other = replace(work, fingerprint="another")
    with pytest.raises(StudyStopped, match="have changed"):
        Study(other, tmp_path / "mine", resume=True)


def test_a_finished_study_is_not_written_over(work, tmp_path):
    study = Study(work, tmp_path / "finished")
    study.run()
    study.clear()
    assert {path.name for path in study.folder.iterdir()} == {"results.csv", "results.parquet"}
    with pytest.raises(StudyStopped, match="results of a finished study"):
        Study(work, tmp_path / "finished", resume=True)


def test_a_full_disk_is_said_and_what_is_done_is_kept(work, serial, tmp_path, monkeypatch):
    whole, written = studies.write_whole, []

    def full(place, content):
        if len(written) == 3:
            raise OSError(errno.ENOSPC, "No space left on device", str(place))
        written.append(place)
        whole(place, content)

    monkeypatch.setattr(studies, "write_whole", full)
    with pytest.raises(StudyStopped, match=r"is full .*go on with --resume"):
        Study(work, tmp_path / "full").run()
    monkeypatch.setattr(studies, "write_whole", whole)
    same(Study(work, tmp_path / "full", resume=True).run(), serial)


def test_a_scheduler_that_is_not_there_is_said(work, tmp_path, monkeypatch):
    def no_answer(*_, **__):
        raise OSError("Timed out trying to connect")

    import distributed

    monkeypatch.setattr(distributed, "Client", no_answer)
    with pytest.raises(StudyStopped, match="No scheduler answers at tcp://nowhere:1"):
        Study(work, tmp_path / "nowhere").run(scheduler="tcp://nowhere:1")


def test_the_work_travels(work):
    there = pickle.loads(pickle.dumps(work))
    assert np.array_equal(there.part(5, 9)["earned"], work.part(5, 9)["earned"], equal_nan=True)


def test_the_command_prints_and_writes(folder, work, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    typed = ["study", str(folder / "plan.toml"), "--workers", "1", "--out"]
    with pytest.raises(SystemExit) as left:
        main([*typed, str(folder / "told")])
    out = capsys.readouterr().out
    assert not left.value.code
    assert "180 scenarios" in out
    assert "assumed responses" in out
    assert (folder / "told" / "results.parquet").is_file()
    # The plan is made ready once; what follows is about printing.
    monkeypatch.setattr("canewright.account.study_start.start", lambda *_, **__: work)
    with pytest.raises(SystemExit):
        main([*typed, str(folder / "json"), "--json"])
    told = json.loads(capsys.readouterr().out)
    assert told["scenarios"] == 180
    assert {"mean", "sd", "median"} <= set(told["figures"]["earned"])
    with pytest.raises(SystemExit) as left:
        main([*typed, str(folder / "json")])
    assert left.value.code == 2
    assert "holds the results of a finished study" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "has no [study]"),
        ("[study]\nfactory = 'nowhere.toml'\ndraws = 2", "no file nowhere.toml"),
        ("[study]\nfactory = 'factory.toml'", "Nothing differs"),
        ("[study]\nfactory = 'factory.toml'\ndraws = -1", "no whole number"),
        ("[study]\nfactory = 'factory.toml'\ndraw = 5", "has no 'draw'"),
        (
            "[study]\nfactory = 'factory.toml'\ndraws = 5\nuncertain = 'posterior'",
            "needs a balance",
        ),
        (PLAN + "[[vary]]\nname = 'x'\nfrom = 3\nto = 1\nstep = 1", "runs backwards"),
        (PLAN + "[[vary]]\nname = 'x'\nmean = 3\nsd = 0", "would not differ"),
        (PLAN + "[[vary]]\nname = 'x'\nmean = 3", "does not say how it differs"),
        (PLAN + "[[vary]]\nname = 'x'\nvalues = [1, nan]", "is no number"),
        (PLAN + "[[vary]]\nname = 'imbibition'\nvalues = [1]", "varied twice"),
        (PLAN.replace("draws = 60", "draws = 60000000"), "are more than"),
        ("[study\n", "is not TOML"),
    ],
)
def test_a_bad_plan_is_refused_in_sentences(folder, text, sentence):
    place = folder / "bad.toml"
    place.write_text(text)
    with pytest.raises(InputRefused) as refused:
        read_plan(place)
    assert sentence in str(refused.value)


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ('name = "imbibition"', 'name = "imbibtion"', "no setting called 'imbibtion'"),
        ("to = 250", "to = 2500", "can be 0 to 600"),
        ('"sucrose_extraction"', '"sucrose_extracton"', "No figure is called"),
        ('name = "imbibition"', 'name = "final molasses tank.dispatch"', "follows from"),
    ],
)
def test_a_plan_that_does_not_suit_the_factory_is_refused(folder, old, new, sentence):
    place = folder / "unsuited.toml"
    place.write_text(PLAN.replace(old, new))
    with pytest.raises(InputRefused) as refused:
        start(place)
    assert sentence in str(refused.value)
