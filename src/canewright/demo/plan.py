"""What the demonstration factories read in a shift: point, analysis, how many samples."""

from canewright.engine.equations.points import Channel, Points

TWICE, ONCE = 2, 1
"""Composite samples of four hours, or of the whole shift."""

_JUICE = ("brix", "pol")
_COMPOSITION = (*_JUICE, "reducing_sugars", "ash")

HALCYON_BEND: tuple[tuple[str, tuple[str, ...], int], ...] = (
    ("cane", ("weight",), ONCE),
    ("cane", ("fibre", "pol"), TWICE),
    ("imbibition_water", ("weight",), ONCE),
    ("imbibition_water", ("temperature",), ONCE),
    ("juice_of_mill_1", _JUICE, TWICE),
    ("juice_of_mill_2", ("brix",), ONCE),
    ("juice_of_mill_3", ("brix",), ONCE),
    ("juice_of_mill_4", ("brix",), ONCE),
    ("juice_of_mill_5", ("brix",), ONCE),
    ("juice_of_mill_6", _JUICE, TWICE),
    ("bagasse", ("weight",), ONCE),
    ("bagasse", ("pol", "moisture"), TWICE),
    ("mixed_juice", ("weight",), ONCE),
    ("mixed_juice", _COMPOSITION, TWICE),
    ("mixed_juice", ("insoluble_solids", "phosphate", "lime", "colour"), ONCE),
    ("mixed_juice", ("temperature",), ONCE),
    ("sulphur_burner", ("sulphur_rate",), ONCE),
    ("lime_station", ("lime_rate",), ONCE),
    ("warm_juice", ("temperature",), ONCE),
    ("hot_juice", ("temperature",), ONCE),
    ("boiling_juice", ("temperature",), ONCE),
    ("mud_of_clarifier_1", ("insoluble_solids",), ONCE),
    ("mud_of_clarifier_2", ("insoluble_solids",), ONCE),
    ("filtrate", (*_JUICE, "insoluble_solids"), ONCE),
    ("filter_cake", ("weight",), ONCE),
    ("filter_cake", ("pol", "moisture"), ONCE),
    ("clear_juice", ("weight",), ONCE),
    ("clear_juice", _COMPOSITION, TWICE),
    ("clear_juice", ("colour", "sulphite", "lime", "phosphate"), ONCE),
    ("clear_juice", ("temperature",), ONCE),
    ("juice_of_evaporator_body_1", ("brix",), ONCE),
    ("juice_of_evaporator_body_2", ("brix",), ONCE),
    ("juice_of_evaporator_body_3", ("brix",), ONCE),
    ("juice_of_evaporator_body_4", ("brix",), ONCE),
    ("exhaust", ("pressure",), ONCE),
    ("vapour_1", ("pressure",), ONCE),
    ("vapour_2", ("pressure",), ONCE),
    ("vapour_3", ("pressure",), ONCE),
    ("evaporator_vapour_4", ("pressure",), ONCE),
    ("last_vapour", ("pressure",), ONCE),
    ("pan_vapour", ("pressure",), ONCE),
    ("syrup", ("weight",), ONCE),
    ("syrup", _COMPOSITION, TWICE),
    ("syrup", ("colour", "sulphite"), ONCE),
    ("syrup", ("temperature",), ONCE),
    ("melt", _JUICE, ONCE),
    ("a_massecuite", (*_JUICE, "mother_liquor_purity"), ONCE),
    ("a_massecuite", ("colour",), ONCE),
    ("a_molasses", _COMPOSITION, ONCE),
    ("b_massecuite", (*_JUICE, "mother_liquor_purity"), ONCE),
    ("b_molasses", _COMPOSITION, ONCE),
    ("b_magma", _JUICE, ONCE),
    ("c_massecuite_boiled", (*_JUICE, "mother_liquor_purity"), ONCE),
    ("c_massecuite", ("mother_liquor_purity", "temperature"), ONCE),
    ("c_massecuite_cold", ("temperature",), ONCE),
    ("c_sugar", ("pol", "moisture"), ONCE),
    ("c_molasses", _COMPOSITION, TWICE),
    ("final_molasses", ("weight",), ONCE),
    ("final_molasses", ("brix", "pol", "sucrose"), ONCE),
    ("wet_raw_sugar", ("weight",), ONCE),
    ("wet_raw_sugar", ("pol", "moisture", "ash", "colour"), ONCE),
    ("white_sugar", ("pol", "moisture", "ash", "colour"), ONCE),
    ("bulk_bags", ("weight",), ONCE),
    ("sacks", ("weight",), ONCE),
    ("retail_bags", ("weight",), ONCE),
    ("live_steam_from_boilers", ("weight",), ONCE),
    ("live_steam", ("pressure", "temperature"), ONCE),
    ("feedwater_to_boilers", ("weight",), ONCE),
    ("exhaust_condensate_to_feedwater_tank", ("weight",), ONCE),
    ("generated_power", ("energy",), ONCE),
    ("surplus_bagasse", ("weight",), ONCE),
    ("cooling_water", ("temperature",), ONCE),
    ("warm_water_from_pan_condenser", ("temperature",), ONCE),
    ("warm_water_from_evaporator_condenser", ("temperature",), ONCE),
    *(
        (f"{vessel}_{side}", ("volume_held", "brix", "pol"), ONCE)
        for vessel in (
            "syrup_tank",
            "a_receivers",
            "a_molasses_tank",
            "c_crystalliser_stock",
            "final_molasses_tank",
        )
        for side in ("opening", "closing")
    ),
)
"""A well-instrumented factory with the usual laboratory."""


DRY_RIDGE: tuple[tuple[str, tuple[str, ...], int], ...] = (
    ("cane", ("weight",), ONCE),
    ("juice_of_mill_1", _JUICE, ONCE),
    ("juice_of_mill_4", ("brix",), ONCE),
    ("bagasse", ("pol", "moisture"), ONCE),
    ("mixed_juice", ("weight",), ONCE),
    ("mixed_juice", _JUICE, ONCE),
    ("filter_cake", ("pol",), ONCE),
    ("clear_juice", ("brix",), ONCE),
    ("exhaust", ("pressure",), ONCE),
    ("syrup", _JUICE, ONCE),
    ("a_massecuite", _JUICE, ONCE),
    ("b_massecuite", _JUICE, ONCE),
    ("c_massecuite_hot", _JUICE, ONCE),
    ("final_molasses", ("weight",), ONCE),
    ("final_molasses", _JUICE, ONCE),
    ("raw_sugar_made", ("weight",), ONCE),
    ("raw_sugar_made", ("pol", "moisture"), ONCE),
)
"""A poorly instrumented factory: few scales, a small laboratory, no dips of stock."""


def planned(
    points: Points, plan: tuple[tuple[str, tuple[str, ...], int], ...]
) -> list[tuple[Channel, int]]:
    """Channels of a plan, each with the number of samples averaged.

    Raises
    ------
    KeyError
        If the plan names a point or analysis that the factory does not have.
    """
    return [
        (points.channel(point, analysis), count)
        for point, analyses, count in plan
        for analysis in analyses
    ]
