"""Ash: by conductivity, and by weighing."""

from canewright.ops import Numeric
from canewright.registry import formula


@formula(
    source="icumsa_conductivity_ash",
    at="temperature coefficient, within 5 K of 20 degC",
    unit="uS/cm",
    given={"conductivity": "uS/cm", "temperature": "degC"},
    equation="C20 = C/[1 + 0.026 (t - 20)]",
    known="memory",
    valid={"temperature": (15, 25)},
)
def conductivity_at_20(conductivity: Numeric, temperature: Numeric) -> Numeric:
    """Conductivity at 20 degC of one read nearby. [uS/cm] from [uS/cm, degC]."""
    return conductivity / (1 + 0.026 * (temperature - 20))


@formula(
    source="icumsa_conductivity_ash",
    at="certified over read, potassium chloride at 20 degC: 1278 at 0.01 mol/L",
    unit="1",
    given={"certified": "uS/cm", "reading": "uS/cm"},
    equation="factor = certified/reading",
    known="memory",
)
def cell_factor(certified: Numeric, reading: Numeric) -> Numeric:
    """Factor by which a conductivity cell's readings must be multiplied. [1] from [uS/cm]."""
    return certified / reading


@formula(
    source="is_15279",
    at="amendment 1 (2011): factor 6e-4; the part of the water is from memory",
    unit="%",
    given={"conductivity": "uS/cm", "water_conductivity": "uS/cm"},
    equation="ash = 6e-4 (C28 - 0.35 C_water), 28 g in 100 g, at 20 degC",
    known="read",
    uncertainty="by convention; nearness to weighed ash 10 %",
)
def ash_of_white_sugar(conductivity: Numeric, water_conductivity: Numeric) -> Numeric:
    """Conductivity ash of white and plantation white sugar. [%] from [uS/cm at 20 degC]."""
    return 6e-4 * (conductivity - 0.35 * water_conductivity)


@formula(
    source="icumsa_conductivity_ash",
    at="raw method, 5 g/100 mL; (16.2 + 0.36 D) for other strengths",
    unit="%",
    given={
        "conductivity": "uS/cm",
        "water_conductivity": "uS/cm",
        "sample_mass": "g/100 mL",
    },
    equation="ash = (16.2 + 0.36 D) 1e-4 (C - C_water) 5/D; at D = 5: 18e-4 (C - C_water)",
    known="memory",
    valid={"sample_mass": (0.5, 6)},
    uncertainty="by convention; nearness to weighed ash 10 %",
)
def ash_of_raw_sugar(
    conductivity: Numeric, water_conductivity: Numeric, sample_mass: Numeric
) -> Numeric:
    """Conductivity ash of raw sugar, juice, syrup or molasses. [%]."""
    factor = (16.2 + 0.36 * sample_mass) * 1e-4
    return factor * (conductivity - water_conductivity) * 5 / sample_mass


@formula(
    source="icumsa_conductivity_ash",
    at="carbonated ash about 0.9 of sulphated ash",
    unit="%",
    given={"sulphated_ash": "%"},
    equation="carbonated = 0.9 sulphated",
    known="memory",
    uncertainty="5 %",
)
def carbonated_ash(sulphated_ash: Numeric) -> Numeric:
    """Carbonated ash from sulphated ash. [%] from [%]."""
    return 0.9 * sulphated_ash
