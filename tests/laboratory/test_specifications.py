"""Specifications as data, and verdicts on lots that heed how sure the analyses are."""

import json
import math

import numpy as np
import pytest

from canewright import registry
from canewright.cli.main import main
from canewright.laboratory import lots
from canewright.laboratory.lots import judge
from canewright.laboratory.specifications import (
    SpecificationRefused,
    raw_beet_yield,
    raw_cane_yield,
    read_specification,
    specification_from,
    specifications,
)

# laboratory reference, section 9, and the texts named in the data.
# specification, property, at least, at most
PUBLISHED = [
    ("codex_white", "pol", 99.7, None),  # CXS 212, read
    ("codex_white", "reducing_sugars", None, 0.04),
    ("codex_white", "ash", None, 0.04),
    ("codex_white", "moisture", None, 0.1),
    ("codex_white", "colour", None, 60),
    ("codex_white", "sulphite", None, 15),
    ("codex_plantation_white", "pol", 99.5, None),  # CXS 212, read
    ("codex_plantation_white", "reducing_sugars", None, 0.1),
    ("codex_plantation_white", "ash", None, 0.1),
    ("codex_plantation_white", "moisture", None, 0.1),
    ("codex_plantation_white", "colour", None, 150),
    ("codex_plantation_white", "sulphite", None, 70),
    ("codex_soft_white", "sucrose_plus_invert", 97.0, None),  # CXS 212, read
    ("codex_soft_brown", "sucrose_plus_invert", 88.0, None),  # CXS 212, read
    ("eu_standard_white", "pol", 99.7, None),  # (EC) 318/2006, read
    ("eu_standard_white", "moisture", None, 0.06),
    ("eu_standard_white", "reducing_sugars", None, 0.04),
    ("eu_standard_white", "sulphite", None, 10),
    ("eu_white", "pol", 99.7, None),  # 2001/111/EC, read
    ("eu_white", "moisture", None, 0.06),
    ("eu_white", "reducing_sugars", None, 0.04),
    ("eu_extra_white", "moisture", None, 0.06),
    ("eu_semi_white", "pol", 99.5, None),
    ("eu_semi_white", "moisture", None, 0.1),
    ("eu_semi_white", "reducing_sugars", None, 0.1),
    ("eu_standard_raw", "raw_cane_yield", 92, None),
]


@pytest.mark.published
@pytest.mark.parametrize(("name", "what", "low", "high"), PUBLISHED)
def test_limits_are_the_published_ones(name, what, low, high):
    limit = {limit.property: limit for limit in specifications()[name].limits}[what]
    assert (limit.at_least, limit.at_most) == (low, high)


def test_every_limit_names_a_source_and_how_it_is_known():
    for specification in specifications().values():
        entries = [*specification.limits]
        entries += [specification.points] if specification.points else []
        for entry in entries:
            assert entry.source in registry.sources(), specification.name
            assert entry.at, specification.name
            assert entry.known in registry.KNOWN, specification.name
        assert specification.edition, specification.name


def test_every_precision_names_a_source():
    for row in lots.precisions():
        assert row.source in registry.sources(), row
        assert row.known in registry.KNOWN
        assert row.s_R >= row.s_r, row  # between laboratories is never less than within


@pytest.mark.published
@pytest.mark.parametrize(
    ("name", "value", "product", "s_r", "s_R"),
    [
        # ICUMSA abstracts, laboratory reference, section 8: s = limit/2.8.
        ("pol", 99.8, "white sugar", 0.066 / 2.8, 0.094 / 2.8),
        ("pol", 98.0, "raw sugar", 0.16 / 2.8, 0.27 / 2.8),
        ("colour", 100, "white sugar", 9 / 2.8, 18 / 2.8),
        ("colour", 300, "white sugar", 23 / 2.8, 68 / 2.8),
        ("colour", 800, "raw sugar", 48 / 2.8, 140 / 2.8),
        ("colour", 2000, "raw sugar", 210 / 2.8, 320 / 2.8),
        ("colour", 4000, "raw sugar", 220 / 2.8, 530 / 2.8),
    ],
)
def test_published_precisions_are_the_limits_over_two_point_eight(name, value, product, s_r, s_R):  # noqa: N803
    row = lots.precision_of(name, value, product)
    # Printed with two digits: half a unit of the second.
    assert row.s_r == pytest.approx(s_r, rel=0.03)
    assert row.s_R == pytest.approx(s_R, rel=0.03)


def test_points_of_the_european_standard_quality():
    points = specifications()["eu_standard_white"].points
    of = {part.property: part for part in points.of}
    assert points.at_most == 22
    # 15 points x 0.0018 = 0.027 % ash and 6 x 7.5 = 45 IU (laboratory reference, section 9).
    assert of["ash"].at_most * of["ash"].one_point == pytest.approx(0.027)  # rounding
    assert of["colour"].at_most * of["colour"].one_point == 45
    assert of["colour_type"].at_most * of["colour_type"].one_point == 4.5


def test_yields_of_raw_sugar():
    # laboratory reference, section 9: 96.8, 0.50, 0.40 -> 93.0; rounding only.
    assert raw_beet_yield(96.8, 0.50, 0.40) == pytest.approx(93.0)
    assert raw_cane_yield(np.array([96.0, 97.0])).tolist() == [92.0, 94.0]


def plantation(**values):
    whole = {"pol": 99.7, "reducing_sugars": 0.05, "ash": 0.05, "moisture": 0.04,
             "colour": 100, "sulphite": 30}  # fmt: skip
    return judge(specifications()["codex_plantation_white"], {**whole, **values})


def test_a_good_lot_conforms_and_a_bad_one_does_not():
    assert plantation().verdict == "conforms"
    assert plantation(colour=180).verdict == "does not conform"


@pytest.mark.parametrize(
    ("colour", "verdict"),
    [
        # s_R 6.4 IU x 1.645 = 10.53 IU on either side of 150 IU.
        (139.4, "conforms"),
        (139.5, "cannot be said"),
        (150.0, "cannot be said"),
        (160.5, "cannot be said"),
        (160.6, "does not conform"),
    ],
)
def test_the_guard_band_stands_on_either_side_of_the_limit(colour, verdict):
    row = {row.name: row for row in plantation(colour=colour).rows}["colour"]
    assert row.verdict == verdict
    assert row.guard_band == pytest.approx(10.53, abs=0.005)  # half the last digit printed


def test_at_the_edge_of_the_guard_band_the_lot_is_inside_with_the_confidence_stated():
    row = {row.name: row for row in plantation(colour=150 - 1.6448536 * 6.4).rows}["colour"]
    # The factor is written with eight digits: 1e-6 of a per cent.
    assert row.probability == pytest.approx(95.0, abs=1e-4)


def test_the_probability_inside_agrees_with_drawing_errors():
    row = {row.name: row for row in plantation(colour=145).rows}["colour"]
    drawn = np.random.default_rng(9).normal(145, 6.4, 400_000)
    # Four standard errors of a share of 78 %: 100 sqrt(0.78 x 0.22/400 000) = 0.065 %.
    assert row.probability == pytest.approx(100 * (drawn <= 150).mean(), abs=0.27)


def test_a_limit_met_exactly_by_a_certain_result_is_met():
    exact = judge(
        specifications()["codex_soft_white"],
        {"sucrose_plus_invert": 97.0},
        {"sucrose_plus_invert": 0.0},
    )
    assert exact.verdict == "conforms"


def test_what_was_not_given_leaves_the_lot_open_unless_it_fails_already():
    specification = specifications()["codex_plantation_white"]
    assert judge(specification, {"pol": 99.8}).verdict == "cannot be said"
    assert judge(specification, {"pol": 99.0}).verdict == "does not conform"


def test_an_uncertainty_of_ones_own_replaces_the_published_one():
    specification = specifications()["codex_plantation_white"]
    row = judge(specification, {"colour": 145}, {"colour": 2.0}).rows[4]
    assert (row.verdict, row.result.basis) == ("conforms", "as given")


def test_without_any_uncertainty_nothing_is_said():
    made = specification_from(
        {"title": "Own", "limit": [{"property": "dextran", "at_most": 200, "unit": "mg/kg"}]},
        "own", own=True,
    )  # fmt: skip
    row = judge(made, {"dextran": 10}).rows[0]
    assert row.verdict == "cannot be said"
    assert "--uncertainty dextran=" in row.words


def test_points_add_up_with_their_uncertainty():
    whole = {"pol": 99.85, "moisture": 0.03, "reducing_sugars": 0.02, "sulphite": 2,
             "ash": 0.018, "colour": 30, "colour_type": 2.0}  # fmt: skip
    verdict = judge(specifications()["eu_standard_white"], whole)
    total = verdict.rows[-1]
    # 0.018/0.0018 + 2/0.5 + 30/7.5 = 10 + 4 + 4; rounding only.
    assert total.result.value == pytest.approx(18.0)
    # 3.6 % of 10, 0.29/0.5, 6.4 % of 4 in quadrature, by hand.
    by_hand = math.sqrt(0.36**2 + 0.58**2 + 0.256**2)
    assert total.result.uncertainty == pytest.approx(by_hand, rel=1e-12)  # rounding
    assert verdict.verdict == "conforms"


def test_points_without_the_colour_type_are_open_but_can_fail():
    specification = specifications()["eu_standard_white"]
    few = judge(specification, {"ash": 0.018, "colour": 30}).rows[-1]
    many = judge(specification, {"ash": 0.036, "colour": 60}).rows[-1]
    assert few.verdict == "cannot be said"
    assert "without colour type" in few.words
    assert many.verdict == "does not conform"


def test_raw_sugar_is_judged_by_its_yield_with_twice_the_uncertainty_of_pol():
    row = judge(specifications()["eu_standard_raw"], {"pol": 96.5}).rows[0]
    assert row.result.value == 93.0
    # The yield is 2 pol - 100, and 0.096 degZ the uncertainty of pol; rounding only.
    assert row.result.uncertainty == pytest.approx(2 * 0.096)
    assert lots.precision_of("pol", 96.5, "raw sugar").known == "assumed"
    assert lots.precision_of("pol", 98.5, "raw sugar").known == "read"
    assert row.verdict == "conforms"


def test_sulphite_brings_its_caution():
    assert plantation().cautions == [lots.SULPHITE_CAUTION]
    assert judge(specifications()["eu_semi_white"], {"pol": 99.6}).cautions == []


OWN = """
title = "White sugar for a bottler (invented)"
standard = "contract 7"
edition = "2026"
product = "white sugar"

[[limit]]
property = "colour"
at_most = "45 IU"

[[limit]]
property = "invert"
at_most = 400
unit = "mg/kg"

[[limit]]
property = "dextran"
unit = "mg/kg"
at_most = 60
uncertainty = 8
"""


def test_a_customers_own_specification(tmp_path):
    file = tmp_path / "bottler.toml"
    file.write_text(OWN, encoding="utf-8")
    made = read_specification(file)
    limits = {limit.property: limit for limit in made.limits}
    assert limits["colour"].at_most == 45
    assert limits["reducing_sugars"].at_most == pytest.approx(0.04)  # 400 mg/kg; rounding
    row = {row.name: row for row in judge(made, {"dextran": 40}).rows}["dextran"]
    assert (row.verdict, row.result.basis) == ("conforms", "as the specification says")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("title = ", "is not TOML"),
        ('title = "x"', "sets no limit"),
        ("[[limit]]\nproperty='colour'\nat_most=1", "has no title"),
        ('title="x"\n[[limit]]\nproperty="color"\nat_mots=3', "Did you mean 'at_most'"),
        ('title="x"\n[[limit]]\nproperty="colour"', "neither at_least nor at_most"),
        ('title="x"\n[[limit]]\nproperty="moistur"\nat_most=1', "Did you mean 'moisture'"),
        ('title="x"\n[[limit]]\nproperty="ash"\nat_most="0.1 kg"', "ash|at_most"),
        ('title="x"\n[[limit]]\nproperty="ash"\nat_least=2\nat_most=1', "leaves nothing"),
        ('title="x"\n[[limit]]\nat_most=1', "names no property"),
        ('title="x"\nlimit = 3', r"\[\[limit\]\]"),
        (
            'title="x"\n[[limit]]\nproperty="ash"\nat_most=1\n[[limit]]\nproperty="ash"\nat_most=2',
            "limits 'ash' twice",
        ),
        ('title="x"\n[points]\nat_most=3', "needs at_most, and"),
        (
            'title="x"\n[points]\nat_most=3\n[[points.of]]\nproperty="ash"\none_point=0\nat_most=1',
            "size above zero",
        ),
    ],
)
def test_a_specification_that_is_no_use_is_refused_in_words(tmp_path, text, told):
    file = tmp_path / "own.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(SpecificationRefused, match=told):
        read_specification(file)


@pytest.mark.parametrize(
    ("values", "uncertainties", "confidence", "told"),
    [
        ({"pol": math.nan}, {}, 95, "not a number"),
        ({"pol": 99.8}, {"pol": -1}, 95, "below zero"),
        ({"pol": 99.8}, {}, 100, "no use"),
    ],
)
def test_a_lot_that_cannot_be_judged_is_refused(values, uncertainties, confidence, told):
    with pytest.raises(ValueError, match=told):
        judge(specifications()["codex_white"], values, uncertainties, confidence)


@pytest.fixture
def run(capsys, monkeypatch):
    """Run the command with what was typed; give its exit code and what it printed."""

    def run_it(*typed):
        monkeypatch.setenv("COLUMNS", "80")
        with pytest.raises(SystemExit) as left:
            main(["specification", *typed])
        printed = capsys.readouterr()
        return left.value.code or 0, printed.out, printed.err

    return run_it


def test_the_command_lists_every_specification(run):
    code, out, _ = run()
    assert code == 0
    assert all(name in out for name in specifications())


def test_the_command_shows_one_with_its_edition_and_places(run):
    code, out, _ = run("codex_plantation_white")
    assert code == 0
    assert "amended 2001, 2019" in out
    assert "at least 99.5 degZ" in out
    assert "codex_cxs212" in out


def test_the_command_says_the_finding_first(run):
    code, out, _ = run("codex_plantation_white", "pol=99.6", "colour=145 IU", "SO2=40 ppm")
    assert code == 0
    assert out.startswith("The lot cannot be said to conform or not.\n")
    assert "guard band of 11 IU" in out
    assert "Guard band: 1.645 standard uncertainties" in out
    assert "Caution:" in out
    assert max(map(len, out.splitlines())) <= 80


def test_the_command_takes_an_uncertainty_and_speaks_json(run):
    code, out, _ = run(
        "codex_soft_white", "sucrose_plus_invert=97.5", "--uncertainty",
        "sucrose_plus_invert=0.1", "--json",
    )  # fmt: skip
    told = json.loads(out)
    assert code == 0
    assert told["verdict"] == "conforms"
    assert told["guard_band"]["factor"] == pytest.approx(1.6448536, abs=1e-6)  # printed digits
    assert told["properties"][0]["result"]["uncertainty"] == 0.1


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        (["codex_whit", "pol=99"], "Did you mean codex_white"),
        (["codex_white", "pal=99"], "not a property"),
        (["codex_white", "pol=much"], "pol:"),
        (["codex_white", "pol=99", "pol=98"], "given twice"),
        (["pol=99"], "Name a specification"),
        (["codex_white", "eu_white", "pol=99"], "one specification at a time"),
        (["codex_white", "pol=99", "--confidence", "20"], "no use"),
        (["missing.toml", "pol=99"], "no such file"),
    ],
)
def test_the_command_refuses_in_a_sentence(run, typed, told):
    code, out, err = run(*typed)
    assert (code, out) == (2, "")
    assert told in err
    assert "Traceback" not in err
