"""Hazards of the laboratory's reagents and machines, printed beside the method that uses them.

They remind; they do not train. Local codes and licensed practice decide.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Caution:
    """One hazard: what it does, how to work, and a safer way where there is one."""

    name: str
    text: str
    source: str
    safer: str = ""

    def __str__(self) -> str:
        return f"{self.text} Safer is {self.safer}" if self.safer else self.text


DEFERS = "Local codes and licensed practice come before anything printed here."

CAUTIONS: dict[str, Caution] = {
    caution.name: caution
    for caution in (
        Caution(
            "lead",
            "Basic lead acetate is toxic to reproduction, a suspected carcinogen and very toxic "
            "to aquatic life: wear gloves, collect all filtrate and paper as hazardous waste, "
            "never pour it into the drain.",
            "lead_substitution_case",
        ),
        Caution(
            "pol_is_not_sucrose",
            "Pol is not sucrose: glucose adds 0.79 and fructose takes off 1.40 per 1 %, dextran "
            "adds 0.3 Z per 1000 mg/kg. In one factory's mixed juice sucrose lay 0.09 to 0.32 "
            "above pol; in molasses it lies several units above.",
            "schaffler_smith1978",
        ),
        Caution(
            "store_the_clarifier",
            "Keep clarifier, wavelength, tube and temperature with every pol: leaded and unleaded "
            "pol differ, and the difference moves with the season.",
            "schoonees2003",
        ),
        Caution(
            "purity_kinds",
            "Say the kind beside a purity, and never mix spindle and refractometer Brix in one "
            "comparison. Half a unit is noise on a single sample.",
            "purity_definitions",
        ),
        Caution(
            "brix_is_not_solids",
            "Brix is not dry solids: in molasses a spindle reads up to 7 units above them, a "
            "refractometer 1 to 3, and dilution changes both.",
            "icumsa_refractometry",
        ),
        Caution(
            "sampling",
            "Sampling is the largest error of bagasse and cake: 0.1 to 0.3 on each snap sample.",
            "instrument_judgement",
        ),
        Caution(
            "sulphur_dioxide",
            "Sulphur dioxide irritates the lungs: 2 ppm over 8 hours, 5 ppm over 15 minutes, 100 "
            "ppm immediately dangerous; asthmatics are at risk below that. Work under a hood.",
            "niosh_pocket_guide",
        ),
        Caution(
            "sulphite_on_labels",
            "Sugar with more than 10 mg SO2/kg must be labelled in many countries.",
            "eu_sulphite",
        ),
        Caution(
            "rosaniline",
            "Rosaniline is a suspected carcinogen and formaldehyde a carcinogen; old absorbing "
            "solutions hold mercury: do not use them. Hood and gloves.",
            "rosaniline_method",
        ),
        Caution(
            "formaldehyde",
            "Formaldehyde, where the blank is bound with it, is toxic and a carcinogen: hood, "
            "gloves, closed waste.",
            "iodine_titration",
            "hydrogen peroxide for the blank.",
        ),
        Caution(
            "acid",
            "Concentrated acid burns skin and eyes and heats up in water: acid into water, "
            "goggles and gloves.",
            "common_practice",
        ),
        Caution(
            "copper_soda",
            "Boiling copper solution is strong soda: it bumps and burns. Goggles, boiling aid, "
            "face away from the flask; collect the copper as waste.",
            "common_practice",
        ),
        Caution(
            "alcohol",
            "Ethanol and methanol burn: no flame or hot plate nearby, and no methanol on the skin.",
            "common_practice",
        ),
        Caution(
            "trichloroacetic_acid",
            "Trichloroacetic acid burns deeply: gloves and goggles.",
            "common_practice",
        ),
        Caution(
            "lime",
            "Quicklime and milk of lime burn the eyes blind: goggles, and water at hand; slaking "
            "boils.",
            "common_practice",
        ),
        Caution(
            "hot_oven",
            "Ovens, furnaces and dishes from them are hot: tongs and heat-proof gloves; sugar "
            "and its dust burn.",
            "common_practice",
        ),
        Caution(
            "blades",
            "Disintegrator and cutter blades: lid closed and supply locked off before a hand "
            "goes near.",
            "common_practice",
        ),
        Caution(
            "press",
            "A hydraulic press or pressure filter stores energy: guard closed, release the "
            "pressure before opening.",
            "common_practice",
        ),
        Caution(
            "hot_juice",
            "Juice and massecuite at test temperature scald: heat-proof gloves, cylinder in a "
            "bath.",
            "common_practice",
        ),
    )
}
