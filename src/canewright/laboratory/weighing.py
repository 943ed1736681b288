"""Weighing: drying losses, residues, purity, and net weights of bags."""

from canewright.ops import Numeric
from canewright.registry import formula


@formula(
    source="own_derivation",
    at="three weighings of one dish",
    unit="%",
    given={"dish": "g", "dish_and_sample": "g", "dish_and_dry": "g"},
    equation="moisture = 100 (full - dry)/(full - dish)",
    known="derived",
)
def loss_on_drying(dish: Numeric, dish_and_sample: Numeric, dish_and_dry: Numeric) -> Numeric:
    """Loss on drying of a sample weighed in a dish. [%] from [g]."""
    return 100 * (dish_and_sample - dish_and_dry) / (dish_and_sample - dish)


@formula(
    source="own_derivation",
    at="three weighings of one dish",
    unit="%",
    given={"dish": "g", "dish_and_sample": "g", "dish_and_dry": "g"},
    equation="residue = 100 (dry - dish)/(full - dish)",
    known="derived",
)
def residue_percent(dish: Numeric, dish_and_sample: Numeric, dish_and_dry: Numeric) -> Numeric:
    """Residue after drying or ashing of a sample weighed in a dish. [%] from [g]."""
    return 100 * (dish_and_dry - dish) / (dish_and_sample - dish)


@formula(
    source="purity_definitions",
    at="sugar % solids, kinds named beside the number",
    unit="%",
    given={"sugar": "%", "solids": "%"},
    equation="purity = 100 sugar/solids",
    known="memory",
    note="""Apparent: pol and refractometer Brix. Gravity: sucrose by inversion and spindle
        Brix. True: sucrose by chromatography and dry solids. In molasses apparent is lower
        than gravity and gravity lower than true, by several units.""",
)
def purity(sugar: Numeric, solids: Numeric) -> Numeric:
    """Purity, of the kind that sugar and solids are of. [%] from [%]."""
    return 100 * sugar / solids


@formula(
    source="own_derivation",
    at="gross less tare",
    unit="kg",
    given={"gross": "kg", "tare": "kg"},
    equation="net = gross - tare",
    known="derived",
)
def net_weight(gross: Numeric, tare: Numeric) -> Numeric:
    """Net weight of a bag. [kg] from [kg]."""
    return gross - tare


@formula(
    source="own_derivation",
    at="excess over the weight on the label",
    unit="g",
    given={"net": "kg", "label": "kg"},
    equation="giveaway = 1000 (net - label)",
    known="derived",
)
def giveaway(net: Numeric, label: Numeric) -> Numeric:
    """What is in a bag above its label. [g] from [kg]."""
    return 1000 * (net - label)
