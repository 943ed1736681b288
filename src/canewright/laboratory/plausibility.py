"""Whether an analysis is usual for its stream, and whether analyses fit each other.

What is said here warns. It never refuses: an unusual factory, or a bad day, is a fact.
"""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources

Range = tuple[float, float]

SAFETY_FACTOR = 0.25
"""Moisture of raw sugar per 100 - pol above which it is said to keep badly [spencer_meade]."""

CLOSURE = 0.5
"""% by which moisture, fibre and Brix of one sample may miss 100 [common_practice]."""

LOWEST_POL_OF_BAGASSE = 1.0
"""% below which a pol of bagasse is rather a bad sample [plausibility_memory]."""


def _plain(name: str) -> str:
    return name.strip().casefold().replace("_", " ").replace("-", " ")


@cache
def ranges() -> dict[str, dict[str, Range]]:
    """Stream -> quantity -> usual range."""
    folder = resources.files("canewright.laboratory")
    text = folder.joinpath("plausibility.toml").read_text(encoding="utf-8")
    return {
        _plain(stream): {name: (float(low), float(high)) for name, (low, high) in entry.items()}
        for stream, entry in tomllib.loads(text).items()
    }


def usual(quantity: str, stream: str) -> Range | None:
    """The usual range of a quantity in a stream; None where none is stated."""
    return ranges().get(_plain(stream), {}).get(quantity)


def unusual(quantity: str, stream: str, value: float, unit: str) -> str:
    """A sentence if a value is not usual for its stream; empty if it is, or none is stated."""
    stated = usual(quantity, stream)
    if stated is None or stated[0] <= value <= stated[1]:
        return ""
    low, high = stated
    return (
        f"{_plain(quantity)} of {_plain(stream)} = {value:.5g} {unit} is unusual: mostly {low:g} "
        f"to {high:g} {unit}. Check the sample, the label of the bottle and the working."
    )


FALLING = (
    ("a massecuite", "b massecuite"),
    ("b massecuite", "c massecuite"),
    ("c massecuite", "final molasses"),
)
"""Pairs of which the first must have the higher purity."""

Found = Mapping[tuple[str, str], float]


def alarms(found: Found, before: Found | None = None) -> list[str]:
    """What a chemist would stop at when a shift's analyses lie beside each other.

    Parameters
    ----------
    found : mapping
        (stream or point, analysis) -> value, analyses named as in the list of readings.
    before : mapping, optional
        The same of the period before, to see what moves against what.
    """
    by_name = {(_plain(point), analysis): value for (point, analysis), value in found.items()}
    streams = dict.fromkeys(point for point, _ in by_name)
    purity = {point: value for point in streams if (value := _purity(by_name, point)) is not None}
    said = []
    for point in streams:
        said += _of_one_sample(by_name, point)
    said += _against_brix(by_name, before or {})
    for higher, lower in FALLING:
        if higher in purity and lower in purity and purity[higher] <= purity[lower]:
            said.append(
                f"The purity of {lower} ({purity[lower]:.2f}) is not below that of {higher} "
                f"({purity[higher]:.2f}): bottles may have been exchanged."
            )
    first, mixed = purity.get("first juice"), purity.get("mixed juice")
    if first is not None and mixed is not None and mixed > first:
        said.append(
            f"The purity of mixed juice ({mixed:.2f}) is above that of first juice ({first:.2f}): "
            "check both rotations and whether the bottles were exchanged."
        )
    return said


def _purity(by_name: Found, point: str) -> float | None:
    given = by_name.get((point, "apparent_purity"))
    if given is not None:
        return given
    pol, brix = by_name.get((point, "pol")), by_name.get((point, "brix"))
    return None if pol is None or not brix else 100 * pol / brix


def _of_one_sample(by_name: Found, point: str) -> list[str]:
    def value(analysis: str) -> float | None:
        return by_name.get((point, analysis))

    said = []
    pol, brix, moisture, fibre = (value(name) for name in ("pol", "brix", "moisture", "fibre"))
    if pol is not None and brix is not None and pol > brix:
        said.append(
            f"pol of {point} ({pol:.5g}) is above its Brix ({brix:.5g}), which cannot be: check "
            "the tube, the dilution and the refractometer."
        )
    if moisture is not None and fibre is not None and brix is not None:
        total = moisture + fibre + brix
        if abs(total - 100) > CLOSURE:
            said.append(
                f"moisture + fibre + Brix of {point} make {total:.2f} and not 100: repeat the "
                "moisture first."
            )
    if "bagasse" in point and pol is not None and pol < LOWEST_POL_OF_BAGASSE:
        said.append(f"pol of {point} is {pol:.3g} %, below 1: check sample, tube and water weight.")
    if pol is None or moisture is None or not point.endswith("raw sugar"):
        return said
    if moisture > SAFETY_FACTOR * (100 - pol):
        said.append(
            f"{point}: moisture is {moisture / (100 - pol):.2f} of 100 - pol, above 0.25: the "
            "sugar will keep badly, or the dish took up water."
        )
    return said


MOVED = 5.0
"""% of the value by which ash and Brix must both have moved to be compared [common_practice]."""


def _against_brix(now: Found, before: Found) -> list[str]:
    earlier = {(_plain(point), analysis): value for (point, analysis), value in before.items()}
    said = []
    for point, analysis in now:
        key, beside = (point, "ash"), (point, "brix")
        if analysis != "ash" or not all(
            name in now and earlier.get(name) for name in (key, beside)
        ):
            continue
        ash, brix = (100 * (now[name] / earlier[name] - 1) for name in (key, beside))
        if ash * brix < 0 and min(abs(ash), abs(brix)) > MOVED:
            said.append(
                f"ash of {point} went {ash:+.0f} % while its Brix went {brix:+.0f} %: check the "
                "cell, the water and the dilution."
            )
    return said
