"""The account of a shift, as a notebook sees it."""

import json
import math

import pytest

from canewright.account import balance
from canewright.account.lines import LedgerLine
from canewright.account.numbers import rounded, span, times
from canewright.account.payload import payload
from canewright.account.sentences import about_sections
from canewright.engine.adjusting.explain import Statement
from canewright.engine.equations.simulate import SolveFailed
from canewright.figures.ledgers import UNDETERMINED
from tests.account.shift_files import write_files

HIGH = 200.0
"""t by which the mixed-juice scale is made to read high: four times what the tool can see."""


@pytest.fixture(scope="module")
def honest(tmp_path_factory):
    return balance(*write_files(tmp_path_factory.mktemp("honest")))


@pytest.fixture(scope="module")
def doubtful(tmp_path_factory):
    off = {"mixed_juice weight": HIGH}
    return balance(*write_files(tmp_path_factory.mktemp("doubtful"), off=off))


def test_an_honest_shift_closes_and_nothing_is_doubted(honest):
    assert honest.verdict.startswith("The balance closes (chi-square")
    assert not honest.suspects.findings
    assert "Doubtful" not in honest.verdict


def test_a_scale_that_reads_high_is_named_and_set_aside(doubtful):
    assert "once one reading is set aside" in doubtful.closing
    assert "mixed juice weight reads" in doubtful.verdict
    aside = [line.name for line in doubtful.readings if line.set_aside]
    assert aside == ["mixed_juice weight"]
    (finding,) = doubtful.suspects.findings
    assert finding.interval[0] <= HIGH <= finding.interval[1]


def test_what_is_set_aside_leaves_the_other_figures_where_they_were(honest, doubtful):
    for name in ("sugar_percent_cane", "bagasse_moisture", "water_evaporated"):
        before, after = honest.statements[name], doubtful.statements[name]
        assert abs(before.value - after.value) < 2 * after.sd, name


def test_every_ledger_closes(honest, doubtful):
    for account in (honest, doubtful):
        assert set(account.ledgers) == {
            "sucrose", "solids", "fibre", "water", "steam", "heating",
        }  # fmt: skip
        for ledger in account.ledgers.values():
            assert ledger.closes_within < 1e-6, ledger.component


def test_a_known_loss_of_nothing_has_no_row(honest):
    names = [line.name for line in honest.ledgers["sucrose"].rows]
    assert "spilled" not in names
    assert "undetermined" in names
    assert "loss_spilled" not in honest.figures


def test_the_payload_has_the_keys_that_other_programs_rely_on(doubtful):
    said = json.loads(json.dumps(payload(doubtful), default=float))
    assert {
        "verdict",
        "global_test",
        "suspects",
        "readings",
        "figures",
        "ledgers",
        "engine",
    } <= set(said)
    suspect_keys = {"point", "analysis", "reading", "estimate", "bias", "interval", "equivalent"}
    assert suspect_keys | {"why"} <= set(said["suspects"][0])
    assert said["suspects"][0]["point"] == "mixed_juice"
    reading_keys = {
        "point", "analysis", "unit", "value", "estimate", "interval", "adjustment_in_sd",
        "redundancy", "smallest_detectable_bias",
    }  # fmt: skip
    assert reading_keys <= set(said["readings"][0])
    figure = said["figures"]["reduced_extraction"]
    assert {"value", "unit", "interval", "determined", "formula", "sources"} <= set(figure)
    assert figure["formula"] == "extraction_formulas.reduced_extraction_deerr"
    assert said["ledgers"]["sucrose"]["rows"][0]["name"] == "cane as weighed"
    assert set(said["engine"]) == {"variables", "equations", "iterations", "seconds"}
    assert said["invented"] is True


@pytest.mark.parametrize(("given", "said"), [(4.0, "With 8 h in place of 4 h"), (8.0, "")])
def test_wrong_hours_are_doubted_and_right_ones_are_not(tmp_path, given, said):
    factory, readings = write_files(tmp_path)
    text = readings.read_text(encoding="utf-8")
    assert "shift,hours,8" in text
    readings.write_text(text.replace("shift,hours,8", f"shift,hours,{given:g}"), encoding="utf-8")
    account = balance(factory, readings)
    assert ("is the length of the shift right?" in account.closing) == bool(said)
    assert said in account.closing


def test_too_few_readings_still_give_an_honest_answer(tmp_path):
    account = balance(*write_files(tmp_path, only={"cane weight", "raw_sugar_in_bags weight"}))
    assert account.statements["cane_tonnes"].determined
    assert account.statements["sugar_percent_cane"].determined
    for name in ("sucrose_extraction", "target_purity", "undetermined_loss"):
        assert not account.statements[name].determined, name
    assert "not determined" in account.sucrose


def test_two_digits_that_changed_places_are_offered_as_the_reason(tmp_path):
    # 14.3 read (the truth is 14.0), 41.3 written
    factory, readings = write_files(tmp_path)
    lines = readings.read_text(encoding="utf-8").splitlines()
    place = next(k for k, line in enumerate(lines) if line.startswith("cane,fibre"))
    cells = lines[place].split(",")
    cells[2] = "41.3"
    lines[place] = ",".join(cells)
    readings.write_text("\n".join(lines), encoding="utf-8")
    said = payload(balance(factory, readings))["suspects"][0]
    assert (said["point"], said["analysis"]) == ("cane", "fibre")
    assert "14.3 would fit: two digits may have changed places" in said["why"]


def test_a_shift_that_cannot_be_balanced_names_the_equations(monkeypatch, tmp_path):
    from canewright.engine.adjusting.reconcile import Reconciler

    def never(self, *arguments, **more):
        raise SolveFailed("The balance does not close (told so).", ["screen: sucrose"])

    monkeypatch.setattr(Reconciler, "solve", never)
    monkeypatch.setattr("canewright.engine.adjusting.wild_readings._held_back", lambda *a: None)
    with pytest.raises(SolveFailed, match="does not close") as failure:
        balance(*write_files(tmp_path))
    assert failure.value.open_equations == ["screen: sucrose"]


@pytest.mark.parametrize(
    ("value", "sd", "written"),
    [(1747.5, 4.0, "1 747.5"), (0.9, 0.55, "0.90"), (-0.001, 0.3, "0.00"), (3.0, math.inf, "3")],
)
def test_numbers_have_the_digits_they_deserve(value, sd, written):
    assert rounded(value, sd) == written


def test_intervals_and_odds_in_words():
    assert span(-2.8, -1.4, 0.35) == "1.40 to 2.80"
    assert span(-0.2, 2.0, 0.55) == "-0.20 to 2.00"
    assert times(11.2) == "11 times less likely"
    assert times(1.2) == "about as likely"
    assert times(1e9) == "far less likely"


def undetermined_loss(*sections: bool) -> LedgerLine:
    """A row of the sucrose ledger whose sections are determined or not."""

    def known(determined: bool) -> Statement:
        return Statement(1.0, 0.5, (0.0, 2.0), determined, 0.1)

    parts = tuple(
        LedgerLine(f"section {k}", UNDETERMINED, known(each), known(each))
        for k, each in enumerate(sections, start=1)
    )
    return LedgerLine("undetermined", UNDETERMINED, known(True), known(True), parts)


def test_sections_that_readings_do_not_tell_apart_are_said_to_be_so():
    said = about_sections(undetermined_loss(True, False, False))
    assert "do not tell apart what was lost in section 2 and section 3" in said


def test_the_smallest_loss_that_could_be_found_is_said_for_each_section():
    # (1.96 + 1.28) times a standard uncertainty of 0.5 %.
    assert "undetermined 1.62, section 1 1.62" in about_sections(undetermined_loss(True, True))
