"""What the text of a unit means."""

import difflib
import re
from dataclasses import dataclass
from functools import cache

from canewright.units.catalogue import (
    ALIASES,
    AMBIGUOUS,
    ATOMS,
    CATALOGUE,
    OF_WHAT,
    PRESSURES,
    SUFFIXES,
    TEMPERATURES,
)
from canewright.units.numbers import LONGEST, UnitError, tidy


@dataclass(frozen=True)
class Unit:
    """A unit as understood: its name, pint's expression for it, and how it counts."""

    name: str
    expression: str
    counts: str = "plain"  # plain, temperature, absolute, gauge, vacuum
    of: str = ""  # "% of heat given up": what the share is of


@cache
def table() -> dict[str, Unit]:
    """Every whole name that is understood without taking it apart."""
    table: dict[str, Unit] = {}
    for name in CATALOGUE:
        table[name] = _whole(name)
    for name, aliases in ALIASES.items():
        table.update({tidy(alias): table[name] for alias in aliases})
    for name, expression in TEMPERATURES.items():
        table.setdefault(name, Unit("degF", expression, "temperature"))
    for name, expression in PRESSURES.items():
        table.setdefault(name, Unit(f"{name} abs", expression, "absolute"))
    return table


def _whole(name: str) -> Unit:
    if name == "degC":
        return Unit(name, TEMPERATURES[name], "temperature")
    if name == "bar abs":
        return Unit(name, "bar", "absolute")
    return Unit(name, _expression(name))


@cache
def _by_small_letters() -> dict[str, set[Unit]]:
    small: dict[str, set[Unit]] = {}
    for name, unit in table().items():
        small.setdefault(name.casefold(), set()).add(unit)
    return small


@cache
def _atoms_by_small_letters() -> dict[str, set[str]]:
    small: dict[str, set[str]] = {}
    for name, expression in ATOMS.items():
        small.setdefault(name.casefold(), set()).add(expression)
    return small


def _atom(name: str) -> str:
    """The pint name of one simple unit; ValueError when there is none, or more than one."""
    if name in AMBIGUOUS:
        raise _ambiguous(name)
    if name in ATOMS:
        return ATOMS[name]
    meant = list(_atoms_by_small_letters().get(name.casefold(), ()))
    if len(meant) != 1:
        raise ValueError(name)
    return meant[0]


def _ambiguous(name: str) -> UnitError:
    meanings, remedy = AMBIGUOUS[name].split(": ")
    return UnitError(f"The unit '{name}' can mean {meanings}.", f"{remedy[0].upper()}{remedy[1:]}.")


_TOKEN = re.compile(r"\s*(?:([()/.*])|([A-Za-zμ°%_]+)(?:(?:\^|\*\*)?(-?\d))?|(10{0,3})(?![\d.]))")


def _tokens(text: str) -> list[tuple[str, str]]:
    tokens, at = [], 0
    while at < len(text):
        found = _TOKEN.match(text, at)
        if not found:
            raise ValueError(text)
        sign, atom, power, one = found.groups()
        if sign:
            tokens.append((sign, ""))
        elif one:
            tokens.append(("atom", "dimensionless" if one == "1" else one))
        else:
            raised = f"**{power}" if power else ""
            tokens.append(("atom", f"({_atom(atom)}){raised}"))
        at = found.end()
    return tokens


def _expression(text: str) -> str:
    """A compound unit as a pint expression; ValueError when it cannot be taken apart."""
    tokens = _tokens(text)
    quotient, rest = _quotient(tokens)
    if rest:
        raise ValueError(text)
    return quotient


def _quotient(tokens: list[tuple[str, str]]) -> tuple[str, list[tuple[str, str]]]:
    result, tokens = _product(tokens)
    while tokens and tokens[0][0] == "/":
        divisor, tokens = _product(tokens[1:])
        result = f"{result}/({divisor})"
    return result, tokens


def _product(tokens: list[tuple[str, str]]) -> tuple[str, list[tuple[str, str]]]:
    factors = []
    while tokens:
        kind, text = tokens[0]
        if kind == "atom":
            factors.append(text)
            tokens = tokens[1:]
        elif kind == "(":
            inner, tokens = _quotient(tokens[1:])
            if not tokens or tokens[0][0] != ")":
                raise ValueError("bracket not closed")
            factors.append(f"({inner})")
            tokens = tokens[1:]
        else:
            break
        if tokens and tokens[0][0] in {".", "*"}:
            tokens = tokens[1:]
            if not tokens or tokens[0][0] not in {"atom", "("}:
                raise ValueError("nothing after the multiplication")
    if not factors:
        raise ValueError("nothing to multiply")
    return "*".join(factors), tokens


@cache
def understood(text: str) -> Unit:
    """The unit a text means.

    Raises
    ------
    UnitError
        If no known unit is meant, or if more than one may be.
    """
    name = tidy(text)
    if name in AMBIGUOUS:
        raise _ambiguous(name)
    found = table().get(name) or _pressure(name)
    if found is None:
        small = _by_small_letters().get(name.casefold(), set())
        found = next(iter(small)) if len(small) == 1 else None
    if found is None and re.match(r"% ?[A-Za-z]", name):
        found = Unit(name, "percent", of=re.sub(r"^% ?(of|on|in)? ?", "", name).casefold())
    if found is None and len(name) <= LONGEST:
        try:
            found = _compound(name)
        except UnitError:
            raise
        except ValueError:
            found = None
    if found is None:
        raise _unknown(name)
    return found


def _compound(name: str) -> Unit:
    """A unit put together of others, with what it is counted of left out of the arithmetic."""
    words = re.findall(r"(?<=[ ])[a-z][a-z-]+(?![a-z0-9-])", name)
    counted_of = [word for word in words if word in OF_WHAT]
    plain = name
    for word in counted_of:
        plain = re.sub(rf" {word}(?![a-z0-9-])", "", plain, count=1)
    return Unit(name, _expression(plain), of=" ".join(counted_of))


def _pressure(name: str) -> Unit | None:
    """A pressure that says how it is counted: `bar g`, `kPa(abs)`, `mmHg vacuum`, `psig`."""
    for base in sorted(PRESSURES, key=len, reverse=True):
        if name[: len(base)].casefold() != base.casefold():
            continue
        if base in {"MPa", "Pa"} and name[: len(base)] != base:
            continue
        suffix = name[len(base) :].strip().strip("().").strip().casefold()
        if suffix in SUFFIXES:
            counts = SUFFIXES[suffix]
            short = {"absolute": "abs", "gauge": "g", "vacuum": "vacuum"}[counts]
            return Unit(f"{base} {short}", PRESSURES[base], counts)
    return None


def _unknown(name: str) -> UnitError:
    shown = name if len(name) <= LONGEST else f"{name[:LONGEST]}..."
    if not name:
        return UnitError("The unit is empty.", "Write a unit, such as %, t/h, degC or bar abs.")
    near = nearest_unit(name)
    if near is None:
        few = ", ".join(list(CATALOGUE)[:12])
        return UnitError(f"The unit '{shown}' is not known.", f"Units known: {few} and others.")
    return UnitError(
        f"The unit '{shown}' is not known; the nearest known unit is '{near}'.",
        f"Write {near} if that is meant, or another unit of the same kind.",
    )


def nearest_unit(name: str) -> str | None:
    """The known unit spelled most like `name`; None when none is like it."""
    if not any(sign.isalpha() for sign in name):
        return None
    known: dict[str, str] = {}
    for alias, unit in table().items():
        known.setdefault(alias.casefold(), unit.name)
    close = difflib.get_close_matches(tidy(name)[:LONGEST].casefold(), known, n=1, cutoff=0.4)
    return known[close[0]] if close else None


def understood_for(text: str, target: Unit) -> Unit:
    """The unit a text means, for a quantity kept in `target`, which the refusal then names.

    Raises
    ------
    UnitError
        As `understood`.
    """
    try:
        return understood(text)
    except UnitError as error:
        if "is not known" not in error.what or target.name not in CATALOGUE:
            raise
        remedy = f"Write {target.name} or another unit of {CATALOGUE[target.name]}."
        raise UnitError(error.what, remedy) from None
