"""Brix by refractometer and by spindle, direct and after dilution."""

from collections.abc import Mapping
from dataclasses import replace

from canewright.laboratory.bench_readings import mass
from canewright.laboratory.method import Method, RawInput, Step, rectangular, step
from canewright.laboratory.refractometry import (
    brix_before_dilution,
    brix_of_refractive_index,
    refractometer_brix,
    spindle_brix,
)
from canewright.ops import Numeric
from canewright.properties.brix_corrections import refractometer_correction, spindle_correction

PRISM_TEMPERATURE = RawInput(
    "temperature",
    "temperature of the prism",
    "degC",
    10.0,
    40.0,
    near=(15.0, 32.0),
    uncertainty=rectangular(0.5),
    shape="rectangular",
    shared="refractometer thermometer",
    default=20.0,
    bench="The correction table ends at 10 and 40 degC: let the sample come to the prism's "
    "temperature and read both again.",
    reminder="temperature was not given and is taken as 20 degC, without a correction: right only "
    "for an instrument that compensates by itself. 5 K forgotten are 0.35 Brix.",
    text="20 for an instrument that compensates by itself.",
)


def reading(uncertainty: float, near: tuple[float, float], high: float = 75.0) -> RawInput:
    """Refractometer reading on the scale for 20 degC."""
    return RawInput(
        "reading",
        "refractometer reading",
        "%",
        -0.5,
        high,
        near=near,
        uncertainty=uncertainty,
        bench="Clean the prism, check it with water (0.00 at 20 degC), and read a filtered sample "
        "again; dilute what reads above 75.",
    )


CORRECTION = RawInput(
    "correction",
    "temperature correction from a table of one's own",
    "%",
    -5.0,
    5.0,
    uncertainty=0.02,  # the thermometer's, by which it was looked up
    optional=True,
    bench="Look it up again, in the row of the temperature and the column of the reading.",
    text="Added to the reading, in place of the method's own correction.",
)


def by_own_table(values: Mapping[str, Numeric], name: str) -> list[Step]:
    """Lines of a reading that is corrected by a table of one's own."""
    note = "from the table, to be added to the reading"
    correction = Step(
        "temperature correction", values["correction"], "% mass", "common_practice", note
    )
    total = values["reading"] + values["correction"]
    brix = Step(name, total, "% mass", "own_derivation", "reading + correction")
    return [correction, brix]


def corrected(values: Mapping[str, Numeric], name: str = "Brix at 20 degC") -> list[Step]:
    """Lines of a refractometer reading and its temperature correction."""
    if "correction" in values:
        return by_own_table(values, name)
    pair = values["reading"], values["temperature"]
    correction = step(
        "temperature correction", refractometer_correction, *pair, note="to be added to the reading"
    )
    return [correction, step(name, refractometer_brix, *pair)]


brix_of_juice = Method(
    name="brix_of_juice",
    title="Brix of juice by refractometer",
    analysis="brix",
    unit="%",
    classes=("juice",),
    inputs=(reading(0.05, (1.0, 25.0)), PRISM_TEMPERATURE, CORRECTION),
    steps=corrected,
    valid={"reading": (0.0, 75.0)},
    default=True,
    source="icumsa1974",
    at="refractive index table, temperature correction from our model of it",
    known="memory",
    text="Suspended matter biases it: filter first [sasta_factory_balance]. The older "
    "international table corrects less, 0.1 at 30 degC: ask which one the laboratory uses.",
)
brix_of_syrup = replace(
    brix_of_juice,
    name="brix_of_syrup",
    title="Brix of syrup by refractometer",
    classes=("syrup",),
    inputs=(reading(0.1, (12.0, 72.0)), PRISM_TEMPERATURE, CORRECTION),
)


def _diluted(values: Mapping[str, Numeric]) -> list[Step]:
    lines = corrected(values, "Brix of the diluted sample at 20 degC")
    brix = step(
        "Brix of the sample",
        brix_before_dilution,
        lines[-1].value,
        values["sample_mass"],
        values["water_mass"],
    )
    return [*lines, brix]


brix_after_dilution = replace(
    brix_of_juice,
    name="brix_after_dilution",
    title="Brix of massecuite or molasses, diluted by mass, by refractometer",
    classes=("massecuite", "molasses"),
    inputs=(
        reading(0.1, (10.0, 55.0)),
        mass("sample_mass", "sample weighed in", 1.0, 5000.0, uncertainty=0.05),
        mass("water_mass", "water added", 0.0, 50000.0, uncertainty=0.05),
        PRISM_TEMPERATURE,
        CORRECTION,
    ),
    steps=_diluted,
    valid={"reading": (0.0, 75.0), "result": (0.0, 105.0)},
    cautions=("brix_is_not_solids",),
    text="The error of the reading is multiplied by the dilution, twofold at equal masses.",
)

_SPINDLE_READING = RawInput(
    "reading",
    "spindle reading",
    "%",
    0.0,
    65.0,
    near=(1.0, 25.0),
    uncertainty=rectangular(0.1),
    shape="rectangular",
    bench="Let the air out, wait until the spindle rests, and read at the level of the liquid; "
    "dilute what reads above 65.",
)
_LIQUID_TEMPERATURE = RawInput(
    "temperature",
    "temperature of the liquid",
    "degC",
    15.0,
    45.0,
    near=(18.0, 40.0),
    uncertainty=rectangular(0.5),
    shape="rectangular",
    shared="hydrometer thermometer",
    bench="The correction table ends at 15 and 45 degC: cool or warm the sample and read again.",
)


def _spindle(values: Mapping[str, Numeric]) -> list[Step]:
    if "correction" in values:
        return by_own_table(values, "spindle Brix at 20 degC")
    pair = values["reading"], values["temperature"]
    correction = step(
        "temperature correction", spindle_correction, *pair, note="to be added to the reading"
    )
    return [correction, step("spindle Brix at 20 degC", spindle_brix, *pair)]


brix_by_hydrometer = Method(
    name="brix_by_hydrometer",
    title="Brix by hydrometer (spindle)",
    analysis="brix",
    unit="%",
    classes=("juice",),
    inputs=(_SPINDLE_READING, _LIQUID_TEMPERATURE, CORRECTION),
    steps=_spindle,
    valid={"reading": (0.0, 65.0)},
    cautions=("brix_is_not_solids", "purity_kinds"),
    source="own_derivation",
    at="density of the sucrose solution and a glass of 25e-6 per K",
    known="derived",
    text="Printed tables made for other glass lie 0.02 to 0.04 higher: load your own.",
)


def _index(values: Mapping[str, Numeric]) -> list[Step]:
    return [
        step(
            "Brix of the refractive index",
            brix_of_refractive_index,
            values["index"],
            values["temperature"],
        )
    ]


brix_by_refractive_index = Method(
    name="brix_by_refractive_index",
    title="Brix by refractometer that shows the refractive index",
    analysis="brix",
    unit="%",
    classes=("juice", "syrup"),
    inputs=(
        RawInput(
            "index",
            "refractive index at 589.3 nm",
            "1",
            1.3300,
            1.5050,
            near=(1.3330, 1.4660),
            uncertainty=0.00007,
            bench="Clean the prism and check it with water: 1.33299 at 20 degC.",
        ),
        replace(PRISM_TEMPERATURE, default=None, reminder="", text=""),
    ),
    steps=_index,
    valid={"index": (1.3310, 1.5040)},
    source="icumsa1974",
    at="refractive index table, by our model of it",
    known="derived",
)
