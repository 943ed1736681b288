"""A bench sheet of our own imagining: raw readings for every method, near worked values.

Where the laboratory reference works a method, its raw readings are taken.
"""

CANE = {"extract_brix": 4.90, "moisture": 70.0, "sample_mass": 1000.0, "water_mass": 2000.0}
BAGASSE = {"extract_brix": 0.26, "moisture": 49.5, "sample_mass": 1000.0, "water_mass": 10000.0}
SIEVES = {
    **{f"retained_{k}": grams for k, grams in enumerate(
        (1.2, 7.3, 21.0, 25.3, 21.5, 11.5, 6.5, 4.3), start=1
    )},
    "pan": 1.4,
}  # fmt: skip

SHEETS = {
    "acidity": {"reading": 6.9, "temperature": 24.0},
    "alkalinity": {"titre": 7.2, "normality": 0.1, "aliquot": 100.0},
    "apparent_purity": {"pol": 12.00, "brix": 14.20},
    "ash_by_conductivity": {"conductivity": 215.0, "water_conductivity": 2.0},
    "ash_of_raw_sugar_by_conductivity": {"conductivity": 215.0, "water_conductivity": 2.0},
    "ash_of_white_sugar_by_conductivity": {"conductivity": 33.5, "water_conductivity": 2.0},
    "bag_net_weight": {"gross": 50.25, "tare": 0.12},
    "brix_after_dilution": {"reading": 43.1, "sample_mass": 50.0, "water_mass": 52.0},
    "brix_by_hydrometer": {"reading": 15.0, "temperature": 28.0},
    "brix_by_refractive_index": {"index": 1.3540, "temperature": 24.6},
    "brix_of_bagasse": BAGASSE,
    "brix_of_cane": CANE,
    "brix_of_juice": {"reading": 14.2, "temperature": 24.6},
    "brix_of_syrup": {"reading": 60.0, "temperature": 27.0},
    "colour": {"absorbance": 0.492, "cell_length": 1.0, "brix": 50.0, "ph": 7.0},
    "conductivity_cell": {"reading": 1281.0},
    "crystal_content": {"massecuite_purity": 85.0, "mother_liquor_purity": 68.0, "brix": 92.0},
    "crystal_size": SIEVES,
    "crystal_size_variation": SIEVES,
    "dextran": {"absorbance": 0.31, "slope": 0.0011, "blank_absorbance": 0.02},
    "dry_solids_by_drying": {"dish": 40.1, "dish_and_sample": 45.1, "dish_and_dry": 43.0},
    "fibre_of_bagasse": BAGASSE,
    "fibre_of_cane": CANE,
    "fibre_of_cane_by_press": {
        "sample_mass": 500.0, "cake_mass": 150.0, "cake_moisture": 48.0, "juice_brix": 19.0,
    },
    "gravity_purity": {"clerget_sucrose": 35.8, "spindle_brix": 90.0},
    "indicator_value": {"at_ph_9": 0.62, "at_ph_4": 0.21},
    "lime_salts": {"titre": 12.5, "concentration": 0.01, "aliquot": 10.0, "brix": 15.0},
    "milk_of_lime": {"baume": 15.0},
    "milk_of_lime_by_titration": {"titre": 35.0, "normality": 0.5, "aliquot": 10.0},
    "moisture_of_bagasse": {"dish": 500.0, "dish_and_sample": 1500.0, "dish_and_dry": 1005.0},
    "moisture_of_cake": {"dish": 80.0, "dish_and_sample": 130.0, "dish_and_dry": 93.0},
    "moisture_of_cane": {"dish": 500.0, "dish_and_sample": 1000.0, "dish_and_dry": 650.0},
    "moisture_of_sugar": {"dish": 35.0, "dish_and_sample": 60.0, "dish_and_dry": 59.99},
    "mud_volume": {"mud_height": 80.0, "juice_height": 400.0},
    "phosphate": {"absorbance": 0.42, "slope": 0.0021, "blank_absorbance": 0.01, "brix": 14.0},
    "pol_of_bagasse": {**BAGASSE, "rotation": 1.40},
    "pol_of_cake": {"rotation": 1.90},
    "pol_of_cane": {**CANE, "rotation": 16.4},
    "pol_of_juice": {"rotation": 48.10, "brix": 14.2, "temperature": 26.0, "reducing_sugars": 0.7},
    "pol_of_massecuite": {"rotation": 33.0, "sample_mass": 13.0, "temperature": 26.0},
    "pol_of_molasses": {"rotation": 7.60, "sample_mass": 6.5, "temperature": 26.0},
    "pol_of_raw_sugar": {"rotation": 97.60, "temperature": 28.0, "reducing_sugars": 0.4},
    "pol_of_syrup": {"rotation": 26.0, "sample_mass": 13.0, "temperature": 26.0},
    "pol_of_white_sugar": {"rotation": 99.75, "temperature": 22.0},
    "preparation_index": {"leach_brix": 1.16, "total_brix": 1.30},
    "quartz_plate": {"rotation": 95.83, "certified": 95.80, "temperature": 26.0},
    "reducing_sugars": {"titre": 25.0, "sample_mass": 4.0},
    "reducing_sugars_by_own_factor": {"titre": 25.0, "factor": 51.2, "sample_mass": 4.0},
    "reducing_sugars_constant_volume": {
        "blank_titre": 40.0, "titre": 18.0, "sample_mass": 2.0, "aliquot": 25.0,
    },
    "settling_rate": {"first_height": 380.0, "second_height": 260.0, "minutes": 3.0},
    "starch": {"absorbance": 0.28, "slope": 0.0012, "blank_absorbance": 0.02},
    "sucrose_by_double_polarisation": {
        "direct": 30.0, "inverted": -16.5, "direct_mass": 26.0, "inverted_mass": 26.0,
        "solids": 13.0, "temperature": 25.0,
    },
    "sugar_scale": {"angle": 34.62},
    "sulphated_ash": {"dish": 20.0, "dish_and_sample": 22.0, "dish_and_dry": 20.24},
    "sulphur_dioxide_in_juice": {
        "titre": 8.4, "normality": 0.015625, "sample_volume": 10.0, "brix": 14.0,
    },
    "sulphur_dioxide_in_sugar": {
        "titre": 4.1, "normality": 0.005, "sample_mass": 50.0, "blank_titre": 0.3,
    },
    "sulphur_dioxide_in_sugar_by_rosaniline": {
        "absorbance": 0.25, "blank_absorbance": 0.02, "slope": 0.02,
    },
    "true_purity": {"sucrose": 32.0, "dry_solids": 82.0},
    "turbidity": {"unfiltered": 0.080, "filtered": 0.068, "cell_length": 10.0, "brix": 50.0},
}  # fmt: skip
"""Method -> raw readings; what is left out has a default."""
