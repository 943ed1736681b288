"""`canewright advise` and `canewright measure` as they are typed, on one demonstration shift."""

import json

import pytest

from canewright.account import balance
from canewright.cli import balance_command
from canewright.cli.main import main
from canewright.demo.factory import WELL_RUN, write_demonstration

MOVES = ("setting", "unit", "from", "to", "gain_alone", "gain_together", "effects")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demonstration")
    write_demonstration(WELL_RUN, folder, 2)
    return folder


@pytest.fixture(scope="module")
def shifts(folder):
    """The two shifts, balanced once."""
    files = sorted((folder / "season").glob("*.csv"))
    return [balance(folder / "factory.toml", file) for file in files]


@pytest.fixture
def run(capsys, monkeypatch, folder, shifts):
    monkeypatch.setenv("COLUMNS", "80")

    def run_it(command, *typed, shift=0):
        monkeypatch.setattr(balance_command, "balanced", lambda factory, readings: shifts[shift])
        with pytest.raises(SystemExit) as left:
            main([command, str(folder / "factory.toml"), str(folder / "readings.csv"), *typed])
        printed = capsys.readouterr()
        return left.value.code or 0, printed.out, printed.err

    return run_it


def test_the_finding_comes_first_then_its_grounds(run):
    code, out, _ = run("advise", "--draws", "0")
    assert code == 0
    headings = (
        "moves together earn",
        "Moves for the next shift",
        "Why, each move by itself",
        "What holds more money back",
        "What a tonne is worth at the margin",
        "Assumed responses behind it",
        "Caution.",
    )
    places = [out.index(heading) for heading in headings]
    assert places == sorted(places)
    assert "invented" in out
    assert "Local codes and" in out
    assert "let-down is open" in out
    assert "It lets the others keep colour" in " ".join(out.split())
    assert max(len(line) for line in out.splitlines()) <= 80


def test_json_has_its_stable_keys(run):
    code, out, _ = run("advise", "--draws", "60", "--json")
    assert code == 0
    answer = json.loads(out)
    assert answer["moves"]
    for move in answer["moves"]:
        assert set(MOVES) <= set(move)
        assert move["effects"]
    for one in answer["binding"]:
        assert {"limit", "unit", "shadow_price"} <= set(one)
    low, high = answer["gain_interval"]
    assert low <= answer["gain"] <= high
    assert 0 <= answer["chance_of_four_fifths"] <= answer["chance_better"] <= 1
    assert answer["cautions"]
    assert all(0 <= one["probability"] <= 1 for one in answer["limits_kept"])
    assert answer["regime"] == "let-down open"


@pytest.mark.slow
def test_what_is_accepted_may_be_said_and_a_wrong_name_is_refused(run):
    _, out, _ = run("advise", "--draws", "0", "--json", "--accept", "imbibition=1")
    moves = {move["setting"]: move for move in json.loads(out)["moves"]}
    water = moves.get("imbibition.imbibition_percent_fibre")
    assert water is None or abs(water["to"] - water["from"]) <= 1 + 1e-6
    code, _, err = run("advise", "--accept", "cane_rate=5")
    assert code == 2
    assert "does not move" in err
    code, _, err = run("advise", "--draws", "10")
    assert code == 2
    assert "needs 50 or more" in err
    code, _, err = run("advise", "--accept", "imbibition=much")
    assert code == 2
    assert "'much' is no number" in err


def test_without_assumed_responses_nothing_is_built_on_them(run):
    _, out, _ = run("advise", "--draws", "0", "--json", "--no-assumed")
    answer = json.loads(out)
    assert answer["assumed"] == []
    moved = {move["setting"] for move in answer["moves"]}
    # Their good side is an assumed response alone.
    assert not any(name.endswith(("wash_percent", "pans.solids")) for name in moved)


def test_a_missing_price_is_refused_and_not_taken_as_nothing(tmp_path, folder, capsys):
    text = (folder / "factory.toml").read_text("utf8")
    assert "\nfinal_molasses = 120\n" in text
    file = tmp_path / "factory.toml"
    file.write_text(text.replace("\nfinal_molasses = 120\n", "\n"), "utf8")
    with pytest.raises(SystemExit) as left:
        main(["advise", str(file), str(folder / "readings.csv")])
    assert left.value.code == 2
    err = capsys.readouterr().err
    assert "final molasses has no price" in err
    assert "final_molasses = ... under [prices]" in err


@pytest.mark.slow
def test_limits_that_contradict_are_said_in_words(tmp_path, folder, capsys):
    text = (folder / "factory.toml").read_text("utf8")
    file = tmp_path / "factory.toml"
    limit = '\n[[limit]]\nwhat = "syrup.brix"\nat_least = "70 %"\nwhy = "the pans want it"\n'
    file.write_text(text + limit, "utf8")
    with pytest.raises(SystemExit) as left:
        main(["advise", str(file), str(folder / "readings.csv")])
    assert left.value.code == 2
    err = capsys.readouterr().err
    assert "cannot be kept together" in err
    assert "at least 70 % (the pans want it)" in err
    assert "how far settings are moved in a shift" in err


@pytest.mark.slow
def test_advice_is_kept_and_reviewed_after_the_next_shift(run, tmp_path):
    ledger = tmp_path / "ledger.json"
    code, out, _ = run("advise", "--draws", "0", "--keep", str(ledger))
    assert code == 0
    assert "which has 1 now" in " ".join(out.split())
    code, _, err = run("advise", "--review", str(ledger), shift=0)
    assert code == 2
    assert "later one" in err
    code, out, _ = run("advise", "--review", str(ledger), shift=1)
    assert code == 0
    assert "moves were made" in out
    assert "The whole change, by causes" in out
    code, out, _ = run("advise", "--review", str(ledger), "--json", shift=1)
    answer = json.loads(out)
    causes = sum(group["money_per_day"] for group in answer["groups"])
    assert causes == pytest.approx(answer["change"], abs=1e-6)  # a sum of the same numbers
    assert not all(move["made"] for move in answer["moves"])  # nobody followed it
    kept = json.loads(ledger.read_text("utf8"))
    assert kept["entries"][0]["review"]["sentences"] == answer["sentences"]


@pytest.mark.slow
def test_a_file_that_is_no_ledger_is_left_alone(run, tmp_path):
    file = tmp_path / "notes.json"
    file.write_text('{"mine": 1}', "utf8")
    code, _, err = run("advise", "--draws", "0", "--keep", str(file))
    assert code == 2
    assert "no ledger of advice" in err
    assert file.read_text("utf8") == '{"mine": 1}'
    code, _, err = run("advise", "--review", str(tmp_path / "none.json"))
    assert code == 2
    assert "no such ledger" in err


@pytest.mark.slow
def test_a_full_disk_leaves_the_old_ledger(run, tmp_path, monkeypatch):
    from canewright.files import writing

    ledger = tmp_path / "ledger.json"
    run("advise", "--draws", "0", "--keep", str(ledger))
    before = ledger.read_text("utf8")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(writing.os, "fsync", full)
    code, _, err = run("advise", "--draws", "0", "--keep", str(ledger))
    assert code == 2
    assert "ledger.json" in err
    assert "the disk is full" in err
    assert ledger.read_text("utf8") == before
    assert [file.name for file in tmp_path.iterdir()] == ["ledger.json"]


@pytest.mark.slow
def test_cleaning_asks_for_what_it_needs_and_then_plans(run):
    code, _, err = run("advise", "--cleaning")
    assert code == 2
    assert "say how many hours ago it was cleaned" in err
    typed = ("--cleaning", "--cleaned", "120", "--clean", "4", "--lost-hour", "5", "--json")
    code, out, _ = run("advise", *typed)
    assert code == 0
    plan = json.loads(out)
    assert len(plan["bodies"]) == 5
    assert plan["stops_in_hours"]
    assert plan["cautions"]
    code, out, _ = run("advise", "--cleaning", "--cleaned", "120", "--clean", "4")
    assert "Vessels are confined spaces" in " ".join(out.split())


def test_measure_ranks_and_plans(run):
    code, out, _ = run("measure", "--hours", "2")
    assert code == 0
    assert "With 2 hours of an analyst" in out
    assert max(len(line) for line in out.splitlines()) <= 80
    _, out, _ = run("measure", "--hours", "2", "--json")
    answer = json.loads(out)
    assert sum(one["cost_hours"] for one in answer["plan"]) <= 2 + 1e-9  # sums of decimals
    for one in answer["candidates"]:
        assert {"point", "analysis", "cost_hours", "interval_before", "interval_after"} <= set(one)
    code, _, err = run("measure", "--figure", "undetermined_los")
    assert code == 2
    assert "undetermined_loss" in err


@pytest.mark.slow
def test_measure_says_when_only_a_trial_tells(run):
    """The gain of advice hangs on assumed responses here."""
    code, out, _ = run("measure", "--figure", "gain")
    assert code == 0
    assert "only a trial narrows those" in " ".join(out.split())
