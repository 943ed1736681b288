"""Crystal size by sieves, and crystal content by pressing off the mother liquor."""

from collections.abc import Mapping
from itertools import pairwise

import numpy as np

from canewright.laboratory.bench_readings import mass
from canewright.laboratory.crystal_size import coefficient_of_variation, normal_quantile
from canewright.laboratory.method import Given, Method, RawInput, Remark, Step, refusal, step
from canewright.laws.crystallisation import crystal_percent_massecuite, crystal_percent_solids
from canewright.ops import Numeric

SIEVES = (1.0, 0.85, 0.71, 0.60, 0.50, 0.425, 0.355, 0.25)
"""Apertures of a usual nest, mm; each may be given otherwise or left out."""

LEAST, MOST = 0.5, 99.5
"""Cumulative % outside which a sieve says too little to be put on the line."""

Values = Mapping[str, Numeric]


def _sieves() -> tuple[RawInput, ...]:
    inputs: list[RawInput] = []
    for number, aperture in enumerate(SIEVES, start=1):
        inputs += [
            RawInput(
                f"retained_{number}",
                f"retained on sieve {number}",
                "g",
                0.0,
                2000.0,
                uncertainty=0.1,
                optional=True,
                bench="Brush the sieve out and weigh again.",
            ),
            RawInput(
                f"aperture_{number}",
                f"aperture of sieve {number}",
                "mm",
                0.02,
                5.0,
                uncertainty=0.005,
                shared=f"sieve {number}",
                default=aperture,
                bench="Read the aperture on the sieve.",
            ),
        ]
    return tuple(inputs)


def _used(names: Values) -> list[int]:
    return [k for k in range(1, len(SIEVES) + 1) if f"retained_{k}" in names]


def _lines(values: Values) -> tuple[list[Step], Numeric, Numeric]:
    """Quantiles of the sieves, and the straight line through them."""
    total = values["pan"] + sum(values[f"retained_{k}"] for k in _used(values))
    above: Numeric = 0.0
    lines, points = [], []
    for k in _used(values):
        above = above + values[f"retained_{k}"]
        share = 100 * above / total
        z = normal_quantile(np.clip(share, LEAST, MOST))
        points.append((values[f"aperture_{k}"], z, 1.0 * ((share >= LEAST) & (share <= MOST))))
        aperture = np.asarray(values[f"aperture_{k}"])
        where = f" {float(aperture):g} mm" if aperture.ndim == 0 else f" sieve {k}"
        note = "cumulative; with its normal quantile on the line"
        lines.append(Step(f"retained above{where}", share, "%", "own_derivation", note))
    weight = sum(on for _, _, on in points)
    mean_z = sum(on * z for _, z, on in points) / weight
    mean_a = sum(on * a for a, _, on in points) / weight
    slope = sum(on * (z - mean_z) * (a - mean_a) for a, z, on in points) / sum(
        on * (z - mean_z) ** 2 for _, z, on in points
    )
    middle = mean_a - slope * mean_z
    return [*lines, *_between(points)], middle, -slope


def _between(points: list[tuple[Numeric, Numeric, Numeric]]) -> list[Step]:
    """The other usual procedure, for comparison: straight pieces in z from sieve to sieve."""

    def aperture_at(percent: float) -> Numeric:
        wanted = normal_quantile(percent)
        found: Numeric = points[0][0]
        for (a, z, _), (next_a, next_z, _) in pairwise(points):
            # a sieve that retained nothing stands where the one above it does
            part = np.clip((wanted - z) / (next_z - z + 1e-12), 0.0, 1.0)
            found = found + part * (next_a - a)
        return found

    middle = aperture_at(50.0)
    spread = coefficient_of_variation((aperture_at(16.0) - aperture_at(84.0)) / 2, middle)
    note = "from sieve to sieve in the normal quantile, for comparison"
    return [
        Step("mean aperture, interpolated", middle, "mm", "icumsa_sieve", note),
        Step("coefficient of variation, interpolated", spread, "%", "icumsa_sieve", note),
    ]


LINE = "straight line of aperture on normal quantile (Powers form)"


def _size(values: Values) -> list[Step]:
    lines, middle, deviation = _lines(values)
    spread = step("coefficient of variation", coefficient_of_variation, deviation, middle)
    return [*lines, spread, Step("mean aperture", middle, "mm", "icumsa_sieve", LINE)]


def _spread(values: Values) -> list[Step]:
    lines, middle, deviation = _lines(values)
    mean = Step("mean aperture", middle, "mm", "icumsa_sieve", LINE)
    return [
        *lines,
        mean,
        step("coefficient of variation", coefficient_of_variation, deviation, middle),
    ]


def _sum(given: Given) -> list[Remark]:
    found = given["pan"] + sum(given[f"retained_{k}"] for k in _used(given))
    percent = 100 * found / given["sample_mass"]
    if abs(percent - 100) <= 2.0:
        return []
    return [
        refusal(
            "sample_mass",
            f"Sieves and pan hold {percent:.1f} % of the sample_mass of {given['sample_mass']:g} g "
            "and not 100: weigh each sieve and the pan again, and look for sugar left in the "
            "meshes.",
        )
    ]


def _bracket(given: Given) -> list[Remark]:
    used = _used(given)
    if len(used) < 3:
        return [refusal("retained_1", "At least three sieves must be weighed.")]
    apertures = [given[f"aperture_{k}"] for k in used]
    if apertures != sorted(apertures, reverse=True):
        return [
            refusal(
                f"aperture_{used[0]}",
                "The apertures do not fall from sieve to sieve: number them from the coarsest.",
            )
        ]
    total = given["pan"] + sum(given[f"retained_{k}"] for k in used)
    if total <= 0:
        return [refusal("retained_1", "The sieves hold nothing: weigh them again.")]
    first = 100 * given[f"retained_{used[0]}"] / total
    last = 100 * (total - given["pan"]) / total
    said = []
    if first > 16:
        said.append(
            refusal(
                f"retained_{used[0]}",
                f"The coarsest sieve retained {first:.0f} %: put a coarser one above it, the nest "
                "must reach below 16 %.",
            )
        )
    if last < 84:
        said.append(
            refusal(
                "pan",
                f"The pan holds {100 - last:.0f} %: put a finer sieve above it, the nest must "
                "reach beyond 84 %.",
            )
        )
    return said


_INPUTS = (
    mass("sample_mass", "sugar sieved", 1.0, 2000.0, default=100.0, uncertainty=0.05),
    *_sieves(),
    mass("pan", "left in the pan", 0.0, 2000.0, uncertainty=0.1),
)
_TEXT = (
    "The method leaves the arithmetic to the user: procedures alone move the coefficient by more "
    "than one unit, so name this one beside it: " + LINE + "."
)

crystal_size = Method(
    name="crystal_size",
    title="mean aperture of crystals by sieves",
    analysis="",
    unit="mm",
    classes=("sugar",),
    inputs=_INPUTS,
    steps=_size,
    checks=(_sum, _bracket),
    source="icumsa_sieve",
    at=LINE,
    known="memory",
    text=_TEXT,
)
crystal_size_variation = Method(
    name="crystal_size_variation",
    title="coefficient of variation of crystal size by sieves",
    analysis="",
    unit="%",
    classes=("sugar",),
    inputs=_INPUTS,
    steps=_spread,
    checks=(_sum, _bracket),
    source="icumsa_sieve",
    at=LINE,
    known="memory",
    text=_TEXT,
)


def _purity(name: str, label: str, near: tuple[float, float]) -> RawInput:
    takes = {"massecuite_purity": "apparent_purity", "mother_liquor_purity": "mother_liquor_purity"}
    return RawInput(
        name, label, "%", 5.0, 100.0, near, 0.3, takes=takes[name],
        bench="Look whether the two bottles were exchanged.",
    )  # fmt: skip


def _content(values: Values) -> list[Step]:
    purities = values["massecuite_purity"], values["mother_liquor_purity"]
    solids = step("crystal % solids", crystal_percent_solids, *purities)
    whole = step("crystal content", crystal_percent_massecuite, *purities, values["brix"])
    return [solids, whole]


def _richer(given: Given) -> list[Remark]:
    massecuite, liquor = given["massecuite_purity"], given["mother_liquor_purity"]
    if liquor < massecuite and liquor < 99.5:
        return []
    return [
        refusal(
            "mother_liquor_purity",
            f"mother_liquor_purity = {liquor:g} % is not below massecuite_purity = "
            f"{massecuite:g} %: crystals cannot leave a purer liquor. Look whether the bottles "
            "were exchanged, or crystal passed the filter.",
        )
    ]


crystal_content = Method(
    name="crystal_content",
    title="crystal content of massecuite by pressing off its mother liquor",
    analysis="",
    unit="%",
    classes=("massecuite",),
    inputs=(
        _purity("massecuite_purity", "purity of the massecuite", (50.0, 95.0)),
        _purity("mother_liquor_purity", "purity of the mother liquor pressed off", (25.0, 80.0)),
        RawInput(
            "brix",
            "Brix, better dry solids, of the massecuite",
            "%",
            70.0,
            101.0,
            near=(88.0, 99.0),
            uncertainty=0.3,
            takes="brix",
            bench="Read the diluted sample again.",
        ),
    ),
    steps=_content,
    checks=(_richer,),
    cautions=("press", "hot_juice", "purity_kinds"),
    source="own_derivation",
    at="sucrose balance on pure crystal: purity difference",
    known="derived",
    text="Press at the massecuite's own temperature, or the liquor crystallises or dissolves.",
)
