"""pH: the electrode between its two buffers, and the neutral point at a temperature."""

from canewright.ops import Numeric
from canewright.registry import formula


@formula(
    source="own_derivation",
    at="straight line through two buffers",
    unit="pH",
    given={
        "reading": "pH",
        "first_buffer": "pH",
        "first_reading": "pH",
        "second_buffer": "pH",
        "second_reading": "pH",
    },
    equation="pH = b1 + (R - r1)(b2 - b1)/(r2 - r1)",
    known="derived",
    note="The buffers' certified values at the temperature at which they were read.",
)
def ph_between_buffers(
    reading: Numeric,
    first_buffer: Numeric,
    first_reading: Numeric,
    second_buffer: Numeric,
    second_reading: Numeric,
) -> Numeric:
    """Acidity corrected by what two buffers read. [pH] from [pH]."""
    slope = (second_buffer - first_buffer) / (second_reading - first_reading)
    return first_buffer + (reading - first_reading) * slope


@formula(
    source="common_practice",
    at="neutral point of water, 0.017 per K about 25 degC",
    unit="pH",
    given={"temperature": "degC"},
    equation="neutral pH = 7.00 - 0.017 (t - 25)",
    known="memory",
    valid={"temperature": (15, 40)},
    uncertainty="0.03",
    note="""A juice read hot therefore shows a lower pH without being more acid: compare at 20
        to 25 degC.""",
)
def neutral_ph(temperature: Numeric) -> Numeric:
    """Reading of neutral water at this temperature. [pH] from [degC]."""
    return 7.00 - 0.017 * (temperature - 25)
