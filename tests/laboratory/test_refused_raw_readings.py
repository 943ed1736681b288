"""What cannot be is refused with the raw reading's name and what to check at the bench."""

import pytest

from canewright.laboratory.method import methods
from canewright.laboratory.working import examine
from tests.laboratory.typical import TYPICAL

METHODS = methods()


def worked(name, **changes):
    given = {**TYPICAL[name], **changes}
    return examine(METHODS[name], {key: value for key, value in given.items() if value is not None})


REFUSED = [
    # method, what is changed, reading named, words that say what to check
    ("pol_of_juice", {"rotation": 98.0}, "rotation", "tube's length"),
    ("pol_of_juice", {"rotation": 300.0}, "rotation", "Read the tube again"),
    ("pol_of_juice", {"brix": 0.0}, "brix", "refractometer"),
    ("pol_of_juice", {"temperature": 55.0}, "temperature", "10 to 40 degC"),
    ("pol_of_juice", {"sample_taken": 110.0, "made_up_to": 100.0}, "made_up_to", "marks"),
    ("pol_of_juice", {"sample_taken": 100.0}, "made_up_to", "marks"),
    ("pol_of_juice", {"made_up_to": 110.0}, "sample_taken", "marks"),
    ("pol_of_juice", {"zero": 9.0}, "zero", "cover glasses"),
    ("pol_of_syrup", {"rotation": 101.0}, "rotation", "weight taken"),
    ("pol_of_syrup", {"brix": 40.0}, "brix", "rotation"),
    ("pol_of_cane", {"rotation": 30.0}, "rotation", "tube's length"),
    ("pol_of_bagasse", {"rotation": 14.0}, "rotation", "tube's length"),
    ("pol_of_cake", {"rotation": 90.0}, "rotation", "weight"),
    ("pol_of_raw_sugar", {"rotation": 102.0}, "rotation", "tube's length"),
    ("sucrose_by_double_polarisation", {"inverted": 16.0}, "inverted", "acid"),
    ("sucrose_by_double_polarisation", {"direct": 80.0}, "direct", "weights"),
    ("sucrose_by_double_polarisation", {"temperature": 60.0}, "temperature", "tube"),
    ("brix_of_juice", {"temperature": 45.0}, "temperature", "correction table"),
    ("brix_of_juice", {"reading": 80.0}, "reading", "dilute"),
    ("brix_by_hydrometer", {"temperature": 10.0}, "temperature", "correction table"),
    ("brix_by_hydrometer", {"reading": 70.0}, "reading", "dilute"),
    ("brix_by_refractive_index", {"index": 1.6}, "index", "water"),
    ("apparent_purity", {"pol": 15.0}, "brix", "rotation"),
    ("apparent_purity", {"brix": 0.0, "pol": 0.0}, "brix", "solids"),
    ("true_purity", {"sucrose": 80.0}, "dry_solids", "bottles"),
    ("moisture_of_bagasse", {"dish": 1600.0}, "dish", "which dish"),
    ("moisture_of_bagasse", {"dish": 1010.0}, "dish", "which dish"),
    ("moisture_of_sugar", {"dish_and_dry": 65.2}, "dish_and_dry", "exchanged"),
    ("fibre_of_cane", {"moisture": 90.0}, "moisture", "dish"),
    ("fibre_of_cane_by_press", {"cake_mass": 510.0}, "cake_mass", "weigh both again"),
    ("preparation_index", {"leach_brix": 1.4}, "leach_brix", "disintegrator"),
    ("reducing_sugars", {"titre": 12.0}, "titre", "factor table"),
    ("reducing_sugars", {"titre": 55.0}, "titre", "factor table"),
    ("reducing_sugars", {"sucrose": 5.0}, "sucrose", "standardise"),
    ("reducing_sugars", {"standardisation": 70.0}, "standardisation", "Standardise"),
    ("reducing_sugars_constant_volume", {"titre": 41.0}, "titre", "flask"),
    ("ash_by_conductivity", {"water_conductivity": 200.0, "conductivity": 1.0},
     "conductivity", "mS/cm"),
    ("ash_by_conductivity", {"temperature": 35.0}, "temperature", "20 degC"),
    ("ash_by_conductivity", {"sample_mass": 28.0}, "sample_mass", "6 g"),
    ("colour", {"absorbance": 9.0}, "absorbance", "Clean the cell"),
    ("turbidity", {"filtered": 0.06}, "unfiltered", "which cell"),
    ("acidity", {"second_reading": 7.0}, "second_reading", "fresh buffers"),
    ("sulphur_dioxide_in_sugar", {"blank_titre": 5.0}, "blank_titre", "blank"),
    ("sulphur_dioxide_in_juice", {"normality": 9.0}, "normality", "bottle"),
    ("phosphate", {"blank_absorbance": 0.6}, "absorbance", "blank"),
    ("milk_of_lime", {"baume": 30.0}, "baume", "Stir"),
    ("settling_rate", {"second_height": 310.0}, "second_height", "exchange"),
    ("mud_volume", {"mud_height": 310.0}, "mud_height", "read again"),
    ("crystal_size", {"pan": 11.0}, "sample_mass", "weigh each sieve"),
    ("crystal_size", {"retained_1": 20.0, "sample_mass": 118.8}, "retained_1", "coarser"),
    ("crystal_size", {"pan": 20.0, "sample_mass": 118.6}, "pan", "finer"),
    ("crystal_size", {"aperture_1": 0.3}, "aperture_1", "coarsest"),
    ("crystal_size", {f"retained_{k}": None for k in range(1, 7)}, "sample_mass", "weigh"),
    ("crystal_content", {"mother_liquor_purity": 88.0}, "mother_liquor_purity", "exchanged"),
    ("bag_net_weight", {"tare": 51.0}, "tare", "exchange"),
    ("sugar_scale", {"angle": 95.0}, "angle", "Read the tube again"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "changes", "reading", "words"), REFUSED)
def test_what_cannot_be_is_refused_at_its_reading(name, changes, reading, words):
    found = worked(name, **changes)
    assert found.steps == ()
    said = [remark.text for remark in found.refusals if remark.reading == reading]
    assert said, [remark.text for remark in found.refusals]
    assert any(words in text for text in said), said


@pytest.mark.parametrize("name", METHODS)
def test_each_needed_reading_is_asked_for(name):
    for raw in METHODS[name].inputs:
        if raw.required:
            found = worked(name, **{raw.name: None})
            assert [remark.text for remark in found.refusals if remark.reading == raw.name] == [
                f"{raw.name} is missing: {raw.label} [{raw.unit}]."
            ]


@pytest.mark.parametrize("name", METHODS)
def test_a_reading_beyond_its_hard_limits_is_refused_with_its_bench_check(name):
    for raw in METHODS[name].inputs:
        for value in (raw.low - 1.0, raw.high * 1.01 + 1.0, float("nan")):
            found = worked(name, **{raw.name: value})
            said = [remark.text for remark in found.refusals if remark.reading == raw.name]
            assert said, (raw.name, value)
            assert said[0].startswith(f"{raw.name} = ")
            assert said[0].endswith(raw.bench)


WARNED = [
    ("pol_of_juice", {"temperature": None}, "temperature"),
    ("pol_of_juice", {"temperature": 35.0}, "temperature"),
    ("brix_of_juice", {"temperature": None}, "temperature"),
    ("brix_of_juice", {"reading": 30.0}, "reading"),
    ("pol_of_bagasse", {"rotation": 0.6}, "rotation"),
    ("pol_of_bagasse", {"water_mass": 2000.0}, "water_mass"),
    ("moisture_of_bagasse", {"dish_and_sample": 540.0, "dish_and_dry": 520.0}, "dish_and_sample"),
    ("reducing_sugars", {"standardisation": None}, "standardisation"),
    ("reducing_sugars_constant_volume", {"blank_titre": 38.0}, "blank_titre"),
    ("colour", {"ph": None}, "ph"),
    ("colour", {"ph": 6.2}, "ph"),
    ("colour", {"absorbance": 0.95}, "absorbance"),
    ("acidity", {"temperature": 60.0}, "temperature"),
    ("sulphur_dioxide_in_juice", {"blank_titre": 0.0}, "blank_titre"),
    ("bag_net_weight", {"gross": 52.0}, "gross"),
]


@pytest.mark.parametrize(("name", "changes", "reading"), WARNED)
def test_what_is_only_strange_is_taken_with_a_warning(name, changes, reading):
    found = worked(name, **changes)
    assert found.steps
    assert reading in {remark.reading for remark in found.warnings}


def test_all_that_is_wrong_is_said_at_once():
    found = worked("pol_of_juice", rotation=98.0, temperature=70.0, zero=9.0, tube_length=500.0)
    assert {remark.reading for remark in found.refusals} == {"temperature", "zero", "tube_length"}
    found = worked("pol_of_juice", rotation=98.0, temperature=70.0, sample_taken=100.0)
    assert {remark.reading for remark in found.refusals} == {
        "rotation",
        "temperature",
        "made_up_to",
    }


def test_a_reading_the_method_does_not_know_is_refused():
    assert "tube" in {remark.reading for remark in worked("pol_of_juice", tube=200.0).refusals}


def test_colour_below_50_needs_no_buffer():
    found = worked("colour", absorbance=0.11, brix=50.0, cell_length=5.0, ph=None)
    assert found.value < 50
    assert "ph" not in {remark.reading for remark in found.warnings}
