"""`canewright lab`: from raw readings of the bench to an analysis, line by line."""

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from canewright.cli.problems import Refused, did_you_mean

if TYPE_CHECKING:
    from canewright.cli.lab_pages import Result
    from canewright.laboratory.drawing import MonteCarlo
    from canewright.laboratory.method import Method, RawInput

DRAWS = 20_000
"""Draws beside the linear law: they tell a standard uncertainty to 0.5 %, where 3 % are asked."""


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("lab")
    def command(
        asked: Annotated[
            list[str] | None,
            typer.Argument(
                metavar="[METHOD] [INPUT=VALUE]...",
                help="A method of analysis, then its raw readings, with a unit or in the "
                "method's own.",
                show_default=False,
            ),
        ] = None,
        stream: Annotated[
            str,
            typer.Option(
                "--of",
                metavar="STREAM",
                help="What was sampled, such as 'mixed juice': compares with its usual range.",
                show_default=False,
            ),
        ] = "",
        table: Annotated[
            Path | None,
            typer.Option(
                "--table",
                metavar="FILE",
                help="A table of your own (TOML) in place of the method's.",
                show_default=False,
            ),
        ] = None,
        as_json: Annotated[
            bool, typer.Option("--json", help="Print the same for another program.")
        ] = False,
    ) -> None:
        """Work an analysis from raw readings, or list the methods.

        With a method alone: what it needs.

        canewright lab pol_of_juice

        canewright lab pol_of_juice rotation=48.1 brix=14.2 temperature=297.5K
        """
        answer(asked or [], stream=stream, table=table, as_json=as_json)


def answer(
    asked: Sequence[str], *, stream: str = "", table: Path | None = None, as_json: bool = False
) -> None:
    """Print the list of methods, the page of one, or its working from raw readings.

    Parameters
    ----------
    asked : sequence of str
        A method's name and `input=value` pairs.
    stream : str
        What was sampled, for the usual ranges.
    table : Path, optional
        A table of the laboratory's own.
    as_json : bool
        For another program instead of a person.

    Raises
    ------
    Refused
        With every problem of the raw readings at once.
    """
    from canewright.cli import lab_pages, printing
    from canewright.laboratory.method import methods

    words = [text for text in asked if "=" not in text]
    pairs = [text for text in asked if "=" in text]
    everything = methods()
    if not words and not pairs:
        if as_json:
            printing.write_json(lab_pages.list_for_json(everything.values()))
        else:
            lab_pages.print_list(printing.console(), everything.values())
        return
    method = _named(words, everything)
    if table is not None:
        from canewright.files.table_files import own_methods

        own = own_methods([table])
        if method.name not in own:
            raise Refused(f"{table.name} is a table for {', '.join(own)}, not for {method.name}.")
        method = own[method.name]
    if not pairs:
        if as_json:
            printing.write_json(lab_pages.page_for_json(method))
        else:
            lab_pages.print_page(printing.console(), method)
        return
    result = work(method, pairs, stream)
    if as_json:
        printing.write_json(lab_pages.result_for_json(result))
    else:
        lab_pages.print_result(printing.console(), result)


def work(method: "Method", pairs: Sequence[str], stream: str = "") -> "Result":
    """Work a method from `input=value` pairs.

    Raises
    ------
    Refused
        With every problem of the raw readings at once.
    """
    from canewright.cli import lab_pages
    from canewright.laboratory.plausibility import ranges, unusual
    from canewright.laboratory.propagation import propagate
    from canewright.laboratory.working import examine

    values, problems = _readings(method, pairs)
    found = examine(method, values)
    unread = {name for name, value in values.items() if math.isnan(value)}
    problems += [
        remark.text
        for remark in found.refusals
        if remark.reading not in unread and remark.reading != ""
    ]
    if stream and stream.strip().casefold().replace("_", " ") not in ranges():
        near = did_you_mean(stream.strip().replace("_", " "), ranges())
        problems.append(f"No usual ranges are known of {stream!r}.{near} Leave out --of.")
    if problems:
        raise Refused(*problems, f"`canewright lab {method.name}` shows what it needs.")
    uncertain = propagate(method, found.inputs)
    warnings = [remark.text for remark in found.warnings]
    if stream:
        by_name = {line.name: line for line in found.steps}
        usual = dict(method.usual) or {method.analysis: found.steps[-1].name}
        for quantity, name in usual.items():
            line = by_name[name]
            warnings.append(unusual(quantity, stream, float(line.value), line.unit))
    drawn = _drawn(method, found.inputs) if uncertain.basis[0] == "raw readings" else None
    if drawn is not None:
        warnings.append(
            f"These readings lie where {method.name} is not near linear: the linear law gives a "
            f"standard uncertainty of {float(uncertain.uncertainty[0]):.2g}, and drawing the raw "
            f"readings {drawn.uncertainty:.2g}, which is reported."
        )
    return lab_pages.Result(found, uncertain, tuple(filter(None, warnings)), drawn)


def _drawn(method: "Method", inputs: "Mapping[str, float]") -> "MonteCarlo | None":
    """The uncertainty by drawing, where the linear law does not agree with it."""
    from canewright.laboratory.drawing import compare

    compared = compare(method, inputs, draws=DRAWS)
    known = compared.drawn.uncertainty > 0
    return compared.drawn if known and not compared.near_linear else None


def _named(words: Sequence[str], everything: "dict[str, Method]") -> "Method":
    name = "_".join(words).lower().replace("-", "_").replace(" ", "_")
    if name in everything:
        return everything[name]
    if not words:
        raise Refused("Name the method before its readings: `canewright lab` lists them.")
    close = did_you_mean(name, everything)
    within = [known for known in everything if name in known][:6]
    if not close and within:
        close = f" Methods with it in their name: {', '.join(within)}."
    raise Refused(f"No method is called {name!r}.{close} `canewright lab` lists all.")


def _readings(method: "Method", pairs: Sequence[str]) -> tuple[dict[str, float], list[str]]:
    """Values in the method's units; what cannot be read is not a number, and said."""
    values: dict[str, float] = {}
    problems: list[str] = []
    known = {raw.name: raw for raw in method.inputs}
    for pair in pairs:
        name, _, text = (part.strip() for part in pair.partition("="))
        if name not in known:
            close = did_you_mean(name, known)
            problems.append(f"{method.name} has no raw reading {name!r}.{close}")
        elif name in values:
            problems.append(f"{name} is given twice; give it once.")
        else:
            try:
                values[name] = _quantity(text, known[name])
            except ValueError as error:
                values[name] = math.nan
                problems.append(f"{name}: {error} {known[name].bench}".rstrip())
    return values, problems


def _quantity(text: str, raw: "RawInput") -> float:
    try:
        value = float(text)
    except ValueError:
        from canewright.units import parse_quantity

        value = float(parse_quantity(text, internal=raw.unit))
    else:
        if raw.unit_required:
            raise ValueError(
                f"'{text}' has no unit, and instruments differ in it: write it with one, like "
                f"{raw.name}={text}{raw.unit}."
            )
    if not math.isfinite(value):
        raise ValueError(f"'{text}' is not a number to calculate with.")
    return value
