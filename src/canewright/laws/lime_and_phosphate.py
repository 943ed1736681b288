"""Lime and phosphate: stoichiometry, dose, milk of lime, precipitated solids.

Quicklime slakes with boiling heat and both lime and phosphoric acid burn skin and eyes:
follow local rules.
"""

from canewright.ops import Numeric
from canewright.registry import formula


@formula(
    source="own_derivation",
    at="stoichiometry, 56.077/64.066",
    unit="t",
    given={
        "sulphur_dioxide": "t",
    },
    equation="CaO = 0.8753 SO2",
    known="derived",
)
def lime_for_sulphur_dioxide(
    sulphur_dioxide: Numeric,
) -> Numeric:
    """Quicklime that neutralises sulphur dioxide to sulphite. [t] from [t]."""
    return sulphur_dioxide * 56.077 / 64.066


@formula(
    source="own_derivation",
    at="stoichiometry, 56.077/32.06",
    unit="t",
    given={
        "sulphur": "t",
    },
    equation="CaO = 1.7491 S",
    known="derived",
)
def lime_for_sulphur(
    sulphur: Numeric,
) -> Numeric:
    """Quicklime for the dioxide of sulphur burnt. [t] from [t]."""
    return sulphur * 56.077 / 32.06


@formula(
    source="own_derivation",
    at="at fixed pH extra SO2 equals extra lime",
    unit="t",
    given={
        "lime": "t",
    },
    equation="SO2 = 1.1425 CaO",
    known="derived",
)
def sulphur_dioxide_for_lime(
    lime: Numeric,
) -> Numeric:
    """Sulphur dioxide that extra lime takes at fixed pH. [t] from [t]."""
    return lime * 64.066 / 56.077


@formula(
    source="own_derivation",
    at="stoichiometry",
    unit="t",
    given={
        "phosphate": "t",
        "calcium_per_phosphorus": "mol/mol",
    },
    equation="CaO = P2O5 x 2 x 56.077/141.944 x Ca/P",
    known="derived",
    note="Precipitates have Ca/P 1.33 to 1.67; 1.5 is usual in balances.",
)
def lime_for_phosphate(
    phosphate: Numeric,
    calcium_per_phosphorus: Numeric,
) -> Numeric:
    """Quicklime bound by phosphate at a molar ratio. [t] from [t, mol/mol]."""
    return phosphate * 2.0 * 56.077 / 141.944 * calcium_per_phosphorus


@formula(
    source="own_derivation",
    at="sum of the acids, the sulphite and the phosphate",
    unit="t",
    given={
        "acid_lime": "t",
        "sulphur_dioxide": "t",
        "precipitated_percent": "%",
        "phosphate_precipitated": "t",
        "available_percent": "%",
        "grit_percent": "%",
    },
    equation="lime = (a + 0.875 f SO2 + 1.185 P2O5) / [available (1 - grit)]",
    known="derived",
    note=("Acids take 0.3 to 0.5 kg CaO/t juice, a figure to fit; the titration fixes it."),
)
def lime_dose(
    acid_lime: Numeric,
    sulphur_dioxide: Numeric,
    precipitated_percent: Numeric,
    phosphate_precipitated: Numeric,
    available_percent: Numeric,
    grit_percent: Numeric,
) -> Numeric:
    """Burnt lime as bought for the duties of juice. [t] from [t, %]."""
    active = (
        acid_lime
        + lime_for_sulphur_dioxide(sulphur_dioxide) * precipitated_percent / 100.0
        + lime_for_phosphate(phosphate_precipitated, 1.5)
    )
    return active * 1e4 / (available_percent * (100.0 - grit_percent))


@formula(
    source="own_derivation",
    at="ideal volumes at 20 °C",
    unit="kg/m3",
    given={
        "lime_concentration": "g/L",
    },
    equation="rho = 998 (1 - v) + m, m = 1.3213 c g/l Ca(OH)2, v = m/2240",
    known="derived",
    note=(
        "The classic table gives 15 Be at 148 g CaO/l, about 5 % higher in Be than ideal volumes."
    ),
)
def milk_density(
    lime_concentration: Numeric,
) -> Numeric:
    """Density of milk of lime from its CaO. [kg/m3] from [g/l]."""
    hydroxide = 1.3213 * lime_concentration
    return 998.0 * (1.0 - hydroxide / 2240.0) + hydroxide


@formula(
    source="common_practice",
    at="modulus 145, liquids heavier than water, relative to water at 20 °C",
    unit="degBe",
    given={
        "density": "kg/m3",
    },
    equation="Be = 145 - 145/d, d = rho/998.2",
    known="memory",
)
def milk_baume(
    density: Numeric,
) -> Numeric:
    """Baumé degrees of milk. [degBe] from [kg/m3]."""
    return 145.0 - 145.0 * 998.2 / density


@formula(
    source="own_derivation",
    at="heats of formation of CaO, H2O and Ca(OH)2",
    unit="MJ",
    given={
        "lime": "t",
    },
    equation="Q = 1159 MJ/t CaO (65.0 kJ/mol)",
    known="derived",
)
def slaking_heat(
    lime: Numeric,
) -> Numeric:
    """Heat of slaking quicklime. [MJ] from [t]."""
    return lime * 65000.0 / 56.077


@formula(
    source="own_derivation",
    at="stoichiometry",
    unit="t",
    given={
        "sulphur_dioxide": "t",
    },
    equation="CaSO3.0.5H2O = SO2 x 129.15/64.066",
    known="derived",
)
def sulphite_solids(
    sulphur_dioxide: Numeric,
) -> Numeric:
    """Calcium sulphite hemihydrate from sulphur dioxide. [t] from [t]."""
    return sulphur_dioxide * 129.15 / 64.066


@formula(
    source="own_derivation",
    at="stoichiometry",
    unit="t",
    given={
        "phosphate": "t",
    },
    equation="Ca3(PO4)2 = P2O5 x 310.18/141.944",
    known="derived",
)
def phosphate_solids(
    phosphate: Numeric,
) -> Numeric:
    """Tricalcium phosphate from P2O5. [t] from [t]."""
    return phosphate * 310.18 / 141.944


@formula(
    source="own_derivation",
    at="P2O5 in H3PO4 0.7243",
    unit="t",
    given={
        "juice": "t",
        "wanted_phosphate": "mg/kg",
        "present_phosphate": "mg/kg",
        "acid_percent": "%",
    },
    equation="acid = juice (wanted - present) 1e-6 / (0.7244 acid fraction)",
    known="derived",
)
def phosphoric_acid_demand(
    juice: Numeric,
    wanted_phosphate: Numeric,
    present_phosphate: Numeric,
    acid_percent: Numeric,
) -> Numeric:
    """Phosphoric acid to bring juice to a P2O5 content. [t] from [t, mg/kg, %]."""
    phosphate = juice * (wanted_phosphate - present_phosphate) * 1e-6
    return phosphate * 2.0 * 97.994 / 141.944 * 100.0 / acid_percent
