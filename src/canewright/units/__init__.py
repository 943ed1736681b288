"""Units at the edges: what a person writes becomes what the equations hold.

Inside the project every kind of quantity has one unit, listed in `CATALOGUE`. Files,
command lines and forms may use any unit of the same kind; `convert` and `parse_quantity`
bring it to the internal one. The arithmetic of units is pint's, which is imported only
when a conversion really needs it.

A slash divides by all that follows it up to the next slash, as chemists write it:
`W/m2.K` is `W/(m2.K)`.
"""

from canewright.units.catalogue import CATALOGUE
from canewright.units.conversion import (
    STANDARD_ATMOSPHERE,
    canonical,
    convert,
    convert_difference,
    kind,
    parse_difference,
    parse_quantity,
)
from canewright.units.names import nearest_unit
from canewright.units.numbers import UnitError, comma_as_point, read_number

__all__ = [
    "CATALOGUE",
    "STANDARD_ATMOSPHERE",
    "UnitError",
    "canonical",
    "comma_as_point",
    "convert",
    "convert_difference",
    "kind",
    "nearest_unit",
    "parse_difference",
    "parse_quantity",
    "read_number",
]
