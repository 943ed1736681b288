"""Bagasse: bulk densities and the volume without voids."""

from canewright.ops import Numeric
from canewright.registry import formula


@formula(
    source="bagasse_storage_pages",
    at="heaped bagasse of 45 to 55 % moisture, middle of 160 to 200 kg/m3",
    unit="kg/m3",
    given={},
    equation="rho = 180",
    known="read",
    uncertainty="20 kg/m3; another trade page gives 100 to 200",
)
def heaped_density() -> float:
    """Bulk density of bagasse in a heap.

    Returns
    -------
    float
        Wet mass per volume of heap. [kg/m3]
    """
    return 180.0


@formula(
    source="common_practice",
    at="loose bagasse as it falls from a carrier, middle of 80 to 120 kg/m3",
    unit="kg/m3",
    given={},
    equation="rho = 100",
    known="memory",
    uncertainty="20 kg/m3",
)
def loose_density() -> float:
    """Bulk density of loose bagasse.

    Returns
    -------
    float
        Wet mass per volume. [kg/m3]
    """
    return 100.0


@formula(
    source="common_practice",
    at="fibre of cane without voids",
    unit="kg/m3",
    given={},
    equation="rho = 1530",
    known="memory",
    uncertainty="30 kg/m3",
)
def fibre_density() -> float:
    """Density of dry fibre without voids.

    Returns
    -------
    float
        Density. [kg/m3]
    """
    return 1530.0


@formula(
    source="own_derivation",
    at="additive volumes of fibre and juice",
    unit="kg/m3",
    given={"fibre": "% mass", "juice_density": "kg/m3"},
    equation="1/rho = (F/100)/1530 + (1 - F/100)/rho_juice",
    known="derived",
    valid={"fibre": (10, 60), "juice_density": (980, 1100)},
    uncertainty="1 %, before the air in the bed",
)
def density_without_voids(fibre: Numeric, juice_density: Numeric) -> Numeric:
    """Density of prepared cane or bagasse squeezed free of air.

    Parameters
    ----------
    fibre : numeric
        Fibre. [% mass]
    juice_density : numeric
        Density of the juice in it. [kg/m3]

    Returns
    -------
    numeric
        Density. [kg/m3]
    """
    share = fibre / 100
    return 1 / (share / fibre_density() + (1 - share) / juice_density)
