"""Cane and bagasse by the wet disintegrator, and cane by the press.

Fibre holds Brix-free water, k % of its own weight, which the extract never reaches; k is
assumed, mostly 25 %. The equations close exactly: moisture + fibre + Brix = 100.
"""

from canewright.ops import Numeric
from canewright.registry import formula


@formula(
    source="own_derivation",
    at="water and solids of sample and water added, per 100 g of sample",
    unit="%",
    given={
        "moisture": "%",
        "extract_brix": "%",
        "water": "g per 100 g",
        "brix_free_water": "% of fibre",
    },
    equation="F = [100 - M - b (W + 100)/100]/[1 - b (1 + k)/100], k as a fraction",
    known="derived",
    note="With W = 200 and k = 25 % it is (100 - M - 3 b)/(1 - 0.0125 b).",
)
def fibre(
    moisture: Numeric, extract_brix: Numeric, water: Numeric, brix_free_water: Numeric
) -> Numeric:
    """Fibre of a sample beaten up in water. [%] from [%, %, g per 100 g, % of fibre]."""
    solids = 100 - moisture - extract_brix * (water + 100) / 100
    return solids / (1 - extract_brix * (1 + brix_free_water / 100) / 100)


@formula(
    source="own_derivation",
    at="all water and solids except the fibre and its Brix-free water",
    unit="g per 100 g",
    given={"water": "g per 100 g", "fibre": "%", "brix_free_water": "% of fibre"},
    equation="E = W + 100 - (1 + k) F, k as a fraction",
    known="derived",
)
def extract_mass(water: Numeric, fibre: Numeric, brix_free_water: Numeric) -> Numeric:
    """Extract that 100 g of sample make with the water added. [g] from [g, %, % of fibre]."""
    return water + 100 - (1 + brix_free_water / 100) * fibre


@formula(
    source="own_derivation",
    at="what the extract holds, brought on the sample",
    unit="%",
    given={"in_extract": "%", "extract_mass": "g per 100 g"},
    equation="Brix % sample = b E/100, pol % sample = p E/100",
    known="derived",
)
def percent_on_sample(in_extract: Numeric, extract_mass: Numeric) -> Numeric:
    """Brix or pol of a sample from that of its extract. [%] from [%, g per 100 g]."""
    return in_extract * extract_mass / 100


@formula(
    source="open_cells_test",
    at="solids leached over all solids",
    unit="%",
    given={
        "leach_brix": "%",
        "leach_liquid": "g per 100 g",
        "total_brix": "%",
        "total_liquid": "g per 100 g",
    },
    equation="index = 100 b_leach L_leach/(b_total L_total)",
    known="memory",
    note="Drum, time, speed and water ratio are conventions: compare only with the same ones.",
)
def preparation_index(
    leach_brix: Numeric, leach_liquid: Numeric, total_brix: Numeric, total_liquid: Numeric
) -> Numeric:
    """Brix in open cells of prepared cane. [%]."""
    return 100 * leach_brix * leach_liquid / (total_brix * total_liquid)


@formula(
    source="own_derivation",
    at="press cake of fibre, its Brix-free water, and juice of the Brix pressed out",
    unit="%",
    given={
        "cake_moisture": "%",
        "juice_brix": "%",
        "brix_free_water": "% of fibre",
    },
    equation="f = (100 - M - x M)/(1 - x k), x = B/(100 - B), k as a fraction",
    known="derived",
)
def fibre_of_press_cake(
    cake_moisture: Numeric, juice_brix: Numeric, brix_free_water: Numeric
) -> Numeric:
    """Fibre of the cake left in the press. [%] from [%, %, % of fibre]."""
    solids_per_water = juice_brix / (100 - juice_brix)
    return (100 - cake_moisture - solids_per_water * cake_moisture) / (
        1 - solids_per_water * brix_free_water / 100
    )


@formula(
    source="own_derivation",
    at="fibre stays in the cake",
    unit="%",
    given={"cake_fibre": "%", "cake_mass": "g", "sample_mass": "g"},
    equation="F = f x cake/sample",
    known="derived",
)
def fibre_by_press(cake_fibre: Numeric, cake_mass: Numeric, sample_mass: Numeric) -> Numeric:
    """Fibre of cane from its press cake. [%] from [%, g, g]."""
    return cake_fibre * cake_mass / sample_mass
