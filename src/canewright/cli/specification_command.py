"""`canewright specification`: what a sugar must be, and whether a lot is."""

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from canewright.cli.problems import Refused, did_you_mean

if TYPE_CHECKING:
    from canewright.laboratory.lots import LotVerdict, Row
    from canewright.laboratory.specifications import Specification


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("specification")
    def command(
        asked: Annotated[
            list[str] | None,
            typer.Argument(
                metavar="[NAME|FILE] [PROPERTY=VALUE]...",
                help="A specification's name, or your own as a TOML file; then a lot's results.",
                show_default=False,
            ),
        ] = None,
        uncertainty: Annotated[
            list[str] | None,
            typer.Option(
                metavar="PROPERTY=VALUE",
                help="Standard uncertainty of a result, in place of the published precision.",
                show_default=False,
            ),
        ] = None,
        confidence: Annotated[float, typer.Option(help="One-sided confidence. [%]")] = 95.0,
        as_json: Annotated[
            bool, typer.Option("--json", help="Print the same for another program.")
        ] = False,
    ) -> None:
        """List specifications, show one, or judge a lot by one.

        A lot is judged with the uncertainty of its analyses.

        canewright specification codex_plantation_white pol=99.6 colour=120 moisture=0.05
        """
        answer(asked or [], uncertainty or [], confidence=confidence, as_json=as_json)


def answer(
    asked: Sequence[str], uncertainty: Sequence[str], *, confidence: float, as_json: bool
) -> None:
    """Print the list, one specification, or the verdict on a lot.

    Raises
    ------
    Refused
        If there is no such specification, or a result cannot be read.
    """
    from canewright.cli import printing
    from canewright.laboratory.specifications import specifications

    names = [text for text in asked if "=" not in text]
    pairs = [text for text in asked if "=" in text]
    if len(names) > 1:
        raise Refused(f"Judge a lot by one specification at a time, not by {' and '.join(names)}.")
    if not names:
        if pairs:
            raise Refused(
                "Name a specification before the results, such as "
                "`canewright specification codex_white pol=99.8`."
            )
        _list(list(specifications().values()), as_json=as_json)
        return
    specification = _named(names[0])
    if not pairs:
        if as_json:
            printing.write_json(_specification_json(specification))
        else:
            _show(specification)
        return
    from canewright.laboratory.lots import judge

    try:
        verdict = judge(
            specification,
            _numbers(specification, pairs),
            _numbers(specification, uncertainty, difference=True),
            confidence,
        )
    except ValueError as error:
        raise Refused(*str(error).splitlines()) from None
    if as_json:
        printing.write_json(_verdict_json(verdict))
    else:
        _print_verdict(verdict)


def _named(name: str) -> "Specification":
    from canewright.laboratory.specifications import read_specification, specifications

    known = specifications()
    if name in known:
        return known[name]
    if name.endswith(".toml") or Path(name).is_file():
        return read_specification(name)
    raise Refused(
        f"There is no specification called {name!r}.{did_you_mean(name, known)} "
        "`canewright specification` lists all; your own is a file ending in .toml."
    )


def _numbers(
    specification: "Specification", pairs: Sequence[str], *, difference: bool = False
) -> dict[str, float]:
    """Values by property; every problem at once."""
    from canewright.laboratory.specifications import PROPERTIES, property_name
    from canewright.units import UnitError, parse_difference, parse_quantity

    units = {name: entry.unit for name, entry in PROPERTIES.items()}
    units |= {limit.property: limit.unit for limit in specification.limits}
    read = parse_difference if difference else parse_quantity
    found: dict[str, float] = {}
    problems = []
    for pair in pairs:
        word, equals, text = (part.strip() for part in pair.partition("="))
        name = property_name(word)
        if not equals:
            problems.append(f"{pair!r} is not of the form property=value.")
        elif name not in units:
            close = did_you_mean(name, units)
            problems.append(f"{word!r} is not a property of sugar known here.{close}")
        elif name in found:
            problems.append(f"{name} is given twice; give it once.")
        else:
            try:
                found[name] = read(text, internal=units[name])
            except UnitError as error:
                problems.append(f"{name}: {error}")
    if problems:
        raise Refused(*problems)
    return found


def _list(found: "Sequence[Specification]", *, as_json: bool) -> None:
    from canewright.cli import printing

    if as_json:
        printing.write_json({"specifications": [_specification_json(entry) for entry in found]})
        return
    screen = printing.console()
    printing.paragraph(screen, f"{len(found)} specifications")
    column = printing.Column
    rows = [[entry.name, entry.title, ", ".join(entry.asks)] for entry in found]
    printing.paragraph(screen, "")
    headings = [column("name"), column("what", wrap=True), column("judged by", wrap=True)]
    printing.table(screen, headings, rows)
    printing.paragraph(screen, "")
    printing.paragraph(
        screen,
        "`canewright specification NAME` shows one; with property=value it judges a lot. Your "
        "own is a TOML file of the same form.",
    )


def _show(specification: "Specification") -> None:
    from canewright.cli import printing

    screen = printing.console()
    _head(specification)
    column = printing.Column
    rows = []
    for limit in specification.limits:
        ends = [f"at least {limit.at_least:g}"] if limit.at_least is not None else []
        ends += [f"at most {limit.at_most:g}"] if limit.at_most is not None else []
        unit = "" if limit.unit == "1" else limit.unit
        rows.append([limit.property, f"{' and '.join(ends)} {unit}", _place(limit)])
    if specification.points:
        points = specification.points
        rows += [
            [of.property, f"at most {of.at_most:g} points of {of.one_point:g}", _place(points)]
            for of in points.of
        ]
        rows.append(["points", f"at most {points.at_most:g} in all", _place(points)])
    printing.paragraph(screen, "")
    headings = [column("property"), column("limit", wrap=True), column("where", wrap=True)]
    printing.table(screen, headings, rows)
    if specification.note:
        printing.paragraph(screen, "")
        printing.paragraph(screen, specification.note)


def _head(specification: "Specification") -> None:
    from canewright.cli import printing

    screen = printing.console()
    printing.paragraph(screen, specification.title, style="bold")
    edition = f"; {specification.edition}" if specification.edition else ""
    standard = specification.standard or "own specification"
    printing.paragraph(screen, f"{standard}{edition}")


def _place(entry: Any) -> str:
    """Source and place of a limit, and how it is known."""
    if not entry.source:
        return entry.at or "the file itself"
    known = {"read": "read", "memory": "from memory"}.get(entry.known, entry.known)
    return f"{entry.source}, {entry.at} ({known})"


def _print_verdict(verdict: "LotVerdict") -> None:
    from canewright.cli import printing

    screen = printing.console()
    printing.paragraph(screen, f"The lot {_as_told(verdict.verdict)}.", style="bold")
    for row in verdict.rows:
        if row.verdict != "conforms":
            printing.paragraph(screen, f"{row.words[0].upper()}{row.words[1:]}", indent=2)
    printing.paragraph(screen, "")
    _head(verdict.specification)
    printing.paragraph(screen, "")
    column = printing.Column
    rows = [
        [
            row.label,
            "-" if row.result is None else printing.number(row.result.value),
            row.limit,
            _band(row),
            row.verdict,
            "-" if math.isnan(row.probability) else f"{row.probability:.1f}",
        ]
        for row in verdict.rows
    ]
    headings = [
        column("property", wrap=True), column("result", "right"), column("limit", wrap=True),
        column("guard band", "right"), column("verdict", wrap=True), column("inside, %", "right"),
    ]  # fmt: skip
    printing.table(screen, headings, rows)
    printing.paragraph(screen, "")
    printing.paragraph(screen, verdict.guard_band)
    printing.paragraph(screen, _bases(verdict.rows))
    for caution in verdict.cautions:
        printing.paragraph(screen, f"Caution: {caution}")


def _as_told(verdict: str) -> str:
    told = "cannot be said to conform or not"
    return verdict if verdict != "cannot be said" else told


def _band(row: "Row") -> str:
    if row.result is None or math.isnan(row.guard_band):
        return "-"
    return f"{row.guard_band:.2g}"


def _bases(rows: "Sequence[Row]") -> str:
    """Where the uncertainties are from, in one sentence."""
    by_basis: dict[str, list[str]] = {}
    for row in rows:
        if row.result is not None:
            source = f" [{row.result.source}]" if row.result.source else ""
            by_basis.setdefault(f"{row.result.basis}{source}", []).append(row.label)
    told = "; ".join(f"{', '.join(labels)}: {basis}" for basis, labels in by_basis.items())
    return f"Uncertainties: {told}."


def _specification_json(specification: "Specification") -> dict[str, Any]:
    points = specification.points
    return {
        "name": specification.name,
        "title": specification.title,
        "standard": specification.standard,
        "edition": specification.edition,
        "product": specification.product,
        "own": specification.own,
        "note": specification.note,
        "limits": [vars(limit) for limit in specification.limits],
        "points": None
        if points is None
        else {**vars(points), "of": [vars(of) for of in points.of]},
    }


def _verdict_json(verdict: "LotVerdict") -> dict[str, Any]:
    def of_row(row: "Row") -> Mapping[str, Any]:
        result = None if row.result is None else vars(row.result)
        return {**vars(row), "result": result}

    return {
        "specification": _specification_json(verdict.specification),
        "verdict": verdict.verdict,
        "confidence": verdict.confidence,
        "guard_band": {"factor": verdict.factor, "words": verdict.guard_band},
        "properties": [of_row(row) for row in verdict.rows],
        "cautions": verdict.cautions,
    }
