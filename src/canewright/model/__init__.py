"""What a station is made of: quantities, ports, equations."""

from canewright.model.equations import (
    Balance,
    Equation,
    Equations,
    conserved,
    same_composition,
)
from canewright.model.heat import condensing_heat, heat_content, vapour_heat
from canewright.model.quantities import Design, Fitted, Quantity, Result, Setting, Stock
from canewright.model.station import Inlet, Outlet, Port, Station, Train, stations

__all__ = [
    "Balance",
    "Design",
    "Equation",
    "Equations",
    "Fitted",
    "Inlet",
    "Outlet",
    "Port",
    "Quantity",
    "Result",
    "Setting",
    "Station",
    "Stock",
    "Train",
    "condensing_heat",
    "conserved",
    "heat_content",
    "same_composition",
    "stations",
    "vapour_heat",
]
