"""Mud filtration: retention, recycle, wash, pol of cake, and the terms of the station loop.

Filters and mud tanks are confined spaces: carbon dioxide and hydrogen sulphide from
soured mud. Follow the local permit system.
"""

from canewright.ops import Numeric, sqrt
from canewright.registry import formula


@formula(
    source="own_derivation",
    at="two balances on one filter, no wash",
    unit="%",
    given={
        "mud_solids": "%",
        "filtrate_solids": "%",
        "cake_solids": "%",
    },
    equation="Rt = 100 k (m - f) / [m (k - f)]",
    known="derived",
    note="75 to 90 % in good work.",
)
def retention(
    mud_solids: Numeric,
    filtrate_solids: Numeric,
    cake_solids: Numeric,
) -> Numeric:
    """Insoluble solids kept in cake from three solids contents. [%] from [%]."""
    return (
        100.0
        * cake_solids
        * (mud_solids - filtrate_solids)
        / (mud_solids * (cake_solids - filtrate_solids))
    )


@formula(
    source="own_derivation",
    at="balance on the clarifier and the filter",
    unit="t/t",
    given={
        "retention": "%",
    },
    equation="mud solids circulating / net = 100 / Rt",
    known="derived",
)
def recycle_factor(
    retention: Numeric,
) -> Numeric:
    """How often mud solids pass the clarifier. [t/t] from [%]."""
    return 100.0 / retention


@formula(
    source="own_derivation",
    at="stoichiometry",
    unit="t",
    given={
        "juice_insolubles": "t",
        "sulphur_dioxide_precipitated": "t",
        "phosphate_precipitated": "t",
    },
    equation="N = insolubles + SO2 x 129.15/64.06 + 2.185 P2O5",
    known="derived",
)
def new_insolubles(
    juice_insolubles: Numeric,
    sulphur_dioxide_precipitated: Numeric,
    phosphate_precipitated: Numeric,
) -> Numeric:
    """Insoluble solids new to the clarifier. [t] from [t]."""
    return (
        juice_insolubles
        + sulphur_dioxide_precipitated * 129.15 / 64.06
        + 2.185 * phosphate_precipitated
    )


@formula(
    source="own_derivation",
    at="balance on the clarifier and the filter",
    unit="t",
    given={
        "new_insolubles": "t",
        "bagacillo_dry": "t",
        "retention": "%",
    },
    equation="X = [N + (1 - Rt) B] / Rt",
    known="derived",
)
def circulating_insolubles(
    new_insolubles: Numeric,
    bagacillo_dry: Numeric,
    retention: Numeric,
) -> Numeric:
    """Insoluble solids in the mud, with those the filtrate brings back. [t] from [t, %]."""
    return (new_insolubles + (1.0 - retention / 100.0) * bagacillo_dry) * 100.0 / retention


@formula(
    source="own_derivation",
    at="balance on insoluble solids",
    unit="t",
    given={
        "new_insolubles": "t",
        "bagacillo_dry": "t",
        "cake_solids": "%",
    },
    equation="cake = (N + B)/k",
    known="derived",
)
def cake_mass(
    new_insolubles: Numeric,
    bagacillo_dry: Numeric,
    cake_solids: Numeric,
) -> Numeric:
    """Filter cake: fixed by insolubles, bagacillo and cake moisture. [t] from [t, %]."""
    return (new_insolubles + bagacillo_dry) * 100.0 / cake_solids


@formula(
    source="own_derivation",
    at="mass balance of the filter",
    unit="t",
    given={
        "mud": "t",
        "bagacillo": "t",
        "wash_water": "t",
        "cake": "t",
    },
    equation="filtrate = mud + bagacillo + wash - cake",
    known="derived",
)
def filtrate_mass(
    mud: Numeric,
    bagacillo: Numeric,
    wash_water: Numeric,
    cake: Numeric,
) -> Numeric:
    """Filtrate from the other four streams. [t] from [t]."""
    return mud + bagacillo + wash_water - cake


@formula(
    source="own_derivation",
    at="mass balance of the clarifier",
    unit="t",
    given={
        "limed_juice": "t",
        "flash_percent": "%",
        "mud": "t",
    },
    equation="clear juice = limed (1 - flash) - mud",
    known="derived",
)
def clear_juice_mass(
    limed_juice: Numeric,
    flash_percent: Numeric,
    mud: Numeric,
) -> Numeric:
    """Clear juice after flash and mud. [t] from [t, %]."""
    return limed_juice * (1.0 - flash_percent / 100.0) - mud


@formula(
    source="own_derivation",
    at="equal displacement steps; E 50 to 70 % is practice",
    unit="%",
    given={
        "displacement_efficiency": "%",
        "wash_ratio": "t/t",
    },
    equation="left = 100 (1 - E)^n, n = wash / liquor in cake",
    known="derived",
)
def soluble_left_after_wash(
    displacement_efficiency: Numeric,
    wash_ratio: Numeric,
) -> Numeric:
    """Soluble matter left in the cake liquor after washing. [%] from [%, t/t]."""
    return 100.0 * (1.0 - displacement_efficiency / 100.0) ** wash_ratio


@formula(
    source="own_derivation",
    at="liquor held in the cake",
    unit="%",
    given={
        "cake_moisture": "%",
        "liquor_pol": "%",
        "soluble_left": "%",
    },
    equation="pol % cake = liquor fraction x liquor pol x left",
    known="derived",
)
def pol_percent_cake(
    cake_moisture: Numeric,
    liquor_pol: Numeric,
    soluble_left: Numeric,
) -> Numeric:
    """Pol of filter cake. [%] from [%]."""
    return cake_moisture * liquor_pol * soluble_left / 1e4


@formula(
    source="ruth1935",
    at="constant-pressure cake filtration without medium resistance, on a drum",
    unit="m3/(m2 h)",
    given={
        "pressure_difference": "bar",
        "submergence": "%",
        "drum_speed": "1/min",
        "viscosity": "mPa s",
        "specific_resistance": "m/kg",
        "solids_per_filtrate": "kg/m3",
    },
    equation="rate = sqrt(2 dp psi n / (mu alpha c))",
    known="memory",
)
def drum_filtration_rate(
    pressure_difference: Numeric,
    submergence: Numeric,
    drum_speed: Numeric,
    viscosity: Numeric,
    specific_resistance: Numeric,
    solids_per_filtrate: Numeric,
) -> Numeric:
    """Filtrate per drum area. [m3/(m2 h)]."""
    seconds = 2.0 * pressure_difference * 1e5 * submergence / 100.0 * drum_speed / 60.0
    return 3600.0 * sqrt(seconds / (viscosity / 1000.0 * specific_resistance * solids_per_filtrate))


@formula(
    source="ruth1935",
    at="constant-pressure filtration with medium resistance",
    unit="m3",
    given={
        "area": "m2",
        "pressure_difference": "bar",
        "time": "min",
        "viscosity": "mPa s",
        "specific_resistance": "m/kg",
        "solids_per_filtrate": "kg/m3",
        "medium_volume": "m3",
    },
    equation="V^2 + 2 V Ve = 2 A^2 dp t/(mu alpha c)",
    known="memory",
)
def drum_filtrate_at_constant_pressure(
    area: Numeric,
    pressure_difference: Numeric,
    time: Numeric,
    viscosity: Numeric,
    specific_resistance: Numeric,
    solids_per_filtrate: Numeric,
    medium_volume: Numeric,
) -> Numeric:
    """Filtrate in a time at constant pressure. [m3]."""
    drive = 2.0 * area**2 * pressure_difference * 1e5 * time * 60.0
    resistance = viscosity / 1000.0 * specific_resistance * solids_per_filtrate
    return sqrt(medium_volume**2 + drive / resistance) - medium_volume
