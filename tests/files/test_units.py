"""Units at the edges, against definitions of the units themselves."""

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from canewright.units import (
    CATALOGUE,
    STANDARD_ATMOSPHERE,
    UnitError,
    canonical,
    comma_as_point,
    convert,
    convert_difference,
    kind,
    nearest_unit,
    parse_difference,
    parse_quantity,
    read_number,
)
from tests.files.small_factory import PATIENT

ROUNDING = 1e-12  # relative: the few last digits of a double that a conversion may cost


@pytest.mark.parametrize(
    ("text", "internal", "expected"),
    [
        ("2 bar", "bar abs", 2.0),
        ("2bar", "bar abs", 2.0),
        ("343K", "degC", 69.85),  # 273.15 K is 0 degC by definition
        ("95 degF", "degC", 35.0),  # (95 - 32) / 1.8
        ("35 °C", "degC", 35.0),
        ("320 m2", "m2", 320.0),
        ("320 m²", "m2", 320.0),
        ("0.1 %", "%", 0.1),
        ("0.5 fraction", "%", 50.0),
        ("350 ppm", "%", 0.035),
        ("1 784.2 t", "t", 1784.2),
        ("119.3 kg", "t", 0.1193),
        ("500 kg/s", "t/h", 1800.0),
        ("12 t per hour", "t/h", 12.0),
        ("4000", "m2", 4000.0),
        ("-1e1 degC", "degC", -10.0),
        ("0.3 MPa", "bar abs", 3.0),
        ("120 kPa g", "bar abs", 2.21325),  # 1.2 + 1.01325
        ("1.2 bar g", "bar abs", 2.21325),
        ("1.2barg", "bar abs", 2.21325),
        ("-0.8 bar(g)", "bar abs", 0.21325),
        ("1 kg/cm2 g", "bar abs", 1.993915),  # kilogram-force per cm2 is 0.980665 bar by definition
        # the conventional millimetre of mercury is 133.322387415 Pa
        ("650 mmHg vacuum", "bar abs", 1.01325 - 650 * 133.322387415e-5),
        ("600 kcal/(m2.h.degC)", "kW/(m2.K)", 600 * 4.184 / 3600),  # thermochemical, 4.184 J
        ("600 W/m2.K", "kW/(m2.K)", 0.6),
        ("600 W/m2/K", "kW/(m2.K)", 0.6),
        ("4.2 kJ/kg K", "kJ/(kg.K)", 4.2),
        ("3.6 MJ/h", "kW", 1.0),
        ("2500 MJ/t", "kJ/kg", 2500.0),
        ("1.2 g/mL", "kg/m3", 1200.0),
        ("5 cP", "mPa s", 5.0),
        ("1 lb", "kg", 0.45359237),  # the international pound, by definition
        ("1 short_ton", "t", 0.90718474),  # 2000 of them
        ("1 long_ton", "t", 1.0160469088),  # 2240 of them
        ("0.5 in", "mm", 12.7),
        ("5 %", "% of heat given up", 5.0),
        ("25 IU", "IU", 25.0),
        ("7.1 pH", "pH", 7.1),
        ("3 KG", "kg", 3.0),
        ("0.012 kg/kg dry air", "g/kg dry air", 12.0),
        ("2 t/t", "kg steam/kg bagasse", 2.0),
        ("3 g/100 mL", "kg/m3", 30.0),
        ("10 mH2O", "bar abs", 0.980665),  # the conventional metre of water is 9806.65 Pa
        ("6 bar/min", "bar/s", 0.1),
        ("3", "a count, whole", 3.0),
    ],
)
def test_a_quantity_as_a_person_writes_it(text, internal, expected):
    assert parse_quantity(text, internal) == pytest.approx(expected, rel=ROUNDING)


@pytest.mark.parametrize(
    ("text", "internal", "facts"),
    [
        ("1,5 t/h", "t/h", ["with a comma", "1.5 t/h"]),
        ("1,234.5 t", "t", ["with a comma", "1234.5 t"]),
        ("3 tt/h", "t/h", ["'tt/h' is not known", "nearest known unit is 't/h'"]),
        ("3 xyzzy", "t/h", ["'xyzzy' is not known", "Write t/h", "mass flow"]),
        ("3 kg", "t/h", ["'kg'", "unit of mass", "'t/h'", "mass flow"]),
        ("98 °Z", "%", ["rotation", "normal weight"]),
        ("350 ppm", "mg/L", ["'mg/kg'", "share", "'mg/L'", "density"]),
        ("5 N", "t", ["'N'", "another kind"]),
        ("3 ton", "t", ["tonne of 1000 kg", "short ton", "Write t, short_ton"]),
        ("3 ton/h", "t/h", ["short ton"]),
        ("3 gal", "m3", ["imperial"]),
        ("3 MPA", "bar abs", ["megapascal", "millipascal"]),
        ("2 degC", "K", ["two ways", "difference"]),
        ("3 m", "degC", ["length", "temperature"]),
        ("800 mmHg vacuum", "bar abs", ["below an absolute vacuum", "1.01325"]),
        ("-2 bar g", "bar abs", ["below an absolute vacuum"]),
        ("3 bar g", "m2", ["pressure", "area"]),
        ("5 % fibre", "% of cane", ["different things"]),
        ("2 kg/kg water", "t steam/t bagasse", ["different things"]),
        ("3 kg steam per h", "t/h", ["not known"]),
        ("3 kg", "a count, whole", ["Nothing is converted to 'a count, whole'", "plain number"]),
        ("", "t", ["not a number with a unit", "12.5 t"]),
        ("much", "t", ["'much' is not a number with a unit"]),
        ("1e400 t", "t", ["too large"]),
        ("1.2.3 t", "t", ["not a number"]),
        ("1 9**9**9", "t", ["not known"]),
        ("3 t//h", "t/h", ["not known"]),
        ("3 (t", "t", ["not known"]),
        ("3 t.", "t", ["not known"]),
        ("3 " + "t" * 500, "t", ["not known"]),
    ],
)
def test_a_quantity_that_cannot_be_read_is_refused_in_a_sentence(text, internal, facts):
    with pytest.raises(UnitError) as refusal:
        parse_quantity(text, internal)
    sentence = str(refusal.value)
    assert [fact for fact in facts if fact not in sentence] == []
    assert len(sentence) < 300
    assert refusal.value.remedy.endswith(".")


def test_a_unit_can_be_required():
    with pytest.raises(UnitError, match=r"'4000' has no unit\. Write it with one, like 4000 m2\."):
        parse_quantity("4000", "m2", unit_required=True)
    assert parse_quantity(4000, "m2") == 4000.0


def test_a_vacuum_is_counted_from_the_barometer_of_the_place():
    assert convert(0.8, "bar vacuum", "bar abs", barometer=0.9) == pytest.approx(0.1, rel=ROUNDING)
    assert convert(0.1, "bar abs", "bar vacuum", barometer=0.9) == pytest.approx(0.8, rel=ROUNDING)
    assert convert(0.0, "bar g", "bar abs") == STANDARD_ATMOSPHERE
    assert convert(1.5, "bar abs", "kPa g") == pytest.approx(48.675, rel=ROUNDING)


def test_of_a_difference_only_the_scale_counts():
    assert parse_difference("0.2 K", "degC") == 0.2
    assert parse_difference("0.36 degF", "degC") == pytest.approx(0.2, rel=ROUNDING)
    assert convert_difference(0.2, "degC", "K") == 0.2
    assert convert_difference(10, "mmHg vacuum", "bar abs") == pytest.approx(
        10 * 133.322387415e-5, rel=ROUNDING
    )
    with pytest.raises(UnitError, match="mass"):
        parse_difference("3 t", "%")


@pytest.mark.parametrize("unit", CATALOGUE)
def test_every_unit_of_the_catalogue_is_its_own_name_and_kind(unit):
    assert canonical(unit) == unit
    assert kind(unit) == CATALOGUE[unit]
    assert convert(3.25, unit, unit) == 3.25
    for other, other_kind in CATALOGUE.items():
        if other_kind == CATALOGUE[unit]:
            there_and_back = convert(convert(3.25, unit, other), other, unit)
            assert there_and_back == pytest.approx(3.25, rel=ROUNDING)


@PATIENT
@given(
    value=st.floats(-1e6, 1e6),
    pair=st.sampled_from(
        [("t/h", "lb/min"), ("degC", "degF"), ("K", "degC"), ("kW/(m2.K)", "kcal/(m2.h.degC)")]
    ),
)
def test_there_and_back_again(value, pair):
    one, other = pair
    # 1e-9 absolute: 273.15 and 32 are added and taken away again from numbers up to 1e6
    again = convert(convert(value, one, other), other, one) if one != "K" else value
    assert again == pytest.approx(value, rel=ROUNDING, abs=1e-6)


@PATIENT
@given(text=st.text(max_size=30), internal=st.sampled_from(sorted(CATALOGUE)))
def test_any_text_is_a_quantity_or_refused(text, internal):
    for wanted in (text, f"3 {text}"):
        try:
            value = parse_quantity(wanted, internal)
        except UnitError:
            continue
        assert isinstance(value, float)


def test_numbers_and_commas():
    assert read_number(" 1 234.5 ") == 1234.5
    assert read_number("\u2212.5") == -0.5
    assert comma_as_point("1.234,5") == comma_as_point("1,234.5") == "1234.5"
    assert comma_as_point("1,234,567") == "1234567"
    assert comma_as_point("12.5") is None
    for text in ("1_000", "0x10", "infinity", "1 23", "--1", ""):
        with pytest.raises(UnitError, match="is not a number"):
            read_number(text)


def test_the_nearest_unit_of_a_slip():
    assert nearest_unit("kgm3") == "kg/m3"
    assert nearest_unit("degreeC") == "degC"
    assert nearest_unit("12") is None


def test_pint_is_not_imported_until_a_conversion_needs_it():
    script = (
        "import sys; from canewright.units import parse_quantity; "
        "assert parse_quantity('320 m2', 'm2') == 320; assert 'pint' not in sys.modules; "
        "parse_quantity('3 kg', 't'); assert 'pint' in sys.modules"
    )
    ended = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=False
    )
    assert ended.returncode == 0, ended.stderr
