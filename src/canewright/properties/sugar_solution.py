"""The properties a station asks for most, under one roof.

Every function here is defined, sourced and registered in the module of its subject; this
module only gathers them: `from canewright.properties import sugar_solution`.
"""

from canewright.properties.boiling_point import boiling_point_elevation
from canewright.properties.crystal import crystal_density, crystal_enthalpy
from canewright.properties.density import density, relative_density
from canewright.properties.heat import heat_of_crystallisation, solution_enthalpy, specific_heat
from canewright.properties.massecuite import (
    crystal_volume_percent,
    massecuite_density,
    massecuite_enthalpy,
)
from canewright.properties.refraction import refractive_index
from canewright.properties.solubility import saturation_brix, solubility, supersaturation
from canewright.properties.transport import thermal_conductivity
from canewright.properties.viscosity import viscosity

__all__ = [
    "boiling_point_elevation",
    "crystal_density",
    "crystal_enthalpy",
    "crystal_volume_percent",
    "density",
    "heat_of_crystallisation",
    "massecuite_density",
    "massecuite_enthalpy",
    "refractive_index",
    "relative_density",
    "saturation_brix",
    "solubility",
    "solution_enthalpy",
    "specific_heat",
    "supersaturation",
    "thermal_conductivity",
    "viscosity",
]
