"""Time account of the factory: crushing, stops, efficiencies."""

from canewright.ops import Numeric
from canewright.registry import formula


@formula(
    source="sa_thesis_table51",
    at="overall time efficiency",
    unit="%",
    given={
        "crushing_hours": "h",
        "gross_available_hours": "h",
    },
    equation="OTE = 100 crushing / gross available",
    known="read",
    note="Gross available is the season less force majeure.",
)
def overall_time_efficiency(
    crushing_hours: Numeric,
    gross_available_hours: Numeric,
) -> Numeric:
    """Crushing time on gross available time. [%] from [h]."""
    return 100.0 * crushing_hours / gross_available_hours


@formula(
    source="own_derivation",
    at="fits four published mills to 0.03",
    unit="%",
    given={
        "other_stops": "% of gross",
        "overall_time_efficiency": "% of gross",
    },
    equation="lost time = 100 other stops / (OTE + other stops)",
    known="derived",
)
def lost_time_percent_available(
    other_stops: Numeric,
    overall_time_efficiency: Numeric,
) -> Numeric:
    """Stops of the factory itself on the time it had cane and was scheduled. [%] from [%]."""
    return 100.0 * other_stops / (overall_time_efficiency + other_stops)


@formula(
    source="issct1971",
    at="time account",
    unit="%",
    given={
        "lost_time_percent_available": "%",
    },
    equation="mechanical efficiency = 100 - lost time % available",
    known="memory",
)
def mechanical_efficiency(
    lost_time_percent_available: Numeric,
) -> Numeric:
    """Share of available time that the factory did not stop by itself. [%] from [%]."""
    return 100.0 - lost_time_percent_available


@formula(
    source="issct1971",
    at="time account",
    unit="t/h",
    given={
        "cane": "t",
        "crushing_hours": "h",
    },
    equation="rate = cane / crushing hours",
    known="memory",
)
def crushing_rate(
    cane: Numeric,
    crushing_hours: Numeric,
) -> Numeric:
    """Mean rate while crushing. [t/h] from [t, h]."""
    return cane / crushing_hours
