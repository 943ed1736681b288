"""Worth at the margin: steam, water, purity, polarisation; the stock of a bagasse pile.

Money is in the user's currency; no price here is a default. The worth of a tonne of steam
depends on the regime of the factory, and the regime comes first:

(a) exhaust is blowing off: nothing; (b) steam is let down and surplus bagasse is sold: the
price of bagasse over the evaporation coefficient; (c) an extraction-condensing set runs: the
power of its tail; (d) fuel is short: the auxiliary fuel; (e) boiler or evaporator is at its
limit: the shadow price of throughput.

Pol won back from bagasse or cake is worth only the share that becomes sugar, by the purity
of the juice it comes with: the formula is `boiling_house_formulas.sjm_recovery`.
"""

from dataclasses import dataclass

from canewright.ops import Numeric, smooth_positive, sqrt
from canewright.registry import formula


@dataclass(frozen=True)
class PolarisationScale:
    """Premiums and discounts of raw sugar by its polarisation, % of the price.

    Attributes
    ----------
    base : float
        Polarisation [% pol] that is paid at the price.
    above, below : tuple of (float, float)
        Steps from the base outwards: (polarisation at which the step ends, % of price for
        each degree within it). Beyond the last step its rate goes on.
    source : str
        Where the scale was read. Contracts change: the user edits it.
    """

    base: float
    above: tuple[tuple[float, float], ...]
    below: tuple[tuple[float, float], ...]
    source: str

    def premium(self, polarisation: Numeric, rounding: float = 1e-4) -> Numeric:
        """Premium over the price at the base. [% of price] from [% pol].

        The corners between steps are rounded over `rounding` degrees, so that the scale
        can stand in an equation; this moves a premium by less than 1e-4 % of the price.
        """
        total: Numeric = 0.0
        for side, steps in ((1.0, self.above), (-1.0, self.below)):
            distance = side * (polarisation - self.base)
            start, rate_before = 0.0, 0.0
            for end, rate in steps:
                beyond = smooth_positive(distance - start, rounding)
                total = total + side * (rate - rate_before) * beyond
                start, rate_before = side * (end - self.base), rate
        return total


EXCHANGE_SCALE = PolarisationScale(
    base=96.0,
    above=((97.0, 1.50), (98.0, 1.25), (100.0, 1.00)),
    below=((95.0, 1.60), (94.0, 2.00)),
    source="exchange_grading",
)


@formula(
    source="exchange_grading",
    at="grading table of raw sugar",
    unit="% of price",
    given={"polarisation": "% pol"},
    equation="""premium = 1.50 per degree from 96 to 97, 1.25 to 98, 1.00 above;
    discount = 1.60 from 96 to 95, 2.00 below; pro rata""",
    known="read",
    valid={"polarisation": (94.0, 100.0)},
    note="""A contract change of 2017 pays 4.20 % for 99.3 by steps we did not see: build
    another `PolarisationScale` for another contract.""",
)
def polarisation_premium(polarisation: Numeric) -> Numeric:
    """Premium of raw sugar over the price at 96. [% of price] from [% pol]."""
    return EXCHANGE_SCALE.premium(polarisation)


@formula(
    source="own_derivation",
    at="steam regime (b): let-down in use and surplus bagasse sold",
    unit="money/t steam",
    given={"bagasse_price": "money/t bagasse", "evaporation_coefficient": "t/t"},
    equation="value = price/coefficient",
    known="derived",
)
def steam_value_by_bagasse(bagasse_price: Numeric, evaporation_coefficient: Numeric) -> Numeric:
    """Worth of steam when saved steam leaves bagasse to sell. [money/t] from [money/t, t/t]."""
    return bagasse_price / evaporation_coefficient


@formula(
    source="own_derivation",
    at="steam regime (c): extraction-condensing set",
    unit="money/t steam",
    given={"power_per_steam": "kWh/t", "power_price": "money/MWh"},
    equation="value = power price/1000",
    known="derived",
)
def steam_value_by_power(power_per_steam: Numeric, power_price: Numeric) -> Numeric:
    """Worth of steam that can run on through a condensing tail. [money/t] from [kWh/t, /MWh]."""
    return power_per_steam * power_price / 1000.0


@formula(
    source="own_derivation",
    at="one point of imbibition on fibre and the extraction it brings",
    unit="kg pol/t water",
    given={
        "pol_percent_cane": "% cane",
        "fibre_percent_cane": "% cane",
        "extraction_gain": "point of extraction per point of imbibition % fibre",
    },
    equation="gain = 1000 [1000 (P/100)(dE/100)]/(F/10) = 1000 P dE/F",
    known="derived",
    note="Take the extraction gain from the fitted milling model, not from this example.",
)
def pol_per_imbibition_water(
    pol_percent_cane: Numeric, fibre_percent_cane: Numeric, extraction_gain: Numeric
) -> Numeric:
    """Pol that one more tonne of imbibition water wins. [kg/t water] from [% cane, point]."""
    water = fibre_percent_cane / 10.0  # kg of water per t cane in one point
    pol = pol_percent_cane / 100.0 * extraction_gain / 100.0 * 1000.0  # kg per t cane
    return 1000.0 * pol / water


@formula(
    source="own_derivation",
    at="balance of pol in final molasses at constant non-pol",
    unit="t",
    given={"non_pol": "t", "purity_now": "% mass", "purity_then": "% mass"},
    equation="pol lost = N [M2/(100 - M2) - M1/(100 - M1)]",
    known="derived",
)
def pol_lost_by_molasses_purity(
    non_pol: Numeric, purity_now: Numeric, purity_then: Numeric
) -> Numeric:
    """Pol that a change of molasses purity sends to molasses. [t] from [t, % mass]."""
    return non_pol * (purity_then / (100.0 - purity_then) - purity_now / (100.0 - purity_now))


@formula(
    source="own_derivation",
    at="oxygen that sucrose takes to burn: 384 g for 342 g",
    unit="kg sucrose/t cane",
    given={"effluent": "m3/t cane", "oxygen_demand": "mg/l"},
    equation="sucrose = effluent COD/1000/(384/342)",
    known="derived",
    note="All of the demand is taken for sugar: an upper limit, and an alarm.",
)
def sucrose_in_effluent(effluent: Numeric, oxygen_demand: Numeric) -> Numeric:
    """Sucrose that leaves with effluent, by its oxygen demand. [kg/t cane] from [m3/t, mg/l]."""
    return effluent * oxygen_demand / 1000.0 / (384.0 / 342.0)


@formula(
    source="bagasse_pile_survey",
    at="volume of a frustum",
    unit="m3",
    given={"height": "m", "base_area": "m2", "top_area": "m2"},
    equation="V = h [A1 + A2 + sqrt(A1 A2)]/3",
    known="read",
    uncertainty="surveys run 2 to 3 % low",
)
def pile_volume(height: Numeric, base_area: Numeric, top_area: Numeric) -> Numeric:
    """Volume of a pile of bagasse with a flat top. [m3] from [m, m2, m2]."""
    return height * (base_area + top_area + sqrt(base_area * top_area)) / 3.0


@formula(
    source="own_derivation",
    at="volume times bulk density",
    unit="t",
    given={"volume": "m3", "bulk_density": "kg/m3"},
    equation="stock = V rho/1000",
    known="derived",
    valid={"bulk_density": (80.0, 250.0)},
    note="Stacked bagasse of 48 % moisture is read as 200 kg/m3, loose as 80 to 130 (memory).",
)
def pile_stock(volume: Numeric, bulk_density: Numeric) -> Numeric:
    """Bagasse in a pile. [t] from [m3, kg/m3]."""
    return volume * bulk_density / 1000.0
