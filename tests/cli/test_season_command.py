"""`canewright season` as it is typed, on a made-up season of the poorly read factory."""

import errno
import json
import shutil
from datetime import datetime

import pytest
from python_calamine import CalamineWorkbook

from canewright.account import season_keeping
from canewright.account.season_keeping import FOLDER
from canewright.cli.main import main
from canewright.demo.factory import POORLY_READ, WELL_RUN, write_demonstration
from canewright.engine.chain.chain import Chain

SHIFTS = 6


@pytest.fixture(scope="module")
def demonstration(tmp_path_factory):
    folder = tmp_path_factory.mktemp("season")
    write_demonstration(POORLY_READ, folder, SHIFTS)
    return folder


@pytest.fixture
def season(demonstration, tmp_path):
    """A copy of the season that a test may spoil."""
    shutil.copytree(demonstration / "season", tmp_path / "season")
    shutil.copy(demonstration / "factory.toml", tmp_path / "factory.toml")
    return tmp_path


@pytest.fixture
def run(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "100")

    def run_it(*typed):
        with pytest.raises(SystemExit) as left:
            main(["season", *[str(word) for word in typed]])
        printed = capsys.readouterr()
        return left.value.code or 0, printed.out, printed.err

    return run_it


def on(folder, *more):
    return folder / "factory.toml", folder / "season", *more


def files_of(folder):
    return sorted((folder / "season").glob("*.csv"))


def test_verdict_comes_first_and_names_what_sets_the_floor(run, demonstration):
    code, printed, _ = run(*on(demonstration, "--no-keep"))
    assert code == 0
    loss = printed.index("Loss ")
    assert loss < printed.index("Floor") < printed.index("Where the sucrose went, to date")
    assert "as if each shift's errors were its own" in printed
    assert "ratio of sums" in printed
    assert f"{SHIFTS} shifts, 06 Jul 2026" in printed
    assert "made-up season" in printed


def test_json_and_files_hold_the_same_numbers(run, demonstration, tmp_path):
    import polars

    parquet, workbook = tmp_path / "a.parquet", tmp_path / "a.xlsx"
    code, printed, _ = run(
        *on(demonstration, "--json", "--no-keep", "--parquet", parquet, "--xlsx", workbook)
    )
    assert code == 0
    told = json.loads(printed)
    assert len(told["shifts"]) == SHIFTS
    rows = polars.read_parquet(parquet)
    assert rows["shift"].n_unique() == SHIFTS
    assert rows["value"].dtype == polars.Float64
    assert isinstance(rows["start"][0], datetime)
    book = CalamineWorkbook.from_path(workbook)
    ledger = book.get_sheet_by_name("ledgers to date").to_python()
    amounts = {(row[0], row[1], row[2]): row[4] for row in ledger[1:]}
    for row in told["ledgers"]["sucrose"]:
        # A workbook keeps sixteen digits.
        assert amounts["sucrose", row["side"], row["row"]] == pytest.approx(
            row["amount"], rel=1e-14, abs=1e-14
        )
    weeks = told["periods"]["week"]
    assert list(weeks) == ["week 28 of 2026"]
    only = weeks["week 28 of 2026"]["undetermined_loss"]
    # The only week is the season so far.
    season = told["to_date"]["undetermined_loss"]
    assert only["value"] == pytest.approx(season["value"], rel=1e-9)  # rounding
    assert only["half_width_95"] == pytest.approx(season["half_width_95"], rel=1e-6)  # rounding


def test_a_file_that_cannot_be_read_is_left_out_and_said(run, season):
    first, second = files_of(season)[:2]
    second.write_bytes(b"\x00\x01\x02 no readings")
    (season / "season" / "copy.csv").write_bytes(first.read_bytes())
    code, printed, _ = run(*on(season, "--json", "--no-keep"))
    told = json.loads(printed)
    assert code == 0
    left = {item["file"]: " ".join(item["sentences"]) for item in told["left_out"]}
    assert set(left) == {second.name, first.name} or set(left) == {second.name, "copy.csv"}
    assert any("is the same shift" in sentence for sentence in left.values())
    assert len(told["shifts"]) == SHIFTS - 1
    assert [shift["joined"] for shift in told["shifts"]][1] is False


@pytest.mark.slow
def test_shifts_that_overlap_are_left_out_and_order_does_not_matter(run, season):
    files = files_of(season)
    text = files[3].read_text(encoding="utf-8")
    spoilt = text.replace("shift,start,2026-07-07T06:00", "shift,start,2026-07-07T03:00")
    assert spoilt != text
    files[3].write_text(spoilt, encoding="utf-8")
    files[0].rename(season / "season" / "zz.csv")
    code, printed, _ = run(*on(season, "--json", "--no-keep"))
    told = json.loads(printed)
    assert code == 0
    assert told["shifts"][0]["file"].endswith("zz.csv")
    (left,) = told["left_out"]
    assert "before the shift of" in left["sentences"][0]


@pytest.mark.slow
def test_readings_of_another_factory_are_said_to_be(run, season, tmp_path):
    other = tmp_path / "other"
    write_demonstration(WELL_RUN, other, 1)
    shutil.copy(next((other / "season").glob("*.csv")), season / "season" / "other.csv")
    _, printed, _ = run(*on(season, "--json", "--no-keep"))
    told = json.loads(printed)
    (left,) = [item for item in told["left_out"] if item["file"] == "other.csv"]
    assert "another factory" in " ".join(left["sentences"])


def test_a_folder_without_readings_is_refused_in_a_sentence(run, season):
    empty = season / "empty"
    empty.mkdir()
    code, printed, error = run(season / "factory.toml", empty)
    assert (code, printed) == (2, "")
    assert "holds no file of readings" in error


@pytest.mark.slow
def test_a_run_is_taken_up_where_its_files_are_unchanged(run, season, monkeypatch):
    monkeypatch.setattr(season_keeping, "EVERY", 2)
    _, first, _ = run(*on(season, "--json"))
    kept = sorted((season / "season" / FOLDER).iterdir())
    # How it stands, what the smoother needs and what was found, every second shift.
    kinds = ["after", "memory", "shifts"]
    assert [path.name.split("-")[0] for path in kept] == [kind for kind in kinds for _ in range(3)]
    balanced = []
    step = season_keeping.Keeper.keep
    monkeypatch.setattr(
        season_keeping.Keeper,
        "keep",
        lambda self, count, *rest: (balanced.append(count), step(self, count, *rest))[1],
    )
    files = files_of(season)
    text = files[4].read_text(encoding="utf-8")
    files[4].write_text(text + "# looked at again\n", encoding="utf-8")
    _, again, _ = run(*on(season, "--json", "--resume"))
    assert balanced == [6]
    one, other = json.loads(first), json.loads(again)
    for name, figure in one["to_date"].items():
        # Derivatives of the neighbour are made anew on resuming: the same but for rounding.
        assert other["to_date"][name]["value"] == pytest.approx(figure["value"], rel=1e-6, abs=1e-6)


@pytest.mark.slow
def test_numbers_that_changed_are_named_with_their_shift(run, season):
    _, first, _ = run(*on(season, "--json", "--no-keep"))
    earlier = season / "earlier.json"
    earlier.write_text(first, encoding="utf-8")
    path = files_of(season)[2]
    lines = path.read_text(encoding="utf-8").splitlines()
    for place, line in enumerate(lines):
        if line.startswith("cane,weight,"):
            cells = line.split(",")
            cells[2] = f"{float(cells[2]) * 1.01:.1f}"
            lines[place] = ",".join(cells)
    path.write_text("\n".join(lines), encoding="utf-8")
    _, printed, _ = run(*on(season, "--no-keep", "--against", earlier))
    end = printed[printed.index("Numbers that changed") :]
    assert path.name in end
    assert "cane crushed" in end
    assert "on was balanced anew" in end
    code, _, error = run(*on(season, "--against", season / "factory.toml"))
    assert code == 2
    assert "is not what `canewright season --json` printed" in error


@pytest.mark.slow
def test_a_full_disk_is_a_sentence_and_leaves_nothing_half_written(run, season, monkeypatch):
    def full(path, content):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(season_keeping, "write_whole", full)
    code, printed, error = run(*on(season))
    assert (code, printed) == (2, "")
    assert "No space left on device" in error
    assert "--no-keep" in error
    assert not list((season / "season" / FOLDER).iterdir())


@pytest.mark.slow
def test_stops_make_the_time_account(run, season):
    (season / "season" / "stops.csv").write_text(
        "start,hours,cause,note\n2026-07-06T09:00,1.5,mechanical,carrier chain\n"
        "2026-07-06T20:00,2,rain,\n",
        encoding="utf-8",
    )
    _, printed, _ = run(*on(season, "--json", "--no-keep"))
    told = json.loads(printed)["time"]
    assert told["by_cause"] == {"mechanical": 1.5, "rain": 2.0}
    assert told["hours"] == 8 * SHIFTS
    assert told["gross_available"] == 8 * SHIFTS - 2
    assert told["crushing"] == 8 * SHIFTS - 3.5


def test_a_cause_that_is_not_known_is_answered_with_those_that_are(run, season):
    (season / "season" / "stops.csv").write_text(
        "start,hours,cause\n2026-07-06T09:00,1.5,mecanical\n", encoding="utf-8"
    )
    code, _, error = run(*on(season))
    assert code == 2
    assert "mechanical" in error


@pytest.mark.slow
def test_an_interrupted_run_says_how_to_go_on_and_goes_on(run, season, monkeypatch):
    monkeypatch.setattr(season_keeping, "EVERY", 2)
    _, undisturbed, _ = run(*on(season, "--no-keep", "--json"))
    whole = Chain.run
    begun = []

    def interrupted(self, shifts, *rest, **named):
        begun.append(shifts)
        if len(begun) == 2:
            raise KeyboardInterrupt
        return whole(self, shifts, *rest, **named)

    monkeypatch.setattr(Chain, "run", interrupted)
    code, printed, error = run(*on(season))
    assert (code, printed) == (130, "")
    assert "--resume goes on from there" in error
    code, printed, _ = run(*on(season, "--resume", "--json"))
    assert code == 0
    assert len(begun) == 2 + (SHIFTS - 2) // 2
    assert len(json.loads(printed)["shifts"]) == SHIFTS
    assert printed == undisturbed


@pytest.mark.slow
def test_a_shift_that_could_not_be_balanced_is_still_told_after_an_interruption(
    run, season, monkeypatch
):
    monkeypatch.setattr(season_keeping, "EVERY", 2)
    whole = Chain.run

    def failing(self, shifts, state, each, memory=None):
        state, found, failed = whole(self, shifts, state, each, memory)
        if state.number == 2:
            failed = [*failed, (shifts[-1], "It cannot be balanced, for a test.")]
        return state, found, failed

    monkeypatch.setattr(Chain, "run", failing)
    _, first, _ = run(*on(season, "--json"))
    _, again, _ = run(*on(season, "--json", "--resume"))
    assert "for a test" in first
    assert again == first


@pytest.mark.slow
@pytest.mark.parametrize("form", ["parquet", "xlsx"])
def test_a_table_that_the_disk_will_not_take_is_a_sentence(
    run, demonstration, tmp_path, form, monkeypatch
):
    def full(path, content):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("canewright.account.season_sheets.write_whole", full)
    path = tmp_path / f"figures.{form}"
    code, printed, error = run(*on(demonstration, "--no-keep", f"--{form}", path))
    assert (code, printed) == (2, "")
    assert "No space left on device" in error
    assert not path.exists()


@pytest.mark.slow
def test_one_long_file_is_the_season_of_its_shifts(run, demonstration, tmp_path):
    rows = []
    for path in files_of(demonstration):
        own = [r for r in path.read_text(encoding="utf-8").splitlines() if not r.startswith("#")]
        rows += own if not rows else own[1:]
    long = tmp_path / "long.csv"
    long.write_text("\n".join(rows), encoding="utf-8")
    _, of_folder, _ = run(*on(demonstration, "--no-keep"))
    _, of_file, _ = run(demonstration / "factory.toml", long, "--no-keep")
    assert of_file == of_folder
