"""Control figures taken from a factory's streams, against a day worked in figures."""

import casadi
import numpy as np
import pytest

from canewright import registry
from canewright.engine.equations.model import compile
from canewright.figures.control import control_figures
from canewright.flowsheet import Factory, StationEntry
from tests.engine.small_factory import small_model, small_truth

# A constructed day of a plantation white sugar factory, by the definitions of the trade's
# system of factory control (issct1971): t and %, as pol and Brix. What the factory file calls
# sucrose stands for pol here: one basis throughout.
CANE, IMBIBITION, MIXED_JUICE, CAKE, SUGAR, MOLASSES = 5000.0, 1550.0, 5100.0, 175.0, 538.0, 200.0
BAGASSE = CANE + IMBIBITION - MIXED_JUICE
FIBRE = BAGASSE * (100 - 49.5 - 100 * 1.9 / 71.25) / 100

STREAMS = {
    # name: (total, pol, Brix solids, fibre), t
    "mixed juice": (MIXED_JUICE, MIXED_JUICE * 0.11928, MIXED_JUICE * 0.142, 0.0),
    "bagasse": (BAGASSE, BAGASSE * 0.019, BAGASSE * 0.019 / 0.7125, FIBRE),
    "filter cake": (CAKE, CAKE * 0.018, CAKE * 0.018 / 0.8, 0.0),
    "raw sugar in bags": (SUGAR, SUGAR * 0.998, SUGAR * 0.9996, 0.0),
    "final molasses": (MOLASSES, MOLASSES * 0.2992, MOLASSES * 0.88, 0.0),
    "water to mill 5": (IMBIBITION, 0.0, 0.0, 0.0),
    "juice of mill 1": (1000.0, 166.0, 190.0, 0.0),
}

# (figure, value of the constructed day, half the last digit printed)
EXPECTED = [
    ("fibre_percent_cane", 13.872, 5e-4),
    ("sucrose_percent_cane", 12.718, 5e-4),
    ("solids_percent_cane", 15.257, 5e-4),
    ("sucrose_extraction", 95.667, 5e-4),
    ("pol_extraction", 95.667, 5e-4),
    ("solids_extraction", 94.931, 5e-4),
    ("reduced_extraction", 96.157, 5e-4),
    ("reduced_extraction_proportional", 96.096, 5e-4),
    ("lost_absolute_juice_percent_fibre", 26.90, 5e-3),
    ("pol_percent_fibre_in_bagasse", 3.972, 5e-4),
    ("mixed_juice_percent_cane", 102.0, 0.05),
    ("bagasse_percent_cane", 29.0, 0.05),
    ("imbibition_percent_cane", 31.0, 0.05),
    ("imbibition_percent_fibre", 223.48, 5e-3),
    ("undiluted_juice_percent_cane", 82.66, 5e-3),
    ("dilution_percent_undiluted_juice", 29.98, 5e-3),
    ("java_ratio", 76.61, 5e-3),
    ("purity_of_mixed_juice", 84.00, 5e-3),
    ("purity_of_final_molasses", 34.00, 5e-3),
    ("boiling_house_recovery", 88.262, 5e-4),
    ("overall_recovery", 84.438, 5e-4),
    ("sjm_recovery", 90.262, 5e-4),
    ("basic_boiling_house_recovery", 92.381, 5e-4),
    ("boiling_house_efficiency", 95.54, 5e-3),
    ("reduced_boiling_house_recovery", 89.125, 5e-4),
    ("reduced_boiling_house_recovery_gundu_rao", 89.133, 5e-4),
    ("reduced_overall_recovery", 85.700, 5e-4),
    ("non_sucrose_balance", 100.99, 5e-3),
    ("molasses_85_brix_percent_cane", 4.141, 5e-4),
    ("equivalent_standard_granulated_of_raw_sugar", 99.736, 5e-4),
    ("sugar_percent_cane", 10.760, 5e-4),
    ("cane_per_sugar", 9.294, 5e-4),
]


@pytest.fixture(scope="module")
def worked_day():
    """Values of the small factory's variables with the streams of the constructed day."""
    model = small_model()
    values = small_truth().values.copy()
    parameters = model.parameter_values.copy()
    parameters[model.parameter_names.index("hours")] = 1.0
    streams = dict(STREAMS)
    juice, bagasse = STREAMS["mixed juice"], STREAMS["bagasse"]
    streams["cane"] = (CANE, juice[1] + bagasse[1], juice[2] + bagasse[2], FIBRE)
    for name, (total, pol, solids, fibre) in streams.items():
        parts = {"sucrose": pol, "organics": solids - pol, "fibre": fibre}
        parts["water"] = total - solids - fibre
        for component in model.states[name].components:
            if component not in ("colour", "sulphite", "lime", "phosphate"):
                values[model.position(f"{name}.{component}")] = parts.get(component, 0.0)
    for component in model.states["syrup tank opening"].components:
        closing = values[model.position(f"syrup tank closing.{component}")]
        values[model.position(f"syrup tank opening.{component}")] = closing
    figures = control_figures(model)
    names = [name for name, _, _ in EXPECTED]
    function = casadi.Function(
        "f",
        [model.symbols, model.parameters],
        [casadi.vertcat(*[figures[name].expression for name in names])],
    )
    return dict(zip(names, np.array(function(values, parameters)).ravel(), strict=True))


@pytest.mark.parametrize(("name", "expected", "within"), EXPECTED, ids=[e[0] for e in EXPECTED])
def test_the_worked_day_comes_out_of_the_streams(worked_day, name, expected, within):
    # within: half the last digit that the constructed day prints
    assert worked_day[name] == pytest.approx(expected, abs=within * 1.001)


def test_a_factory_without_a_boiling_house_has_no_recovery_at_all():
    entries = (
        StationEntry("yard", "cane_yard", {"cane": "cane"}),
        StationEntry("mill 1", "mill", {"feed": "cane", "juice": "juice", "bagasse": "bagasse"}),
        StationEntry("bagasse", "departure", {"stream": "bagasse"}),
        StationEntry("juice", "departure", {"stream": "juice"}),
    )
    figures = control_figures(compile(Factory("mills only", 8, entries)))
    assert "bagasse_percent_cane" in figures
    for name in ("boiling_house_recovery", "sucrose_extraction", "target_purity", "java_ratio"):
        assert name not in figures


def test_a_stream_of_another_name_plays_its_part_when_the_factory_says_so():
    entries = (
        StationEntry("yard", "cane_yard", {"cane": "crushed"}),
        StationEntry("mill 1", "mill", {"feed": "crushed", "juice": "liquor", "bagasse": "begass"}),
        StationEntry("b", "departure", {"stream": "begass"}),
        StationEntry("j", "departure", {"stream": "liquor"}),
    )
    control = {"cane": "crushed", "mixed_juice": "liquor", "bagasse": "begass"}
    figures = control_figures(compile(Factory("other names", 8, entries, control=control)))
    assert {"sucrose_extraction", "bagasse_percent_cane", "cane_tonnes"} <= set(figures)


def test_every_figure_names_a_registered_formula_and_known_sources():
    known = registry.sources()
    formulas = registry.formulas()
    figures = control_figures(small_model())
    assert len(figures) > 70
    for figure in figures.values():
        assert figure.formula == "" or figure.formula in formulas, figure.name
        assert figure.sources, figure.name
        assert set(figure.sources) <= set(known), figure.name
        assert figure.definition.endswith("."), figure.name


def test_reduced_and_target_figures_print_the_name_of_their_formula():
    figures = control_figures(small_model())
    for name, figure in figures.items():
        if name.startswith(("reduced_", "target_")):
            assert figure.formula, name
            assert "," in figure.label, f"{figure.label} does not name its author."
