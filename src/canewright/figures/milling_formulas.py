"""Milling models: densities, nip, filling, compound imbibition, capacity.

Definitions of imbibition coefficient and separation efficiency differ between authors;
the names here are plain and the equation beside each number says what is meant.
"""

from canewright.ops import Numeric, sqrt
from canewright.registry import formula


@formula(
    source="murry_holt1967",
    at="no-void density; fibre 1530 kg/m3",
    unit="kg/m3",
    given={
        "fibre_percent": "%",
        "fibre_density": "kg/m3",
        "juice_density": "kg/m3",
    },
    equation="1/d = f/rho_fibre + (1 - f)/rho_juice",
    known="memory",
)
def no_void_density(
    fibre_percent: Numeric,
    fibre_density: Numeric,
    juice_density: Numeric,
) -> Numeric:
    """Density of cane or bagasse without air. [kg/m3] from [%, kg/m3]."""
    return 1.0 / (
        fibre_percent / 100.0 / fibre_density + (1.0 - fibre_percent / 100.0) / juice_density
    )


@formula(
    source="murry_holt1967",
    at="escribed volume",
    unit="m3/h",
    given={
        "work_opening": "mm",
        "roller_length": "m",
        "surface_speed": "m/s",
    },
    equation="escribed volume = W L v",
    known="memory",
)
def escribed_volume_rate(
    work_opening: Numeric,
    roller_length: Numeric,
    surface_speed: Numeric,
) -> Numeric:
    """Volume swept by a nip at its work opening. [m3/h] from [mm, m, m/s]."""
    return 3.6 * work_opening * roller_length * surface_speed


@formula(
    source="murry_holt1967",
    at="filling ratio",
    unit="m3/m3",
    given={
        "fibre_rate": "t/h",
        "fibre_density": "kg/m3",
        "escribed_volume_rate": "m3/h",
    },
    equation="C = fibre volume / escribed volume",
    known="memory",
)
def filling_ratio(
    fibre_rate: Numeric,
    fibre_density: Numeric,
    escribed_volume_rate: Numeric,
) -> Numeric:
    """Fibre volume on escribed volume. [m3/m3] from [t/h, kg/m3, m3/h]."""
    return 1000.0 * fibre_rate / fibre_density / escribed_volume_rate


@formula(
    source="murry_holt1967",
    at="compaction",
    unit="kg/m3",
    given={
        "fibre_rate": "t/h",
        "escribed_volume_rate": "m3/h",
    },
    equation="compaction = kg fibre per m3 escribed",
    known="memory",
    note="500 to 900 in practice.",
)
def compaction(
    fibre_rate: Numeric,
    escribed_volume_rate: Numeric,
) -> Numeric:
    """Fibre packed into the escribed volume. [kg/m3] from [t/h, m3/h]."""
    return 1000.0 * fibre_rate / escribed_volume_rate


@formula(
    source="murry_holt1967",
    at="reabsorption factor",
    unit="m3/m3",
    given={
        "bagasse_rate": "t/h",
        "no_void_density": "kg/m3",
        "escribed_volume_rate": "m3/h",
    },
    equation="k = no-void bagasse volume / escribed volume",
    known="memory",
    note="1.2 to 1.5; rises with speed and compaction.",
)
def reabsorption_factor(
    bagasse_rate: Numeric,
    no_void_density: Numeric,
    escribed_volume_rate: Numeric,
) -> Numeric:
    """Bagasse volume without air on escribed volume. [m3/m3] from [t/h, kg/m3, m3/h]."""
    return 1000.0 * bagasse_rate / no_void_density / escribed_volume_rate


@formula(
    source="own_derivation",
    at="volume balance on a nip",
    unit="%",
    given={
        "reabsorption_factor": "m3/m3",
        "filling_ratio": "m3/m3",
        "fibre_percent": "%",
        "juice_density": "kg/m3",
        "fibre_density": "kg/m3",
    },
    equation="e = 100 [1 - (k/C - 1) f/(100 - f) rho_juice/rho_fibre]",
    known="derived",
)
def nip_juice_extraction(
    reabsorption_factor: Numeric,
    filling_ratio: Numeric,
    fibre_percent: Numeric,
    juice_density: Numeric,
    fibre_density: Numeric,
) -> Numeric:
    """Juice expressed at a nip, on the juice that enters. [%] from [m3/m3, %, kg/m3]."""
    left = (reabsorption_factor / filling_ratio - 1.0) * juice_density / fibre_density
    return 100.0 * (1.0 - left * fibre_percent / (100.0 - fibre_percent))


@formula(
    source="own_derivation",
    at="delivery setting from the reabsorption factor",
    unit="mm",
    given={
        "fibre_rate": "t/h",
        "fibre_percent_bagasse": "%",
        "fibre_density": "kg/m3",
        "juice_density": "kg/m3",
        "reabsorption_factor": "m3/m3",
        "roller_length": "m",
        "surface_speed": "m/s",
    },
    equation="W = (fibre rate/f) [f/rho_fibre + (1 - f)/rho_juice] / (k L v)",
    known="derived",
)
def delivery_work_opening(
    fibre_rate: Numeric,
    fibre_percent_bagasse: Numeric,
    fibre_density: Numeric,
    juice_density: Numeric,
    reabsorption_factor: Numeric,
    roller_length: Numeric,
    surface_speed: Numeric,
) -> Numeric:
    """Work opening at delivery for a wanted bagasse. [mm] from [t/h, %, kg/m3, m3/m3, m, m/s].

    The set opening is the work opening less the allowance for roller lift.
    """
    share = fibre_percent_bagasse / 100.0
    specific_volume = share / fibre_density + (1.0 - share) / juice_density
    volume_rate = 1000.0 * fibre_rate / share * specific_volume
    return volume_rate / (3.6 * reabsorption_factor * roller_length * surface_speed)


@formula(
    source="hugot1986",
    at="compound imbibition, perfect mixing (Kremser)",
    unit="%",
    given={
        "dry_extraction": "%",
        "liquid_ratio": "t/t",
        "wet_mills": "count, whole",
    },
    equation=("E = 100 - (100 - E1) / (1 + L + L^2 + ... + L^N), L = imbibition / residual juice"),
    known="memory",
    family="imbibition",
    default=True,
    note="Compound imbibition is the usual arrangement of a milling train.",
)
def compound_imbibition_extraction(
    dry_extraction: Numeric,
    liquid_ratio: Numeric,
    wet_mills: int,
) -> Numeric:
    """Extraction of a train with compound imbibition and perfect mixing. [%] from [%, t/t, count].

    Real mixing is less: multiply by a mixing coefficient fitted to the Brix curve. The number
    of wet mills is a whole number and is not traced.
    """
    left = sum(liquid_ratio**power for power in range(wet_mills + 1))
    return 100.0 - (100.0 - dry_extraction) / left


@formula(
    source="hugot1986",
    at="simple imbibition, perfect mixing",
    unit="%",
    given={
        "dry_extraction": "%",
        "liquid_ratio": "t/t",
        "wet_mills": "count, whole",
    },
    equation="E = 100 - (100 - E1) / (1 + L)^N",
    known="memory",
    family="imbibition",
)
def simple_imbibition_extraction(
    dry_extraction: Numeric,
    liquid_ratio: Numeric,
    wet_mills: int,
) -> Numeric:
    """Extraction of a train with fresh water at each wet mill. [%] from [%, t/t, count].

    The number of wet mills is a whole number and is not traced.
    """
    return 100.0 - (100.0 - dry_extraction) / (1.0 + liquid_ratio) ** wet_mills


@formula(
    source="hugot1986",
    at="capacity of a milling train, by way of a lecture note",
    unit="t/h",
    given={
        "preparation_coefficient": "-",
        "roller_speed": "1/min",
        "roller_length": "m",
        "roller_diameter": "m",
        "rollers": "count",
        "fibre_percent_cane": "%",
    },
    equation="A = 0.9 c n (1 - 0.06 n D) L D^2 sqrt(N) / f, f as a decimal",
    known="memory",
    valid={"roller_speed": (0, 9.0), "preparation_coefficient": (1.0, 1.3)},
    note=(
        "Warning: at speeds near 1/(0.12 D), 9.26 1/min at 0.9 m, the equation turns over and"
        " says nothing. The radical was lost in the copy seen and is restored from memory."
    ),
)
def train_capacity(
    preparation_coefficient: Numeric,
    roller_speed: Numeric,
    roller_length: Numeric,
    roller_diameter: Numeric,
    rollers: Numeric,
    fibre_percent_cane: Numeric,
) -> Numeric:
    """Cane a train can take. [t/h] from [-, 1/min, m, count, %].

    The quadratic in speed peaks at n = 1/(0.12 D): do not optimise speed with it.
    """
    swept = roller_speed * (1.0 - 0.06 * roller_speed * roller_diameter) * roller_length
    return (
        0.9
        * preparation_coefficient
        * swept
        * roller_diameter**2
        * sqrt(rollers)
        / (fibre_percent_cane / 100.0)
    )


@formula(
    source="mill_extraction_lecture",
    at="installed power: 22 for four mills, 20 for five, 18 for six",
    unit="kW",
    given={
        "fibre_rate": "t/h",
        "mills": "count",
        "power_per_mill": "kW h/t",
    },
    equation="power = fibre rate x number of mills x kW per t fibre/h and mill",
    known="read",
    note="Absorbed power is typically 50 to 70 % of installed.",
)
def installed_mill_power(
    fibre_rate: Numeric,
    mills: Numeric,
    power_per_mill: Numeric,
) -> Numeric:
    """Installed power of the mills. [kW] from [t/h, count, kW h/t]."""
    return fibre_rate * mills * power_per_mill


@formula(
    source="mill_extraction_lecture",
    at="levelling knives 6, first knives 15, second knives 30, shredder 60",
    unit="kW",
    given={
        "fibre_rate": "t/h",
        "power_per_fibre": "kW h/t",
    },
    equation="power = fibre rate x kW per t fibre/h",
    known="read",
    note="Total of the four machines 111 kW h/t; industry mean 84.",
)
def installed_preparation_power(
    fibre_rate: Numeric,
    power_per_fibre: Numeric,
) -> Numeric:
    """Installed power of cane preparation. [kW] from [t/h, kW h/t]."""
    return fibre_rate * power_per_fibre


@formula(
    source="own_derivation",
    at="maximum of the capacity quadratic",
    unit="1/min",
    given={
        "roller_diameter": "m",
    },
    equation="n = 1/(0.12 D)",
    known="derived",
)
def peak_roller_speed(
    roller_diameter: Numeric,
) -> Numeric:
    """Speed at which the capacity formula turns over and stops being usable. [1/min] from [m]."""
    return 1.0 / (0.12 * roller_diameter)
