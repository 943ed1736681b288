"""What the demonstration factories read in a shift: point, analysis, how many samples."""

from canewright.engine.points import Channel, Points

HOURLY, TWO_HOURLY, ONCE = 8, 4, 1

_JUICE = ("brix", "pol")
_COMPOSITION = (*_JUICE, "reducing_sugars", "ash")

HALCYON_BEND: tuple[tuple[str, tuple[str, ...], int], ...] = (
    ("cane", ("weight",), ONCE),
    ("cane", ("fibre", "pol"), HOURLY),
    ("imbibition_water", ("weight",), ONCE),
    ("imbibition_water", ("temperature",), HOURLY),
    ("juice_of_mill_1", _JUICE, HOURLY),
    ("juice_of_mill_2", ("brix",), TWO_HOURLY),
    ("juice_of_mill_3", ("brix",), TWO_HOURLY),
    ("juice_of_mill_4", ("brix",), TWO_HOURLY),
    ("juice_of_mill_5", ("brix",), TWO_HOURLY),
    ("juice_of_mill_6", _JUICE, HOURLY),
    ("bagasse", ("weight",), ONCE),
    ("bagasse", ("pol", "moisture"), HOURLY),
    ("mixed_juice", ("weight",), ONCE),
    ("mixed_juice", _COMPOSITION, TWO_HOURLY),
    ("mixed_juice", ("insoluble_solids", "phosphate", "lime", "colour"), ONCE),
    ("mixed_juice", ("temperature",), HOURLY),
    ("sulphur_burner", ("sulphur_rate",), ONCE),
    ("lime_station", ("lime_rate",), ONCE),
    ("warm_juice", ("temperature",), HOURLY),
    ("hot_juice", ("temperature",), HOURLY),
    ("boiling_juice", ("temperature",), HOURLY),
    ("mud_of_clarifier_1", ("insoluble_solids",), ONCE),
    ("mud_of_clarifier_2", ("insoluble_solids",), ONCE),
    ("filtrate", (*_JUICE, "insoluble_solids"), ONCE),
    ("filter_cake", ("weight",), ONCE),
    ("filter_cake", ("pol", "moisture"), TWO_HOURLY),
    ("clear_juice", ("weight",), ONCE),
    ("clear_juice", _COMPOSITION, TWO_HOURLY),
    ("clear_juice", ("colour", "sulphite", "lime", "phosphate"), ONCE),
    ("clear_juice", ("temperature",), HOURLY),
    ("juice_of_evaporator_body_1", ("brix",), ONCE),
    ("juice_of_evaporator_body_2", ("brix",), ONCE),
    ("juice_of_evaporator_body_3", ("brix",), ONCE),
    ("juice_of_evaporator_body_4", ("brix",), ONCE),
    ("exhaust", ("pressure",), HOURLY),
    ("vapour_1", ("pressure",), HOURLY),
    ("vapour_2", ("pressure",), HOURLY),
    ("vapour_3", ("pressure",), HOURLY),
    ("evaporator_vapour_4", ("pressure",), HOURLY),
    ("last_vapour", ("pressure",), HOURLY),
    ("pan_vapour", ("pressure",), HOURLY),
    ("syrup", ("weight",), ONCE),
    ("syrup", _COMPOSITION, TWO_HOURLY),
    ("syrup", ("colour", "sulphite"), ONCE),
    ("syrup", ("temperature",), HOURLY),
    ("melt", _JUICE, ONCE),
    ("a_massecuite", (*_JUICE, "mother_liquor_purity"), TWO_HOURLY),
    ("a_massecuite", ("colour",), ONCE),
    ("a_molasses", _COMPOSITION, TWO_HOURLY),
    ("b_massecuite", (*_JUICE, "mother_liquor_purity"), TWO_HOURLY),
    ("b_molasses", _COMPOSITION, TWO_HOURLY),
    ("b_magma", _JUICE, TWO_HOURLY),
    ("c_massecuite_boiled", (*_JUICE, "mother_liquor_purity"), TWO_HOURLY),
    ("c_massecuite", ("mother_liquor_purity", "temperature"), TWO_HOURLY),
    ("c_massecuite_cold", ("temperature",), TWO_HOURLY),
    ("c_sugar", ("pol", "moisture"), TWO_HOURLY),
    ("c_molasses", _COMPOSITION, TWO_HOURLY),
    ("final_molasses", ("weight",), ONCE),
    ("final_molasses", ("brix", "pol", "sucrose"), ONCE),
    ("wet_raw_sugar", ("weight",), ONCE),
    ("wet_raw_sugar", ("pol", "moisture", "ash", "colour"), TWO_HOURLY),
    ("white_sugar", ("pol", "moisture", "ash", "colour"), TWO_HOURLY),
    ("bulk_bags", ("weight",), ONCE),
    ("sacks", ("weight",), ONCE),
    ("retail_bags", ("weight",), ONCE),
    ("live_steam_from_boilers", ("weight",), ONCE),
    ("live_steam", ("pressure", "temperature"), HOURLY),
    ("feedwater_to_boilers", ("weight",), ONCE),
    ("exhaust_condensate_to_feedwater_tank", ("weight",), ONCE),
    ("generated_power", ("energy",), ONCE),
    ("surplus_bagasse", ("weight",), ONCE),
    ("cooling_water", ("temperature",), HOURLY),
    ("warm_water_from_pan_condenser", ("temperature",), HOURLY),
    ("warm_water_from_evaporator_condenser", ("temperature",), HOURLY),
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
