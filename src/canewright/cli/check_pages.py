"""What `canewright check` prints when a factory file is in order, and its JSON."""

from typing import Any

from rich.console import Console

from canewright.cli import printing
from canewright.cli.checked import Checked
from canewright.cli.printing import Column
from canewright.engine.equations.plausibility import Strange, outflows
from canewright.engine.equations.simulate import Solved

NOTABLE_RESULT = 0.2
"""Widths of its usual range that a result lies outside before it is shown to a person."""

NOTABLE_GIVEN = 2.5
"""The same for what the file itself says: a plant may well be unusual, a slip is far off."""

SHOWN = 8
PORTS_IN = ("cane_yard", "water_supply")
PORTS_OUT = ("departure", "vapour_departure")


def print_summary(screen: Console, checked: Checked) -> None:
    """Print that the factory is in order, what it has and what is worth a look."""
    factory, model, solved = checked.factory, checked.model, checked.solved
    if factory is None or model is None or solved is None:
        raise ValueError("A factory with problems has no summary.")
    counts = counts_of(checked)
    printing.paragraph(screen, factory.name, style="bold")
    printing.paragraph(
        screen,
        "The file is in order, and its equations can be solved from its usual figures: "
        f"{counts['stations']} stations, {counts['streams']} streams, {counts['variables']} "
        f"quantities, {counts['equations']} equations; {counts['points']} points at which "
        f"{counts['possible_readings']} readings could be taken.",
    )
    _print_flows(screen, solved)
    _print_strange(screen, checked)
    _print_instruments(screen, checked)
    _print_readings(screen, checked)
    printing.emit(screen, "")
    if checked.readings is None:
        printing.paragraph(screen, "What can be read, and where: canewright points FACTORY")
    if factory.invented:
        printing.paragraph(screen, "This factory is invented.")


def _print_flows(screen: Console, solved: Solved) -> None:
    printing.heading(screen, "What comes and goes at the usual figures")
    entering = outflows(solved, PORTS_IN)
    cane = next((flow for _, stream, flow in entering if stream == _cane(solved)), 0.0)
    rows = [
        [stream, f"{flow:.2f}", f"{100 * flow / cane:.2f}" if cane > 0 else ""]
        for _, stream, flow in [*entering, *outflows(solved, PORTS_OUT)]
    ]
    columns = (Column(wrap=True), Column("t/h", "right"), Column("% of cane", "right"))
    printing.table(screen, columns, rows)


def _cane(solved: Solved) -> str:
    streams = solved.model.flowsheet.streams
    return next((name for name, kind in streams.items() if kind.name == "cane"), "")


def _print_strange(screen: Console, checked: Checked) -> None:
    groups = (
        (
            "Results outside what is usual: is a size, a setting or a connection wrong?",
            [each for each in checked.results if each.distance > NOTABLE_RESULT],
        ),
        (
            "Written far outside what is usual: is it the unit, or is the plant so?",
            [each for each in checked.givens if each.distance > NOTABLE_GIVEN],
        ),
    )
    for title, found in groups:
        if not found:
            continue
        printing.heading(screen, title)
        rows = [
            [
                f"{each.station}: {each.label}",
                f"{each.value:.4g} {_unit(each)}".rstrip(),
                f"{each.low:g} to {each.high:g}",
            ]
            for each in found[:SHOWN]
        ]
        printing.table(screen, (Column(wrap=True), Column("is"), Column("usual")), rows)
        if len(found) > SHOWN:
            printing.paragraph(screen, f"and {len(found) - SHOWN} more, with --json.", indent=2)
    if checked.empty:
        printing.heading(screen, "Nothing flows in")
        printing.paragraph(screen, ", ".join(checked.empty), indent=2)


def _unit(strange: Strange) -> str:
    return "" if strange.unit in {"1", "-", "ratio"} else strange.unit


def _print_instruments(screen: Console, checked: Checked) -> None:
    if checked.factory is None:
        return
    named = len(checked.factory.instruments)
    printing.heading(screen, "Instruments")
    if not named:
        printing.paragraph(
            screen,
            "None is named: every reading is taken to be as good as is usual for its kind.",
            indent=2,
        )
        return
    text = f"{named} named in the file."
    if checked.overdue:
        listed = ", ".join(f"{each.name} (due {each.due})" for each in checked.overdue)
        text += f" Overdue for calibration: {listed}."
    printing.paragraph(screen, text, indent=2)
    for known in checked.standings:
        if known.origin == "stated":
            continue  # its due date is told already
        printing.paragraph(screen, known.words, indent=2)


def _print_readings(screen: Console, checked: Checked) -> None:
    readings = checked.readings
    if readings is None:
        return
    by_point = points_read(checked)
    count = sum(len(names) for names in by_point.values())
    shift = readings.shift
    title = f"Readings in {readings.file}: {count} of {len(by_point)} points"
    if shift.start is not None:
        title += f", shift of {shift.start:%Y-%m-%d %H:%M}"
    printing.heading(screen, title)
    columns = (Column("point"), Column("read", wrap=True))
    rows = [[point, ", ".join(names)] for point, names in by_point.items()]
    printing.table(screen, columns, rows)
    if checked.remarks:
        printing.heading(screen, "To be looked at before the shift is over")
        for words in checked.remarks:
            printing.paragraph(screen, words, indent=2)


def points_read(checked: Checked) -> dict[str, list[str]]:
    """Point -> analyses read there, with how often where more than once."""
    found: dict[str, list[str]] = {}
    for reading in checked.combined:
        times = f" ({reading.count} times)" if reading.count > 1 else ""
        found.setdefault(reading.point, []).append(f"{reading.analysis}{times}")
    return found


def counts_of(checked: Checked) -> dict[str, int]:
    """How much of everything a factory has."""
    model, points = checked.model, checked.points
    if model is None or points is None:
        return {}
    analyses = [points.analyses(point) for point in points.owners]
    return {
        "stations": len(model.flowsheet.placed),
        "streams": len(model.flowsheet.streams),
        "mains": len(model.flowsheet.mains),
        "variables": len(model.variables),
        "equations": len(model.equations),
        "points": sum(bool(names) for names in analyses),
        "possible_readings": sum(len(names) for names in analyses),
    }


def for_json(checked: Checked) -> dict[str, Any]:
    """The answer with stable keys; `in_order` is the verdict."""
    solved = checked.solved
    factory = checked.factory
    return {
        "in_order": not checked.problems,
        "factory": factory.name if factory else None,
        "invented": factory.invented if factory else None,
        "problems": [problem.as_dict() for problem in checked.problems],
        "counts": counts_of(checked),
        "flows": [
            {"station": station, "stream": stream, "flow": flow, "unit": "t/h"}
            for station, stream, flow in (
                outflows(solved, (*PORTS_IN, *PORTS_OUT)) if solved else []
            )
        ],
        "unusual": [
            {
                "station": each.station,
                "quantity": each.name,
                "label": each.label,
                "unit": each.unit,
                "value": each.value,
                "usual": [each.low, each.high],
                "written": each.written,
            }
            for each in (*checked.results, *checked.givens)
        ],
        "empty_streams": checked.empty,
        "instruments": [
            {
                "instrument": known.instrument,
                "known_from": known.origin,
                "bias": known.mean,
                "standard_uncertainty": known.sd,
                "unit": known.unit,
                "words": known.words,
            }
            for known in checked.standings
        ],
        "overdue": [{"instrument": each.name, "due": str(each.due)} for each in checked.overdue],
        "solved": {
            "iterations": solved.iterations,
            "seconds": solved.seconds,
            "route": solved.route,
        }
        if solved
        else None,
        "readings": {
            "file": checked.readings.file,
            "start": str(checked.readings.shift.start) if checked.readings.shift.start else None,
            "hours": checked.readings.shift.hours,
            "points": {
                point: [each.analysis for each in checked.combined if each.point == point]
                for point in dict.fromkeys(each.point for each in checked.combined)
            },
            "remarks": checked.remarks,
        }
        if checked.readings
        else None,
    }
