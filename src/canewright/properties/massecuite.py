"""Massecuite: crystals in their mother liquor taken as a mixture."""

from canewright.ops import Numeric
from canewright.properties import crystal, heat
from canewright.registry import formula


@formula(
    source="own_derivation",
    at="additive volumes of crystal and mother liquor",
    unit="kg/m3",
    given={"crystal_percent": "% mass", "mother_liquor_density": "kg/m3"},
    equation="1/rho = x_c/1587 + (1 - x_c)/rho_ml",
    known="derived",
    valid={"crystal_percent": (0, 70)},
    uncertainty="gas held by boiled massecuite lowers the real value by 1 to 3 %",
)
def massecuite_density(crystal_percent: Numeric, mother_liquor_density: Numeric) -> Numeric:
    """Density of massecuite free of gas.

    Parameters
    ----------
    crystal_percent : numeric
        Crystal in massecuite. [% mass]
    mother_liquor_density : numeric
        Density of the mother liquor. [kg/m3]

    Returns
    -------
    numeric
        Density. [kg/m3]
    """
    x = crystal_percent / 100
    return 1 / (x / crystal.crystal_density() + (1 - x) / mother_liquor_density)


@formula(
    source="own_derivation",
    at="additive volumes of crystal and mother liquor",
    unit="% volume",
    given={"crystal_percent": "% mass", "mother_liquor_density": "kg/m3"},
    equation="f = 100 (x_c/1587) rho_massecuite",
    known="derived",
    valid={"crystal_percent": (0, 70)},
    uncertainty="1 %",
)
def crystal_volume_percent(crystal_percent: Numeric, mother_liquor_density: Numeric) -> Numeric:
    """Crystal in massecuite by volume.

    Parameters
    ----------
    crystal_percent : numeric
        Crystal in massecuite. [% mass]
    mother_liquor_density : numeric
        Density of the mother liquor. [kg/m3]

    Returns
    -------
    numeric
        Crystal. [% volume]
    """
    mixture = massecuite_density(crystal_percent, mother_liquor_density)
    return crystal_percent / crystal.crystal_density() * mixture


@formula(
    source="own_derivation",
    at="mixture of crystal and mother liquor",
    unit="kJ/kg",
    given={
        "crystal_percent": "% mass",
        "mother_liquor_solids": "% mass",
        "mother_liquor_purity": "%",
        "temperature": "degC",
    },
    equation="h = x_c h_c(t) + (1 - x_c) h_ml(w_ml, P_ml, t)",
    known="derived",
    valid={
        "crystal_percent": (0, 70),
        "mother_liquor_solids": (0, 95),
        "mother_liquor_purity": (20, 100),
        "temperature": (0.01, 110),
    },
    uncertainty="3 %",
)
def massecuite_enthalpy(
    crystal_percent: Numeric,
    mother_liquor_solids: Numeric,
    mother_liquor_purity: Numeric,
    temperature: Numeric,
) -> Numeric:
    """Enthalpy of massecuite; the heat of crystallisation is contained in it.

    Parameters
    ----------
    crystal_percent : numeric
        Crystal in massecuite. [% mass]
    mother_liquor_solids : numeric
        True dissolved solids of the mother liquor. [% mass]
    mother_liquor_purity : numeric
        True purity of the mother liquor. [%]
    temperature : numeric
        Temperature. [degC]

    Returns
    -------
    numeric
        Enthalpy over water, dissolved solids and crystal at 0 degC. [kJ/kg]
    """
    x = crystal_percent / 100
    liquor = heat.solution_enthalpy(mother_liquor_solids, mother_liquor_purity, temperature)
    return x * crystal.crystal_enthalpy(temperature) + (1 - x) * liquor


@formula(
    source="krieger1959",
    at="suspension law, maximum packing 64 %, exponent 1.6",
    unit="mPa.s",
    given={"mother_liquor_viscosity": "mPa.s", "crystal_volume": "% volume"},
    equation="mu = mu_ml (1 - f/64)^-1.6",
    known="memory",
    valid={"crystal_volume": (0, 55)},
    uncertainty="factor 2: a law for spheres, not validated on sugar",
)
def massecuite_viscosity(mother_liquor_viscosity: Numeric, crystal_volume: Numeric) -> Numeric:
    """Viscosity of massecuite at low shear.

    Parameters
    ----------
    mother_liquor_viscosity : numeric
        Viscosity of the mother liquor. [mPa.s]
    crystal_volume : numeric
        Crystal in massecuite. [% volume]

    Returns
    -------
    numeric
        Viscosity. [mPa.s]
    """
    return mother_liquor_viscosity * (1 - crystal_volume / 64) ** -1.6
