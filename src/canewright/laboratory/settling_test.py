"""Settling test of limed juice in a graduated cylinder."""

from canewright.ops import Numeric
from canewright.registry import formula


@formula(
    source="own_derivation",
    at="fall of the mud line over the time",
    unit="mm/min",
    given={"first_height": "mm", "second_height": "mm", "minutes": "min"},
    equation="rate = (h1 - h2)/time",
    known="derived",
)
def settling_rate(first_height: Numeric, second_height: Numeric, minutes: Numeric) -> Numeric:
    """Speed at which the mud line falls. [mm/min] from [mm, mm, min]."""
    return (first_height - second_height) / minutes


@formula(
    source="own_derivation",
    at="mud over juice, heights in one cylinder",
    unit="%",
    given={"mud_height": "mm", "juice_height": "mm"},
    equation="mud volume = 100 mud/juice",
    known="derived",
)
def mud_volume(mud_height: Numeric, juice_height: Numeric) -> Numeric:
    """Mud of the settling test. [% of the juice's volume] from [mm]."""
    return 100 * mud_height / juice_height
