"""Pol balance of the factory: losses, undetermined and its doubt, stock in process."""

from canewright.figures.boiling_house_formulas import sjm_recovery
from canewright.ops import Numeric, sqrt
from canewright.registry import formula


@formula(
    source="issct1971",
    at="pol balance",
    unit="t",
    given={
        "pol_in_cane": "t",
        "pol_in_bagasse": "t",
        "pol_in_cake": "t",
        "pol_in_molasses": "t",
        "pol_in_sugar": "t",
    },
    equation="undetermined = cane - bagasse - cake - molasses - sugar",
    known="memory",
    note=(
        "Usual 0.5 to 2.0 % of pol in cane; less or negative is as suspicious as more. Sugar "
        "is made and estimated."
    ),
)
def undetermined_loss(
    pol_in_cane: Numeric,
    pol_in_bagasse: Numeric,
    pol_in_cake: Numeric,
    pol_in_molasses: Numeric,
    pol_in_sugar: Numeric,
) -> Numeric:
    """Pol that no measured stream carries. [t] from [t]."""
    return pol_in_cane - pol_in_bagasse - pol_in_cake - pol_in_molasses - pol_in_sugar


@formula(
    source="issct1971",
    at="pol balance",
    unit="%",
    given={
        "lost_pol": "t",
        "pol_in_cane": "t",
    },
    equation="loss % pol in cane = 100 lost pol / pol in cane",
    known="memory",
)
def loss_percent_pol(
    lost_pol: Numeric,
    pol_in_cane: Numeric,
) -> Numeric:
    """A loss on pol in cane. [%] from [t]."""
    return 100.0 * lost_pol / pol_in_cane


@formula(
    source="own_derivation",
    at="propagation of independent standard uncertainties",
    unit="t",
    given={
        "mixed_juice": "t",
        "sugar": "t",
        "molasses": "t",
        "cake": "t",
        "stock": "t",
    },
    equation="u^2 = u_mj^2 + u_sugar^2 + u_molasses^2 + u_cake^2 + u_stock^2",
    known="derived",
)
def undetermined_uncertainty(
    mixed_juice: Numeric,
    sugar: Numeric,
    molasses: Numeric,
    cake: Numeric,
    stock: Numeric,
) -> Numeric:
    """Standard uncertainty of the undetermined loss from those of its terms. [t] from [t]."""
    return sqrt(mixed_juice**2 + sugar**2 + molasses**2 + cake**2 + stock**2)


@formula(
    source="issct1971",
    at="stock in process",
    unit="t",
    given={
        "volume": "m3",
        "density": "kg/m3",
        "brix": "%",
        "purity": "%",
    },
    equation="pol = V rho (Bx/100) (P/100)",
    known="memory",
)
def pol_in_stock(
    volume: Numeric,
    density: Numeric,
    brix: Numeric,
    purity: Numeric,
) -> Numeric:
    """Pol held in a vessel. [t] from [m3, kg/m3, %]."""
    return volume * density / 1000.0 * brix * purity / 1e4


@formula(
    source="issct1971",
    at="stock in process",
    unit="t",
    given={
        "pol_in_stock": "t",
        "sugar_purity": "%",
        "purity": "%",
        "molasses_purity": "%",
    },
    equation="recoverable = pol x SJM(S, P, M)/100",
    known="memory",
)
def recoverable_in_stock(
    pol_in_stock: Numeric,
    sugar_purity: Numeric,
    purity: Numeric,
    molasses_purity: Numeric,
) -> Numeric:
    """Pol that a stock will give as sugar. [t] from [t, %]."""
    return pol_in_stock * sjm_recovery(sugar_purity, purity, molasses_purity) / 100.0


@formula(
    source="issct1971",
    at="stock in process",
    unit="t",
    given={
        "bagged": "t",
        "closing_recoverable": "t",
        "opening_recoverable": "t",
    },
    equation="made and estimated = bagged + closing - opening recoverable stock",
    known="memory",
)
def made_and_estimated_sugar(
    bagged: Numeric,
    closing_recoverable: Numeric,
    opening_recoverable: Numeric,
) -> Numeric:
    """Sugar of the period with the change of stock. [t] from [t]."""
    return bagged + closing_recoverable - opening_recoverable


@formula(
    source="issct1971",
    at="definitions",
    unit="%",
    given={
        "sugar": "t",
        "cane": "t",
    },
    equation="sugar % cane = 100 sugar / cane",
    known="memory",
)
def sugar_percent_cane(
    sugar: Numeric,
    cane: Numeric,
) -> Numeric:
    """Sugar made on cane. [%] from [t]."""
    return 100.0 * sugar / cane


@formula(
    source="issct1971",
    at="definitions",
    unit="t/t",
    given={
        "cane": "t",
        "sugar": "t",
    },
    equation="t cane / t sugar",
    known="memory",
)
def cane_per_sugar(
    cane: Numeric,
    sugar: Numeric,
) -> Numeric:
    """Cane that one tonne of sugar took. [t/t] from [t]."""
    return cane / sugar
