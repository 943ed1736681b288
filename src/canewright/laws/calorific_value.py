"""Calorific values of bagasse, kJ/kg as fired: gross (water condensed), net (as vapour).

Moisture, ash, Brix and pol are % of wet bagasse. A point of moisture lowers the net value
of a kilogram by nearly 3 % and the heat in the fibre by well under 1 %, since the fibre is
still all there: balance heat, not kJ/kg.
"""

from canewright.ops import Numeric
from canewright.registry import formula

_KILOCALORIE = 4.1868  # kJ
_POUND_BTU = 2.326  # kJ/kg in one Btu/lb
_WET = {"moisture": "% bagasse", "ash": "% bagasse", "brix": "% bagasse"}
_RANGE = {"moisture": (30.0, 60.0), "ash": (0.0, 15.0), "brix": (0.0, 8.0)}
_HUGOT_RANGE = {"moisture": (30.0, 60.0), "pol": (0.0, 6.0)}
_WHY = """Ash is an independent variable, and with dirty cane it is the first correction.
The net row follows from the gross row with 5.91 % hydrogen and water's latent heat at 20 degC,
as the abstract of the paper states; never mix constants of two rows."""


@formula(
    source="don1977",
    at="gross calorific value",
    unit="kJ/kg",
    given=_WET,
    equation="GCV = 19605 - 196.05 w - 196.05 A - 31.14 B",
    known="memory",
    valid=_RANGE,
    uncertainty="2 % between countries",
    family="gross calorific value of bagasse",
    default=True,
    note=_WHY,
)
def gross_calorific_value(moisture: Numeric, ash: Numeric, brix: Numeric) -> Numeric:
    """Gross calorific value of bagasse. [kJ/kg] from [% bagasse]."""
    return 19605.0 - 196.05 * moisture - 196.05 * ash - 31.14 * brix


@formula(
    source="don1977",
    at="net calorific value at 20 degC",
    unit="kJ/kg",
    given=_WET,
    equation="NCV = 18309 - 207.63 w - 196.05 A - 31.14 B",
    known="memory",
    valid=_RANGE,
    uncertainty="2 % between countries",
    family="net calorific value of bagasse",
    default=True,
    note=_WHY,
)
def net_calorific_value(moisture: Numeric, ash: Numeric, brix: Numeric) -> Numeric:
    """Net calorific value of bagasse. [kJ/kg] from [% bagasse]."""
    return 18309.0 - 207.63 * moisture - 196.05 * ash - 31.14 * brix


@formula(
    source="sasta_laboratory_manual",
    at="method 2.3",
    unit="kJ/kg",
    given=_WET,
    equation="NCV = 18260 - 207.01 w - 182.60 A - 31.14 B",
    known="memory",
    valid=_RANGE,
    uncertainty="2 % between countries",
    family="net calorific value of bagasse",
    note="Latent heat at 25 degC and hydrogen on ash-free dry matter.",
)
def net_calorific_value_laboratory(moisture: Numeric, ash: Numeric, brix: Numeric) -> Numeric:
    """Net calorific value of bagasse, laboratory-manual variant. [kJ/kg] from [% bagasse]."""
    return 18260.0 - 207.01 * moisture - 182.60 * ash - 31.14 * brix


@formula(
    source="hugot1986",
    at="gross calorific value of bagasse",
    unit="kJ/kg",
    given={"moisture": "% bagasse", "pol": "% bagasse"},
    equation="GCV = 4.1868 (4600 - 12 s - 46 w)",
    known="memory",
    valid=_HUGOT_RANGE,
    family="gross calorific value of bagasse",
    note="Ash is not a variable of its own: right for clean cane only.",
)
def gross_calorific_value_hugot(moisture: Numeric, pol: Numeric) -> Numeric:
    """Gross calorific value of bagasse by moisture and pol. [kJ/kg] from [% bagasse]."""
    return _KILOCALORIE * (4600.0 - 12.0 * pol - 46.0 * moisture)


@formula(
    source="hugot1986",
    at="net calorific value of bagasse",
    unit="kJ/kg",
    given={"moisture": "% bagasse", "pol": "% bagasse"},
    equation="NCV = 4.1868 (4250 - 12 s - 48.5 w)",
    known="memory",
    valid=_HUGOT_RANGE,
    family="net calorific value of bagasse",
    note="Ash is not a variable of its own: right for clean cane only.",
)
def net_calorific_value_hugot(moisture: Numeric, pol: Numeric) -> Numeric:
    """Net calorific value of bagasse by moisture and pol. [kJ/kg] from [% bagasse]."""
    return _KILOCALORIE * (4250.0 - 12.0 * pol - 48.5 * moisture)


@formula(
    source="steam_generation_and_use",
    at="formula 22",
    unit="kJ/kg",
    given={
        "fibre": "% bagasse",
        "sucrose": "% bagasse",
        "glucose": "% bagasse",
        "moisture": "% bagasse",
    },
    equation="h = 2.326 (8550 F + 7119 S + 6750 G - 972 W)/100",
    known="read",
    valid={"moisture": (30.0, 60.0)},
    note="""Net of evaporating and superheating the moisture only, not of the water made
    from hydrogen: neither a gross nor a net value of today.""",
)
def available_heat(
    fibre: Numeric, sucrose: Numeric, glucose: Numeric, moisture: Numeric
) -> Numeric:
    """Heat available from bagasse by its composition. [kJ/kg] from [% bagasse]."""
    return (
        _POUND_BTU
        * (8550.0 * fibre + 7119.0 * sucrose + 6750.0 * glucose - 972.0 * moisture)
        / 100.0
    )
