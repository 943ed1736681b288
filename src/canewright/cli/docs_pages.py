"""Pages made from declarations: formulas, the bibliography, stations, readings, points."""

from itertools import groupby
from typing import TYPE_CHECKING

from canewright import registry
from canewright.cli.formula_pages import HOW_KNOWN
from canewright.registry import Check, Formula, Source

if TYPE_CHECKING:
    from canewright.engine.equations.points import Points

DEMONSTRATION = "halcyon_bend.toml"
"""Factory whose points the handbook lists."""


def pages() -> dict[str, str]:
    """Text of each generated page by its file name."""
    from canewright.cli import point_pages, station_facts, station_pages

    formulas = list(registry.formulas().values())
    checks: dict[str, list[Check]] = {}
    for check in registry.checks():
        checks.setdefault(check.formula, []).append(check)
    return {
        "formulas.md": _formulas_page(formulas, checks),
        "sources.md": _sources_page(list(registry.sources().values()), formulas, checks),
        "stations.md": station_pages.page(list(station_facts.every_station().values())),
        "readings.md": point_pages.readings_page(),
        "points.md": point_pages.points_page(_demonstration()),
    }


def _demonstration() -> "Points":
    """Points of the demonstration factory."""
    from importlib import resources

    from canewright.engine.equations.cache import model_of
    from canewright.engine.equations.points import Points
    from canewright.files.factory import read_factory

    place = resources.files("canewright.factories").joinpath(DEMONSTRATION)
    with resources.as_file(place) as path:
        return Points(model_of(read_factory(path)))


def _formulas_page(formulas: list[Formula], checks: dict[str, list[Check]]) -> str:
    lines = ["# Formulas", "", "Made from the register by `canewright docs`; not to be edited.", ""]
    for module, members in groupby(formulas, key=lambda formula: formula.name.split(".", 1)[0]):
        lines += [f"## {module}", ""]
        for formula in members:
            lines += _formula_section(formula, checks.get(formula.name, []))
    return "\n".join(lines)


def _formula_section(formula: Formula, checks: list[Check]) -> list[str]:
    lines = [f"### {formula.name}", "", formula.summary, "", "```text", formula.equation, "```", ""]
    lines += ["| symbol | unit | stated for |", "| --- | --- | --- |"]
    for symbol, unit in formula.given.items():
        low, high = formula.valid.get(symbol, (None, None))
        stated = "not stated" if low is None else f"{low:g} to {high:g}"
        lines.append(f"| {symbol} | {unit} | {stated} |")
    lines += [f"| result | {formula.unit} | |", ""]
    if formula.uncertainty:
        lines += [f"Standard uncertainty: {formula.uncertainty}.", ""]
    if formula.family:
        rank = "the default" if formula.default else "one"
        lines += [f"It is {rank} of those that give the {formula.family}.", ""]
    if formula.note:
        lines += [" ".join(formula.note.split()), ""]
    known = HOW_KNOWN[formula.known]
    link = f"[{formula.source}](sources.md#{formula.source})"
    lines += [f"Source: {link}, {formula.at}; {known}.", ""]
    if checks:
        lines += ["| given | published | within | where | how known |"]
        lines += ["| --- | --- | --- | --- | --- |"]
        for check in checks:
            given = ", ".join(f"{symbol} = {value:g}" for symbol, value in check.given.items())
            lines.append(
                f"| {given} | {check.expect:.10g} | {check.within:g} "
                f"| {check.source}, {check.at} | {check.known} |"
            )
        lines.append("")
    return lines


def _sources_page(
    sources: list[Source], formulas: list[Formula], checks: dict[str, list[Check]]
) -> str:
    used: dict[str, set[str]] = {}
    for formula in formulas:
        used.setdefault(formula.source, set()).add(formula.name)
        for check in checks.get(formula.name, []):
            used.setdefault(check.source, set()).add(formula.name)
    lines = [
        "# Sources",
        "",
        "Made from `sources.toml` by `canewright docs`; not to be edited.",
        "",
    ]
    for source in sorted(sources, key=lambda entry: entry.key):
        lines += [f"## {source.key}", "", source.text, "", f"How known: {HOW_KNOWN[source.known]}."]
        if source.note:
            lines += ["", source.note]
        names = sorted(used.get(source.key, ()))
        if names:
            lines += ["", "Behind: " + ", ".join(f"`{name}`" for name in names) + "."]
        lines.append("")
    return "\n".join(lines)
