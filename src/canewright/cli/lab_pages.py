"""What `canewright lab` prints, for a person and for another program."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Any

from rich.console import Console

from canewright import registry
from canewright.cli import printing
from canewright.cli.printing import Column
from canewright.laboratory.cautions import CAUTIONS, DEFERS
from canewright.laboratory.method import Method, RawInput
from canewright.laboratory.working import Worked

if TYPE_CHECKING:
    from canewright.laboratory.drawing import MonteCarlo
    from canewright.laboratory.propagation import Uncertain

WIDE = 100
"""Columns from which equation and source stand beside a line of the working."""

COVERAGE = 1.96
"""Standard uncertainties on either side of a result that hold 95 % [gum2008]."""

_WORDS = {"read": "read in the source", "memory": "from memory, not seen again",
          "derived": "derived in this project", "assumed": "assumed"}  # fmt: skip


@dataclass(frozen=True)
class Result:
    """A method worked from raw readings: its lines, its uncertainty, what is remarked.

    `drawn` is the uncertainty by drawing, where the linear law does not hold.
    """

    worked: Worked
    uncertain: "Uncertain"
    warnings: tuple[str, ...]
    drawn: "MonteCarlo | None" = None

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty of the result."""
        if self.drawn is not None:
            return self.drawn.uncertainty
        return float(self.uncertain.uncertainty[0])

    @property
    def interval(self) -> tuple[float, float]:
        """95 % interval of the result."""
        if self.drawn is not None:
            return self.drawn.low, self.drawn.high
        half = COVERAGE * self.uncertainty
        return self.worked.value - half, self.worked.value + half


def _needs(method: Method) -> str:
    return ", ".join(f"{raw.name} [{raw.unit}]" for raw in method.inputs if raw.required)


def _subject(method: Method) -> str:
    return method.steps.__module__.rsplit(".", 1)[-1].replace("_", " ")


def print_list(screen: Console, methods: Iterable[Method]) -> None:
    """Print methods by subject, each with what must be read for it."""
    listed = sorted(methods, key=lambda method: (_subject(method), method.name))
    printing.paragraph(screen, f"{len(listed)} methods of analysis, and what each needs")
    for subject, members in groupby(listed, key=_subject):
        printing.heading(screen, subject)
        for method in members:
            printing.paragraph(screen, f"{method.name}: {method.title}", indent=2)
            needs = _needs(method) or "sieves and pan"
            printing.paragraph(screen, needs, indent=6, style="dim")
    printing.emit(screen, "")
    printing.paragraph(screen, "One of them in full: canewright lab METHOD")
    printing.paragraph(screen, "Worked: canewright lab METHOD input=value input=value ...")


def list_for_json(methods: Iterable[Method]) -> dict[str, Any]:
    """Methods and the raw readings each must have, for another program."""
    return {
        "methods": [
            {
                "method": method.name,
                "title": method.title,
                "analysis": method.analysis,
                "unit": method.unit,
                "streams": list(method.classes),
                "needs": [raw.name for raw in method.inputs if raw.required],
            }
            for method in methods
        ]
    }


def _when_left_out(raw: RawInput) -> str:
    if raw.default is not None:
        return f"else {raw.default:g}"
    return "may be left out" if raw.optional else "needed"


def print_page(screen: Console, method: Method) -> None:
    """Print what a method needs, gives, rests on and is dangerous for."""
    printing.paragraph(screen, method.name, style="bold")
    printing.paragraph(screen, f"{method.title} [{method.unit}]")
    if method.classes:
        printing.paragraph(screen, f"For {', '.join(method.classes)}.")
    printing.heading(screen, "Raw readings")
    rows = [
        [
            raw.name,
            raw.unit,
            _when_left_out(raw),
            f"{raw.low:g} to {raw.high:g}",
            f"{raw.label}. {raw.text}".strip() if raw.text else raw.label,
        ]
        for raw in method.inputs
    ]
    columns = (Column(), Column("unit"), Column("", wrap=True), Column("can be"), Column(wrap=True))
    if screen.width < WIDE:
        printing.table(screen, columns[:4], [row[:4] for row in rows])
        printing.heading(screen, "What they are")
        for row in rows:
            printing.paragraph(screen, f"{row[0]}: {row[4]}", indent=2)
    else:
        printing.table(screen, columns, rows)
    if method.precision is not None:
        level = method.precision
        printing.heading(screen, "Published precision")
        for one in (level, *level.others):
            printing.paragraph(
                screen,
                f"{one.low:g} to {one.high:g} {method.unit}: s_r {one.s_r:.3g}, s_R {one.s_R:.3g} "
                f"({one.source}, {one.at})",
                indent=2,
            )
    _print_source(screen, method)
    _print_cautions(screen, method)
    printing.emit(screen, "")
    example = " ".join(f"{raw.name}=..." for raw in method.inputs if raw.required)
    printing.paragraph(screen, f"Worked: canewright lab {method.name} {example}")
    if method.analysis or method.classes:
        names = ", ".join(
            f"{method.analysis or method.name}.{raw.name}"
            + (f" (or the sample's {raw.takes})" if raw.takes else "")
            for raw in method.inputs
            if raw.required
        )
        alone = method.default or not method.analysis
        chosen = "" if alone else f", with {method.name} in the column method"
        printing.paragraph(screen, f"In a readings file, as analyses: {names}{chosen}.")


def _print_source(screen: Console, method: Method) -> None:
    if method.text:
        printing.heading(screen, "Note")
        printing.paragraph(screen, method.text, indent=2)
    printing.heading(screen, "Source")
    place = f"{method.source}, {method.at}: {_WORDS[method.known]}."
    printing.paragraph(screen, place, indent=2)
    reference = registry.sources().get(method.source)
    if reference is not None:
        printing.paragraph(screen, reference.text, indent=2, style="dim")


def _print_cautions(screen: Console, method: Method) -> None:
    if not method.cautions:
        return
    printing.heading(screen, "Caution")
    for name in method.cautions:
        printing.paragraph(screen, str(CAUTIONS[name]), indent=2)
    if method.substitutes:
        printing.paragraph(screen, f"Safer: {method.substitutes}", indent=2)
    printing.paragraph(screen, DEFERS, indent=2)


def page_for_json(method: Method) -> dict[str, Any]:
    """Everything about a method, for another program."""
    return {
        "method": method.name,
        "title": method.title,
        "analysis": method.analysis,
        "unit": method.unit,
        "streams": list(method.classes),
        "inputs": [
            {
                "name": raw.name,
                "label": raw.label,
                "unit": raw.unit,
                "low": raw.low,
                "high": raw.high,
                "needed": raw.required,
                "default": raw.default,
                "standard_uncertainty": raw.uncertainty,
                "relative": raw.relative,
                "shared": raw.shared,
                "text": raw.text,
            }
            for raw in method.inputs
        ],
        "source": method.source,
        "cautions": cautions(method),
    }


def cautions(method: Method) -> list[str]:
    """Sentences of caution, with the safer way where the standard allows one."""
    said = [str(CAUTIONS[name]) for name in method.cautions]
    if method.substitutes:
        said.append(f"Safer: {method.substitutes}")
    return [*said, DEFERS] if said else []


def result_for_json(result: Result) -> dict[str, Any]:
    """The working, for another program."""
    method = result.worked.method
    return {
        "method": method.name,
        "result": {
            "value": result.worked.value,
            "unit": method.unit,
            "interval": list(result.interval),
        },
        "steps": [
            {
                "name": line.name,
                "value": float(line.value),
                "unit": line.unit,
                "source": line.source,
            }
            for line in result.worked.steps
        ],
        "warnings": list(result.warnings),
        "cautions": cautions(method),
    }


def _of(unit: str) -> str:
    """A unit as it stands behind a number; a ratio has none."""
    return "" if unit == "1" else f" {unit}"


def print_result(screen: Console, result: Result) -> None:
    """Print the working as a laboratory book would hold it: finding, readings, lines, source."""
    worked = result.worked
    method = worked.method
    spread = result.uncertainty
    low, high = (printing.number(end, spread, grouped=False) for end in result.interval)
    value = printing.number(worked.value, spread, grouped=False)
    printing.paragraph(screen, f"{method.title}", style="bold")
    printing.paragraph(
        screen, f"{value}{_of(method.unit)}   (95 %: {low} to {high})", indent=2, style="bold"
    )
    for said in result.warnings:
        printing.paragraph(screen, f"Warning: {said}", indent=2)

    printing.heading(screen, "Readings")
    rows = []
    for name, reading in worked.inputs.items():
        raw = method.input(name)
        taken = "taken as usual" if name in worked.defaults else ""
        shown = printing.number(reading, None, grouped=False)
        rows.append([name, shown, _of(raw.unit).strip(), taken, raw.label])
    columns = (Column(), Column(align="right"), Column(), Column(), Column(wrap=True))
    printing.table(screen, columns, rows)

    printing.heading(screen, "Working")
    _print_steps(screen, worked)

    printing.heading(screen, "How sure")
    _print_uncertainty(screen, result)
    _print_source(screen, method)
    _print_cautions(screen, method)


def _print_steps(screen: Console, worked: Worked) -> None:
    lines = [
        (line.name, printing.number(float(line.value), None, grouped=False), line)
        for line in worked.steps
    ]
    if screen.width >= WIDE:
        columns = (
            Column(wrap=True, widest=34),
            Column(align="right"),
            Column(wrap=True, widest=18),
            Column(wrap=True),
            Column(style="dim"),
        )
        rows = [[name, shown, line.unit, line.note, line.source] for name, shown, line in lines]
        printing.table(screen, columns, rows)
        return
    longest = max(len(name) for name, _, _ in lines)
    widest = max(len(shown) for _, shown, _ in lines)
    for name, shown, line in lines:
        printing.paragraph(
            screen, f"{name:<{longest}}  {shown:>{widest}} {_of(line.unit)}", indent=2
        )
        printing.paragraph(screen, f"{line.note}  [{line.source}]".strip(), 6, style="dim")


def _print_uncertainty(screen: Console, result: Result) -> None:
    method, uncertain = result.worked.method, result.uncertain
    spread = result.uncertainty
    basis = uncertain.basis[0]
    told = (
        "from the published precision between laboratories, s_R"
        if basis == "published precision"
        else "from the readings below; the instrument's own bias is for its check standards to tell"
    )
    if result.drawn is not None:
        told = f"from {result.drawn.draws} draws of the readings below; not near linear here"
    printing.paragraph(
        screen, f"Standard uncertainty {spread:.2g}{_of(method.unit)}, {told}.", indent=2
    )
    parts = {name: float(part[0]) for name, part in uncertain.contributions.items()}
    rows = []
    for name, part in sorted(parts.items(), key=lambda item: -abs(item[1])):
        raw = method.input(name)
        if not part:
            continue
        size = float(raw.standard_uncertainty(result.worked.inputs[name]))
        shared = f"shared: {raw.shared}" if raw.shared else "its own"
        rows.append([name, f"{size:.2g}", _of(raw.unit).strip(), f"{abs(part):.2g}", shared])
    if method.sampling:
        rows.append(["sampling and handling", "", "", f"{method.sampling:.2g}", "judgement"])
    columns = (
        Column("of"),
        Column("u", align="right"),
        Column(),
        Column(f"in {method.unit}" if method.unit != "1" else "moves it", align="right"),
        Column(wrap=True),
    )
    if rows:
        printing.table(screen, columns, rows)
