"""The register of formulas: where each comes from, in which units, and where it holds.

A formula is a plain function with a decorator that states its source. The register is
what `canewright formula` prints, what the handbook's pages are made from, and what two
tests walk through: every formula must have a published check, and must give it.
"""

import importlib
import inspect
import pkgutil
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from typing import Any, Literal, TypeVar

Known = Literal["read", "memory", "derived", "assumed"]
KNOWN: tuple[str, ...] = ("read", "memory", "derived", "assumed")
FORMULA_PACKAGES = (
    "canewright.properties",
    "canewright.laws",
    "canewright.laboratory",
    "canewright.figures",
)

F = TypeVar("F", bound=Callable[..., Any])


@dataclass(frozen=True)
class Source:
    """One entry of the bibliography, `sources.toml`."""

    key: str
    text: str
    known: Known
    note: str = ""


@dataclass(frozen=True)
class Formula:
    """One published equation, its units, its validity and its source."""

    name: str
    function: Callable[..., Any]
    summary: str
    equation: str
    unit: str
    given: Mapping[str, str]
    source: str
    at: str
    known: Known
    valid: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    uncertainty: str = ""
    family: str = ""
    default: bool = False
    note: str = ""

    def outside(self, values: Mapping[str, float]) -> list[str]:
        """Sentences naming each value that lies outside the stated validity."""
        sentences = []
        for symbol, (low, high) in self.valid.items():
            value = values.get(symbol)
            if value is not None and not low <= value <= high:
                sentences.append(
                    f"{symbol} = {value:g} {self.given[symbol]} is outside the range "
                    f"{low:g} to {high:g} for which {self.name} is stated."
                )
        return sentences


@dataclass(frozen=True)
class Check:
    """One published value that a formula must give."""

    formula: str
    given: Mapping[str, float]
    expect: float
    within: float
    source: str
    at: str
    known: Known
    note: str = ""
    file: str = ""


_formulas: dict[str, Formula] = {}


def formula(
    *,
    source: str,
    at: str,
    unit: str,
    given: Mapping[str, str],
    equation: str,
    known: Known,
    valid: Mapping[str, tuple[float, float]] | None = None,
    uncertainty: str = "",
    family: str = "",
    default: bool = False,
    note: str = "",
) -> Callable[[F], F]:
    """Register a function as a published formula; the function itself is returned unchanged.

    Parameters
    ----------
    source : str
        Key in `sources.toml`.
    at : str
        Equation, table, page or section in that source.
    unit : str
        Unit of the value returned.
    given : mapping
        Unit of each argument, in the order of the signature.
    equation : str
        The equation as a chemist would write it on one line or a few.
    known : {"read", "memory", "derived", "assumed"}
        How we know the equation: read in the source, remembered, derived by us, assumed.
    valid : mapping, optional
        Range of each argument for which the source states the formula.
    uncertainty : str
        Standard uncertainty, in words or figures with unit.
    family, default, note : str, bool, str
        Formulas that answer the same question share a family; one is the default, and
        the note says why.

    Raises
    ------
    TypeError
        If `given` or `valid` name something that is not an argument.
    """

    def register(function: F) -> F:
        arguments = list(inspect.signature(function).parameters)
        module = function.__module__.rsplit(".", 1)[-1]
        name = f"{module}.{function.__name__}"
        if list(given) != arguments:
            raise TypeError(f"{name}: 'given' lists {list(given)}, the arguments are {arguments}.")
        stray = set(valid or {}) - set(arguments)
        if stray:
            raise TypeError(f"{name}: 'valid' names {sorted(stray)}, which are no arguments.")
        if known not in KNOWN:
            raise TypeError(f"{name}: known must be one of {KNOWN}, not {known!r}.")
        if name in _formulas and _formulas[name].function.__module__ != function.__module__:
            raise TypeError(f"{name}: two modules register a formula of this name.")
        _formulas[name] = Formula(
            name=name,
            function=function,
            summary=(inspect.getdoc(function) or "").split("\n", 1)[0],
            equation=inspect.cleandoc(equation),
            unit=unit,
            given=dict(given),
            source=source,
            at=at,
            known=known,
            valid=dict(valid or {}),
            uncertainty=uncertainty,
            family=family,
            default=default,
            note=inspect.cleandoc(note),
        )
        return function

    return register


def registered(function: Callable[..., Any]) -> Formula:
    """The entry of a formula's function, without loading every other formula.

    Raises
    ------
    KeyError
        If the function was never registered.
    """
    return _formulas[f"{function.__module__.rsplit('.', 1)[-1]}.{function.__name__}"]


def load_everything() -> None:
    """Import every module that may hold formulas."""
    for package_name in FORMULA_PACKAGES:
        package = importlib.import_module(package_name)
        for module in pkgutil.iter_modules(package.__path__):
            # Figures of a solved factory need the engine; their formulas are files apart.
            wanted = package_name != "canewright.figures" or module.name.endswith("_formulas")
            if wanted and not module.ispkg:
                importlib.import_module(f"{package_name}.{module.name}")


def formulas() -> dict[str, Formula]:
    """All formulas by name, in alphabetical order."""
    load_everything()
    return dict(sorted(_formulas.items()))


@cache
def sources() -> dict[str, Source]:
    """The bibliography by key."""
    text = resources.files("canewright").joinpath("sources.toml").read_text(encoding="utf-8")
    return {
        key: Source(key=key, text=entry["text"], known=entry["known"], note=entry.get("note", ""))
        for key, entry in tomllib.loads(text).items()
    }


def checks() -> Iterator[Check]:
    """Every published check point, from the `checks` folders beside the formulas."""
    for package in FORMULA_PACKAGES:
        folder = resources.files(package).joinpath("checks")
        if not folder.is_dir():
            continue
        for file in sorted(folder.iterdir(), key=lambda entry: entry.name):
            if file.name.endswith(".toml"):
                for row in tomllib.loads(file.read_text(encoding="utf-8")).get("check", []):
                    yield Check(**row, file=f"{package}/checks/{file.name}")
