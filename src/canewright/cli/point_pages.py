"""What `canewright points` prints, and the handbook's pages of readings and of points."""

from collections.abc import Mapping
from typing import Any

from rich.console import Console

from canewright.cli import printing
from canewright.cli.printing import Column
from canewright.engine.equations.points import Channel, Points
from canewright.laboratory.readings import READINGS, RELATIONS, Reading, Uncertainty
from canewright.streams import KINDS

WIDE = 100
"""Columns from which what a thing is has a column of its own."""


def described(points: Points) -> dict[str, dict[str, Any]]:
    """Every point with what it is and what can be read there, in the order of the file."""
    model = points.model
    found: dict[str, dict[str, Any]] = {}
    for point, owner in points.owners.items():
        channels = points.analyses(point)
        if not channels:
            continue
        if owner in model.flowsheet.streams:
            what = model.flowsheet.streams[owner].name
        elif owner in {main.name for main in model.flowsheet.mains}:
            state = points.state(owner)
            what = f"{state.kind.name} main" if state is not None else "main"
        elif owner in model.states:
            what = f"stock of {model.states[owner].kind.name}"
        else:
            what = "station"
        found[point] = {"what": what, "owner": owner, "channels": channels}
    return found


def instrument_of(points: Points, channel: Channel) -> str:
    """Name of the factory file's own instrument behind a reading; empty if it names none."""
    known = {instrument.name for instrument in points.model.factory.instruments}
    return channel.instrument if channel.instrument in known else ""


def print_list(screen: Console, points: Points, found: Mapping[str, dict[str, Any]]) -> None:
    """Print points with the names of what can be read there."""
    count = sum(len(entry["channels"]) for entry in found.values())
    printing.paragraph(
        screen,
        f"{points.model.factory.name}: {len(found)} points, {count} readings that could be taken",
        style="bold",
    )
    width = min(max(len(point) for point in found), screen.width * 2 // 5)
    columns = [Column("point", narrowest=width), Column("what"), Column("can be read", wrap=True)]
    if screen.width < WIDE:
        del columns[1]
    rows = []
    for point, entry in found.items():
        names = [
            f"{name}*" if instrument_of(points, channel) else name
            for name, channel in entry["channels"].items()
        ]
        row = [printing.folded(point, width), entry["what"], ", ".join(names)]
        rows.append(row if len(columns) == 3 else [row[0], row[2]])
    printing.emit(screen, "")
    printing.table(screen, columns, rows)
    printing.emit(screen, "")
    printing.paragraph(screen, "* read by an instrument named in the factory file.")
    printing.paragraph(screen, "One of them in full: canewright points FACTORY POINT")


def print_point(screen: Console, points: Points, point: str, entry: Mapping[str, Any]) -> None:
    """Print what can be read at one point, how well, and by which instrument."""
    printing.paragraph(screen, f"{point}   [{entry['what']}]", style="bold")
    rows = []
    columns = [Column("analysis"), Column("unit"), Column("random"), Column("bias")]
    columns += [Column("instrument", wrap=True), Column("what", wrap=True)]
    width = screen.width // 4
    for name, channel in entry["channels"].items():
        row = [
            printing.folded(name, width),
            channel.unit,
            size(channel.random, channel.random_relative, channel.unit),
            size(channel.bias, channel.bias_relative, channel.unit),
            instrument_of(points, channel) or f"({channel.instrument})",
            channel.label,
        ]
        rows.append(row if screen.width >= WIDE else row[:-1])
    if screen.width < WIDE:
        del columns[-1]
    printing.emit(screen, "")
    printing.table(screen, columns, rows)
    printing.emit(screen, "")
    printing.paragraph(
        screen,
        "random: standard uncertainty of one reading. bias: of the instrument's common error, "
        "which moves all its readings together. An instrument in brackets is not named in the "
        "factory file; its figures are the usual ones.",
    )
    if any(channel.kind != "quantity" for channel in points.analyses(point).values()):
        printing.paragraph(
            screen,
            "Most analyses may be given by raw readings too, such as pol.rotation: `canewright "
            "lab` lists their methods, and those whose results no balance takes, such as pH.",
        )


def size(value: float, relative: bool, unit: str) -> str:
    """An uncertainty in words: % of the value, or in the reading's unit."""
    if relative:
        return f"{value:g} % of it" if unit == "%" else f"{value:g} %"
    return f"{value:g} {unit}".strip()


def for_json(points: Points, found: Mapping[str, dict[str, Any]]) -> list[dict[str, Any]]:
    """Points with stable keys."""
    return [
        {
            "point": point,
            "what": entry["what"],
            "owner": entry["owner"],
            "readings": [
                {
                    "analysis": name,
                    "label": channel.label,
                    "unit": channel.unit,
                    "low": channel.low,
                    "high": channel.high,
                    "several": channel.several,
                    "random": channel.random,
                    "random_relative": channel.random_relative,
                    "bias": channel.bias,
                    "bias_relative": channel.bias_relative,
                    "instrument": channel.instrument,
                    "instrument_named": bool(instrument_of(points, channel)),
                    "source": channel.source,
                }
                for name, channel in entry["channels"].items()
            ],
        }
        for point, entry in found.items()
    ]


def readings_page() -> str:
    """The handbook's page of readings, in Markdown."""
    lines = [
        "# Readings",
        "",
        "Made from the declarations by `canewright docs`; not to be edited.",
        "",
        "A reading is what an instrument or an analyst would say of the state of a stream. Its "
        "standard uncertainty has a random part, for one reading, and a bias, the common error "
        "of an instrument that moves all its readings together and lasts for weeks. The figures "
        "below hold where the factory file names no instrument of its own.",
        "",
    ]
    for reading in READINGS.values():
        lines += _reading_section(reading)
    lines += [
        "## What is not exact",
        "",
        "Relations between state and reading that hold only roughly carry a number of their "
        "own, which the balance estimates.",
        "",
        "| relation | what | unit | mean | standard deviation | limits | source |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    lines += [
        f"| `{relation.name}` | {relation.label} | {relation.unit} | {relation.mean:g} "
        f"| {relation.sd:g} | {relation.bounds[0]:g} to {relation.bounds[1]:g} "
        f"| [{relation.source}](sources.md#{relation.source}) |"
        for relation in RELATIONS.values()
    ]
    return "\n".join([*lines, ""])


def _reading_section(reading: Reading) -> list[str]:
    streams = [kind.name for kind in KINDS.values() if reading.suits(kind)]
    stocks = [kind.name for kind in KINDS.values() if reading.suits(kind, stock=True)]
    lines = [f"## {reading.name}", "", f"{reading.label[0].upper()}{reading.label[1:]}.", ""]
    if reading.note:
        lines += [reading.note, ""]
    lines += [
        f"Unit: {reading.unit}. Possible: {reading.low:g} to {reading.high:g}. Several readings "
        f"of a shift make their {reading.several}. Instrument, where none is named: "
        f"{reading.instrument}.",
        "",
    ]
    if streams:
        lines += [f"Read of: {', '.join(streams)}.", ""]
    if stocks and stocks != streams:
        lines += [f"Read of stocks of: {', '.join(stocks)}.", ""]
    lines += ["| of | random | bias |", "| --- | --- | --- |"]
    for of_what, uncertainty in reading.uncertainty.items():
        rest = "any" if len(reading.uncertainty) == 1 else "the rest"
        lines.append(f"| {of_what or rest} | {_of(reading, uncertainty)} |")
    lines += ["", f"Source: [{reading.source}](sources.md#{reading.source}).", ""]
    return lines


def _of(reading: Reading, uncertainty: Uncertainty) -> str:
    relative, unit = uncertainty.relative, reading.unit
    return f"{size(uncertainty.random, relative, unit)} | {size(uncertainty.bias, relative, unit)}"


def points_page(points: Points) -> str:
    """The handbook's page of the points of a factory, in Markdown."""
    model = points.model
    lines = [
        "# Points of the demonstration factory",
        "",
        "Made by `canewright docs`; not to be edited. The factory is invented.",
        "",
        f"{model.factory.name}. `canewright points FACTORY` lists those of yours, and "
        "`canewright points FACTORY POINT` how well each can be read. A star marks what an "
        "instrument named in the factory file reads.",
        "",
        "| point | what | can be read |",
        "| --- | --- | --- |",
    ]
    for point, entry in described(points).items():
        names = ", ".join(
            f"{name}*" if instrument_of(points, channel) else name
            for name, channel in entry["channels"].items()
        )
        lines.append(f"| `{point}` | {entry['what']} | {names} |")
    return "\n".join([*lines, ""])
