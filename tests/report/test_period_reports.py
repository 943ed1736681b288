"""Reports on periods say what the season says, and refuse what is not there."""

import dataclasses
from datetime import timedelta
from types import SimpleNamespace

import pytest

from canewright.account.season import UNDETERMINED, balance_season
from canewright.account.season_payload import payload
from canewright.engine.chain.watch import Call
from canewright.files.plan import PlannedSpan
from canewright.files.stops import Stop
from canewright.report.content import Letterhead, Table, Text, cell_text
from canewright.report.making import made_again, report_on
from canewright.report.pdf import as_pdf
from canewright.report.period_parts import _read_and_expected
from canewright.report.period_sheets import PeriodRefused, period_report
from canewright.report.same_again import canonical, carried
from canewright.report.verify import carried_by
from canewright.report.words import speaking
from canewright.report.writers import write_report
from canewright.report.writing_numbers import unit_text
from tests.report.test_words import Marked, is_marked
from tests.report.test_writers import printed, squeezed

pytestmark = pytest.mark.slow

EXACT = 1e-8
"""Numbers are kept to nine significant digits."""


@pytest.fixture(scope="module")
def season(made_up):
    return balance_season(made_up / "factory.toml", made_up / "season", keep=False)


def made(made_up, season, kind, **options):
    return report_on(
        kind,
        made_up / "factory.toml",
        made_up / "season",
        options=options,
        seasoned=lambda factory, folder, last_season: season,
    )


def table(report, key):
    return next(table for table in report.tables if table.key == key)


@pytest.mark.parametrize("kind", ["day", "week", "fortnight", "month", "season"])
def test_a_period_report_gives_the_figures_of_the_season(made_up, season, kind):
    report = made(made_up, season, kind)
    figures = {row.cells[0]: row.cells[2] for row in table(report, "figures").rows}
    if kind == "season":
        known = {figure.label: figure.value for figure in season.figures}
    else:
        _period, last = season.periods(kind)[-1]
        known = {figure.label: figure.value for figure in last}
    assert figures["undetermined loss"].value == pytest.approx(
        known["undetermined loss"], rel=EXACT
    )


def test_a_week_has_its_shifts_and_their_files(made_up, season):
    report = made(made_up, season, "week")
    rows = table(report, "shifts").rows
    assert len(rows) == len(season.results)
    for row, print_ in zip(rows, season.files.fingerprints, strict=True):
        assert row.cells[-1].endswith(print_[:12])


def test_what_changed_adds_up(made_up, season):
    names = [period.name for period, _figures in season.periods("day")]
    report = made(made_up, season, "day", of=names[1])
    before, *parts, after = [row.cells[1].value for row in table(report, "change").rows]
    # Five numbers kept to nine digits.
    assert before + sum(parts) == pytest.approx(after, abs=1e-7)


def test_extraction_of_a_period_is_that_of_its_shifts(made_up, season):
    report = made(made_up, season, "week")
    rows = table(report, "amounts").rows
    juice = next(row for row in rows if row.cells[0] == "sucrose in mixed juice")
    figure = season.figure("sucrose_extraction")
    # On cane as weighed it is lower by what deteriorated in the yard: below one percent.
    assert figure.value - 1.0 < juice.cells[2].value < figure.value
    assert juice.cells[3].value > 0


def test_a_period_that_is_not_there_is_refused(made_up, season):
    with pytest.raises(PeriodRefused, match="no week called 'week 99'"):
        made(made_up, season, "week", of="week 99")


def test_a_time_account_needs_a_log_of_stops(made_up, season, tmp_path):
    with pytest.raises(PeriodRefused, match=r"holds no log of stops.*stops\.csv"):
        made(made_up, season, "time")


def test_the_hours_of_a_time_account_add_up(season):
    start = season.results[0].start + timedelta(hours=1)
    log = [Stop(start, 1.5, "mechanical", "carrier"), Stop(start, 0.5, "rain")]
    late = Stop(start + timedelta(hours=9), 0.75, "no cane")
    stopped = dataclasses.replace(season, stops=[*log, late])
    report = period_report("time", stopped, (), Letterhead(), {})
    hours = {row.cells[0]: row.cells[2].value for row in table(report, "hours").rows}
    # The rain fell within the mechanical stop, and an hour is counted once.
    assert hours["stopped: mechanical"] == 1.5
    assert hours["stopped: no cane"] == 0.75
    assert "stopped: rain" not in hours
    assert hours["crushing"] == hours["from the first shift to the last"] - 2.25
    assert [row.cells[2] for row in table(report, "stops").rows] == [
        "mechanical",
        "rain",
        "no cane",
    ]


KINDS = ("day", "week", "fortnight", "month", "season")


@pytest.mark.parametrize("kind", [*KINDS, "time"])
def test_every_number_of_the_data_stands_on_the_paper(made_up, season, kind):
    stop = Stop(season.results[0].start + timedelta(hours=1), 1.5, "mechanical", "carrier")
    stopped = dataclasses.replace(season, stops=[stop])
    head = Letterhead(signatures=("prepared by", "checked by", "approved by"))
    report = period_report(kind, stopped, (), head, {})
    text = squeezed("".join(printed(as_pdf(report))))
    missing = [
        cell_text(cell)
        for one in report.tables
        for row in one.rows
        for cell in row.cells
        if squeezed(cell_text(cell)) not in text
    ]
    assert not missing
    for signed in ("prepared by", "checked by", "approved by"):
        assert squeezed(signed) in text


@pytest.mark.parametrize("kind", KINDS)
def test_the_paper_says_what_the_season_prints_for_programs(made_up, season, kind):
    """Figures and ledger of `canewright season --json`, number by number."""
    told = payload(season)
    report = made(made_up, season, kind)
    if kind == "season":
        figures, rows = told["to_date"], told["ledgers"]["sucrose"]
    else:
        name, figures = list(told["periods"][kind].items())[-1]
        rows = told["period_ledgers"][kind][name]["sucrose"]
    on_paper = {row.cells[:2]: row for row in table(report, "figures").rows if row.cells[2]}
    seen = 0
    for figure in figures.values():
        row = on_paper.get((figure["label"], unit_text(figure["unit"])))
        if row is None:
            continue
        seen += 1
        if not figure["determined"]:
            assert row.cells[2].text == "n.d."
            continue
        assert row.cells[2].value == pytest.approx(figure["value"], rel=EXACT)
        if figure["half_width_95"]:
            assert row.cells[3].value == pytest.approx(figure["half_width_95"], rel=EXACT)
    assert seen > 30
    ledger = {row.cells[0]: row for row in table(report, "sucrose").rows if row.style == "plain"}
    for row in rows:
        if row["row"] in ledger and row["determined"]:
            assert ledger[row["row"]].cells[1].value == pytest.approx(row["amount"], rel=EXACT)


@pytest.mark.parametrize("kind", [*KINDS, "time"])
def test_every_word_of_a_period_report_can_be_translated(season, kind):
    start = season.results[0].start + timedelta(hours=1)
    day = season.results[0].start.date()
    whole = dataclasses.replace(
        season,
        stops=[Stop(start, 1.5, "mechanical", "")],
        plan=[PlannedSpan(day, day + timedelta(days=9), 50000.0, 5000.0, 84.0, 200.0)],
        calls=(
            Call("juice scale", "drift", 1, 2, 1.5, 0.2, 30.0, 20.0, 2, ("weighbridge",), 0, 2),
            Call("weighbridge", "step", 1, 2, 1.5, 0.2, 30.0, 20.0, 2, (), 1, 1),
            Call("syrup meter", "step", 1, 2, 1.5, 0.2, 30.0, 20.0, 2, (), -1, 1),
        ),
    )
    with speaking(Marked()):
        report = period_report(kind, whole, (), Letterhead(), {})
    assert is_marked(report.title)
    for section in report.sections:
        assert is_marked(section.title)
        for block in section.blocks:
            if isinstance(block, Text):
                assert is_marked(block.label)
                assert is_marked(block.text)
            elif isinstance(block, Table):
                assert is_marked(block.title)
                assert all(is_marked(note) for note in (*block.notes, block.empty))
                names = {"period", "value", "shifts"}
                unmarked = [
                    column.heading
                    for column in block.columns
                    if not is_marked(column.heading) and column.key not in names
                ]
                assert unmarked == []
            else:
                assert is_marked(block.title)
                assert is_marked(block.note)


@pytest.mark.parametrize("kind", KINDS)
def test_who_signs_signs_below_the_fingerprint(made_up, season, kind):
    report = made(made_up, season, kind)
    pages = [squeezed(page) for page in printed(as_pdf(report))]
    (signed,) = [page for page in pages if squeezed("prepared by") in page]
    assert carried(report)["fingerprint"] in signed


def test_a_ledger_has_no_more_digits_than_its_interval(made_up, season):
    seen = 0
    for row in table(made(made_up, season, "week"), "sucrose").rows:
        if row.style == "plain" and row.cells[2].value is not None:
            seen += 1
            assert row.cells[1].decimals == row.cells[2].decimals
    assert seen > 5


def test_one_shift_is_counted_in_the_singular(made_up, season):
    days = [period.name for period, _figures in season.periods("day")]
    counts = [made(made_up, season, "day", of=day).facts[0] for day in days]
    assert counts == ["3 shifts", "1 shift"]


def test_a_reading_set_aside_is_printed_as_it_was_written():
    item = SimpleNamespace(reading=43.98, expected=56.3004, standardised=-27.9)
    read, expected = _read_and_expected(item)
    assert (read.text, expected.text) == ("43.98", "56.30")


def test_readings_set_aside_are_named_in_words(season):
    name = season.reading("a_molasses reducing_sugars")
    assert name == "A molasses, reducing sugars"


def test_a_week_on_paper_is_verified(made_up, season, tmp_path):
    report = made(made_up, season, "week")
    write_report(report, {"pdf": tmp_path / "week.pdf"})
    data = carried_by(tmp_path / "week.pdf")
    assert canonical(data) == canonical(carried(report))
    assert made_again(data, tmp_path).holds
    assert season.figure(UNDETERMINED) is not None
