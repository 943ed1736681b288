"""What to mind where an answer touches a hazard. It reminds; local codes decide."""

from collections.abc import Sequence

CAUTIONS = {
    "sulphur dioxide": "Sulphur dioxide is toxic even when thin: watch the stack, "
    "the tower's draught and the air around it when the burner is changed.",
    "lime": "Lime burns eyes and skin and heats when it is slaked: goggles and gloves.",
    "steam and vacuum": "Steam and vacuum: change pressures slowly, isolate and vent before "
    "anything is opened.",
    "rotating machinery": "Rotating machinery: stop, lock and tag before anyone reaches in.",
    "confined spaces": "Vessels are confined spaces: test the air, have a permit and someone "
    "outside.",
    "sugar dust": "Sugar dust explodes: mind dust, hot surfaces and static when air or heat is "
    "changed.",
    "lead salts": "Lead salts are toxic and their waste is hazardous.",
    "ethanol": "Ethanol vapour catches fire: no flame, good air.",
}
DEFERS = (
    "Local codes and licensed practice come first. canewright advises; it writes to no control "
    "system."
)


def sentences_of(keys: Sequence[str]) -> list[str]:
    """Sentences for the cautions of stations, and who decides; empty where there are none."""
    said = [CAUTIONS.get(key, f"Mind {key}.") for key in dict.fromkeys(keys)]
    return [*said, DEFERS] if said else []
