"""A factory as data: which stations it has, how they are connected, what its instruments are."""

from canewright.flowsheet.connect import Flowsheet, PlacedStation, connect
from canewright.flowsheet.factory import (
    CONTROL_PARTS,
    Certificate,
    CheckStandard,
    Factory,
    FactoryRefused,
    Hold,
    Instrument,
    Limit,
    Spread,
    StationEntry,
)

__all__ = [
    "CONTROL_PARTS",
    "Certificate",
    "CheckStandard",
    "Factory",
    "FactoryRefused",
    "Flowsheet",
    "Hold",
    "Instrument",
    "Limit",
    "PlacedStation",
    "Spread",
    "StationEntry",
    "connect",
]
