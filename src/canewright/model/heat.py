"""Heat content of a stream, additive over its components, so that heat balances stay simple.

The additive form is the default enthalpy of a sugar solution (properties: heat) times the
flow: a sum over components with no division in it.
"""

from canewright.ops import Numeric
from canewright.properties import crystal, heat, steam
from canewright.streams import State

FIBRE_SPECIFIC_HEAT = 1.3
"""Dry fibre, kJ/(kg.K) [common_practice]."""

SOIL_SPECIFIC_HEAT = 0.9
"""Earth and precipitated salts, kJ/(kg.K) [common_practice]."""

NON_SUGAR_SHORTFALL = 0.46
"""Specific heat of dissolved sucrose less that of other solids, kJ/(kg.K) [bubnik1995]."""

GAS_SPECIFIC_HEAT = 1.0
"""Oxygen, nitrogen, sulphur dioxide near 100 degC, kJ/(kg.K) [common_practice]."""

VAPOUR_SPECIFIC_HEAT = 1.95
"""Superheated vapour at evaporator pressures, kJ/(kg.K) [iapws_if97, near 100 degC]."""


def heat_content(state: State, temperature: Numeric = None) -> Numeric:
    """Heat content of a liquid or moist solid stream over water at 0 degC. [MJ/h].

    Parameters
    ----------
    state : State
        Flows. [t/h]
    temperature : numeric, optional
        Instead of the stream's own, for streams that carry none. [degC]
    """
    t = state.temperature if temperature is None else temperature
    return (
        state.sum("water") * steam.liquid_enthalpy_fast(t)
        + state.dissolved * heat.dissolved_sugar_enthalpy(t)
        - state.non_sucrose * NON_SUGAR_SHORTFALL * t
        + state.sum("crystal") * crystal.crystal_enthalpy(t)
        + state.sum("fibre") * FIBRE_SPECIFIC_HEAT * t
        + state.sum("soil") * SOIL_SPECIFIC_HEAT * t
        + state.sum("so2", "oxygen", "nitrogen") * GAS_SPECIFIC_HEAT * t
    )


def vapour_heat(state: State, superheat: Numeric = 0.0) -> Numeric:
    """Heat content of saturated vapour at the stream's pressure, with some superheat. [MJ/h]."""
    saturation = steam.saturation_temperature(state.pressure)
    return state.water * (steam.vapour_enthalpy_fast(saturation) + VAPOUR_SPECIFIC_HEAT * superheat)


def condensing_heat(state: State) -> Numeric:
    """Heat given up by saturated vapour that condenses at its pressure. [MJ/h]."""
    return state.water * steam.latent_heat_fast(steam.saturation_temperature(state.pressure))
