"""What to check first when an instrument is doubted, and the cautions that go with it.

Common practice of the trade; local codes and the maker's instructions come first.
"""

FIRST_CHECKS = {
    "scale": "zero and tare of the scale, build-up on it, missed or double tips; a test weight",
    "meter": "zero of the meter at no flow, an empty or partly filled pipe, its factor",
    "dip": "the dip again, foam on the surface, the gauging table of the vessel",
    "refractometer": "the reading of pure water, dirt on the prism, the temperature correction",
    "polarimeter": "the zero with water, the quartz plate, cloudiness of the clarified sample, "
    "the length of the tube",
    "chromatograph": "a standard run again, the peak areas, the dilution",
    "burette": "the titre of the solution against a standard, the blank",
    "conductivity cell": "the cell constant with a standard, the water used for dilution",
    "drying oven": "the temperature of the oven, drying to constant mass, the tare of the dish",
    "fibre machine": "the subsample, the washing until no sugar is left, drying to constant mass",
    "photometer": "the zero with water, filtration and pH of the solution, the cell",
    "thermometer": "a second thermometer in the same pocket, scale on the pocket",
    "pressure gauge": "the zero at open air, a blocked impulse line, gauge against absolute",
    "kilowatt-hour meter": "the readings at start and end of the shift, the transformer ratio",
    "sample": "the labels of the two samples: analyse both retained samples again",
    "log": "the entry in the log of the shift",
    "place": "tank overflows, open drains, pump glands and the hot well there",
}

CHECK_CAUTIONS = {
    "scale": ("rotating machinery",),
    "polarimeter": ("lead salts",),
    "thermometer": ("steam and vacuum",),
    "pressure gauge": ("steam and vacuum",),
    "meter": ("steam and vacuum",),
    "dip": ("confined spaces",),
    "burette": ("sulphur dioxide",),
}
