"""`canewright formula`: list, search, explain and evaluate the registered formulas."""

import inspect
import math
from collections.abc import Mapping, Sequence
from typing import Annotated, Any

import typer

from canewright import registry
from canewright.cli import formula_pages, printing
from canewright.cli.problems import EXIT_CODE, Refused, did_you_mean
from canewright.registry import Formula

ALSO_SHOWN = 6


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("formula")
    def command(
        asked: Annotated[
            list[str] | None,
            typer.Argument(
                metavar="[NAME|WORDS] [SYMBOL=VALUE]...",
                help="A formula's name, or words to look for; then values, with a unit or "
                "in the formula's own.",
                show_default=False,
            ),
        ] = None,
        as_json: Annotated[
            bool, typer.Option("--json", help="Print the same for another program.")
        ] = False,
    ) -> None:
        """List the formulas, explain one, or evaluate it.

        canewright formula boiling point

        canewright formula steam.saturation_temperature pressure=2bar
        """
        answer(asked or [], as_json=as_json)


def answer(asked: Sequence[str], *, as_json: bool) -> None:
    """Print what was asked for: the list, a search, one formula, or its value.

    Parameters
    ----------
    asked : sequence of str
        Words, or a name and `symbol=value` pairs.
    as_json : bool
        For another program instead of a person.

    Raises
    ------
    Refused
        If nothing fits the name or the words, or a value is missing or cannot be read.
    """
    everything = registry.formulas()
    words = [text for text in asked if "=" not in text]
    pairs = [text for text in asked if "=" in text]
    if pairs:
        formula = _named(words, everything)
        _evaluate(formula, _values(formula, pairs), everything, as_json=as_json)
        return
    found = search(words, everything)
    called = _called(words[0], everything) if len(words) == 1 else []
    if len(called) == 1:
        family = _family(called[0], everything)
        also = [formula for formula in found if formula not in [*called, *family]][:ALSO_SHOWN]
        _explain(called[0], everything, also, as_json=as_json)
    else:
        if not found:
            raise Refused(_nothing_fits(" ".join(words), everything))
        if as_json:
            printing.write_json(formula_pages.list_for_json(found, words))
        elif len(found) == 1 and words:
            _explain(found[0], everything, [], as_json=False)
        else:
            formula_pages.print_list(printing.console(), found, words)


def search(words: Sequence[str], everything: Mapping[str, Formula]) -> list[Formula]:
    """Formulas in whose name, summary, family or source every one of the words occurs."""
    sources = registry.sources()
    wanted = [word.lower().replace("_", " ") for word in words]
    found = []
    for formula in everything.values():
        reference = sources.get(formula.source)
        text = " ".join(
            [
                formula.name,
                formula.name.replace("_", " ").replace(".", " "),
                formula.summary,
                formula.family,
                formula.source,
                formula.at,
                reference.text if reference else "",
            ]
        ).lower()
        if all(word in text for word in wanted):
            found.append(formula)
    return found


def evaluate(formula: Formula, values: Mapping[str, float]) -> float:
    """Value of a formula for plain numbers; not a number where it has no real one."""
    import numpy as np

    try:
        with np.errstate(all="ignore"):
            value: Any = formula.function(**values)
    except (ArithmeticError, ValueError):
        return math.nan
    return math.nan if isinstance(value, complex) else float(value)


def _nothing_fits(text: str, everything: Mapping[str, Formula]) -> str:
    close = did_you_mean(text.replace(" ", "_"), everything)
    return f"No formula is called or speaks of {text!r}.{close} `canewright formula` lists all."


def _named(words: Sequence[str], everything: Mapping[str, Formula]) -> Formula:
    """Return the one formula that is to be evaluated."""
    if len(words) != 1:
        raise Refused(
            "To evaluate, give one formula's name and then its values, such as "
            "`canewright formula steam.saturation_temperature pressure=2bar`."
        )
    called = _called(words[0], everything)
    if len(called) == 1:
        return called[0]
    if called:
        names = ", ".join(formula.name for formula in called)
        raise Refused(f"{words[0]} is the name of several: {names}. Say which.")
    raise Refused(_nothing_fits(words[0], everything))


def _called(name: str, everything: Mapping[str, Formula]) -> list[Formula]:
    """Formulas of this name, in full or by its last part."""
    if name in everything:
        return [everything[name]]
    return [formula for formula in everything.values() if formula_pages.short_name(formula) == name]


def _values(formula: Formula, pairs: Sequence[str]) -> dict[str, float]:
    """Read `symbol=value` pairs in the formula's own units; all problems at once."""
    values: dict[str, float] = {}
    problems: list[str] = []
    for pair in pairs:
        symbol, _, text = (part.strip() for part in pair.partition("="))
        if symbol not in formula.given:
            close = did_you_mean(symbol, formula.given)
            problems.append(f"{formula.name} has no symbol {symbol!r}.{close}")
        elif symbol in values:
            problems.append(f"{symbol} is given twice; give it once.")
        else:
            try:
                values[symbol] = _quantity(text, formula.given[symbol])
            except ValueError as error:
                values[symbol] = math.nan
                problems.append(f"{symbol}: {error}")
    parameters = inspect.signature(formula.function).parameters
    missing = [
        f"{symbol} [{unit}]"
        for symbol, unit in formula.given.items()
        if symbol not in values and parameters[symbol].default is inspect.Parameter.empty
    ]
    if missing:
        problems.append(f"{formula.name} still needs {', '.join(missing)}.")
    if problems:
        raise Refused(*problems, f"`canewright formula {formula.name}` shows its symbols.")
    return values


def _quantity(text: str, unit: str) -> float:
    """Value of a text in the given unit; a plain number is taken to be in it already."""
    try:
        value = float(text)
    except ValueError:
        from canewright.units import parse_quantity

        value = float(parse_quantity(text, internal=unit))
    if not math.isfinite(value):
        raise ValueError(f"{text!r} is not a number to calculate with.")
    return value


def _explain(
    formula: Formula,
    everything: Mapping[str, Formula],
    also: Sequence[Formula],
    *,
    as_json: bool,
) -> None:
    family = _family(formula, everything)
    points = [
        (check, evaluate(formula, check.given))
        for check in registry.checks()
        if check.formula == formula.name
    ]
    if as_json:
        printing.write_json(formula_pages.page_for_json(formula, family, points))
    else:
        formula_pages.print_page(printing.console(), formula, family, points, also)


def _evaluate(
    formula: Formula,
    values: Mapping[str, float],
    everything: Mapping[str, Formula],
    *,
    as_json: bool,
) -> None:
    value = evaluate(formula, values)
    others = [
        (other, evaluate(other, {symbol: values[symbol] for symbol in other.given}))
        for other in _family(formula, everything)
        if set(other.given) <= set(values)
    ]
    if as_json:
        printing.write_json(formula_pages.value_for_json(formula, values, value, others))
    else:
        formula_pages.print_value(printing.console(), formula, values, value, others)
    if not math.isfinite(value):
        raise typer.Exit(EXIT_CODE)


def _family(formula: Formula, everything: Mapping[str, Formula]) -> list[Formula]:
    """Return the other formulas that answer the same question, the default first."""
    others = [
        other
        for other in everything.values()
        if formula.family and other.family == formula.family and other.name != formula.name
    ]
    return sorted(others, key=lambda other: not other.default)
