"""Components that streams can hold, and the conditions they can have."""

SUGARS = ("sucrose", "reducing_sugars")
NON_SUCROSE = ("reducing_sugars", "ash", "organics")
DISSOLVED = ("sucrose", "reducing_sugars", "ash", "organics")
MASS = (*DISSOLVED, "crystal", "fibre", "soil", "water", "so2", "oxygen", "nitrogen")
"""Components with mass, in t/h."""

CARRIED = {
    "colour": "IU.t/h",
    "sulphite": "kg/h",
    "lime": "kg/h",
    "phosphate": "kg/h",
}
"""Quantities that travel with the dissolved solids and have no mass of their own.

Colour is ICUMSA units times t dissolved solids per hour. Sulphite (as SO2), lime (as CaO)
and phosphate (as P2O5) are already counted in the ash; here they are followed by name.
"""

COMPONENTS = {**dict.fromkeys(MASS, "t/h"), **CARRIED, "power": "kW"}
CONDITIONS = {"temperature": "degC", "pressure": "bar abs"}

WORDS = {
    "reducing_sugars": "reducing sugars",
    "so2": "sulphur dioxide",
    "organics": "other non-sugars",
}


def in_words(component: str) -> str:
    """The component as the trade says it: `reducing_sugars` is "reducing sugars"."""
    return WORDS.get(component, component)
